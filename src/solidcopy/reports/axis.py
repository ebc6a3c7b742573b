"""Swept and mapped fields in words: quantity, unit and what a step to the right means."""

from solidcopy.reports.facts import AxisFacts, Sense
from solidcopy.trials.field_words import split_unit
from solidcopy.trials.plan import Plan


def kind_words(kind: str) -> str:
    """The kind of an impairment in words: "gaussian-noise" -> "Gaussian noise"."""
    words = kind.replace("-", " ").replace(" path fading", "-path fading")
    return words.replace("gaussian", "Gaussian").replace("morse", "Morse")


def axis_facts(plan: Plan) -> AxisFacts:
    """Words for the axis of a plan."""
    owner, field = plan.swept_label()
    quantity, unit, sense = field_words(owner, field)
    return AxisFacts(
        owner=owner,
        field=field,
        quantity=quantity,
        unit=unit,
        sense=sense,
        values=plan.axis.points(),
    )


def field_words(owner: str, field: str) -> tuple[str, str, Sense]:
    """Quantity, unit and what a larger value means, of a field of "sending" or of an impairment."""
    thing = kind_words(owner)
    fixed: dict[tuple[str, str], tuple[str, str, Sense]] = {
        (owner, "snr_db"): ("SNR in 2500 Hz", "dB", "snr"),
        (owner, "signal_to_interference_db"): (f"S/I of the {thing}", "dB", "ratio"),
        (owner, "interference_to_noise_db"): (
            f"I/N in 2500 Hz of the {thing}",
            "dB",
            "interference",
        ),
        (owner, "offset_hz"): (f"{thing}'s offset from the lowest tone", "Hz", "other"),
        ("band-noise", "offset_hz"): (
            "band noise's offset from the signal's middle",
            "Hz",
            "other",
        ),
        ("sending", "signal_dbfs"): ("wanted signal's level", "dBFS", "signal_level"),
        ("sending", "audio_hz"): ("frequency of the lowest tone", "Hz", "other"),
        ("sending", "start_offset_s"): ("start after the nominal start", "s", "other"),
    }
    if (owner, field) in fixed:
        return fixed[owner, field]
    words, unit = split_unit(field)
    return f"{words} of the {thing}", unit, "other"
