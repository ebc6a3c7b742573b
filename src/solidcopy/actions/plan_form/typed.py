"""What a person typed into a field, as the value that a plan holds."""

import math
import re
from typing import Any

from solidcopy.actions.plan_form.description import FormField

_WHOLE = re.compile(r"[+-]?\d+")
_BETWEEN = re.compile(r"[\s;]+|,\s+")
MINUS_SIGNS = str.maketrans({"−": "-", "–": "-"})


def typed_value(field: FormField | None, value: Any) -> Any:
    """The value that a field takes; None: it is left out.

    Text in a field of numbers becomes a number if it is one; otherwise it stays as it is, so that
    the check says what is wrong with it.
    """
    if not isinstance(value, str) or field is None:
        return value
    text = value.strip()
    forms = {shape.form for shape in field.shapes}
    if not text:
        return None
    for shape in field.shapes:
        for choice in shape.choices:
            if str(choice.value) == text:
                return choice.value
    if "number" in forms:
        return _number(text)
    if "numbers" in forms:
        return [_number(part) for part in _BETWEEN.split(text.strip("[] ")) if part]
    return value


def _number(text: str) -> float | int | str:
    plain = text.translate(MINUS_SIGNS)
    if _WHOLE.fullmatch(plain) and len(plain) < 25:
        return int(plain)
    try:
        number = float(plain)
    except ValueError:
        return text
    return number if math.isfinite(number) and "_" not in plain else text
