"""When a frame of a sound stream is heard: a sound card's clock beside UTC.

A card says, with a scatter of up to milliseconds, when the first frame of each block will leave
it. A straight line through these gives both the rate of its crystal and the moment of any frame
far better than a single one does.
"""

from collections import deque

import numpy as np

EVERY_S = 0.5
KEEP_S = 300.0
"""Crystals drift with temperature: what is older does not count."""
LIKELY_PPM = 100.0
"""Spread of cards' rates about their nominal one (common practice, no source); counts while
little has been seen."""
SCATTER_S = 5e-4
"""Of a mean over `EVERY_S`, for the weight of what is likely beforehand."""
OUTLIER_MADS = 6.0


class StreamClock:
    """Relates the frames of one open stream to seconds of a clock.

    Args:
        nominal_rate_hz: of the stream.
    """

    def __init__(self, nominal_rate_hz: float) -> None:
        """Nothing is known yet."""
        self.nominal_rate_hz = nominal_rate_hz
        self._seen: deque[tuple[float, float]] = deque()
        self._newest: list[tuple[float, float]] = []
        """Blocks that are averaged into one reading."""

    @property
    def is_known(self) -> bool:
        """Whether anything has been noted."""
        return bool(self._seen)

    def note(self, frame: int, at_s: float) -> None:
        """A block's first frame leaves (or entered) the card at this time."""
        self._newest.append((float(frame), at_s))
        if at_s - self._newest[0][1] < EVERY_S:
            return
        frames, times = zip(*self._newest, strict=True)
        n = len(self._newest)
        self._newest = []
        self._seen.append((sum(frames) / n, sum(times) / n))
        while at_s - self._seen[0][1] > KEEP_S:
            self._seen.popleft()

    def forget(self) -> None:
        """After frames were lost, or of another stream."""
        self._seen.clear()
        self._newest = []

    def ppm(self) -> float:
        """By how much the card is faster than its nominal rate, parts per million."""
        return -self._line()[2] * 1e6

    def frame_at(self, at_s: float) -> float:
        """The frame that is heard at a time. Raises ValueError if nothing has been noted."""
        frame_0, at_0, stretch = self._line()
        return frame_0 + (at_s - at_0) * self.nominal_rate_hz / (1.0 + stretch)

    def time_of(self, frame: float) -> float:
        """The time at which a frame is heard. Raises ValueError if nothing has been noted."""
        frame_0, at_0, stretch = self._line()
        return at_0 + (frame - frame_0) / self.nominal_rate_hz * (1.0 + stretch)

    def _line(self) -> tuple[float, float, float]:
        """A frame, its time, and the relative excess of the time that a frame takes."""
        if not self._seen:
            raise ValueError("the stream has not begun")
        frames, times = np.array(list(self._seen)).T  # a copy: the card's thread goes on noting
        nominal_s = (frames - frames[-1]) / self.nominal_rate_hz
        late_s = times - times[-1] - nominal_s
        keep = np.ones(frames.size, dtype=bool)
        for _ in range(2):
            middle_s, stretch = _fit(nominal_s[keep], late_s[keep])
            off_s = late_s - middle_s - stretch * nominal_s
            limit_s = OUTLIER_MADS * max(float(np.median(np.abs(off_s))), 1e-6)
            keep = np.abs(off_s) <= limit_s
        return float(frames[-1]), float(times[-1] + middle_s), stretch


def _fit(nominal_s: np.ndarray, late_s: np.ndarray) -> tuple[float, float]:
    """Lateness now, and its growth: a straight line that leans on the likely growth of 0."""
    centre_s = nominal_s.mean()
    spread = nominal_s - centre_s
    lean = (SCATTER_S / (LIKELY_PPM * 1e-6)) ** 2
    stretch = float(spread @ late_s / (spread @ spread + lean))
    return float(late_s.mean() - stretch * centre_s), stretch
