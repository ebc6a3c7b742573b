"""The built-in receiver: blind, over the whole band, nothing remembered between slots.

`settings` is light to import, for plans; `receiver` brings the compiled loops.
"""
