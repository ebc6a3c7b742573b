"""The 77-bit messages that several modes carry."""
