"""The built-in receiver with its array work done for many slots at once."""

from collections.abc import Sequence
from dataclasses import dataclass

from solidcopy.receivers.builtin.batched.arrays import Namespace
from solidcopy.receivers.builtin.batched.stages import BatchedStages
from solidcopy.receivers.builtin.receiver import BuiltinReceiver
from solidcopy.receivers.builtin.stages import hear_all
from solidcopy.receivers.receiver import Reception
from solidcopy.signals.waveform import Waveform


@dataclass(frozen=True, slots=True, eq=False)
class BatchedReceiver:
    """Decides as `BuiltinReceiver` does; only who answers the costly questions differs.

    Its answers differ from the compiled ones by rounding in float32.
    """

    decider: BuiltinReceiver
    xp: Namespace

    def receive(self, waveform: Waveform) -> Reception:
        """Decode one slot; many at once are far quicker."""
        (reception,) = self.receive_many([waveform])
        return reception

    def receive_many(self, waveforms: Sequence[Waveform]) -> list[Reception]:
        """Decode slots, each by itself: nothing of one can alter what is decoded in another.

        Args:
            waveforms: each begins at its slot's UTC edge; any sample rate.
        Returns: one reception for each; their times add up to that of all.
        """
        hearings = [self.decider.hearing(waveform) for waveform in waveforms]
        return hear_all(hearings, BatchedStages(self.decider.band, self.xp))
