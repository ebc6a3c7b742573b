"""trials."""
