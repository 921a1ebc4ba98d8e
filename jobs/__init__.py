"""Jobs: the record of one vehicle's repair, its eight steps, its screens and its report."""
