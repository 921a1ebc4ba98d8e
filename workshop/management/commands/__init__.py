"""up, test, doctor: one module a command."""
