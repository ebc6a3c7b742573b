"""The bench in the browser: one local page over the same actions as the command line."""
