"""Make the audio of any trial anew, and prove that it is the same."""

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from solidcopy import __version__, units
from solidcopy.actions.certificate import Certificate, StatedSamples
from solidcopy.actions.certify import certificate_of, certified_slot, trials_recipe
from solidcopy.actions.folder import existing_folder
from solidcopy.campaigns.journal import JournalReader
from solidcopy.errors import JournalError
from solidcopy.signals.audio_file import write_audio
from solidcopy.signals.sample_count import SampleCounter
from solidcopy.trials.expand import TrialKey, parse_trial_key, trial_of
from solidcopy.trials.identity import curve_identity
from solidcopy.trials.make import make
from solidcopy.trials.plan import Plan
from solidcopy.trials.trial import Recording, Truth


@dataclass(frozen=True, slots=True)
class Remade:
    """Files of a trial that was made anew."""

    audio: Path
    sidecar: Path
    is_proved: bool
    """Its digest equals the journal's; False if the trial has not been run yet."""


def remake(source: Path, trial: str | TrialKey, *, out: Path) -> Remade:
    """Write a trial's samples (WAV, 32-bit float) and what is in them (JSON).

    Args:
        source: campaign folder or plan file.
        trial: e.g. "2@-19#7": condition, axis value, index; or its place in the plan.
        out: folder for the two files.
    Raises: PlanError for a name that the plan does not hold; JournalError if the samples are not
        those of the campaign (both files are written all the same).
    """
    with JournalReader(existing_folder(source)) as reader:
        plan = reader.plan
        key = trial if isinstance(trial, TrialKey) else parse_trial_key(trial, plan)
        in_journal = _journal_digest(reader, key)
    recording, truth = make(trial_of(plan, key))
    stem = f"trial-{key}".replace("@", "_").replace("#", "_")
    out.mkdir(parents=True, exist_ok=True)
    audio, sidecar = out / f"{stem}.wav", out / f"{stem}.json"
    certificate = _certificate(plan, key, recording, truth)
    write_audio(
        audio,
        recording.waveform.samples,
        sample_rate_hz=recording.waveform.sample_rate_hz,
        subtype="FLOAT",
        comment=certificate.text(),
    )
    description = _description(plan, key, recording, truth)
    description["digest_in_journal"] = in_journal
    description["certificate"] = certificate.model_dump(mode="json")
    sidecar.write_text(json.dumps(description, indent=2, ensure_ascii=False) + "\n", "utf-8")
    if in_journal is not None and in_journal != recording.digest:
        raise JournalError(
            f"trial {key}: the samples differ from those of the campaign (see {sidecar}); a "
            "recording file has changed, or the numeric libraries are other versions than the "
            "journal's"
        )
    return Remade(audio, sidecar, is_proved=in_journal is not None)


def _journal_digest(reader: JournalReader, key: TrialKey) -> str | None:
    for receiver in range(len(reader.plan.receivers)):
        try:
            return reader.outcome(key, receiver).digest
        except JournalError:
            continue
    return None


def _certificate(plan: Plan, key: TrialKey, recording: Recording, truth: Truth) -> Certificate:
    counter = SampleCounter("float32")
    counter.add(recording.waveform.samples)
    rate_hz = recording.waveform.sample_rate_hz
    samples = StatedSamples.of(counter.facts, word="float32", sample_rate_hz=rate_hz)
    name = plan.conditions[key.condition].name
    slot = certified_slot(name, key, (recording, truth), starts_at_sample=0)
    return certificate_of(samples, trials_recipe(plan, [slot]))


def _description(plan: Plan, key: TrialKey, recording: Recording, truth: Truth) -> dict[str, Any]:
    """Everything that lets a doubter check the file without this program."""
    condition = plan.conditions[key.condition].at(key.axis_value)
    message = truth.message
    return {
        "made_by": f"solidcopy {__version__}",
        "trial": str(key),
        "mode": plan.mode,
        "condition": condition.model_dump(mode="json"),
        "axis_value": key.axis_value,
        "root_seed": plan.root_seed,
        "arm": key.arm,
        "trial_index": key.trial_index,
        "curve_identity": curve_identity(plan, plan.conditions[key.condition]),
        "sample_rate_hz": recording.waveform.sample_rate_hz,
        "reference_bandwidth_hz": units.REFERENCE_BANDWIDTH_HZ,
        "sent": {
            "text": message.text if message else None,
            "payload_bits": "".join(map(str, message.payload)) if message else None,
            "lowest_tone_hz": truth.audio_hz,
            "start_after_nominal_s": truth.time_offset_s,
        },
        "readings": _finite(asdict(recording.readings)),
        "digest_sha256_float32le": recording.digest,
        "caution": "For cables, dummy loads and files only; never on the air. Start quietly.",
    }


def _finite(value: Any) -> Any:
    """JSON has no infinity: silence is None there."""
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    if isinstance(value, float) and abs(value) == float("inf"):
        return None
    return value
