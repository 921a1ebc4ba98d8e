"""Step 4: which module or part leaks, confirmed by a second kind of reading."""
