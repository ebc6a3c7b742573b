"""Handlers: parse a request, call one action, present what it says."""
