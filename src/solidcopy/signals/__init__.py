"""signals."""
