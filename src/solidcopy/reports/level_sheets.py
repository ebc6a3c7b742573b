"""The level card and the times of the receivers as tables, from facts."""

from collections.abc import Iterator, Sequence

from solidcopy.reports.axis import kind_words
from solidcopy.reports.facts import CampaignFacts
from solidcopy.reports.measured import LevelFacts
from solidcopy.reports.sheet import DASH, Sheet
from solidcopy.reports.wording import duration, number, plain, signed, whole


def levels_sheet(facts: CampaignFacts) -> Sheet:
    """Asked and got, one row for each disturbance; every axis value stands in facts.json."""
    groups: dict[tuple[str, str, str], list[LevelFacts]] = {}
    for level in facts.levels:
        groups.setdefault((level.condition, level.disturbance, level.quantity), []).append(level)
    return Sheet(
        "Level card: asked levels beside those measured again in the recordings",
        (
            "condition",
            "disturbance",
            "quantity",
            "asked, dB",
            "recordings",
            "got − asked, mean, dB",
            "worst, dB",
            "chance explains (sd), dB",
            "largest crest, dB",
            "highest peak of the mix, dBFS",
            "clipped samples",
        ),
        tuple(_level_row(levels) for levels in groups.values()),
        "Levels are root-mean-square powers, averaged as powers. They are set from expected "
        "powers and measured by another route, from the samples handed to the receivers.",
    )


def _level_row(levels: Sequence[LevelFacts]) -> tuple[str, ...]:
    first = levels[0]
    asked = [level.asked_db for level in levels if level.asked_db is not None]
    differences = [
        (level.mean_got_db - level.asked_db, level.n_recordings - level.n_silent)
        for level in levels
        if level.mean_got_db is not None and level.asked_db is not None
    ]
    n_heard = sum(n for _, n in differences)
    mean = sum(d * n for d, n in differences) / n_heard if n_heard else None
    worst = max((v for v in _known(levels, "worst_difference_db")), key=abs, default=None)
    asked_text = DASH
    if asked:
        ends = dict.fromkeys((plain(min(asked)), plain(max(asked))))
        asked_text = " to ".join(ends)
    return (
        first.condition,
        kind_words(first.disturbance),
        first.quantity,
        asked_text,
        whole(sum(level.n_recordings for level in levels)),
        DASH if mean is None else signed(mean, 3),
        DASH if worst is None else signed(worst, 2),
        _highest(levels, "expected_sd_db", 2),
        _highest(levels, "crest_db", 1),
        _highest(levels, "mix_peak_dbfs", 1),
        whole(sum(level.n_clipped for level in levels)),
    )


def _known(levels: Sequence[LevelFacts], field: str) -> Iterator[float]:
    for level in levels:
        value = getattr(level, field)
        if value is not None:
            yield value


def _highest(levels: Sequence[LevelFacts], field: str, places: int) -> str:
    values = list(_known(levels, field))
    return number(max(values), places) if values else DASH


def elapsed_sheet(facts: CampaignFacts) -> Sheet | None:
    """Time for one slot; None if nothing was timed."""
    if not facts.elapsed:
        return None
    return Sheet(
        f"Time a receiver took for one slot of {facts.mode.slot_s:g} s",
        ("condition", "receiver", "slots", "mean", "median", "95 % within", "longest"),
        tuple(
            (
                times.condition,
                times.receiver,
                whole(times.n_trials),
                *(
                    duration(seconds)
                    for seconds in (times.mean_s, times.median_s, times.p95_s, times.longest_s)
                ),
            )
            for times in facts.elapsed
        ),
        "Measured while other work ran on the same machine; compare within one campaign only.",
    )
