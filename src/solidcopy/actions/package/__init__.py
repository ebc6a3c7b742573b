"""A campaign in one file, for someone else to check and to run again."""
