"""One number for all outcomes of a campaign."""

import hashlib
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from solidcopy.campaigns.journal.coding import canonical_decodes, canonical_readings
from solidcopy.campaigns.journal.tables import VERDICTS

_canonical_readings = lru_cache(maxsize=1 << 16)(canonical_readings)
"""Each recording comes once for every receiver that heard it, a point apart."""


class StoredOutcome(NamedTuple):
    """One outcome as it lies in the journal; nothing of it is decoded."""

    trial_index: int
    verdict: int
    decodes: str | None
    failure: str | None
    digest: bytes | None
    readings: str | None


def fingerprint_of(series: Iterable[tuple[str, float, Iterable[StoredOutcome]]]) -> str:
    """SHA-256 of all outcomes in the given order, hexadecimal. The times that a receiver took are
    left out: nothing else may differ between two runs of one plan.

    Args:
        series: head of a series (condition, receiver and arm), axis value and its outcomes.
    """
    total = hashlib.sha256()
    for head, axis_value, outcomes in series:
        for index, verdict, decodes, failure, digest, readings in outcomes:
            told = (
                head,
                f"{axis_value!r}/{index}",
                VERDICTS[verdict].value,
                canonical_decodes(decodes) or "",
                "" if digest is None else digest.hex(),
                "" if readings is None else _canonical_readings(readings),
                failure or "",
            )
            total.update("\x1f".join(told).encode() + b"\x1e")
    return total.hexdigest()
