"""A station's evening by the commands: slots are played, decoded elsewhere, read and scored."""

import contextlib
import csv
import io
import json
import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile
import tomli_w

from example_plans import changed
from solidcopy.cli.main import main
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import parse_trial_key, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.plan import parse_plan

pytestmark = pytest.mark.derived  # the log is made beside the check, from the slots played

START = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
PLAN = changed(
    title="Club station by the harbour",
    axis={"values": [-30, -12]},
    stop={"trials_per_point": 2, "nothing_sent": 1},
)
SLOT_S = 15.0


def solidcopy(*arguments: str | Path) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    code = 0
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(sys, "argv", ["solidcopy", *map(str, arguments)])
        try:
            main()
        except SystemExit as ended:
            code = int(ended.code or 0)
    return code, out.getvalue(), err.getvalue()


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with a plan, played slots and the log that a station in local time wrote of them."""
    folder = tmp_path_factory.mktemp("evening")
    (folder / "plan.toml").write_text(tomli_w.dumps(PLAN))
    code, said, errors = solidcopy(
        "log", "slots", folder / "plan.toml", "--start", "2026-11-25T18:30:00Z",
        "--out", folder / "slots", "--per-point", "2", "--nothing", "1", "--every", "2", "--blind",
    )  # fmt: skip
    assert code == 0, errors
    assert "never on the air" in said
    receiver = build_receiver(BuiltinSettings(), mode_named("ft8"))
    samples, rate = soundfile.read(folder / "slots" / "slots.wav", dtype="float32")
    lines = ["words copied\tday\tclock\ttone\tlevel"]
    n_slot = round(SLOT_S * rate)
    for place in range(-(-len(samples) // n_slot)):
        piece = Waveform(samples[place * n_slot : (place + 1) * n_slot], rate)
        local = START + timedelta(hours=1, seconds=SLOT_S * place)
        for decode in receiver.receive(piece).decodes:
            lines.append(
                f"{decode.text}\t{local:%d.%m.%Y}\t{local:%H:%M:%S}\t{decode.audio_hz:.1f} Hz\t"
                f"{decode.snr_db:.1f}"
            )
    (folder / "station.log").write_text("\n".join([*lines, *lines[1:2]]) + "\n", encoding="utf-16")
    return folder


def key_of(evening: Path) -> dict[str, object]:
    read: dict[str, object] = json.loads((evening / "slots-key.json").read_text())
    return read


def test_slots_hold_the_trials_at_their_times(evening: Path) -> None:
    key, plan = key_of(evening), parse_plan(PLAN)
    slots = key["slots"]
    assert isinstance(slots, list) and len(slots) == 5
    samples, rate = soundfile.read(evening / "slots" / "slots.wav", dtype="float64")
    assert len(samples) == round((5 + 4) * SLOT_S * rate)
    for number, slot in enumerate(slots):
        assert slot["utc"] == (START + timedelta(seconds=30 * number)).isoformat()[:-6] + "Z"
        recording, truth = make(trial_of(plan, parse_trial_key(slot["trial"], plan)))
        first = round(slot["starts_at_s"] * rate)
        played = samples[first : first + recording.waveform.samples.size]
        assert np.abs(played - recording.waveform.samples).max() <= 0.5 / 32768 + 1e-9
        assert slot["digest_sha256_float32le"] == recording.digest
        assert slot["text"] == (truth.message.text if truth.message else None)
    assert sum(slot["text"] is None for slot in slots) == 1


def test_a_blind_folder_does_not_give_the_key_away(evening: Path) -> None:
    assert {path.name for path in (evening / "slots").iterdir()} == {"slots.wav", "schedule.csv"}
    rows = list(csv.DictReader((evening / "slots" / "schedule.csv").open()))
    assert len(rows) == 5
    assert list(rows[0]) == ["slot", "utc", "file", "starts_at_s"]


def test_a_log_in_local_time_is_not_scored_as_utc(evening: Path) -> None:
    code, _, said = solidcopy("log", "score", evening / "station.log", evening / "slots-key.json")
    assert code == 8
    assert "3600 s before their time" in said and "--times-in" in said
    assert said.count("\n") == 1


def score(evening: Path, *options: str) -> tuple[int, str, str]:
    return solidcopy(
        "log", "score", evening / "station.log", evening / "slots-key.json",
        "--times-in", "Europe/Berlin", *options,
    )  # fmt: skip


def test_score_by_slot(evening: Path) -> None:
    code, said, errors = score(evening, "--json")
    assert code == 0, errors
    (condition,) = json.loads(said)["conditions"]
    counts = [
        (p["axis_value"], p["n_slots"], p["n_right"], p["n_wrong"], p["n_nothing"])
        for p in condition["points"]
    ]
    # 18 dB apart around a threshold of about -21 dB: nothing below, everything above.
    assert counts == [(-30.0, 2, 0, 0, 2), (-12.0, 2, 2, 0, 0)]
    assert condition["nothing_sent"]["n_slots"] == 1
    assert condition["nothing_sent"]["n_false_decodes"] == 0


def test_a_program_that_counts_from_the_middle_is_named(evening: Path) -> None:
    log = (evening / "station.log").read_text(encoding="utf-16").splitlines()
    moved = [
        "\t".join([*cells[:3], f"{float(cells[3].removesuffix(' Hz')) + 31.25:.1f} Hz", cells[4]])
        for cells in (line.split("\t") for line in log[1:])
    ]
    (evening / "middle.log").write_text("\n".join([log[0], *moved]) + "\n")
    middle = ("log", "score", evening / "middle.log", evening / "slots-key.json",
              "--times-in", "Europe/Berlin")  # fmt: skip
    said = solidcopy(*middle)[1]
    assert "2 false decodes with the right text at another frequency" in said
    assert "was this log written" not in said
    (condition,) = json.loads(solidcopy(*middle, "--hz-tolerance", "40", "--json")[1])["conditions"]
    assert [point["n_right"] for point in condition["points"]] == [0, 2]


def test_reported_snr_needs_its_bandwidth(evening: Path) -> None:
    def reported(*options: str) -> list[float]:
        slots = json.loads(score(evening, "--json", "--columns", "snr=level", *options)[1])["slots"]
        return [s["reported_snr_2500_db"] for s in slots if s["result"] == "right"]

    assert reported() == [None, None]
    in_2500 = reported("--snr-reference-hz", "2500")
    in_500 = reported("--snr-reference-hz", "500")
    # 10 lg (2500 / 500) = 6.99 dB.
    assert np.subtract(in_2500, in_500) == pytest.approx([6.9897, 6.9897], abs=1e-4)
    assert in_2500 == pytest.approx([-12.0, -12.0], abs=2.0)


def test_a_scored_log_becomes_a_campaign(evening: Path) -> None:
    campaign = evening / "station.campaign"
    code, said, errors = score(evening, "--campaign", str(campaign))
    assert code == 0, errors
    assert "was heard" not in errors and str(campaign) in said
    code, said, errors = solidcopy("report", campaign)
    assert code == 0, errors
    rows = list(csv.DictReader((campaign / "report" / "trials.csv").open()))
    assert sorted(row["verdict"] for row in rows) == [
        "decoded", "decoded", "missed", "missed", "nothing sent",
    ]  # fmt: skip
    assert {row["receiver"] for row in rows} == {"station"}
    code, _, errors = score(evening, "--campaign", str(campaign))
    assert code == 7 and "holds a campaign already" in errors


def test_read_writes_entries_that_read_back_without_a_question(evening: Path) -> None:
    entries = evening / "entries.jsonl"
    first = ("log", "read", evening / "station.log", "--times-in", "Europe/Berlin",
             "--columns", "snr=level", "--snr-reference-hz", "2500", "--out", entries)  # fmt: skip
    code, said, errors = solidcopy(*first)
    assert code == 0, errors
    assert "the same as an earlier line" in said
    code, again, _ = solidcopy("log", "read", entries, "--json")
    found = json.loads(again)
    assert (code, found["question"]) == (0, None)
    written = [json.loads(line) for line in entries.read_text().splitlines()]
    names = ("time_utc", "text", "snr_db", "snr_reference_hz", "audio_hz")
    assert [[e[n] for n in names] for e in found["entries"]] == [
        [e[n] for n in names] for e in written
    ]
    confession = json.loads((evening / "entries-confession.json").read_text())
    assert confession["n_entries"] == len(written)
    table = evening / "entries.csv"
    assert solidcopy(*first[:-1], table)[0] == 0
    assert len(list(csv.DictReader(table.open()))) == len(written)


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (("read", "missing.txt"), 8, "cannot be read"),
        (("read", "plan.toml", "--out", "plan.txt"), 8, "none of its"),
        (("read", "station.log", "--out", "entries.doc"), 8, ".jsonl or .csv"),
        (("read", "station.log", "--columns", "text=nobody"), 8, 'no column "nobody"'),
        (("score", "station.log", "plan.toml"), 8, "is no key"),
        (("score", "station.log", "slots-key.json", "--time-tolerance-s", "8"), 8, "overlap"),
        (("slots", "plan.toml", "--start", "2026-11-25T18:30:07Z", "--out", "x"), 8, "18:30:15Z"),
        (("slots", "plan.toml", "--start", "tonight", "--out", "x"), 8, "--start"),
        (("slots", "plan.toml", "--start", "next", "--out", "slots"), 8, "already"),
        (("slots", "plan.toml", "--start", "next", "--out", "x", "--per-point", "0",
          "--nothing", "0"), 3, "0 slots"),
        (("slots", "plan.toml", "--start", "next", "--out", "x", "--trials", "1@-11#0"), 3, "axis"),
    ],
)  # fmt: skip
def test_bad_input_is_one_sentence(
    evening: Path, arguments: tuple[str, ...], code: int, word: str
) -> None:
    with contextlib.chdir(evening):
        found, _, said = solidcopy("log", *arguments)
    assert (found, said.count("\n")) == (code, 1), said
    assert word in said
    assert not any(name.startswith(".") for name in os.listdir(evening))
