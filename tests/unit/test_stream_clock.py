"""A card's clock is learnt from what the system says of its blocks, wrong as that may begin.

Derived throughout: a card that is fast by p hears frame n at n / (rate * (1 + p)).
"""

import numpy as np
import pytest

from solidcopy.soundcard.card import Stamps
from solidcopy.soundcard.stream_clock import STEP_S, StreamClock

RATE_HZ = 48_000
BLOCK = 12_000
"""A quarter of a second, as a sound server hands over."""


def told(clock, duration_s, *, ppm=0.0, wrong=lambda at_s: 0.0, first_s=0.0, scatter_s=1e-4):
    """Notes blocks from `first_s` on; `wrong` is added to what the system says."""
    random = np.random.default_rng(3)
    true_hz = RATE_HZ * (1.0 + ppm * 1e-6)
    for number in range(round(first_s * 4.0), round((first_s + duration_s) * 4.0)):
        at_s = number * BLOCK / true_hz
        clock.note(number * BLOCK, at_s + wrong(at_s) + random.normal(scale=scatter_s))


@pytest.mark.parametrize("ppm", [-200.0, 0.0, 120.0])
@pytest.mark.parametrize("off_s", [-0.5, -0.046, 0.5])
def test_a_wrong_beginning_does_not_count(ppm, off_s):
    clock = StreamClock(RATE_HZ)
    told(clock, 15.0, ppm=ppm, wrong=lambda at_s: off_s if at_s < 3.0 else 0.0)
    frame = 20 * RATE_HZ
    assert clock.is_settled
    assert clock.time_of(frame) == pytest.approx(20.0 / (1.0 + ppm * 1e-6), abs=1e-3)
    told(clock, 45.0, ppm=ppm, first_s=15.0)
    assert clock.ppm() == pytest.approx(ppm, abs=10.0)


def test_a_stream_that_jumps_about_has_not_settled():
    clock = StreamClock(RATE_HZ)
    told(clock, 20.0, scatter_s=0.1)
    assert clock.is_known and not clock.is_settled
    assert abs(clock.ppm()) <= 1000.0


def test_a_few_late_calls_do_not_move_the_line():
    """A busy machine calls late now and then, never early."""
    clock = StreamClock(RATE_HZ)
    told(clock, 30.0, wrong=lambda at_s: 0.02 if int(at_s * 4.0) % 17 == 3 else 0.0)
    assert clock.is_settled
    assert clock.time_of(30 * RATE_HZ) == pytest.approx(30.0, abs=5e-4)


@pytest.mark.parametrize("by_s", [-4 * STEP_S, 4 * STEP_S, 0.5])
def test_a_stream_that_was_moved_is_found_again(by_s):
    clock = StreamClock(RATE_HZ)
    told(clock, 60.0)
    told(clock, 12.0, first_s=60.0, wrong=lambda at_s: by_s)
    assert clock.time_of(75 * RATE_HZ) == pytest.approx(75.0 + by_s, abs=1e-3)


def test_frames_and_times_are_each_others_inverse():
    clock = StreamClock(RATE_HZ)
    told(clock, 60.0, ppm=80.0)
    assert clock.frame_at(clock.time_of(1e6)) == pytest.approx(1e6, abs=1e-3)


def test_nothing_is_known_of_what_has_not_begun():
    with pytest.raises(ValueError, match="not begun"):
        StreamClock(RATE_HZ).ppm()


def test_blocks_handed_over_together_follow_one_another():
    """As a sound server did it: a large block and a few frames behind it, both stamped with the
    moment at which the large one entered.
    """
    stamps = Stamps(RATE_HZ)
    frame, found = 0, []
    for waking in range(8):
        handed_s = 10.0 + waking * (BLOCK + 2) / RATE_HZ
        for n_frames in (BLOCK, 2):
            entered_s = stamps.entered_s(n_frames, handed_s, handed_s - 0.3)
            found.append(entered_s - frame / RATE_HZ)
            frame += n_frames
    assert found == pytest.approx([9.7] * 16, abs=1e-9)


def test_stamps_that_jump_back_are_believed_at_the_next_waking():
    stamps = Stamps(RATE_HZ)
    assert stamps.entered_s(BLOCK, 10.0, 9.9) == 9.9
    assert stamps.entered_s(BLOCK, 10.25, 9.4) == 9.4
