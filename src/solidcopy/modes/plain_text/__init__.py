"""Modes that send a text character by character, without any code that mends errors."""
