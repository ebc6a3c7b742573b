"""receivers."""
