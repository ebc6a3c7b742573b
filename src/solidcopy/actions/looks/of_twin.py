"""Which impairments stand for a noise?"""

from pathlib import Path

from solidcopy.actions.looks.answer import FIT, PLAN, LookAnswer
from solidcopy.actions.looks.found import Found
from solidcopy.actions.looks.request import TwinAsked
from solidcopy.actions.noise_twin import FittedTwin, TwinRequest, write_twin
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import number, signed


def look_for_twin(asked: TwinAsked, file: Path, folder: Path) -> Found:
    """As `solidcopy noise twin`; it writes its plan into the folder."""
    request = TwinRequest(
        recording=file,
        plan_file=folder / PLAN,
        mode=asked.mode,
        n_trials=asked.n_trials,
        is_each=asked.is_each,
        audio_hz=asked.audio_hz,
        channel=asked.channel,
        root_seed=asked.root_seed,
        may_replace=True,
    )
    fitted = write_twin(request)
    return Found(_answer(fitted), fitted.as_dict())


def _answer(fitted: FittedTwin) -> LookAnswer:
    """Which impairments stand for a noise, and how like it they are."""
    twin = fitted.twin
    parts = Sheet(
        "Parts of the twin",
        ("part", "I/N in 2500 Hz, dB", "where it came from", "how surely there"),
        tuple(
            (part.group, number(twin.level_db(part), 1), part.comment, str(part.sureness))
            for part in twin.parts
        ),
        "I/N: mean power over that of the twin's white floor in 2500 Hz.",
        n_heads=1,
    )
    likeness = Sheet(
        "The recording beside its twin",
        ("what", "recording", "twin", "difference"),
        tuple(
            (
                row.what,
                number(row.recording, 1),
                number(row.twin, 1),
                signed(row.difference, 1),
            )
            for row in fitted.likeness.rows()
        ),
        "Level and spectrum in dBFS; envelope in 2500 Hz over the recording's rms, dB.",
        n_heads=1,
    )
    n_parts = len(twin.parts)
    words = "none: this is Gaussian noise" if not n_parts else f"{n_parts} beside a white floor"
    return LookAnswer(
        sentence=f"Impairments that stand for the noise: {words}.",
        supports=(
            "A twin knows what its features know: rhythm, strength, place. It does not know what "
            "the recording did at which moment.",
        ),
        sheets=(*((parts,) if n_parts else ()), likeness),
        files=(PLAN, FIT),
    )
