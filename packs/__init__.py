"""What a pack is, its spares, and its physics."""
