"""Template tags: modules (import map) and figures (numbers with unit and interval)."""
