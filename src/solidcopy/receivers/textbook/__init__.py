"""Plain receivers after the textbook for the modes of plain text."""
