"""Any sound file, opened for looking into: what was found, and one question at most."""

from solidcopy.noise.reading.answers import Answers, Question, Side
from solidcopy.noise.reading.mono import mono
from solidcopy.noise.reading.sound import Sound, open_sound

__all__ = ["Answers", "Question", "Side", "Sound", "mono", "open_sound"]
