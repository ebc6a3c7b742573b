"""When a frame of a sound stream is heard: a sound card's clock beside UTC.

A card says, with a scatter of up to milliseconds, when the first frame of each block will leave
it. A straight line through these gives both the rate of its crystal and the moment of any frame
far better than a single one does. What a system says of a stream's first seconds can be wrong by
half a second; only what runs evenly counts.
"""

from collections import deque

import numpy as np

EVERY_S = 0.5
KEEP_S = 300.0
"""Crystals drift with temperature: what is older does not count."""
LIKELY_PPM = 100.0
"""Spread of cards' rates about their nominal one (common practice, no source); counts while
little has been seen."""
MOST_PPM = 1000.0
"""No crystal is so far off (common practice, no source); a line that says so is no line."""
SCATTER_S = 1e-3
"""Of a mean over `EVERY_S`, for the weight of what is likely beforehand."""
OUTLIER_MADS = 6.0
N_NEWEST = 10
"""So many readings in a row tell whether a stream runs evenly,"""
N_NEAR = 8
"""if so many of them stand on one straight line,"""
NEAR_S = 3e-3
"""so closely."""
STEP_S = 5e-3
"""Where readings in a row stand farther than this from those before, the stream was moved."""


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
        self._n_unweighed = 0
        self.is_settled = False
        """Whether the stream has run evenly for a while; until then only the newest count."""

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
        self._n_unweighed += 1
        if not self.is_settled or self._n_unweighed >= N_NEWEST:
            self._weigh_newest()

    def forget(self) -> None:
        """After frames were lost, or of another stream."""
        self._seen.clear()
        self._newest = []
        self.is_settled = False

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

    def _weigh_newest(self) -> None:
        """Drop what was seen before the stream ran evenly, or before it was moved."""
        self._n_unweighed = 0
        newest = list(self._seen)[-N_NEWEST:]
        if len(newest) < N_NEWEST:
            return
        nominal_s, late_s = self._lateness(newest)
        is_near = np.abs(late_s - _steady_line(nominal_s, late_s)) <= NEAR_S
        near = [reading for reading, keep in zip(newest, is_near, strict=True) if keep]
        if len(near) < N_NEAR:
            return
        frame, at_s = near[len(near) // 2]
        if not self.is_settled or abs(at_s - self.time_of(frame)) > STEP_S:
            self._seen = deque(near)
        self.is_settled = True

    def _line(self) -> tuple[float, float, float]:
        """A frame, its time, and the relative excess of the time that a frame takes."""
        seen = list(self._seen)  # a copy: the card's thread goes on noting
        if not seen:
            raise ValueError("the stream has not begun")
        if not self.is_settled:
            seen = seen[-N_NEWEST:]
        nominal_s, late_s = self._lateness(seen)
        keep = np.ones(late_s.size, dtype=bool)
        for _ in range(2):
            middle_s, stretch = _fit(nominal_s[keep], late_s[keep])
            off_s = late_s - stretch * nominal_s
            off_s -= np.median(off_s)
            limit_s = OUTLIER_MADS * max(float(np.median(np.abs(off_s))), 1e-6)
            keep = np.abs(off_s) <= limit_s
        frame, at_s = seen[-1]
        return frame, at_s + middle_s, stretch

    def _lateness(self, seen: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
        """Nominal seconds before the last reading, and by how much later than it each came."""
        frames, times = np.array(seen).T
        nominal_s = (frames - frames[-1]) / self.nominal_rate_hz
        return nominal_s, times - times[-1] - nominal_s


def _fit(nominal_s: np.ndarray, late_s: np.ndarray) -> tuple[float, float]:
    """Lateness now, and its growth: a straight line that leans on the likely growth of 0."""
    centre_s = nominal_s.mean()
    spread = nominal_s - centre_s
    lean = (SCATTER_S / (LIKELY_PPM * 1e-6)) ** 2
    stretch = _possible(float(spread @ late_s / (spread @ spread + lean)))
    return float(late_s.mean() - stretch * centre_s), stretch


def _steady_line(nominal_s: np.ndarray, late_s: np.ndarray) -> np.ndarray:
    """Lateness on a line that a few wrong readings do not move: medians of slopes and heights."""
    i, j = np.triu_indices(late_s.size, 1)
    slopes = (late_s[j] - late_s[i]) / (nominal_s[j] - nominal_s[i])
    sloped_s = _possible(float(np.median(slopes))) * nominal_s
    return np.asarray(sloped_s + np.median(late_s - sloped_s))


def _possible(stretch: float) -> float:
    return min(max(stretch, -MOST_PPM * 1e-6), MOST_PPM * 1e-6)
