"""modes."""
