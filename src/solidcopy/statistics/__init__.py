"""statistics."""
