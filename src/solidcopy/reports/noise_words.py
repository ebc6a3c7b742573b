"""The parts of a noise in words."""

import math

from solidcopy.noise.clues.match import Clue
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.part import Part, PartKind, PartsList
from solidcopy.reports.wording import MINUS, counted, number, small_percent

CONFIDENCE = (
    "How surely: “sure”, the chance that Gaussian noise of the same spectrum shows such a part "
    "anywhere in a recording as long is below 1 in 1000; “likely”, below 1 in 20. It says that "
    "the part is there, not what made it."
)
ERRORS_95 = 1.96


def part_name(part: Part) -> str:
    """E.g. "periodic impulses, every 1.300 s"."""
    rhythm, period = part.rhythm_hz, part.period_s
    if part.kind is PartKind.PERIODIC_IMPULSES and isinstance(rhythm, Figure):
        assert isinstance(period, Figure)
        return f"periodic impulses, {_every(rhythm, period)}"
    if part.kind is PartKind.COMB and isinstance(rhythm, Figure):
        return f"comb of {len(part.frequencies_hz)} lines, {rhythm.value:.2f} Hz apart"
    if part.kind in (PartKind.STEADY_LINE, PartKind.KEYED_LINE):
        return f"{part.kind} at {part.frequencies_hz[0]:.1f} Hz"
    if part.kind in (PartKind.HUMP, PartKind.DATA_LIKE, PartKind.SPEECH_LIKE):
        return f"{part.kind}, {part.band_hz[0]:.0f} to {part.band_hz[1]:.0f} Hz"
    return str(part.kind)


def _every(rhythm: Figure, period: Figure) -> str:
    if rhythm.value < 5.0:
        return f"every {period.value:.3f} s"
    return f"{rhythm.value:.2f} a second"


def level_words(part: Part) -> str:
    """Level with its uncertainty."""
    if part.power <= 0.0:
        return "none"
    error = ERRORS_95 * part.level_error_db
    if not math.isfinite(error) or error > 6.0:
        return f"{number(part.level_dbfs, 0)} dBFS or less"
    places = 1 if error < 0.95 else 0
    shown = max(error, 0.05 if places else 0.5)
    return f"{number(part.level_dbfs, places)} ±{number(shown, places)} dBFS"


def part_facts(part: Part, whole: PartsList) -> list[str]:
    """Sentences of level, rhythm, time, class and confidence."""
    share = whole.share(part)
    if part.kind is PartKind.REST:
        return [_rest_words(part, share)]
    facts = [
        f"{level_words(part)} (95 %, of the reading), {small_percent(share)} of the power; "
        f"{part.band_hz[0]:.0f} to {part.band_hz[1]:.0f} Hz"
    ]
    rhythm = _rhythm_words(part)
    if rhythm:
        facts.append(rhythm)
    if part.kind is not PartKind.FLOOR:
        facts.append(_times_words(part))
        facts.append(f"in ITU terms: {part.itu_class}; {_confidence_words(part)}")
    else:
        facts.append(f"in ITU terms: {part.itu_class}")
    return facts


def _rest_words(part: Part, share: float) -> str:
    if part.power <= 0.0:
        return "nothing: the parts above hold all of the power"
    if part.p_chance > 0.01:
        return (
            f"{small_percent(share)} of the power ({number(part.level_dbfs, 0)} dBFS), no more "
            "than the uncertainty of the parts above"
        )
    return f"{level_words(part)}, {small_percent(share)} of the power: unexplained"


def _confidence_words(part: Part) -> str:
    if part.p_chance < 1e-6:
        return f"{part.confidence_word} (chance below 1 in a million)"
    return f"{part.confidence_word} (chance 1 in {1.0 / part.p_chance:.2g})"


def _rhythm_words(part: Part) -> str:
    rhythm, period = part.rhythm_hz, part.period_s
    if rhythm is None:
        return ""
    if not isinstance(rhythm, Figure) or not isinstance(period, Figure):
        return f"rhythm: {rhythm.reason}" if not isinstance(rhythm, Figure) else ""
    if part.kind is PartKind.COMB:
        return (
            f"spacing {figure_words(rhythm, 'Hz')}; lowest line at {part.frequencies_hz[0]:.1f} Hz"
        )
    count = "" if part.n_impulses is None else f"; {part.n_impulses} impulses"
    return f"period {figure_words(period, 's')}, {figure_words(rhythm, 'a second')}{count}"


def figure_words(figure: Figure, unit: str) -> str:
    """A value with its 95 % half-interval, as many digits as that supports."""
    half = max(ERRORS_95 * figure.standard_error, 1e-6)
    places = max(0, min(6, 1 - math.floor(math.log10(half))))
    return f"{number(figure.value, places)} ±{number(half, places)} {unit}"


def _times_words(part: Part) -> str:
    times = part.times
    on = small_percent(min(times.share_on, 1.0))
    if part.kind in (PartKind.PERIODIC_IMPULSES, PartKind.RANDOM_IMPULSES):
        return f"from {times.first_s:.1f} to {times.last_s:.1f} s; fills {on} of the time"
    if times.share_on > 0.99:
        return "there all the time"
    return f"from {times.first_s:.1f} to {times.last_s:.1f} s; on for {on} of the time"


def headline(whole: PartsList) -> str:
    """One sentence: what there is besides the floor, the strongest first."""
    others = [part for part in whole.parts if part.kind not in (PartKind.FLOOR, PartKind.REST)]
    floor = whole.of_kind(PartKind.FLOOR)[0]
    ground = f"a Gaussian floor of {level_words(floor)}"
    if not others:
        return f"Nothing but {ground} was found."
    names = [
        f"{part_name(part)} ({small_percent(whole.share(part))} of the power)"
        for part in others[:4]
    ]
    more = f", and {counted(len(others) - 4, 'weaker part')}" if len(others) > 4 else ""
    return f"Over {ground}: {'; '.join(names)}{more}."


def cautions_of(clues: tuple[tuple[Clue, ...], ...]) -> tuple[str, ...]:
    """Each caution once, in order of the parts."""
    return tuple(
        dict.fromkeys(caution for of_part in clues for clue in of_part for caution in clue.cautions)
    )


def balance_words(whole: PartsList) -> str:
    """How well the powers add up."""
    return (
        f"The powers of all parts add up to that of the recording within "
        f"{number(abs(whole.unbalanced_db), 2).replace(MINUS, '')} dB."
    )
