"""Pace and place of a run, from looks at made-up counts at known times."""

import pytest

from solidcopy.actions.growth import Growth
from solidcopy.campaigns.progress import CurveProgress, PointProgress, Progress


def progress(*counts, map_of=None):
    """Of two conditions over three axis values."""
    values = (-22.0, -21.0, -20.0)
    curves = tuple(
        CurveProgress(
            place,
            0,
            f"{name}",
            "builtin",
            tuple(PointProgress(v, 0, n) for v, n in zip(values, of, strict=True)),
            map_of,
        )
        for place, (name, of) in enumerate(zip(("quiet", "fence"), counts, strict=False))
    )
    n_done = sum(map(sum, counts))
    return Progress(n_done, 1000, 0, None, None, curves, False, "")


@pytest.fixture
def clock():
    class Clock:
        now_s = 100.0

        def __call__(self):
            return self.now_s

    return Clock()


@pytest.mark.derived
def test_the_rate_is_that_of_the_last_half_minute(clock):
    growth = Growth(clock)
    for _ in range(20):  # the workers start
        growth.look(progress((0, 0, 0)))
        clock.now_s += 1.0
    assert growth.rate_per_s is None
    for n in range(1, 101):
        growth.look(progress((5 * n, 0, 0)))
        clock.now_s += 1.0
    assert growth.rate_per_s == pytest.approx(5.0)
    for n in range(1, 61):
        growth.look(progress((500 + 2 * n, 0, 0)))
        clock.now_s += 1.0
    assert growth.rate_per_s == pytest.approx(2.0)
    growth.forget()
    assert growth.rate_per_s is None and growth.words("dB") == ""


def test_what_grew_is_at_work(clock):
    growth = Growth(clock)
    growth.look(progress((3, 3, 3), (0, 0, 0)))
    assert growth.words("dB") == "", "what was there before is not growth"
    growth.look(progress((3, 4, 3), (0, 0, 0)))
    assert growth.words("dB") == "“quiet” at −21 dB"
    growth.look(progress((4, 4, 3), (0, 0, 1)))
    assert growth.words("dB") == "“fence” at −20 dB; “quiet” at −22 to −21 dB"
    clock.now_s += 60.0
    growth.look(progress((4, 4, 3), (0, 0, 2)))
    assert growth.words("dB") == "“fence” at −20 dB"


def test_a_map_is_one_name(clock):
    growth = Growth(clock)
    growth.look(progress((0, 0, 0), (0, 0, 0), map_of="carrier"))
    growth.look(progress((1, 0, 0), (0, 0, 2), map_of="carrier"))
    assert growth.words("dB") == "“carrier” at −22 to −20 dB"
