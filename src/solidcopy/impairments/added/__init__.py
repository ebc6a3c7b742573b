"""added."""
