"""Where the slots of a mode lie in a recording that began at any moment, and how fast it ran."""
