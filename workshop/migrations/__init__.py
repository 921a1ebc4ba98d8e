"""Schema and seed steps of the shop's registers, each with one topic."""
