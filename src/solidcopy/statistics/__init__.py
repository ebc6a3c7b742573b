"""Counts, curves, thresholds and comparisons. Knows nothing of radio: an axis value is a float."""
