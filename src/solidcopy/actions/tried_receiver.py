"""What to do after a program was tried on a loud, a faint and a noise-only slot."""

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.receiver_options import options_of, options_words
from solidcopy.actions.try_receiver import TriedSlot
from solidcopy.receivers.program.settings import GivenAudio, LinesAnswer, ProgramSettings
from solidcopy.receivers.program.suggestion import fitting_part, suggested_answer

NOTABLE_HZ, NOTABLE_S, NOTABLE_DB = 3.0, 0.1, 6.0
"""Differences between sent and reported that deserve a word."""


@dataclass(frozen=True, slots=True)
class Tried:
    """All three slots."""

    settings: ProgramSettings
    plan_folder: Path
    loud: TriedSlot
    faint: TriedSlot
    noise: TriedSlot

    @property
    def slots(self) -> tuple[TriedSlot, ...]:
        """In the order they were heard."""
        return self.loud, self.faint, self.noise

    def advice(self) -> list[str]:
        """What to do, one sentence each; empty if nothing needs to be done."""
        found = list(self._of_loud()) if not self.loud.is_read else list(self._of_figures())
        if self.loud.is_read and not self.faint.is_read:
            found.append("The faint slot was not read: no fault, a campaign measures such things.")
        if self.settings.working_folder == "kept":
            found.append(
                "Its folder is kept between trials, so outcomes depend on their order and on the "
                "number of workers; intervals assume that they do not."
            )
        if sys.platform != "linux":
            found.append("This system does not tell of memory: memory_limit_mb is not watched.")
        n_false = len(self.noise.hearing.reception.decodes)
        if n_false:
            found.append(
                f"In noise alone it reported {n_false}: a campaign counts them as false decodes; "
                "if they are no decodes at all, make the layout narrower."
            )
        return found

    def _of_loud(self) -> Iterator[str]:
        hearing = self.loud.hearing
        ended, reception = hearing.ended, hearing.reception
        yield "The loud slot was not read, so this receiver cannot be measured yet."
        for argument in self.settings.command[1:]:
            if "{" not in argument and "/" not in argument and _is_file(self.plan_folder, argument):
                yield (
                    f'"{argument}" is a file here, but the program runs in a folder of its own: '
                    f'write "{{plan_folder}}/{argument}".'
                )
        told = (*self.settings.command, *self.settings.environment.values())
        if self.settings.audio.way == "file" and not any("{audio_file}" in part for part in told):
            yield (
                "Nothing tells it where the sound is: put {audio_file} into the command, or use "
                "--sound-by stdin if it reads its standard input."
            )
        if reception.failure is not None:
            if ended is not None and not ended.limit and ended.exit_code > 0:
                yield (
                    f"If exit code {ended.exit_code} means that all is well, add it to "
                    f"ok_exit_codes (--ok-exit-code {ended.exit_code})."
                )
            elif ended is not None and ended.limit:
                yield f"Raise the limit ({ended.limit}) if the program needs more."
            return
        if not hearing.lines:
            yield from self._of_silence()
            return
        if reception.decodes:
            yield (
                "It was read, but not as what was sent: see the verdicts above; corrections of "
                "frequency and time stand under `corrections`."
            )
            yield from self._of_figures()
        else:
            yield (
                f"None of its {len(hearing.lines)} lines was taken for a decode; they stand above "
                "as ignored, each with the reason."
            )
        if not any(
            self.loud.verdict_on(decode).startswith("the sent") for decode in reception.decodes
        ):
            yield from self._of_unread_text()

    def _of_silence(self) -> Iterator[str]:
        settings, files = self.settings, self.loud.hearing.files
        if files and settings.answer_file is None:
            yield (
                f"It printed nothing but left {', '.join(files)} in its folder: if its decodes "
                f"stand there, name the file with --answer-file {files[0]}."
            )
            return
        if settings.answer_file is not None and self.loud.hearing.printed.strip():
            yield (
                f"Its answer file {settings.answer_file} is empty, but it printed something: "
                "leave answer_file out if its decodes are what it prints."
            )
            return
        audio = settings.audio
        yield (
            f"It wrote nothing where its answer is looked for. It was given {audio_words(audio)}: "
            "see that this is what it wants (--sample-rate-hz, --word-length, --channels, "
            "--sound-by), and whether it answers in a file (--answer-file)."
        )

    def _of_unread_text(self) -> Iterator[str]:
        """The sent text was not taken from its lines: where it stands, and how to take it."""
        truth, answer = self.loud.truth, self.settings.answer
        assert truth.message is not None
        text, lines = truth.message.text, [line.line for line in self.loud.hearing.lines]
        line = next((line for line in lines if text in line), None)
        if line is None:
            if any(text.casefold() in " ".join(line.split()).casefold() for line in lines):
                yield (
                    "The sent text stands there with other letters or spaces: the letters must be "
                    "as they were sent."
                )
            elif text in self.loud.hearing.said:
                yield (
                    "The sent text stands in its standard error, which is not read: have it print "
                    "to its standard output, or into a file (--answer-file)."
                )
            else:
                yield (
                    f'The sent text, "{text}", stands in none of its lines: see that the sound is '
                    f"what it wants (it was given {audio_words(self.settings.audio)})."
                )
            return
        if isinstance(answer, LinesAnswer):
            fitting, rest = fitting_part(answer, line)
            what = "layout" if answer.layout is not None else "regular expression"
            if rest:
                yield (
                    f"The sent text stands in the line: {line}\n"
                    f"The {what} fits it as far as: {fitting or '(nothing)'}\n"
                    f"and no longer with:           {rest}"
                )
        suggested = suggested_answer(lines, text=text, audio_hz=truth.audio_hz)
        if suggested is not None:
            yield f"This would read it: {options_words(options_of(suggested))}"

    def _of_figures(self) -> Iterator[str]:
        truth = self.loud.truth
        sent_text = truth.message.text if truth.message else ""
        for decode in self.loud.hearing.reception.decodes:
            if decode.text != sent_text:
                continue
            corrections = self.settings.corrections
            if decode.audio_hz is not None and abs(decode.audio_hz - truth.audio_hz) > NOTABLE_HZ:
                off_hz = decode.audio_hz - truth.audio_hz
                yield (
                    f"Its frequency is {off_hz:+.1f} Hz from the lowest tone: with "
                    f"corrections.audio_hz_offset = {corrections.audio_hz_offset - off_hz:.1f} "
                    "it would be right."
                )
            if decode.time_offset_s is not None:
                off_s = decode.time_offset_s - truth.time_offset_s
                if abs(off_s) > NOTABLE_S:
                    offset_s = corrections.time_offset_s_offset - off_s
                    yield (
                        f"Its time is {off_s:+.2f} s off: with "
                        f"corrections.time_offset_s_offset = {offset_s:.2f} it would be right."
                    )
            if decode.snr_db is not None and abs(decode.snr_db - self.loud.snr_db) > NOTABLE_DB:
                yield (
                    f"Its SNR is {decode.snr_db - self.loud.snr_db:+.1f} dB off in the loud slot: "
                    "see that corrections.snr_reference_hz is the bandwidth it means."
                )

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {
            "is_loud_read": self.loud.is_read,
            "slots": [slot.as_dict() for slot in self.slots],
            "advice": self.advice(),
        }


def _is_file(folder: Path, name: str) -> bool:
    return bool(name) and (folder / name).is_file()


def audio_words(audio: GivenAudio) -> str:
    """The sound that a program is given, in words."""
    rate = f"{audio.sample_rate_hz} Hz" if audio.sample_rate_hz else "the slot's own rate"
    kind = "float" if audio.word_length == "float" else audio.word_length
    way = "a WAV file" if audio.way == "file" else "a WAV file as its standard input"
    channels = "one channel" if audio.channels == 1 else "two channels"
    return f"{way}, {rate}, {kind}, {channels}"
