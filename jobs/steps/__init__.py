"""The eight steps, in the order of the job."""
