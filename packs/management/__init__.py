"""Commands that belong to packs."""
