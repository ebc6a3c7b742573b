"""Decode logs of any layout: what was heard, when, and what had to be assumed to read it."""
