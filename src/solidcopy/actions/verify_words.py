"""What `solidcopy verify` says, for people and for programs."""

from dataclasses import asdict
from typing import Any

from solidcopy import units
from solidcopy.actions.certificate import CertifiedSlot, TrialsRecipe
from solidcopy.actions.verify import Verdict, Verified

MOST_SLOTS = 12
"""Shown to people; a program gets all."""
SHAPED_LIKE_DB = -40.0
"""What a change of level leaves must be weaker than that for it to be called one."""


def verified_dict(verified: Verified) -> dict[str, Any]:
    """For a program."""
    found, matched = verified.found, verified.match
    return {
        "file": str(verified.file),
        "verdict": str(verified.verdict),
        "reasons": list(verified.reasons),
        "measured": asdict(verified.facts),
        "is_digest_as_stated": verified.is_digest_as_stated,
        "certificate": None
        if found is None
        else {
            "where": found.where,
            "made_by": found.made_by,
            "libraries": found.libraries,
            "samples": None if found.samples is None else found.samples.model_dump(mode="json"),
            "recipe": found.recipe.model_dump(mode="json"),
        },
        "match": None
        if matched is None
        else {
            "n_made": matched.n_made,
            "n_unequal": matched.n_unequal,
            "n_beyond_a_step": matched.n_beyond,
            "first_beyond_s": _seconds(verified, matched.first_beyond),
            "last_beyond_s": _seconds(verified, matched.last_beyond),
            "slots_beyond": list(matched.pieces_beyond),
            "largest_difference": matched.largest,
            "residual_db": _finite_db(matched.residual_ratio),
            "gain_db": _finite_db(matched.gain**2),
            "residual_after_gain_db": _finite_db(matched.residual_after_gain_ratio),
        },
    }


def verified_text(verified: Verified) -> str:
    """For people: the verdict first, then what it rests on."""
    lines = [f"{verified.file}: {verified.verdict}.{_verdict_words(verified)}"]
    lines += [f"  - {reason}" for reason in verified.reasons]
    lines += _gain_words(verified)
    lines += _measured_lines(verified)
    found = verified.found
    if found is not None:
        versions = ", ".join(f"{name} {version}" for name, version in found.libraries.items())
        made_by = found.made_by or "solidcopy"
        lines.append(f"  made by    {made_by}{f' ({versions})' if versions else ''}")
        lines.append(f"  recipe     {found.where}")
        if isinstance(found.recipe, TrialsRecipe):
            lines += _trial_lines(found.recipe)
    return "\n".join(lines)


def _verdict_words(verified: Verified) -> str:
    matched = verified.match
    if matched is None:
        return ""
    if verified.verdict is Verdict.IDENTICAL:
        return f" All {matched.n_made} samples are those that its recipe makes."
    if verified.verdict is Verdict.ROUNDED and matched.n_unequal == 0:
        return (
            f" All {matched.n_made} samples are those that its recipe makes, in another container "
            f"({verified.facts.format}, {verified.facts.subtype})."
        )
    if verified.verdict is Verdict.ROUNDED:
        return (
            f" {matched.n_unequal} of {matched.n_made} samples differ, none by more than a step of "
            f"{matched.step:.2g}; the difference is {_db(matched.residual_ratio)} dB beside the "
            "sound."
        )
    return f" The difference is {_db(matched.residual_ratio)} dB beside the sound."


def _gain_words(verified: Verified) -> list[str]:
    """A change of level is told as such: it is harmless to a ratio."""
    matched = verified.match
    if matched is None or not matched.n_beyond or matched.gain <= 0.0:
        return []
    left_db = units.db_from_ratio(matched.residual_after_gain_ratio)
    if left_db > SHAPED_LIKE_DB:
        return []
    gain_db = units.db_from_ratio(matched.gain**2)
    return [f"  - it is the same sound {gain_db:+.2f} dB in level, but for {left_db:.0f} dB of it"]


def _measured_lines(verified: Verified) -> list[str]:
    facts = verified.facts
    length_s = facts.n_samples / facts.sample_rate_hz
    lines = [
        f"  samples    {facts.n_channels} channel{'s' * (facts.n_channels > 1)}, "
        f"{facts.sample_rate_hz} Hz, {facts.subtype}, {facts.n_samples} samples ({length_s:.3f} s)"
    ]
    counted = facts.samples
    if counted is None:
        return lines
    lines.append(
        f"  level      mean {units.dbfs_from_power(counted.mean_power):.2f} dBFS, peak "
        f"{units.peak_dbfs(counted.peak):.2f} dB from full scale, {counted.n_at_full_scale} "
        "samples at the ends of the scale"
    )
    proof = {True: ", as certified", False: ", not as certified", None: ""}
    lines.append(f"  SHA-256    {counted.sha256}{proof[verified.is_digest_as_stated]}")
    return lines


def _trial_lines(recipe: TrialsRecipe) -> list[str]:
    lines = [
        f"  trials     {len(recipe.slots)} of {recipe.mode}, seed {recipe.root_seed}; every SNR "
        f"refers to {recipe.reference_bandwidth_hz:g} Hz"
    ]
    for number, slot in enumerate(recipe.slots[:MOST_SLOTS], 1):
        at_s = slot.starts_at_sample / recipe.sample_rate_hz
        lines.append(f"  {number:4d}  {at_s:9.3f} s  {_slot_words(slot)}")
    if len(recipe.slots) > MOST_SLOTS:
        lines.append(f"        and {len(recipe.slots) - MOST_SLOTS} more (--json lists all)")
    return lines


def _slot_words(slot: CertifiedSlot) -> str:
    sent = f'"{slot.text}"' if slot.text is not None else "nothing sent"
    levels = [
        f"{level.name} {level.quantity}: asked {_number(level.asked_db)}, "
        f"got {_number(level.got_db)} dB"
        for level in slot.levels
    ]
    return "; ".join([f"{slot.condition}, {sent}", *levels])


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def _seconds(verified: Verified, sample: int | None) -> float | None:
    return None if sample is None else sample / verified.facts.sample_rate_hz


def _finite_db(ratio: float) -> float | None:
    value_db = units.db_from_ratio(ratio)
    return value_db if abs(value_db) != float("inf") else None


def _db(ratio: float) -> str:
    return f"{units.db_from_ratio(ratio):.1f}"
