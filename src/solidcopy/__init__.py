"""solidcopy: how much noise and interference a weak-signal digital radio mode stands."""

__version__ = "0.1.0"
