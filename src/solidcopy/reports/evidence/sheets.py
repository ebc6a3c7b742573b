"""Tables of an evidence sheet: levels, how it was measured, surroundings, files."""

from datetime import UTC, datetime

from solidcopy import units
from solidcopy.noise.before_after.compare import Change
from solidcopy.noise.before_after.levels import Level
from solidcopy.noise.features.figure import CannotTell
from solidcopy.reports.delivery_page import share_text
from solidcopy.reports.evidence.facts import Comparison, EvidenceFacts, Heard
from solidcopy.reports.evidence.words import level_text
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.surroundings_words import BORROWED
from solidcopy.reports.wording import number, plain, quoted, signed, span
from solidcopy.translate.surroundings import (
    MAN_MADE,
    MAN_MADE_MHZ,
    Surroundings,
    fa_from_dbm,
    noise_dbm,
)

REFERENCE = f"{plain(units.REFERENCE_BANDWIDTH_HZ)} Hz"
DETECTOR = (
    "Mean power (rms): Hann windows of 1 s, half overlapping, over the whole recording. Weakest "
    "fifth: the weakest fifth of the moments, put right for Gaussian noise, so the level between "
    "pulses. Peak: the highest sample."
)


def levels_sheet(facts: EvidenceFacts) -> Sheet:
    """Levels with bandwidth and detector, and their differences."""
    low, high = facts.band_hz
    outcome = facts.outcome
    found = outcome.found if isinstance(outcome, Comparison) else None
    mean, fifth, whole, rate = (
        (None,) * 4
        if found is None
        else (found.in_band, found.floor, found.whole, found.impulse_rate)
    )
    passed = f"{facts.passband_hz[0]:.0f}-{facts.passband_hz[1]:.0f} Hz"
    rows = [
        (
            f"mean power, in {REFERENCE}",
            f"rms; from {low:.0f}-{high:.0f} Hz",
            *(level_text(facts, one.levels.mean) for one in facts.heard),
            *_difference(mean),
        ),
        (
            f"weakest fifth, in {REFERENCE}",
            f"rms; from {low:.0f}-{high:.0f} Hz",
            *(_level(facts, one.levels.weakest_fifth) for one in facts.heard),
            *_difference(fifth),
        ),
        (
            "mean power, all frequencies",
            f"rms; {passed}",
            *(level_text(facts, one.levels.whole) for one in facts.heard),
            *_difference(whole),
        ),
        (
            "peak",
            f"highest sample; {passed}",
            *(number(facts.shown(one.levels.peak_dbfs), 1) for one in facts.heard),
            *_peak_difference(facts),
        ),
        (
            "impulses a minute",
            "those that stand out",
            *(_count(one.levels.impulses_per_minute) for one in facts.heard),
            *_difference(rate),
        ),
    ]
    states = tuple(f"{one.taken.state}, {facts.unit}" for one in facts.heard)
    ends = ("second less first (95 %)",) if found else ()
    return Sheet(
        f"Levels in {facts.unit}, in brackets 95 % intervals",
        ("what", "detector and bandwidth", *states, *ends),
        tuple(rows),
        DETECTOR,
        n_heads=1,
    )


def _level(facts: EvidenceFacts, level: Level | CannotTell) -> str:
    return DASH if isinstance(level, CannotTell) else level_text(facts, level)


def _count(impulses: float | CannotTell) -> str:
    return DASH if isinstance(impulses, CannotTell) else number(impulses, 0)


def _difference(change: Change | CannotTell | None) -> tuple[str, ...]:
    """The last cell of a row; none without a second recording."""
    if change is None:
        return ()
    if isinstance(change, CannotTell):
        return (DASH,)
    places, unit = (1, " dB") if change.unit == "dB" else (0, "")
    text = f"{signed(change.difference, places)}{unit}"
    if isinstance(change.interval, CannotTell):
        return (text,)
    low, high = change.interval
    return (f"{text} ({signed(low, places)} to {signed(high, places)})",)


def _peak_difference(facts: EvidenceFacts) -> tuple[str, ...]:
    peaks = [one.levels.peak_dbfs for one in facts.heard]
    return (f"{signed(peaks[1] - peaks[0], 1)} dB",) if len(peaks) > 1 else ()


def method_rows(facts: EvidenceFacts) -> tuple[tuple[str, str], ...]:
    """What, when and how, line by line."""
    said = facts.description
    when = (
        (f"when, {one.taken.state}", f"{_time(one.taken.start)}, {one.waveform.duration_s:.0f} s")
        for one in facts.heard
    )
    rows = (
        ("where", said.place),
        *when,
        ("frequency", f"{plain(said.frequency_mhz)} MHz"),
        ("antenna", said.antenna),
        ("receiver", said.receiver),
        ("its settings", said.settings),
        ("recorder", facts.heard[0].recorder),
        ("measured by", said.measured_by),
        ("notes", said.notes),
    )
    return tuple((name, text) for name, text in rows if text)


def _time(moment: datetime) -> str:
    """As given, with its zone, and in UTC."""
    utc = f"{moment.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC"
    if not moment.utcoffset():
        return utc
    return f"{moment:%Y-%m-%d %H:%M:%S %Z} ({utc})"


def files_sheet(facts: EvidenceFacts) -> Sheet:
    """Files that the sheet was made from, so that it can be checked."""
    rows = [(one.name, one.sha256) for one in facts.heard]
    rows.append((facts.origin.description, facts.origin.description_sha256))
    if facts.cost is not None:
        rows.append((facts.cost.name, f"{facts.cost.fingerprint} (fingerprint of the campaign)"))
    return Sheet("Files behind this sheet", ("file", "SHA-256"), tuple(rows), n_heads=1)


def surroundings_sheet(facts: EvidenceFacts) -> Sheet | None:
    """The ranges of ITU-R P.372 beside what was measured; None without a calibration, or where the
    recommendation says nothing."""
    calibration, mhz = facts.description.calibration, facts.description.frequency_mhz
    if calibration is None or not MAN_MADE_MHZ[0] <= mhz <= MAN_MADE_MHZ[1]:
        return None
    rows = [
        (
            kind.name,
            _four_fifths(kind, mhz),
            *(_quieter(facts, kind, one) for one in facts.heard),
        )
        for kind in MAN_MADE
    ]
    return Sheet(
        f"Measured beside the ranges of ITU-R P.372 at {plain(mhz)} MHz",
        (
            "surroundings",
            f"four fifths of places and hours, dBm in {REFERENCE}",
            *(f"quieter than in {quoted(one.taken.state)}" for one in facts.heard),
        ),
        tuple(rows),
        f"Shares of all such places and hours that are quieter than the mean power in {REFERENCE}, "
        "over the errors of calibration and chance. These are ranges, not limits: neither a pass "
        "mark nor a proof of anything. The data behind them are old and mostly from one country. "
        "They hold for a lossless antenna away from any single strong source; gain and losses of "
        f"the antenna are not taken off here. {BORROWED}",
        n_heads=1,
    )


def _four_fifths(kind: Surroundings, mhz: float) -> str:
    low, high = (noise_dbm(end) for end in kind.middle_db(mhz))
    return span(low, high, 0)


def _quieter(facts: EvidenceFacts, kind: Surroundings, heard: Heard) -> str:
    mhz, calibration = facts.description.frequency_mhz, facts.description.calibration
    assert calibration is not None
    level = heard.levels.mean
    low, high = (
        (level.dbfs, level.dbfs) if isinstance(level.interval, CannotTell) else level.interval
    )
    ends = (low - calibration.error_db, high + calibration.error_db)
    fas = (fa_from_dbm(facts.shown(end), units.REFERENCE_BANDWIDTH_HZ) for end in ends)
    first, last = (share_text(kind.share_below(fa, mhz)) for fa in fas)
    return first if first == last else f"{first.removesuffix(' %')} to {last}"


def no_surroundings(facts: EvidenceFacts) -> str:
    """Why there is no comparison with P.372."""
    if facts.description.calibration is None:
        return (
            "How this noise compares with what is usual in a city or in the country (ITU-R P.372) "
            "cannot be told: only relative levels are known, for want of a calibration."
        )
    low, high = MAN_MADE_MHZ
    return (
        f"ITU-R P.372 gives man-made noise from {low:g} to {high:g} MHz only; there is nothing to "
        "compare with here."
    )
