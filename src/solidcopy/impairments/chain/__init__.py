"""Blocks of the receiver's chain: what acts on the sum."""
