"""Options of a command that describe an outside program, as settings of a plan."""

import shlex
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from solidcopy.actions.receiver_settings import (
    checked_settings,
    parsed_file,
    read_settings,
    split_command,
)
from solidcopy.errors import PlanError
from solidcopy.receivers.program.settings import ProgramSettings

FIELDS: Mapping[str, str] = {
    "command": "command",
    "sound_by": "audio.way",
    "sound_name": "audio.file_name",
    "sample_rate_hz": "audio.sample_rate_hz",
    "word_length": "audio.word_length",
    "channels": "audio.channels",
    "answer": "answer.kind",
    "line": "answer.layout",
    "pattern": "answer.pattern",
    "delimiter": "answer.delimiter",
    "text_in": "answer.text",
    "snr_db_in": "answer.snr_db",
    "audio_hz_in": "answer.audio_hz",
    "time_offset_s_in": "answer.time_offset_s",
    "answer_file": "answer_file",
    "snr_reference_hz": "corrections.snr_reference_hz",
    "snr_db_offset": "corrections.snr_db_offset",
    "audio_hz_scale": "corrections.audio_hz_scale",
    "audio_hz_offset": "corrections.audio_hz_offset",
    "time_offset_s_scale": "corrections.time_offset_s_scale",
    "time_offset_s_offset": "corrections.time_offset_s_offset",
    "environment": "environment",
    "working_folder": "working_folder",
    "slot_time": "slot_time",
    "time_limit_s": "time_limit_s",
    "memory_limit_mb": "memory_limit_mb",
    "output_limit_bytes": "output_limit_bytes",
    "ok_exit_code": "ok_exit_codes",
    "at_most_at_once": "at_most_at_once",
    "program_file": "program_file",
    "program_version": "version",
}
"""Which field of the settings an option gives, by the option's name without its dashes."""
KIND_OF = {"layout": "lines", "pattern": "lines", "delimiter": "columns"}
"""Fields of an answer that only one kind has."""


@dataclass(frozen=True, slots=True)
class Given:
    """What a person said of a program; options stand above the file."""

    file: Path | None = None
    name: str | None = None
    options: Mapping[str, Any] = field(default_factory=dict)
    """By the names in `FIELDS`; what nobody said is missing."""

    def also(self, **options: Any) -> "Given":
        """The same with more options."""
        return replace(self, options={**self.options, **options})

    @property
    def plan_folder(self) -> Path:
        """Of the file, or else the current directory."""
        return (self.file.resolve().parent if self.file else Path.cwd()).resolve()

    @property
    def mode(self) -> str:
        """Of the file, if it is a plan, or else FT8. Raises PlanError if it cannot be read."""
        said = parsed_file(self.file).get("mode") if self.file else None
        return said if isinstance(said, str) else "ft8"

    def data(self) -> dict[str, Any]:
        """As a plan would hold it; what nobody said is missing. Raises PlanError."""
        data: dict[str, Any] = {"kind": "program", "name": self.name or "outside program"}
        if self.file is not None:
            data.update(read_settings(self.file, self.name))
        answer: dict[str, Any] = {}
        for option, value in self.options.items():
            table, _, inner = FIELDS[option].rpartition(".")
            if table == "answer":
                answer[inner] = value
            elif table:
                data[table] = {**data.get(table, {}), inner: value}
            else:
                data[inner] = _whole_value(inner, value, data)
        if answer:
            data["answer"] = _answer_of(answer, data.get("answer", {}))
        return data


def _whole_value(name: str, value: Any, data: Mapping[str, Any]) -> Any:
    """The value of a field that is no table of figures."""
    if name == "command":
        return split_command(value)
    if name == "environment":
        return {**data.get(name, {}), **dict(map(_variable, value))}
    return value


def _variable(told: str) -> tuple[str, str]:
    name, mark, value = told.partition("=")
    if not mark:
        raise PlanError(f'--environment: give NAME=VALUE, not "{told}"')
    return name, value


def _answer_of(told: Mapping[str, Any], in_file: Mapping[str, Any]) -> dict[str, Any]:
    """The table `answer`: what a file says of it, if of the same kind, below what was told."""
    if "layout" in told and "pattern" in told:
        raise PlanError("give one of --line and --pattern")
    kinds = {KIND_OF[name] for name in told if name in KIND_OF} | {told.get("kind")} - {None}
    if len(kinds) > 1:
        raise PlanError(
            "the options speak of several kinds of answer: --line or --pattern go with lines, "
            "--delimiter with columns, and --answer must be the same"
        )
    kind = kinds.pop() if kinds else in_file.get("kind")
    if kind is None:
        raise PlanError("say what its lines are: --answer json-lines or --answer columns")
    kept = dict(in_file) if in_file.get("kind") == kind else {}
    for name in ("layout", "pattern") if "layout" in told or "pattern" in told else ():
        kept.pop(name, None)
    chosen = {**kept, **told, "kind": kind}
    if kind == "columns":
        chosen = {name: _column(name, value) for name, value in chosen.items()}
    return chosen


def _column(name: str, value: Any) -> Any:
    """Numbers of columns as numbers, and a tab by its name: it is hard to type."""
    if name == "delimiter":
        return "\t" if value == "tab" else value
    return int(value) if isinstance(value, str) and value.isdecimal() else value


def options_of(answer: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of an answer as options, by the names in `FIELDS`. A layout says its kind."""
    names = {path: name for name, path in FIELDS.items()}
    found = {names[f"answer.{inner}"]: value for inner, value in answer.items()}
    if found.get("delimiter") == "\t":
        found["delimiter"] = "tab"
    if "line" in found:
        del found["answer"]
    return found


def options_words(options: Mapping[str, Any]) -> str:
    """Options as one would type them."""
    return " ".join(
        f"--{name.replace('_', '-')} {shlex.quote(str(value))}" for name, value in options.items()
    )


def settings_from(given: Given) -> ProgramSettings:
    """Checked settings. Raises PlanError with what is missing or wrong."""
    data = given.data()
    if "command" not in data:
        raise PlanError("no program is named: give a settings file, or --command")
    if "answer" not in data:
        raise PlanError(
            "nothing says how its decodes are told: give --line or --pattern, --answer json-lines "
            "or columns, or a settings file with a table [receivers.answer]"
        )
    try:
        return checked_settings(data)
    except PlanError as error:
        named = [name for name, path in FIELDS.items() if path in str(error)]
        hint = ", ".join(f"--{name.replace('_', '-')}" for name in named)
        raise PlanError(f"{error}; by option: {hint}" if hint else str(error)) from None
