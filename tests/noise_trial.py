"""Blind trial of the parts list: made recordings, what was found in them, and the count of both.

Whoever works on `solidcopy.noise.parts` looks at seeds below 1000 only. The trial draws its
recordings from seeds of 140 000 and above, which nobody looks at to set a number. (Those from
10 000 to 26 004, 30 000 to 46 004, 50 000 to 75 003, 80 000 to 105 003 and 110 000 to 135 003
are spent: trials of earlier forms of the list, whose faults were looked into.)
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from noise_mixtures import Mixed, mixed
from noise_pulses import HeardFence
from solidcopy.noise.features.figure import Figure
from solidcopy.noise.parts.listing import list_parts
from solidcopy.noise.parts.part import Part, PartKind, PartsList

DEVELOPMENT_SEEDS = range(0, 1000)
FIRST_TRIAL_SEED = 140_000
INR = "interference_to_noise_db"
Fields = dict[str, Any]
SIGNALS = (PartKind.SPEECH_LIKE, PartKind.DATA_LIKE)


@dataclass(frozen=True, slots=True)
class Truth:
    """One thing put into a recording, as a part would name it."""

    kind: PartKind
    rhythm_hz: float | None = None
    frequency_hz: float | None = None
    band_hz: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Recipe:
    """A mixture: what is added, and what should be found."""

    added: list[Fields | HeardFence]
    truths: list[Truth]
    seconds: float = 30.0
    soft_order: int | None = None
    """Of the passband's filter; steep skirts if left out."""


def fence(period_s: float, inr_db: float) -> tuple[Fields, Truth]:
    source = {"kind": "electric-fence", "period_s": period_s}
    return (
        {"kind": "impulse-sources", "sources": [source], INR: inr_db},
        Truth(PartKind.PERIODIC_IMPULSES, rhythm_hz=1.0 / period_s),
    )


def arc(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    mains_hz = int(draw.choice([50, 60]))
    peaks = str(draw.choice(["both", "one"]))
    source = {"kind": "mains-arc", "mains_hz": mains_hz, "peaks": peaks, "quiet_s": 0.5}
    return (
        {"kind": "impulse-sources", "sources": [source], INR: inr_db},
        Truth(PartKind.PERIODIC_IMPULSES, rhythm_hz=mains_hz * (2.0 if peaks == "both" else 1.0)),
    )


def ignition(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    rpm = float(draw.uniform(900.0, 3600.0))
    source = {"kind": "ignition", "engine_rpm": rpm}
    return (
        {"kind": "impulse-sources", "sources": [source], INR: inr_db},
        Truth(PartKind.PERIODIC_IMPULSES, rhythm_hz=rpm / 30.0),
    )


def clicks(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    rate = float(draw.uniform(1.0, 6.0))
    return (
        {"kind": "impulses", "rate_per_s": rate, "timing": "random", INR: inr_db},
        Truth(PartKind.RANDOM_IMPULSES),
    )


def static(inr_db: float) -> tuple[Fields, Truth]:
    return {"kind": "lightning-static", INR: inr_db}, Truth(PartKind.RANDOM_IMPULSES)


def carrier(at_hz: float, inr_db: float) -> tuple[Fields, Truth]:
    return (
        {"kind": "carrier", "audio_hz": at_hz, INR: inr_db},
        Truth(PartKind.STEADY_LINE, frequency_hz=at_hz),
    )


def keyed(at_hz: float, wpm: float, inr_db: float) -> tuple[Fields, Truth]:
    keying = {"kind": "morse", "text": "random", "speed_wpm": wpm}
    return (
        {"kind": "carrier", "audio_hz": at_hz, "keying": keying, INR: inr_db},
        Truth(PartKind.KEYED_LINE, frequency_hz=at_hz),
    )


def comb(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    spacing_hz = float(draw.uniform(130.0, 260.0))
    n_lines = int(1 + 2200.0 // spacing_hz)
    return (
        {
            "kind": "line-comb",
            "audio_hz": 400.0,
            "spacing_hz": spacing_hz,
            "n_lines": n_lines,
            INR: inr_db,
        },
        Truth(PartKind.COMB, rhythm_hz=spacing_hz),
    )


def supply_lines(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    mains_hz = float(draw.choice([50.0, 60.0]))
    harmonics = str(draw.choice(["all", "even"]))
    return (
        {
            "kind": "mains-hum",
            "mains_hz": mains_hz,
            "harmonics": harmonics,
            "sound": str(draw.choice(["hum", "buzz"])),
            "fall_db_per_octave": 3.0,
            "lowest_hz": 250.0,
            INR: inr_db,
        },
        Truth(PartKind.COMB, rhythm_hz=mains_hz * (1.0 if harmonics == "all" else 2.0)),
    )


def hump(at_hz: float, width_hz: float, inr_db: float) -> tuple[Fields, Truth]:
    return (
        {"kind": "switch-mode-hump", "audio_hz": at_hz, "width_hz": width_hz, INR: inr_db},
        Truth(PartKind.HUMP, band_hz=(at_hz - width_hz / 2.0, at_hz + width_hz / 2.0)),
    )


def speech(inr_db: float) -> tuple[Fields, Truth]:
    return (
        {"kind": "speech-sideband", "audio_hz": 0.0, INR: inr_db},
        Truth(PartKind.SPEECH_LIKE),
    )


def data(draw: np.random.Generator, inr_db: float) -> tuple[Fields, Truth]:
    kind = str(draw.choice(["slot-station", "psk31", "teleprinter", "multi-tone"]))
    fields: Fields = {"kind": kind, "audio_hz": 1200.0, INR: inr_db}
    if kind == "multi-tone":
        fields |= {"width_hz": 500.0, "n_tones": 16}
    return fields, Truth(PartKind.DATA_LIKE, band_hz=(1190.0, 1210.0))


def heard(draw: np.random.Generator, fence_heard: HeardFence) -> tuple[HeardFence, Truth]:
    """A fence as it is heard, its pulses jittered and unlike."""
    jitter_s, spread = float(draw.uniform(0.0, 0.005)), float(draw.uniform(0.0, 0.3))
    return (
        replace(fence_heard, jitter_s=jitter_s, strength_spread=spread),
        Truth(PartKind.PERIODIC_IMPULSES, rhythm_hz=1.0 / fence_heard.period_s),
    )


def crackling(
    draw: np.random.Generator, inr_db: float, period_s: float | None = None
) -> tuple[HeardFence, Truth]:
    """A pulse and discharges behind it."""
    made = HeardFence(
        period_s or float(draw.uniform(1.0, 1.9)),
        inr_db,
        n_discharges=int(draw.integers(4, 21)),
        discharges_mean_s=float(draw.uniform(0.04, 0.13)),
        discharge_strength=float(draw.uniform(0.3, 0.8)),
    )
    return heard(draw, made)


def ringing(draw: np.random.Generator, inr_db: float) -> tuple[HeardFence, Truth]:
    """Pulses that swing on and die away."""
    made = HeardFence(
        float(draw.uniform(1.0, 1.9)),
        inr_db,
        ring_hz=float(draw.uniform(500.0, 2400.0)),
        ring_decay_s=float(draw.uniform(0.0005, 0.004)),
    )
    return heard(draw, made)


def double(draw: np.random.Generator, inr_db: float) -> tuple[HeardFence, Truth]:
    """Two pulses in every period."""
    made = HeardFence(
        float(draw.uniform(1.0, 1.9)),
        inr_db,
        second_after_s=float(draw.uniform(0.03, 0.45)),
        second_strength=float(draw.uniform(0.4, 0.95)),
    )
    return heard(draw, made)


def _recipe(*things: tuple[Fields | HeardFence, Truth], seconds: float = 30.0) -> Recipe:
    return Recipe([fields for fields, _ in things], [truth for _, truth in things], seconds)


FAMILIES: dict[str, Callable[[np.random.Generator], Recipe]] = {
    "Gaussian noise alone": lambda d: _recipe(seconds=float(d.uniform(10.0, 40.0))),
    "one fence": lambda d: _recipe(fence(float(d.uniform(1.0, 1.9)), float(d.uniform(-8, 5)))),
    "two fences, 1.20 and 1.27 s": lambda d: _recipe(
        fence(1.20, float(d.uniform(-5, 3))), fence(1.27, float(d.uniform(-5, 3)))
    ),
    "supply arc": lambda d: _recipe(arc(d, float(d.uniform(-3, 6)))),
    "ignition": lambda d: _recipe(ignition(d, float(d.uniform(-3, 6)))),
    "clicks at random": lambda d: _recipe(clicks(d, float(d.uniform(-6, 5)))),
    "static": lambda d: _recipe(static(float(d.uniform(0, 8)))),
    "two carriers": lambda d: _recipe(
        carrier(float(d.uniform(400, 1200)), float(d.uniform(-15, 10))),
        carrier(float(d.uniform(1500, 2700)), float(d.uniform(-15, 10))),
    ),
    "keyed carrier": lambda d: _recipe(
        keyed(float(d.uniform(500, 2500)), float(d.uniform(14, 28)), float(d.uniform(-12, 8)))
    ),
    "comb": lambda d: _recipe(comb(d, float(d.uniform(-5, 6)))),
    "supply lines in 3 kHz": lambda d: _recipe(supply_lines(d, float(d.uniform(0, 6)))),
    "hump": lambda d: _recipe(
        hump(float(d.uniform(800, 2200)), float(d.uniform(100, 300)), float(d.uniform(-6, 5)))
    ),
    "speech": lambda d: _recipe(speech(float(d.uniform(0, 8)))),
    "data signal": lambda d: _recipe(data(d, float(d.uniform(-6, 6)))),
    "fence, keyed carrier": lambda d: _recipe(
        fence(float(d.uniform(1.0, 1.9)), float(d.uniform(-3, 5))),
        keyed(float(d.uniform(500, 2500)), 20.0, float(d.uniform(-8, 5))),
    ),
    "harbour": lambda d: _recipe(
        fence(float(d.uniform(1.1, 1.7)), float(d.uniform(0, 4))),
        arc(d, float(d.uniform(-3, 2))),
        hump(1900.0, 200.0, float(d.uniform(-5, 0))),
        keyed(900.0, 16.0, float(d.uniform(-6, 2))),
    ),
    "clicks, hump, carrier": lambda d: _recipe(
        clicks(d, float(d.uniform(-3, 3))),
        hump(1900.0, 200.0, float(d.uniform(-5, 3))),
        carrier(900.0, float(d.uniform(-10, 5))),
    ),
    "crackling fence": lambda d: _recipe(crackling(d, float(d.uniform(0, 14)))),
    "crackling fence, loud, 60 s": lambda d: _recipe(
        crackling(d, float(d.uniform(12, 24))), seconds=60.0
    ),
    "ringing fence": lambda d: _recipe(ringing(d, float(d.uniform(-3, 10)))),
    "fence of double pulses": lambda d: _recipe(double(d, float(d.uniform(0, 12)))),
    "two crackling fences, 1.20 and 1.27 s": lambda d: _recipe(
        crackling(d, float(d.uniform(4, 12)), 1.20), crackling(d, float(d.uniform(4, 12)), 1.27)
    ),
    "crackling fence, clicks": lambda d: _recipe(
        crackling(d, float(d.uniform(3, 12))), clicks(d, float(d.uniform(-3, 3)))
    ),
    "crackling fence, hump, keyed carrier": lambda d: _recipe(
        crackling(d, float(d.uniform(3, 12))),
        hump(1900.0, 200.0, float(d.uniform(-4, 3))),
        keyed(900.0, 16.0, float(d.uniform(-6, 3))),
    ),
    "crackling fence behind a soft filter": lambda d: replace(
        _recipe(crackling(d, float(d.uniform(0, 20)))), soft_order=int(d.integers(2, 7))
    ),
    "Gaussian noise behind a soft filter": lambda d: replace(
        _recipe(), soft_order=int(d.integers(2, 7))
    ),
}
"""Mixtures by name; levels are drawn over the noise in 2500 Hz."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One thing put in, and the part that it was found as."""

    truth: Truth
    level_dbfs: float
    found: Part | None

    @property
    def level_error_db(self) -> float:
        """Found less put in."""
        assert self.found is not None
        return self.found.level_dbfs - self.level_dbfs

    @property
    def rhythm_error(self) -> float | None:
        """Relative."""
        if self.found is None or self.truth.rhythm_hz is None:
            return None
        assert isinstance(self.found.rhythm_hz, Figure)
        return self.found.rhythm_hz.value / self.truth.rhythm_hz - 1.0


@dataclass(frozen=True, slots=True)
class Trialled:
    """One recording of the trial."""

    family: str
    seed: int
    judged: tuple[Judged, ...]
    invented: tuple[Part, ...]
    floor_error_db: float
    whole: PartsList


def try_one(family: str, seed: int) -> Trialled:
    """Make a recording, list its parts, and hold them against what was put in."""
    recipe = FAMILIES[family](np.random.default_rng(np.random.SeedSequence([seed, 1])))
    made: Mixed = mixed(
        recipe.added, seed=seed, duration_s=recipe.seconds, soft_order=recipe.soft_order
    )
    whole = list_parts(made.waveform)
    left = [p for p in whole.parts if p.kind not in (PartKind.FLOOR, PartKind.REST)]
    judged = []
    order = sorted(range(len(recipe.truths)), key=lambda i: -made.levels_dbfs[i])
    for place in order:
        truth = recipe.truths[place]
        fitting = [part for part in left if fits(part, truth)]
        found = max(fitting, key=lambda part: part.power, default=None)
        if found is not None:
            left.remove(found)
        judged.append(Judged(truth, made.levels_dbfs[place], found))
    floor = whole.of_kind(PartKind.FLOOR)[0]
    return Trialled(
        family, seed, tuple(judged), tuple(left), floor.level_dbfs - made.noise_dbfs, whole
    )


def fits(part: Part, truth: Truth) -> bool:
    """The right kind, at the right place, with the right rhythm (0.5 %)."""
    if part.kind is not truth.kind:
        return False
    if truth.rhythm_hz is not None:
        rhythm = part.rhythm_hz
        if not isinstance(rhythm, Figure) or abs(rhythm.value / truth.rhythm_hz - 1.0) > 5e-3:
            return False
    if truth.frequency_hz is not None and not any(
        abs(at_hz - truth.frequency_hz) < 2.0 for at_hz in part.frequencies_hz
    ):
        return False
    if truth.band_hz is None:
        return True
    return part.band_hz[0] < truth.band_hz[1] and part.band_hz[1] > truth.band_hz[0]


def markdown(rows: list[Trialled]) -> str:
    """The table of a trial."""
    lines = [
        "| mixture | recordings | put in | found | missed | invented | level error: median, "
        "largest (dB) | rhythm error, largest | floor error, largest (dB) |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    families = list(dict.fromkeys(row.family for row in rows))
    for family in families:
        lines.append(_line(family, [row for row in rows if row.family == family]))
    lines.append(_line("**all**", rows))
    return "\n".join(lines)


def _line(name: str, rows: list[Trialled]) -> str:
    judged = [one for row in rows for one in row.judged]
    found = [one for one in judged if one.found is not None]
    invented = sum(len(row.invented) for row in rows)
    errors = np.array([one.level_error_db for one in found])
    levels = "–"
    if errors.size:
        levels = f"{np.median(errors):+.2f}, {errors[np.abs(errors).argmax()]:+.2f}"
    rhythms = [abs(one.rhythm_error) for one in found if one.rhythm_error is not None]
    rhythm = f"{1e6 * max(rhythms):.0f} ppm" if rhythms else "–"
    floors = np.array([row.floor_error_db for row in rows])
    floor = f"{floors[np.abs(floors).argmax()]:+.2f}"
    return (
        f"| {name} | {len(rows)} | {len(judged)} | {len(found)} | {len(judged) - len(found)} | "
        f"{invented} | {levels} | {rhythm} | {floor} |"
    )
