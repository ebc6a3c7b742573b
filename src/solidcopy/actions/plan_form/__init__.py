"""The form of a plan: its fields in plain words, its values, and changes that keep the text."""
