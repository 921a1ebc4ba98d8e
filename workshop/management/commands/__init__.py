"""up, test: one module a command."""
