"""What an open output stream draws from: pieces of sound at fixed frames, silence between them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Frames = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Cue:
    """One piece of sound and where it stands in the stream.

    Args:
        first_frame: counted from the stream's start.
        frames: (n_frames,) float32, full scale ±1.0, at the stream's rate.
    """

    first_frame: int
    frames: Frames

    @property
    def end_frame(self) -> int:
        """The frame behind its last."""
        return self.first_frame + self.frames.size


class Feed:
    """Pieces that are to be heard. One thread adds and cuts, the sound card's thread fills."""

    def __init__(self) -> None:
        """Silence."""
        self._cues: tuple[Cue, ...] = ()  # replaced, never changed: the other thread may be in it

    def add(self, cue: Cue) -> None:
        """Have a piece heard; where two overlap, the later one is."""
        self._cues = (*self._cues, cue)

    def cut(self) -> None:
        """Silence from the next block on."""
        self._cues = ()

    def fill(self, out: Frames, first_frame: int) -> None:
        """Put what is to be heard into a block of the stream. Quick; never waits.

        Args:
            out: (n_frames,) overwritten.
            first_frame: of the block.
        """
        out[:] = 0.0
        end = first_frame + out.size
        is_over = False
        for cue in self._cues:
            start, stop = max(first_frame, cue.first_frame), min(end, cue.end_frame)
            if start < stop:
                piece = cue.frames[start - cue.first_frame : stop - cue.first_frame]
                out[start - first_frame : stop - first_frame] = piece
            is_over |= cue.end_frame <= first_frame
        if is_over:
            self._cues = tuple(cue for cue in self._cues if cue.end_frame > first_frame)
