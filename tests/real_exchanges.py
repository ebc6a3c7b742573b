"""Contacts carried out for real: every message is made as sound and given to the receiver, slot by
slot, and the next one is sent only once the last was decoded."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from example_plans import changed, condition
from solidcopy.campaigns.workers import receive_safely
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.receiver import Receiver
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.score import score
from solidcopy.trials.trial import SENT

TEXTS = (
    "CQ Q1ABC FN42",
    "Q1ABC Q2XYZ JO22",
    "Q2XYZ Q1ABC -15",
    "Q1ABC Q2XYZ R-12",
    "Q2XYZ Q1ABC RR73",
)
"""By turns of two stations; the first begins."""
NOISE = {"kind": "gaussian-noise", "snr_db": "axis"}
RUN_SLOTS = 20


def plan_of(*, spread_hz: float | None = None, **fields: Any) -> Plan:
    """One condition over the SNR; with fading of that spread, in runs."""
    impairments: list[dict[str, Any]] = [NOISE]
    if spread_hz is not None:
        fading = {"kind": "two-path-fading", "delay_ms": 0.5, "spread_hz": spread_hz}
        impairments.append({**fading, "trials_together": RUN_SLOTS})
    return parse_plan(
        changed(
            conditions=[condition("path", impairments=impairments)],
            receivers=[{"kind": "builtin"}],
            **fields,
        )
    )


NEVER = RUN_SLOTS + 1


@dataclass(frozen=True, slots=True)
class Carried:
    """One exchange: slots until the first message was through, and until all were."""

    first: int
    whole: int


def carried_out(plan: Plan, snr_db: float, n_exchanges: int) -> Iterator[Carried]:
    """Exchanges one after the other, each over a stretch of its own; NEVER: not by its end."""
    receiver = build_receiver(plan.receivers[0], mode_named(plan.mode))
    saying = [_saying(plan.conditions[0], text) for text in TEXTS]
    for number in range(n_exchanges):
        through: list[int] = []
        for slot in range(RUN_SLOTS):
            # The station whose turn it is sends the message after the last that it heard; in the
            # other's turn nothing that matters is sent.
            message = len(through)
            if message % 2 != slot % 2:
                continue
            key = TrialKey(0, SENT, snr_db, number * RUN_SLOTS + slot)
            if _is_heard(plan, key, saying[message], receiver):
                through.append(slot + 1)
            if len(through) == len(TEXTS):
                break
        first = through[0] if through else NEVER
        yield Carried(first, through[-1] if len(through) == len(TEXTS) else NEVER)


def _saying(condition: Condition, text: str) -> Condition:
    return condition.model_copy(
        update={"sending": condition.sending.model_copy(update={"message": text})}
    )


def _is_heard(plan: Plan, key: TrialKey, saying: Condition, receiver: Receiver) -> bool:
    recording, truth = make(trial_of(plan, key, saying.at(key.axis_value)))
    outcome = score(receive_safely(receiver, recording.waveform), truth, recording)
    return outcome.verdict is Verdict.DECODED
