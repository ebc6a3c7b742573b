"""The demo: a small club station by a harbour. All of it is invented."""
