"""How journals of 1e4 to 1e7 outcomes grow: `python benchmarks/bench_journal.py [most] [folder]`.

`most` is the largest number of outcomes: 1e6 if left out; 1e7 takes half an hour and 8 GB in
`folder`. Four conditions heard by two receivers at eleven axis values: 88 points, whatever the
length. Printed for each length: size, and milliseconds on the wall (median, least and most) of

- opening; how far the campaign has come; the counts of one curve and of all; one trial; a page of
  the trials behind a point, the first and the last of those missed; each by a new reader, in a
  process that does nothing else, the file in the system's cache,
- the same state and page while batches are appended between them,
- appending by the one writer: batches as a run hands them over, forced to disk after every tenth,
- what passes over every row: fingerprint, copy, export as text and in columns,

and the memory that each process took above what the program holds once it has started.
"""

import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np

from laps import machine
from made_journal import HERE, curves_plan, finished_behind, with_trials, write_made_journal
from solidcopy.actions.export import export
from solidcopy.actions.point_trials import PER_PAGE, AskedTrials, Show, point_trials
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.journal.copy import copy_journal
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.campaigns.progress import progress_of
from solidcopy.reports.gather import gather_counts
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.trial import SENT

N_POINTS = 88
BATCH = 100
"""Outcomes: the most that a worker hands over at a time, 50 trials heard by two receivers."""
N_BATCHES, SETTLED_EVERY = 200, 10
N_ASKED, N_BESIDE = 9, 9
CONDITION, AXIS_VALUE = "carrier 1", -20.0

Told = dict[str, list[float]]
"""Seconds by what was done, or bytes where it says so."""


def state(folder: Path) -> None:
    with JournalReader(folder) as reader:
        progress_of(reader)


def one_curve(folder: Path) -> None:
    with JournalReader(folder) as reader:
        reader.points(1, 1)


def all_counts(folder: Path) -> None:
    with JournalReader(folder) as reader:
        gather_counts(reader)


def one_trial(folder: Path) -> None:
    with JournalReader(folder) as reader:
        index = reader.plan.stop.limit_per_point // 2
        reader.outcome(TrialKey(1, SENT, AXIS_VALUE, index), 1)


def first_page(folder: Path) -> None:
    missed = AskedTrials(condition=CONDITION, axis_value=AXIS_VALUE, show=Show.MISSED)
    point_trials(folder, missed)


def last_page(folder: Path) -> None:
    missed = AskedTrials(condition=CONDITION, axis_value=AXIS_VALUE, show=Show.MISSED)
    n_listed = point_trials(folder, missed).n_listed
    point_trials(folder, missed.model_copy(update={"first": max(0, n_listed - PER_PAGE)}))


QUESTIONS: dict[str, Callable[[Path], None]] = {
    "opening": lambda folder: JournalReader(folder).close(),
    "state": state,
    "counts of a curve": one_curve,
    "counts of all": all_counts,
    "one trial": one_trial,
    "first page": first_page,
    "first and last page": last_page,
}


def taken_s(work: Callable[[], object]) -> float:
    started_s = time.perf_counter()
    work()
    return time.perf_counter() - started_s


def ask(folder: Path) -> Told:
    """Every question, each time by a new reader."""
    return {
        what: [taken_s(lambda question=question: question(folder)) for _ in range(N_ASKED)]
        for what, question in QUESTIONS.items()
    }


def append(folder: Path) -> Told:
    """Go on as a run does; between batches another connection asks."""
    with JournalReader(folder) as reader:
        plan = reader.plan
    n_done = plan.stop.limit_per_point
    n_more = -(-(N_BATCHES + N_BESIDE) * BATCH // N_POINTS)
    more = finished_behind(plan, n_done, n_more)
    told: Told = {"appending a batch": [], "settling": [], "state beside": [], "page beside": []}
    with JournalWriter(folder, with_trials(plan, n_done + n_more), HERE) as writer:
        for place, batch in enumerate(batches(more)):
            told["appending a batch"].append(taken_s(lambda rows=batch: writer.append(rows)))
            if place % SETTLED_EVERY == SETTLED_EVERY - 1:
                told["settling"].append(taken_s(writer.settle))
            if place >= N_BATCHES:
                told["state beside"].append(taken_s(lambda: state(folder)))
                told["page beside"].append(taken_s(lambda: first_page(folder)))
    return told


def batches(rows: Iterator[object]) -> Iterator[list[object]]:
    while batch := list(islice(rows, BATCH)):
        yield batch


def fingerprint(folder: Path) -> None:
    with JournalReader(folder) as reader:
        reader.fingerprint()


def pass_over(folder: Path) -> Told:
    """What looks at every row, once."""
    told = {"fingerprint": [taken_s(lambda: fingerprint(folder))]}
    with tempfile.TemporaryDirectory(dir=folder) as name:
        told["copy"] = [taken_s(lambda: copy_journal(folder, Path(name)))]
        for out in (Path(name, "out.csv"), Path(name, "out.parquet")):
            told[f"export, {out.suffix}"] = [taken_s(lambda path=out: export(folder, path))]
            told[f"size in bytes, {out.suffix}"] = [out.stat().st_size]
    return told


PARTS: dict[str, Callable[[Path], Told]] = {
    "--ask": ask,
    "--append": append,
    "--pass-over": pass_over,
}


def in_own_process(part: str, folder: Path) -> Told:
    ended = subprocess.run(
        [sys.executable, __file__, part, str(folder)], check=True, stdout=subprocess.PIPE, text=True
    )
    told: Told = json.loads(ended.stdout)
    return told


def tell_part(part: str, folder: Path) -> None:
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    told = PARTS[part](folder)
    more_bytes = 1024.0 * (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
    print(json.dumps({**told, f"memory in bytes, {part[2:]}": [more_bytes]}))


def print_length(folder: Path, n_outcomes: int) -> None:
    plan = curves_plan(n_outcomes // N_POINTS)
    made_s = taken_s(lambda: write_made_journal(folder, plan))
    size = (folder / JOURNAL_FILE).stat().st_size
    n_rows = plan.stop.limit_per_point * N_POINTS
    print(f"\n{n_rows} outcomes: {size / 1e6:.1f} MB, {size / n_rows:.0f} bytes each", flush=True)
    print(f"  made in {made_s:.0f} s; milliseconds, median (least – most):")
    for part in PARTS:
        for what, values in in_own_process(part, folder).items():
            if "bytes" in what:
                print(f"  {what:24s} {values[0] / 1e6:9.1f} · 10⁶", flush=True)
                continue
            ms = 1e3 * np.array(values)
            print(f"  {what:24s} {np.median(ms):9.2f} ({ms.min():.2f} – {ms.max():.2f})")
            if what == "appending a batch":
                print(f"  {'outcomes appended a second':24s} {BATCH / np.mean(values):.0f}")
    print(f"  {machine()}", flush=True)


def main() -> None:
    if sys.argv[1:2] and sys.argv[1] in PARTS:
        tell_part(sys.argv[1], Path(sys.argv[2]))
        return
    most = int(float(sys.argv[1])) if len(sys.argv) > 1 else 1_000_000
    beside = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    for n_outcomes in (10_000, 100_000, 1_000_000, 10_000_000):
        if n_outcomes <= most:
            with tempfile.TemporaryDirectory(dir=beside) as name:
                print_length(Path(name), n_outcomes)


if __name__ == "__main__":
    main()
