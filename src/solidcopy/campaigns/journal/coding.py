"""Readings and decodes as compact JSON, and back without loss.

Readings are arrays in the order of the fields; decodes are objects without their empty fields.
JSON has no infinity: such numbers are written as the words "inf", "-inf" and "nan".
"""

import json
import math
from dataclasses import fields
from operator import attrgetter
from typing import Any

from solidcopy.receivers.receiver import Decode
from solidcopy.trials.outcome import Outcome
from solidcopy.trials.trial import LevelReading, Readings

_LEVEL_VALUES = attrgetter(*(field.name for field in fields(LevelReading)))
_N_LEVEL_VALUES = len(fields(LevelReading))
_DECODE_FIELDS = tuple(field.name for field in fields(Decode))


def compact_json(value: Any) -> str:
    """No spaces, no escapes of letters, no NaN."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _word(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value


def _number(value: Any) -> Any:
    return float(value) if value in ("inf", "-inf", "nan") else value


def encode_readings(readings: Readings) -> str:
    """[signal, [[level, ...], ...], mean, peak, crest, clipped, gain]; then, if any, path gain."""
    levels = [[_word(value) for value in _LEVEL_VALUES(level)] for level in readings.levels]
    path = [_word(readings.path_gain_db)] if readings.path_gain_db else []
    return compact_json(
        [
            _word(readings.signal_dbfs),
            levels,
            _word(readings.mean_dbfs),
            _word(readings.peak_dbfs),
            _word(readings.crest_db),
            readings.n_clipped,
            _word(readings.gain_db),
            *path,
        ]
    )


def decode_readings(text: str) -> Readings:
    """Inverse of `encode_readings`."""
    signal, levels, *rest = json.loads(text)
    return Readings(
        _number(signal),
        tuple(
            # The first two fields are texts; a name may well be "inf".
            LevelReading(level[0], level[1], *(_number(value) for value in level[2:]))
            for level in levels
        ),
        *(_number(value) for value in rest),
    )


def _decode_object(decode: Decode) -> dict[str, Any]:
    values = ((name, getattr(decode, name)) for name in _DECODE_FIELDS)
    return {name: _word(value) for name, value in values if value is not None}


def _object_decode(fields: dict[str, Any]) -> Decode:
    texts = ("text", "path")
    return Decode(**{n: v if n in texts else _number(v) for n, v in fields.items()})


def encode_decodes(outcome: Outcome) -> str | None:
    """The right and the false decodes; None if there is neither."""
    if outcome.right is None and not outcome.false:
        return None
    return _encode_both(outcome.right, outcome.false)


def _encode_both(right: Decode | None, false: tuple[Decode, ...]) -> str:
    one = None if right is None else _decode_object(right)
    return compact_json({"right": one, "false": [_decode_object(decode) for decode in false]})


def decode_decodes(text: str | None) -> tuple[Decode | None, tuple[Decode, ...]]:
    """The right decode and the false ones."""
    if text is None:
        return None, ()
    both = json.loads(text)
    right = None if both["right"] is None else _object_decode(both["right"])
    return right, tuple(_object_decode(fields) for fields in both["false"])


def canonical_readings(text: str) -> str:
    """As `encode_readings` writes today what `decode_readings` reads in this text."""
    levels = json.loads(text)[1]
    if all(len(level) == _N_LEVEL_VALUES for level in levels):
        return text
    return encode_readings(decode_readings(text))  # an earlier version knew fewer numbers


def canonical_decodes(text: str | None) -> str | None:
    """As `encode_decodes` writes today what `decode_decodes` reads in this text."""
    if text is None:
        return None
    both = json.loads(text)
    if both["right"] is None and not both["false"]:
        return None
    if all(map(_is_in_order, [both["right"] or {}, *both["false"]])):
        return text
    right, false = decode_decodes(text)
    return _encode_both(right, false)


def _is_in_order(decode: dict[str, Any]) -> bool:
    return list(decode) == [name for name in _DECODE_FIELDS if name in decode]
