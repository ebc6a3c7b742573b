"""Facts made by hand, so that sentences and pages can be tested without a journal."""

from typing import Any, Literal

from solidcopy.reports.facts import (
    AxisFacts,
    CampaignFacts,
    ConditionFacts,
    Described,
    ExtentFacts,
    ModeNumbers,
    ReceiverFacts,
    Sense,
)
from solidcopy.reports.measured import (
    CurveFacts,
    Estimate,
    FalseFacts,
    MoreTrials,
    PairsFacts,
    PenaltyFacts,
    ThresholdFacts,
)
from solidcopy.statistics.evidence import Interval, NoEvidence, NoThreshold

AXES: dict[str, tuple[str, str, str, str, Sense]] = {
    "snr": ("gaussian-noise", "snr_db", "SNR in 2500 Hz", "dB", "snr"),
    "level": ("sending", "signal_dbfs", "wanted signal's level", "dBFS", "signal_level"),
    "ratio": ("carrier", "signal_to_interference_db", "S/I of the carrier", "dB", "ratio"),
    "interference": (
        "carrier",
        "interference_to_noise_db",
        "I/N in 2500 Hz of the carrier",
        "dB",
        "interference",
    ),
    "offset": ("carrier", "offset_hz", "carrier's offset from the lowest tone", "Hz", "other"),
}


def interval(low: float, high: float) -> Interval:
    return Interval(low, high, 0.95, "profile likelihood")


def estimate(value: float, low: float, high: float) -> Estimate:
    return Estimate(value, interval(low, high))


def curve(
    condition: str = "quiet",
    receiver: str = "builtin",
    half: Estimate | NoThreshold | None = None,
    most: Estimate | NoThreshold | None = None,
) -> CurveFacts:
    return CurveFacts(
        condition,
        receiver,
        (),
        NoThreshold("not drawn here"),
        (
            ThresholdFacts(0.5, half or estimate(-21.34, -21.52, -21.16), None),
            ThresholdFacts(0.9, most or estimate(-20.21, -20.5, -19.9), None),
        ),
    )


def penalty(
    shift: Estimate | NoThreshold,
    *,
    compares: Literal["condition", "receiver"] = "condition",
    name: str = "fence",
    against: str = "quiet",
    within: str = "builtin",
    more: MoreTrials | None = None,
) -> PenaltyFacts:
    return PenaltyFacts(
        compares, name, against, within, 0.5, shift, PairsFacts(600, 3, 90, 1e-9), more
    )


def condition(name: str, *, has_fixed_ratio: bool = False) -> ConditionFacts:
    parts = (Described("Gaussian noise", (("SNR in 2500 Hz", "swept"),)),)
    return ConditionFacts(name, parts, "c" * 64, has_fixed_ratio)


def false_decodes(n_false: int, n_trials: int, arm: Any = "nothing-sent") -> FalseFacts:
    return FalseFacts(
        "quiet",
        "builtin",
        arm,
        n_trials,
        min(n_false, n_trials),
        n_false,
        NoEvidence("not needed here"),
        None,
    )


def facts_of(
    axis: str = "snr",
    *,
    conditions: tuple[ConditionFacts, ...] = (condition("quiet"), condition("fence")),
    receivers: tuple[str, ...] = ("builtin",),
    curves: tuple[CurveFacts, ...] | None = None,
    penalties: tuple[PenaltyFacts, ...] = (),
    false: tuple[FalseFacts, ...] = (),
    n_done: int = 1000,
    is_finished: bool = True,
    **changes: Any,
) -> CampaignFacts:
    owner, field, quantity, unit, sense = AXES[axis]
    made = curves or tuple(
        curve(named.name, receiver) for named in conditions for receiver in receivers
    )
    settings: dict[str, Any] = {
        "title": "A question",
        "notes": "",
        "mode": ModeNumbers("ft8", 15.0, 0.16, 12.64, 50.0, 1),
        "axis": AxisFacts(owner, field, quantity, unit, sense, (-24.0, -21.0, -18.0)),
        "conditions": conditions,
        "receivers": tuple(ReceiverFacts(name, (), "r" * 64) for name in receivers),
        "curves": made,
        "penalties": penalties,
        "false_decodes": false,
        "failures": (),
        "levels": (),
        "elapsed": (),
        "extent": ExtentFacts(n_done, 1000, is_finished, "10 trials at each point"),
        "root_seed": 1,
        "fingerprint": "f" * 64,
        "messages": "A new random valid message in every trial.",
        "environment": (),
    }
    return CampaignFacts(**{**settings, **changes})
