"""Pages of this app: read, call one action or query, render."""
