"""impairments."""
