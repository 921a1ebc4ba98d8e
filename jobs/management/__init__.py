"""Commands of the jobs."""
