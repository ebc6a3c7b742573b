"""builtin."""
