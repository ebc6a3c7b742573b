"""Sound devices: the check of a path through them, and playing into it slot by slot."""
