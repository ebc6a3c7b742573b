"""campaigns."""
