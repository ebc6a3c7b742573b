"""Where a campaign was carried out, in words: versions, machine and runs."""

from collections.abc import Iterator, Mapping
from typing import Any

from solidcopy.campaigns.environment import Machine
from solidcopy.campaigns.journal import JournalReader
from solidcopy.campaigns.machines import unlike_words
from solidcopy.reports.wording import counted

ENVIRONMENT_WORDS = {"python": "Python", "n_cpus": "processors", "cpu": "processor"}


def environment(reader: JournalReader) -> Iterator[tuple[str, str]]:
    """Versions and machine of the last run, and when each run worked.

    Lists hold folders of the person who ran it, which are nobody's business.
    """
    runs = reader.runs()
    if not runs:
        return
    for name, value in runs[-1].environment.items():
        if isinstance(value, dict):
            yield from ((str(inner), _text(version)) for inner, version in value.items())
        elif name != "started_utc" and not isinstance(value, list):
            yield ENVIRONMENT_WORDS.get(name, name.replace("_", " ")), _text(value)
    for run in runs:
        for machine in run.environment.get("machines", ()):
            yield f"machine of run {run.number}", _machine_words(machine)
        started = _text(run.environment.get("started_utc"))
        ended = "no block finished" if run.settled_utc is None else f"to {run.settled_utc}"
        line = f"{started} {ended}, {counted(run.n_outcomes, 'outcome')}"
        if run.environment.get("libraries") != runs[-1].environment.get("libraries"):
            line += ", with other versions than the last"
        yield f"run {run.number} (UTC)", line


def _machine_words(told: Mapping[str, Any]) -> str:
    machine = Machine(**told)
    workers = counted(machine.n_workers, "worker")
    return f"{machine.host}: {machine.cpu}, {machine.platform}, {workers}; {unlike_words(machine)}"


def _text(value: Any) -> str:
    return "unknown" if value is None else str(value)
