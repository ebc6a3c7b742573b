"""One number for all outcomes of a campaign."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace

from solidcopy.campaigns.journal.coding import encode_decodes, encode_readings
from solidcopy.campaigns.journal.records import JournalRow


def fingerprint_of(rows: Iterable[JournalRow]) -> str:
    """SHA-256 of all outcomes in the given order, hexadecimal. The times that a receiver took are
    left out: nothing else may differ between two runs of one plan.
    """
    total = hashlib.sha256()
    for row in rows:
        outcome = replace(row.outcome, elapsed_s=0.0)
        readings = "" if outcome.readings is None else encode_readings(outcome.readings)
        fields = (
            f"{row.key.condition}/{row.receiver}/{row.key.arm}",
            f"{row.key.axis_value!r}/{row.key.trial_index}",
            outcome.verdict.value,
            encode_decodes(outcome) or "",
            outcome.digest,
            readings,
            outcome.failure or "",
        )
        total.update("\x1f".join(fields).encode() + b"\x1e")
    return total.hexdigest()
