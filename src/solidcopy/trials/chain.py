"""The sum of everything through the receiver's chain."""

from collections import Counter
from collections.abc import Sequence

import numpy as np

from solidcopy.impairments.chain import places
from solidcopy.impairments.impairment import ChainBlock, Heard
from solidcopy.seeds import stream
from solidcopy.signals.resample import resampled
from solidcopy.signals.waveform import Samples
from solidcopy.trials.trial import Trial


def through_chain(total: Samples, trial: Trial) -> Samples:
    """The sum as the receiver's chain hands it on, at the rate of the recording.

    Args:
        total: (n_samples,) at the synthesis rate.
    Returns: (n_samples at the recording's rate,); `total` itself if nothing acts on it.
    """
    blocks = sorted(
        (
            block
            for block in trial.condition.chain_blocks()
            if block.on and block.place < places.SLOT_CLOCK
        ),
        key=lambda block: block.place,
    )
    wide = [block for block in blocks if block.is_wideband]
    narrow = [block for block in blocks if not block.is_wideband]
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


def _processed(audio: Samples, blocks: Sequence[ChainBlock], trial: Trial, rate_hz: int) -> Samples:
    count: Counter[str] = Counter()
    for block in blocks:
        purpose = f"{block.kind}/{count[block.kind]}"
        count[block.kind] += 1
        audio = block.process(Heard(audio, rate_hz), stream(trial.chance, purpose))
    return audio
