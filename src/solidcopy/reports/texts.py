"""Standing words of the page: definitions, method and cautions.

Sources of the cautions: docs/sources.md; RR 15.1 and 15.2 (ITU Radio Regulations 2024), EU
Directive 2003/10/EC, arithmetic of a 100 W transmitter (+50 dBm) into a receiver.
"""

from solidcopy.modes.registry import mode_named
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.fading import fading_method

WORDS = (
    (
        "SNR in 2500 Hz",
        "Mean power of the wanted signal while it transmits, over the noise power in 2500 Hz, "
        "the trade's reference bandwidth for such modes.",
    ),
    (
        "S/I",
        "Mean power of the wanted signal while it transmits, over the mean power of one "
        "disturbance in the slot. Positive: the wanted signal is stronger.",
    ),
    ("I/N in 2500 Hz", "Mean power of one disturbance over the noise power in 2500 Hz."),
    ("C/N0", "Signal power over the noise power in 1 Hz, in dB-Hz."),
    ("Es/N0", "Energy of one symbol over the noise power in 1 Hz."),
    ("dBFS", "Level against a full-scale sine, as mean power; peaks against full scale."),
    ("crest", "Peak over root mean square."),
    ("decoded", "The receiver reported exactly the message sent, at its frequency and time."),
    ("false decode", "A reported message that was not sent. It never makes a trial a success."),
    ("failed", "The receiver crashed, hung or gave no answer: neither decoded nor missed."),
    ("threshold", "Axis value at which a stated share of the messages gets through."),
    ("difference", "Threshold of one condition or receiver minus that of the first."),
    (
        "95 %",
        "Of intervals made this way, 95 in 100 hold the true value.",
    ),
)

CAUTIONS = (
    "Never on the air: disturbances and test signals belong in a file, on a cable or on a dummy "
    "load. The Radio Regulations forbid unnecessary transmissions and false or misleading signals "
    "(RR 15.1) and more power than needed (RR 15.2). Your licence and local rules apply besides.",
    "Receiver inputs: a 100 W transmitter into a receiver needs at least 120 dB of attenuation, "
    "begun with a power attenuator rated for it, to arrive at −70 dBm. Start at the lowest level.",
    "Ears: impulses and noise from headphones can harm. Keep phones off the ears while playing "
    "recordings, begin at the lowest volume; action levels at work start at 80 dB(A) over a day "
    "(EU Directive 2003/10/EC).",
    "Calls in the messages begin with Q and are allocated to nobody.",
    "Results hold for these conditions on this bench. A path on the air adds fading, drift and "
    "noise of its own.",
)


def method(facts: CampaignFacts) -> tuple[str, ...]:
    """How the figures came about, with the numbers of this campaign."""
    mode = facts.mode
    forms = sorted({c.line.form for c in facts.curves if hasattr(c.line, "form")})
    shape = f" ({', '.join(forms)})" if forms else ""
    long = "" if mode_named(mode.name).facts.is_slotted else "at most "
    return (
        f"Each trial is one {'window' if long else 'slot'} of {mode.slot_s:g} s with one "
        f"{mode.name.upper()} transmission of {long}{mode.duration_s:.2f} s; the trial counts as "
        "one message, not as bits.",
        facts.messages,
        "The receiver hears the samples and is told nothing else. A decode counts only if its "
        "text, and its frequency and time where reported, are those sent.",
        "Noise is set by its density, so neither sample rate nor filters alter the SNR. One gain "
        "brings the whole mix to its level; ratios stay as asked.",
        f"Trials: {facts.extent.stop_rule}.",
        f"Shares carry Wilson intervals. Curves{shape} are fitted by maximum likelihood with a "
        "small free share of losses; thresholds carry profile-likelihood intervals, and none is "
        "given where the trials do not bound it.",
        *fading_method(facts),
        "All conditions and receivers meet the same messages and the same noise, so differences "
        "are judged in pairs: the interval of a difference uses the correlation of the two sides.",
        "Failed trials are left out of every share and shown on their own.",
    )
