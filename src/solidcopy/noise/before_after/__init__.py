"""Two recordings taken the same way: what has changed between them, and how sure that is."""
