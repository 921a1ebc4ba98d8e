"""Commands of the shop and the project."""
