"""Each calculation with the numbers put in, as a person would check it by hand."""
