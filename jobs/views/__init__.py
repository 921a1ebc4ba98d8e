"""What people see of jobs; each view reads, calls one action or query, and renders."""
