"""The only maker of random generators.

A trial's chance depends on the root seed, the arm, the trial index, the value on the curve's
axis and a named purpose, and on nothing else: not on the condition, the receiver, the order of
the work or the number of workers. So points along one curve are independent, while conditions
and receivers meet the same noise and can be compared in pairs.

numpy promises the same stream for the same build and machine only (its compatibility policy,
NEP 19); a journal therefore records versions and a digest of every recording.
"""

import hashlib
import zlib
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Chance:
    """What decides every random draw of one trial.

    Args:
        root_seed: 0 <= root_seed < 2**64, the plan's.
        arm: which series of trials, e.g. "sent" or "nothing-sent".
        trial_index: 0-based number of the trial at its point of the curve.
        axis_value: value on the curve's axis (the value, not its place in a list).
    """

    root_seed: int
    arm: str
    trial_index: int
    axis_value: float

    def __post_init__(self) -> None:
        if not 0 <= self.root_seed < 2**64:
            raise ValueError(f"root_seed must be 0..2**64-1, not {self.root_seed}")
        if self.trial_index < 0:
            raise ValueError(f"trial_index must not be negative: {self.trial_index}")

    def key(self) -> int:
        """128-bit number of arm, trial index and axis value (−0.0 counts as 0.0)."""
        text = f"{self.arm}/{self.trial_index}/{float(self.axis_value) + 0.0!r}"
        return int.from_bytes(hashlib.sha256(text.encode()).digest()[:16], "big")


def stream(chance: Chance, purpose: str) -> np.random.Generator:
    """The generator of one trial for one named purpose, e.g. "message" or "gaussian-noise/0"."""
    spawn_key = (chance.key(), zlib.crc32(purpose.encode()))
    sequence = np.random.SeedSequence(chance.root_seed, spawn_key=spawn_key)
    return np.random.Generator(np.random.PCG64DXSM(sequence))
