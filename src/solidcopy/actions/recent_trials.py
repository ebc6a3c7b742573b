"""Trials made a moment ago, with all their parts: for looking at one again from another side."""

import threading
from collections import OrderedDict

from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.identity import curve_identity
from solidcopy.trials.make import Making, make_in_parts
from solidcopy.trials.plan import Plan

MOST_BYTES = 256_000_000
"""A trial of FT8 with four parts at 12 kHz takes 9 MB, at 48 kHz 32 MB."""


class RecentTrials:
    """Keeps the last ones within a size; makes one at a time, whoever asks."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        """Nothing is kept yet."""
        self._most_bytes = most_bytes
        self._kept: OrderedDict[tuple[str, TrialKey], Making] = OrderedDict()
        self._looking = threading.Lock()
        self._making = threading.Lock()

    def get(self, plan: Plan, key: TrialKey) -> Making:
        """The trial, made now unless it is kept. Raises as `make` does."""
        name = curve_identity(plan, plan.conditions[key.condition]), key
        found = self._find(name)
        if found is not None:
            return found
        with self._making:
            # Another request may have made it while this one waited.
            found = self._find(name)
            if found is None:
                found = make_in_parts(trial_of(plan, key))
                self._keep(name, found)
        return found

    def _find(self, name: tuple[str, TrialKey]) -> Making | None:
        with self._looking:
            if name in self._kept:
                self._kept.move_to_end(name)
            return self._kept.get(name)

    def _keep(self, name: tuple[str, TrialKey], making: Making) -> None:
        with self._looking:
            self._kept[name] = making
            while len(self._kept) > 1 and self.n_bytes > self._most_bytes:
                self._kept.popitem(last=False)

    @property
    def n_bytes(self) -> int:
        """Size of all samples that are kept."""
        return sum(_n_bytes(making) for making in self._kept.values())


def _n_bytes(making: Making) -> int:
    wanted = making.mix.wanted.samples
    own = making.recording.waveform.samples.nbytes + (0 if wanted is None else wanted.nbytes)
    return own + sum(part.disturbance.samples.nbytes for part in making.mix.parts)


RECENT = RecentTrials()
"""Those of this process."""
