"""Prove a sound file: measure it again, make it anew from its recipe, compare the samples."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import soundfile

from solidcopy.actions.certificate import StatedSamples, TrialsRecipe
from solidcopy.actions.find_certificate import Found, NotOursError, find_certificate
from solidcopy.actions.recipe_pieces import (
    MissingPartError,
    OtherRecipeError,
    Piece,
    pieces_of,
    untrue_words,
)
from solidcopy.actions.sample_match import FileFacts, Match, facts_of_file, match
from solidcopy.errors import AudioFileError, SolidcopyError
from solidcopy.signals.sample_count import Word

LEVEL_TOLERANCE_DB = 0.001
"""Between a stated level and the same one measured here: the last digits are rounding."""


class Verdict(StrEnum):
    """What may be said of a file."""

    IDENTICAL = "identical"
    ROUNDED = "same within rounding"
    DIFFERS = "differs"
    NOT_OURS = "not ours"
    OTHER_RECIPE = "another recipe"
    NOT_TOLD = "cannot be made anew here"


EXIT_CODES = {
    Verdict.IDENTICAL: 0,
    Verdict.ROUNDED: 0,
    Verdict.DIFFERS: 10,
    Verdict.NOT_OURS: 11,
    Verdict.OTHER_RECIPE: 12,
    Verdict.NOT_TOLD: 13,
}


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found out about a file."""

    file: Path
    verdict: Verdict
    reasons: tuple[str, ...]
    """Why, one clause each; empty for an identical file."""
    facts: FileFacts
    found: Found | None
    is_digest_as_stated: bool | None
    """None: none is stated, or the file has another word length by now."""
    match: Match | None
    """None: nothing was made anew."""


def verify(file: Path, *, recipe: Path | None = None, recordings: Path | None = None) -> Verified:
    """What a sound file is, by its own recipe.

    Args:
        file: any sound file that this program made, wherever it was copied.
        recipe: a description or a key, where the file itself carries none.
        recordings: folder to look for recordings that the making needs, by content; besides the
            file's and the current one.
    Raises: AudioFileError for what is no sound file or has a damaged certificate.
    """
    facts = _facts(file)
    try:
        found = find_certificate(file, given=recipe)
    except (NotOursError, OtherRecipeError, MissingPartError) as error:
        return Verified(file, _verdict_of(error), (str(error),), facts, None, None, None)
    is_as_stated, reasons = _against_statement(facts, found.samples)
    folders = [file.resolve().parent, Path.cwd(), *([recordings] if recordings else [])]
    untrue: list[str] = []
    try:
        matched = match(
            file,
            _checked(pieces_of(found.recipe, folders), found, untrue),
            word=_word_of(found),
            file=facts,
        )
    except SolidcopyError as error:
        # Samples that are not the certified ones need no recipe to be told apart.
        verdict = Verdict.DIFFERS if reasons else _verdict_of(error)
        return Verified(file, verdict, (*reasons, str(error)), facts, found, is_as_stated, None)
    reasons += _unlike(matched, facts) + untrue
    verdict = Verdict.DIFFERS if reasons else _how_alike(matched, facts, found)
    return Verified(file, verdict, tuple(reasons), facts, found, is_as_stated, matched)


def _facts(file: Path) -> FileFacts:
    try:
        file.open("rb").close()  # the sound library says only that it failed
        facts = facts_of_file(file)
    except OSError as error:
        raise AudioFileError(f"{file}: cannot be read ({error.strerror})") from None
    except (soundfile.LibsndfileError, RuntimeError):
        raise AudioFileError(f"{file}: is no sound file that can be read") from None
    return facts


def _verdict_of(error: SolidcopyError) -> Verdict:
    match error:
        case NotOursError():
            return Verdict.NOT_OURS
        case OtherRecipeError():
            return Verdict.OTHER_RECIPE
        case _:
            return Verdict.NOT_TOLD


def _word_of(found: Found) -> Word:
    if found.samples is not None:
        return found.samples.word
    return "int16"  # keys go with played slots, which are 16 bits


def _against_statement(
    facts: FileFacts, stated: StatedSamples | None
) -> tuple[bool | None, list[str]]:
    """What is stated of the samples and is not so."""
    reasons = []
    if facts.n_channels != 1:
        reasons.append(f"it has {facts.n_channels} channels; one was made")
    if stated is None:
        return None, reasons
    if facts.sample_rate_hz != stated.sample_rate_hz:
        reasons.append(
            f"its header says {facts.sample_rate_hz} samples per second; "
            f"{stated.sample_rate_hz} were made"
        )
    if facts.samples is None or facts.word != stated.word:
        return None, reasons
    got = StatedSamples.of(facts.samples, word=stated.word, sample_rate_hz=stated.sample_rate_hz)
    if got.sha256 != stated.sha256:
        reasons.append("its samples have another SHA-256 than is certified")
    for field in ("mean_dbfs", "peak_dbfs", "crest_db", "n_at_full_scale"):
        said, is_so = getattr(stated, field), getattr(got, field)
        if said is None or is_so is None:
            is_alike = said is is_so
        else:
            is_alike = abs(said - is_so) <= LEVEL_TOLERANCE_DB
        if not is_alike:
            reasons.append(f"{field.replace('_', ' ')}: {said} is certified, {is_so} is there")
    return got.sha256 == stated.sha256, reasons


def _checked(pieces: Iterator[Piece], found: Found, untrue: list[str]) -> Iterator[Piece]:
    """The pieces as they come; what a certificate says wrongly of them goes to `untrue`."""
    stated = found.recipe.slots if isinstance(found.recipe, TrialsRecipe) else ()
    for place, piece in enumerate(pieces):
        if piece.said is not None:
            words = untrue_words(stated[place], piece.said, tolerance_db=LEVEL_TOLERANCE_DB)
            untrue += [f"slot {place + 1}, {word}" for word in words]
        yield piece


def _unlike(matched: Match, facts: FileFacts) -> list[str]:
    reasons = []
    rate_hz = facts.sample_rate_hz
    n_missing = matched.n_made - matched.n_in_file
    if n_missing:
        words = "missing at" if n_missing > 0 else "too many behind"
        count = abs(n_missing)
        reasons.append(f"{count} samples ({count / rate_hz:.3f} s) are {words} its end")
    if matched.n_beyond:
        assert matched.first_beyond is not None and matched.last_beyond is not None
        reasons.append(
            f"{matched.n_beyond} samples differ by more than a step of {matched.step:.2g}, between "
            f"{matched.first_beyond / rate_hz:.4f} s and {matched.last_beyond / rate_hz:.4f} s"
        )
    return reasons


def _how_alike(matched: Match, facts: FileFacts, found: Found) -> Verdict:
    if matched.n_unequal == 0 and facts.word == _word_of(found) and facts.format == "WAV":
        return Verdict.IDENTICAL
    return Verdict.ROUNDED
