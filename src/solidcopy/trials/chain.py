"""The sum of everything through the receiver's chain."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from solidcopy.impairments.catalogue import is_chain_block
from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import ChainBlock, Heard
from solidcopy.seeds import stream
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Samples
from solidcopy.trials.trial import Trial


def through_chain(
    total: Samples, trial: Trial, *, without: frozenset[int] = frozenset()
) -> Samples:
    """The sum as the receiver's chain hands it on, at the rate of the recording.

    Args:
        total: (n_samples,) at the synthesis rate.
        without: 0-based places in the condition of blocks that are taken out; the others keep
            their draws.
    Returns: (n_samples at the recording's rate,); `total` itself if nothing acts on it.
    """
    blocks = sorted(_named(trial), key=lambda named: named[1].place)
    blocks = [named for named in blocks if named[2] not in without]
    wide = [named for named in blocks if named[1].is_wideband]
    narrow = [named for named in blocks if not named[1].is_wideband]
    if not blocks and trial.synthesis_rate_hz == trial.sample_rate_hz:
        return total
    run_in = round(places.RUN_IN_S * trial.sample_rate_hz)
    n_slot = round(total.size * trial.sample_rate_hz / trial.synthesis_rate_hz)
    audio = np.pad(total, round(places.RUN_IN_S * trial.synthesis_rate_hz), mode="reflect")
    audio = _processed(audio, wide, trial, trial.synthesis_rate_hz)
    audio = resampled(audio, from_hz=trial.synthesis_rate_hz, to_hz=trial.sample_rate_hz).astype(
        np.float64, copy=False
    )
    audio = _processed(audio, narrow, trial, trial.sample_rate_hz)
    return audio[run_in : run_in + n_slot]


def _named(trial: Trial) -> list[tuple[str, ChainBlock, int]]:
    """Every block that is on, the purpose of its draws, and its place in the condition."""
    count: Counter[str] = Counter()
    named: list[tuple[str, ChainBlock, int]] = []
    for place, block in enumerate(trial.condition.impairments):
        if is_chain_block(block) and block.on and block.place < places.SLOT_CLOCK:
            named.append((f"{block.kind}/{count[block.kind]}", block, place))
            count[block.kind] += 1
    return named


def _processed(
    audio: Samples, blocks: Sequence[tuple[str, ChainBlock, int]], trial: Trial, rate_hz: int
) -> Samples:
    for purpose, block, _ in blocks:
        audio = block.process(Heard(audio, rate_hz), stream(trial.chance, purpose))
    return audio
