"""Chance: reproducible, and nothing but its key moves it."""

import numpy as np
import pytest

from solidcopy.seeds import Chance, stream


def draws(chance: Chance, purpose: str) -> list[float]:
    return stream(chance, purpose).random(4).tolist()


BASE = Chance(root_seed=7, arm="sent", trial_index=3, axis_value=-21.0)


def test_same_key_gives_the_same_stream() -> None:
    again = Chance(root_seed=7, arm="sent", trial_index=3, axis_value=-21.0)
    assert draws(BASE, "noise/0") == draws(again, "noise/0")


@pytest.mark.parametrize(
    "other",
    [
        Chance(8, "sent", 3, -21.0),
        Chance(7, "nothing-sent", 3, -21.0),
        Chance(7, "sent", 4, -21.0),
        Chance(7, "sent", 3, -20.0),
    ],
)
def test_each_part_of_the_key_matters(other: Chance) -> None:
    assert draws(BASE, "noise/0") != draws(other, "noise/0")


def test_purposes_are_independent() -> None:
    noise = stream(BASE, "noise/0").standard_normal(100_000)
    message = stream(BASE, "message").standard_normal(100_000)
    # Correlation of independent series: standard deviation 1/sqrt(n) = 0.0032.
    assert abs(np.corrcoef(noise, message)[0, 1]) < 5 * 0.0032


def test_minus_zero_is_zero() -> None:
    assert Chance(7, "sent", 0, -0.0).key() == Chance(7, "sent", 0, 0.0).key()


@pytest.mark.parametrize(("seed", "index"), [(-1, 0), (2**64, 0), (1, -1)])
def test_impossible_keys_are_refused(seed: int, index: int) -> None:
    with pytest.raises(ValueError):
        Chance(seed, "sent", index, 0.0)
