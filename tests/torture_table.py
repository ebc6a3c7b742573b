"""The answer given to an odd sound file; run as a program it prints the table of all.

PYTHONPATH=tests .venv/bin/python tests/torture_table.py
"""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from solidcopy import units
from solidcopy.errors import AudioFileError
from solidcopy.noise.health import measure_health
from solidcopy.noise.reading import mono, open_sound
from solidcopy.signals import power
from torture_faults import ALL
from torture_sounds import Torture

LEVEL_ERROR_DB = 0.01


@dataclass(frozen=True)
class Given:
    """What was said of a file."""

    refusal: str = ""
    verdict: str = ""
    n_samples: int = 0
    level_dbfs: float | None = None
    """Of the waveform that is handed on, without its offset."""
    health_dbfs: float | None = None
    """Of the channel it came from, by the health report."""
    sentences: tuple[tuple[str, str], ...] = ()
    """Kind and sentence of every finding."""
    heavy: tuple[str, ...] = ()
    """Kinds of the findings that decide."""
    question: str | None = None


def answer(case: Torture, path: Path) -> Given:
    """Make the file, open it, look through it."""
    case.make(path)
    try:
        with open_sound(path, **case.answers) as sound:
            health = measure_health(sound)
            level_dbfs = None
            if case.level_dbfs is not None:
                samples = mono(sound).samples.astype(np.float64)
                assert samples.size == sound.n_samples
                level_dbfs = units.dbfs_from_power(power.mean_power(samples - samples.mean()))
            heaviest = max((finding.weight for finding in health.findings), default=0)
            return Given(
                verdict=str(health.verdict),
                n_samples=sound.n_samples,
                level_dbfs=level_dbfs,
                health_dbfs=health.channels[sound.channel or 0].levels.power_dbfs,
                sentences=tuple((f.kind, f.sentence) for f in health.findings),
                heavy=tuple(f.kind for f in health.findings if 0 < f.weight == heaviest),
                question=sound.question and sound.question.option,
            )
    except AudioFileError as error:
        return Given(refusal=str(error))


def faults(case: Torture, given: Given) -> list[str]:
    """In what the answer is not the right one; nothing if it is."""
    if case.is_refused or given.refusal:
        is_right = case.is_refused and case.says in given.refusal and "\n" not in given.refusal
        return [] if is_right else [f"refusal: {given.refusal}"]
    found = []
    if case.n_samples not in (None, given.n_samples):
        found.append(f"{given.n_samples} samples")
    levels = [given.level_dbfs] if case.answers else [given.level_dbfs, given.health_dbfs]
    for level_dbfs in levels:
        if case.level_dbfs is None:
            continue
        if level_dbfs is None or abs(level_dbfs - case.level_dbfs) > LEVEL_ERROR_DB:
            found.append(f"level {level_dbfs} dBFS")
    if given.verdict != case.verdict:
        found.append(f"verdict {given.verdict}: {given.heavy}")
    if given.heavy and case.finding not in given.heavy:
        found.append(f"decided by {given.heavy}")
    if given.question != case.question:
        found.append(f"asks {given.question}")
    said = [sentence for kind, sentence in given.sentences if kind == case.finding]
    if not case.finding and given.sentences:
        found.append(f"says {given.sentences}")
    if case.finding and not any(case.says in sentence for sentence in said):
        found.append(f"does not say {case.finding}, {case.says}: {given.sentences}")
    return found


def line(case: Torture, given: Given, file: str) -> str:
    """One row of the table."""
    if given.refusal:
        text = given.refusal.replace(file, "FILE")
    else:
        said = [sentence for kind, sentence in given.sentences if kind == case.finding]
        level = [] if given.level_dbfs is None else [f"{given.level_dbfs:.3f} dBFS"]
        question = [f"asks {given.question}"] if given.question else []
        text = "; ".join((*level, f"{given.n_samples} samples", *said, *question))
    verdict = given.verdict or "refused"
    is_right = "no: " + ", ".join(faults(case, given)) if faults(case, given) else "yes"
    return f"| {case.row} | {text} | {verdict} | {is_right} |"


def table() -> str:
    """All of them, as Markdown."""
    lines = ["| file | answer | verdict | right |", "|---|---|---|---|"]
    with tempfile.TemporaryDirectory() as folder:
        for number, case in enumerate(ALL):
            path = Path(folder) / f"{number}.{case.suffix}"
            lines.append(line(case, answer(case, path), str(path)))
            path.unlink()
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
