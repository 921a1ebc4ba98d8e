"""Schema steps of pack definitions, packs as things, and spares, each with one topic."""
