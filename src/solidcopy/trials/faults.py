"""What is wrong in a plan, field by field, in the words of the command line."""

from collections.abc import Iterable, Sequence

from pydantic_core import ErrorDetails

from solidcopy.errors import Fault

Place = tuple[str | int, ...]

TAGGED_FIELDS = frozenset({"impairments", "receivers", "pulse", "answer", "sources"})
"""Fields whose values are told apart by `kind`; a validation location names the kind behind."""
TYPE_NAMES = frozenset({"float", "int", "str", "Spread"})
MOST_SENTENCES = 5


def place_of(location: Iterable[str | int]) -> Place:
    """Keys and places (from 0) in the plan file that a validation location leads to.

    Steps that only name a member of a union of types are left out.
    """
    place: list[str | int] = []
    is_tag_due = False
    for step in location:
        if isinstance(step, int):
            place.append(step)
        elif is_tag_due or not step.isidentifier() or step in TYPE_NAMES:
            is_tag_due = False
        else:
            place.append(step)
            is_tag_due = step in TAGGED_FIELDS
    return tuple(place)


def field_words(place: Place) -> str:
    """A place as a user counts, e.g. "conditions[2].impairments[1].snr_db"."""
    text = ""
    for step in place:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text or "the plan"


def faults(errors: Sequence[ErrorDetails]) -> list[Fault]:
    """One for each faulty field: what is allowed, what was given."""
    by_place: dict[Place, list[ErrorDetails]] = {}
    for error in errors:
        if not _follows_from_another(error, errors):
            by_place.setdefault(place_of(error["loc"]), []).append(error)
    return [Fault(place, field_words(place), _allowed(found)) for place, found in by_place.items()]


def explain(found: Sequence[Fault]) -> str:
    """All of them in one line."""
    sentences = [f"{fault.field}: {fault.sentence}" for fault in found]
    if len(sentences) > MOST_SENTENCES:
        more = len(sentences) - MOST_SENTENCES
        sentences[MOST_SENTENCES:] = [f"and {more} more fields"]
    return "; ".join(sentences)


def _follows_from_another(error: ErrorDetails, errors: Sequence[ErrorDetails]) -> bool:
    """A list is called too short when only its faulty items were dropped."""
    depth = len(error["loc"])
    return error["type"] == "too_short" and any(
        len(other["loc"]) > depth and other["loc"][:depth] == error["loc"] for other in errors
    )


def _allowed(found: list[ErrorDetails]) -> str:
    """What one field may hold; where a check of our own speaks, it alone is heard."""
    own = [error for error in found if error["type"] == "value_error"]
    texts = [error["msg"].removeprefix("Value error, ") for error in own or found]
    given = found[0]["input"]
    shown = "" if isinstance(given, dict | list | tuple) else f" (given: {given!r})"
    return " or ".join(dict.fromkeys(texts)) + shown
