"""One trial, looked at before anything is run or afterwards: what the pages are given."""

import base64
import io
import threading
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

from report_examples import PLACE_OF
from solidcopy.actions.find_certificate import find_certificate
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.recent_trials import RecentTrials
from solidcopy.actions.trial_asked import AskedTrial
from solidcopy.actions.trial_pictures import Shades, waveform_shape, wide_picture
from solidcopy.actions.trial_view import view_of, view_trial
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.errors import NotThereError, PlanError
from solidcopy.receivers.receiver import Decode
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import WANTED, make_in_parts, muted
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.plan import plan_of_text
from solidcopy.trials.trial import NOTHING_SENT, SENT
from solidcopy.web.app import create_app

HERE = "http://127.0.0.1:8437"
PLAN = """
title = "The harbour"
mode = "ft8"
root_seed = 6
axis = { values = [-20, -10] }
stop = { trials_per_point = 4, nothing_sent = 2 }

[[conditions]]
name = "quiet"
impairments = [{ kind = "gaussian-noise", snr_db = "axis" }]

[[conditions]]
name = "neighbour"
sending = { audio_hz = 1500, start_offset_s = 0.2 }
impairments = [
    { kind = "carrier", audio_hz = 900, interference_to_noise_db = 10 },
    { kind = "gaussian-noise", snr_db = "axis" },
    { kind = "impulses", rate_per_s = 1, timing = "periodic", interference_to_noise_db = 3 },
    { kind = "slot-clock", offset_s = 0.1 },
]

[[receivers]]
kind = "builtin"

[[receivers]]
kind = "builtin"
name = "second"
effort = "belief-propagation"
"""


@pytest.fixture(scope="module")
def space(tmp_path_factory):
    made = Workspace.at(tmp_path_factory.mktemp("trials") / "bench")
    made.plan("harbour").write_text(PLAN)
    return made


@pytest.fixture(scope="module")
def client(space):
    return TestClient(create_app(space, ["127.0.0.1:8437"]), base_url=HERE)


@cache
def the_plan():
    return plan_of_text(PLAN, Path("/nowhere/harbour.toml"))


def asked(**fields):
    return AskedTrial(condition="neighbour", **fields)


@cache
def whole():
    return view_trial(the_plan(), asked(axis_value=-10.0))


def source(view, name):
    return next(one for one in view.sources if one.name == name)


def preview(client, **query):
    answered = client.get("/api/plans/harbour/preview", params=query)
    assert answered.status_code == 200, answered.text
    return answered.json()


def sound(client, address, **query):
    answered = client.get(address, params=query)
    assert answered.status_code == 200 and answered.headers["content-type"] == "audio/wav"
    return soundfile.read(io.BytesIO(answered.content), dtype="float32")


def test_the_card_says_what_the_readings_say():
    making = make_in_parts(trial_of(the_plan(), TrialKey(1, SENT, -10.0, 0)))
    by_name = {reading.name: reading for reading in making.recording.readings.levels}
    assert [level.number for level in whole().levels] == [1, 2, 3]
    for level, kind in zip(whole().levels, ("carrier", "gaussian-noise", "impulses"), strict=True):
        own = by_name[kind]
        assert level.quantity == own.quantity
        assert (level.asked_db, level.got_db) == (own.asked_db, pytest.approx(own.got_db, abs=6e-4))
        assert level.expected_db == pytest.approx(own.asked_db + own.drawn_db, abs=6e-4)
        assert level.mean_dbfs == pytest.approx(own.mean_dbfs, abs=6e-4)
    assert whole().reference_bandwidth_hz == 2500.0
    assert whole().digest == making.recording.digest


@pytest.mark.derived
def test_outlines_lie_where_the_power_is():
    """Of the picture itself: cells within the outline against all cells, each source alone."""
    making = make_in_parts(trial_of(the_plan(), TrialKey(1, SENT, -10.0, 0)))
    for number, name in ((0, "Wanted signal"), (1, "Carrier"), (3, "Impulses")):
        others = frozenset({0, 1, 2, 3} - {number})
        view = view_of(the_plan(), TrialKey(1, SENT, -10.0, 0), making, others)
        alone = wide_picture_powers(view, making)
        inside = cells_within(view, source(view, name).outlines)
        assert alone[inside].sum() > 0.9 * alone.sum(), name
        assert inside.mean() < 0.35, "an outline that says nothing"


def wide_picture_powers(view, making):
    """Powers of the wide picture's cells, with a scale that loses nothing."""
    silent = frozenset(one.number for one in view.sources if one.is_muted)
    waveform, _ = muted(making, silent)
    picture = wide_picture(waveform, Shades(-120.0, 0.0))
    levels = np.frombuffer(base64.b64decode(picture.levels), np.uint8)
    db = picture.lowest_db + levels / 255.0 * (picture.highest_db - picture.lowest_db)
    return (10 ** (db / 10)).reshape(picture.n_frequencies, picture.n_times)


def cells_within(view, outlines):
    """Cells that touch an outline, (n_frequencies, n_times), the highest frequency first."""
    picture = view.wide
    time_s = np.linspace(picture.from_s, picture.to_s, picture.n_times + 1)
    at_hz = np.linspace(picture.high_hz, picture.low_hz, picture.n_frequencies + 1)
    # A window of 0.16 s smears by half of itself, and by two bins of 6.25 Hz.
    inside = np.zeros((picture.n_frequencies, picture.n_times), bool)
    for one in outlines:
        is_time = (time_s[1:] > one.from_s - 0.08) & (time_s[:-1] < one.to_s + 0.08)
        is_band = (at_hz[:-1] > one.low_hz - 12.5) & (at_hz[1:] < one.high_hz + 12.5)
        inside |= is_band[:, None] & is_time[None, :]
    return inside


def test_each_source_has_its_name_numbers_and_place():
    names = ["Wanted signal", "Carrier", "Gaussian noise", "Impulses", "Slot clock"]
    assert [one.name for one in whole().sources] == names
    assert source(whole(), "Carrier").place == "a line at 900 Hz, all the time"
    assert source(whole(), "Gaussian noise").place == "everywhere, all the time"
    assert "from 0." in source(whole(), "Impulses").place
    assert "I/N in 2500 Hz (this over the noise): 10 dB" in source(whole(), "Carrier").numbers
    clock = source(whole(), "Slot clock")
    assert (clock.can_mute, clock.outlines, clock.family) == (False, (), "chain")
    # 0.5 s nominal, 0.2 s asked, 0.1 s by the clock (FACTS: FT8 starts 0.5 s into its slot).
    assert whole().sent.start_s == pytest.approx(0.6, abs=1e-3)
    assert whole().no_symbols == "" and whole().symbols.plain.n_heard == 79


def test_a_muted_trial_is_said_to_be_none_of_the_campaign(client):
    one = preview(client, condition="neighbour", axis_value=-10, mute=[1, 3])
    assert one["is_muted"]
    assert [own["name"] for own in one["sources"] if own["is_muted"]] == ["Carrier", "Impulses"]
    assert one["digest"] == whole().digest
    assert one["levels"] == preview(client, condition="neighbour", axis_value=-10)["levels"]
    assert [line["number"] for line in one["spectra"]["lines"]] == [-1, 0, 2]
    assert (one["wide"]["lowest_db"], one["wide"]["highest_db"]) == (
        whole().wide.lowest_db,
        whole().wide.highest_db,
    )
    # A slot clock has no sound, so muting it leaves the whole.
    assert not preview(client, condition="neighbour", axis_value=-10, mute=4)["is_muted"]


@pytest.mark.derived
def test_sounds_of_sources_alone_add_up_to_the_whole(client):
    address, query = "/api/plans/harbour/preview/sound", {"condition": "2", "axis_value": -10}
    both, rate_hz = sound(client, address, **query)
    assert (rate_hz, both.size) == (12_000, 180_000)
    alone = [
        sound(client, address, **query, mute=[n for n in range(4) if n != one])[0]
        for one in range(4)
    ]
    # Each is rounded to float32 once, below 2^-25 at levels below full scale.
    assert np.abs(np.sum(alone, axis=0, dtype=np.float64) - both).max() < 5 * 2.0**-25
    shown = view_trial(the_plan(), asked(axis_value=-10.0)).sound
    peak_db = 20 * np.log10(np.abs(both).max())
    rms_dbfs = 10 * np.log10(np.mean(both.astype(np.float64) ** 2) / 0.5)
    assert shown.peak_dbfs == pytest.approx(peak_db, abs=1e-3)
    assert shown.rms_dbfs == pytest.approx(rms_dbfs, abs=1e-3)


def test_without_the_wanted_signal_there_are_no_symbols(client):
    assert "muted" in preview(client, axis_value=-10, mute=0)["no_symbols"]
    silent = preview(client, sent="false")
    assert silent["sent"] is None and "Nothing was sent" in silent["no_symbols"]
    assert "with nothing sent" in silent["words"]
    assert not silent["sources"][0]["can_mute"]


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ({"condition": "5"}, 404, '"5" is no condition of this plan; it has 1 "quiet"'),
        ({"axis_value": -11}, 404, "no axis value −11 in this plan; it has −20, −10"),
        ({"index": -1}, 422, "index"),
        ({"index": 10**9}, 422, "index"),
        ({"mute": 7}, 400, "7 is no part of this condition"),
        ({"axis_value": "nan"}, 422, "axis_value"),
        ({"colour": "red"}, 422, "colour"),
    ],
)
def test_what_there_is_not_is_refused(client, query, status, words):
    for address in ("preview", "preview/sound"):
        answered = client.get(f"/api/plans/harbour/{address}", params=query)
        assert answered.status_code == status, answered.text
        assert words in answered.json()["sentence"]


def test_a_faulty_plan_is_refused_in_its_own_words(client, space):
    space.plan("bad").write_text(PLAN.replace('mode = "ft8"', 'mode = "ft9"'))
    answered = client.get("/api/plans/bad/preview")
    assert answered.status_code == 400 and "ft9" in answered.json()["sentence"]


def test_choices_are_those_of_the_plan(client):
    choices = client.get("/api/plans/harbour/choices").json()
    assert choices["conditions"] == ["quiet", "neighbour"]
    assert (choices["axis"], choices["unit"]) == ("SNR in 2500 Hz", "dB")
    assert (choices["values"], choices["middle"]) == ([-20.0, -10.0], -10.0)


# Of a campaign


@pytest.fixture(scope="module")
def campaign(space):
    """Trials 0 to 3 of "quiet" at -20, heard by the first receiver: missed, decoded, missed."""
    folder, plan = space.folder / f"harbour{SUFFIX}", the_plan()
    verdicts = [Verdict.MISSED, Verdict.DECODED, Verdict.MISSED]
    with JournalWriter(folder, plan, PLACE_OF) as journal:
        finished = []
        for index, verdict in enumerate(verdicts):
            key = TrialKey(0, SENT, -20.0, index)
            making = make_in_parts(trial_of(plan, key))
            truth = making.truth
            right = Decode(
                truth.message.text, truth.audio_hz + 0.5, truth.time_offset_s - 0.01, -21
            )
            false = Decode("CQ Q9XYZ JO22", 800.0, 1.0)
            digest = making.recording.digest if index < 2 else "11" * 32
            outcome = Outcome(
                verdict,
                right if verdict is Verdict.DECODED else None,
                (false,) if index == 1 else (),
                0.2,
                digest,
                making.recording.readings,
            )
            finished.append(Finished(key, 0, outcome))
        journal.append(finished)
        journal.settle()
    return folder


def shown(client, **query):
    answered = client.get("/api/campaigns/harbour/trial", params=query)
    assert answered.status_code == 200, answered.text
    return answered.json()


def test_a_trial_is_proved_and_its_answers_are_told(client, campaign):
    one = shown(client, condition="quiet", axis_value=-20, index=1)
    assert one["is_same"] is True and "same samples as in the campaign" in one["same_words"]
    first, second = one["answers"]
    assert (first["receiver"], first["verdict"]) == ("builtin", "decoded")
    right, false = first["decodes"]
    assert right["is_right"] and right["text"] == one["view"]["sent"]["text"]
    assert "+0.5 Hz from the true frequency, −0.010 s from the true start" in right["words"]
    assert "reported SNR −21 dB" in right["words"]
    assert not false["is_right"] and false["words"].startswith("at 800 Hz, start +1.00 s")
    assert (second["verdict"], second["decodes"]) == ("not tried", [])
    assert (one["previous"], one["next"], first["next_missed"]) == (0, 2, 2)


def test_other_samples_than_the_campaigns_are_said_to_be_others(client, campaign):
    one = shown(client, condition="1", axis_value=-20, index=2)
    assert one["is_same"] is False and "not the samples of the campaign" in one["same_words"]
    assert (one["next"], one["answers"][0]["next_missed"]) == (None, None)
    answered = client.get(
        "/api/campaigns/harbour/trial/file", params={"axis_value": -20, "index": 2}
    )
    assert answered.status_code == 409 and "differ" in answered.json()["sentence"]


def test_a_trial_that_was_not_run_can_be_looked_at(client, campaign):
    one = shown(client, condition="quiet", axis_value=-20, index=77)
    assert one["is_same"] is None and "cannot be compared" in one["same_words"]
    assert {answer["verdict"] for answer in one["answers"]} == {"not tried"}
    assert one["view"]["symbols"]["plain"]["n_heard"] == 79


def test_the_file_to_take_away_carries_its_certificate(client, campaign, tmp_path):
    query = {"axis_value": -20, "index": 1, "mute": 1}
    answered = client.get("/api/campaigns/harbour/trial/file", params=query)
    assert 'attachment; filename="trial-1_-20_1.wav"' in answered.headers["content-disposition"]
    file = tmp_path / "taken.wav"
    file.write_bytes(answered.content)
    (slot,) = find_certificate(file, given=None).recipe.slots
    assert (slot.trial_index, slot.axis_value, slot.condition) == (1, -20.0, "quiet")
    whole_one, _ = sound(client, "/api/campaigns/harbour/trial/sound", axis_value=-20, index=1)
    assert np.array_equal(soundfile.read(file, dtype="float32")[0], whole_one)
    described = client.get("/api/campaigns/harbour/trial/file", params=query | {"kind": "json"})
    assert described.json()["digest_sha256_float32le"] == slot.digest_sha256_float32le


@pytest.mark.parametrize(
    "address", ["/plans/none/preview", "/campaigns/none/trial", "/api/campaigns/none/trial"]
)
def test_what_is_not_there_is_not_found(client, address):
    assert client.get(address).status_code == 404


# Pictures and the trials that are kept


@pytest.mark.derived
def test_a_tone_lies_in_its_own_cell_at_its_own_level():
    """A full-scale sine: 0 dBFS over the noise bandwidth of a Hann window, 1.5 bins of 6.25 Hz
    (textbook). At 0 dBFS in one bin, pooled with a neighbour that has a quarter of it."""
    time_s = np.arange(180_000) / 12_000
    sine = Waveform(np.sin(2 * np.pi * 1000.0 * time_s).astype(np.float32), 12_000)
    picture = wide_picture(sine, Shades(-40.0, 0.0))
    levels = np.frombuffer(base64.b64decode(picture.levels), np.uint8)
    rows = levels.reshape(picture.n_frequencies, picture.n_times)
    middle = rows[:, picture.n_times // 2]
    step_hz = (picture.high_hz - picture.low_hz) / picture.n_frequencies
    at_hz = picture.high_hz - step_hz * (middle.argmax() + 0.5)
    assert abs(at_hz - 1000.0) <= 6.25
    expected_db = 10 * np.log10(1.0 / (1.5 * 6.25) * (1.0 + 0.25) / 2.0)
    assert -40.0 + middle.max() / 255 * 40.0 == pytest.approx(expected_db, abs=0.2)


def test_clipping_is_marked_where_it_is():
    samples = (0.5 * np.sin(np.arange(60_000) * 0.05)).astype(np.float32)
    assert waveform_shape(Waveform(samples, 12_000)).flat_s == ()
    cut = samples.copy()
    cut[12_000:12_600] = np.clip(3.0 * cut[12_000:12_600], -0.6, 0.6)
    shape = waveform_shape(Waveform(cut, 12_000))
    assert shape.flat_s and all(0.99 < at < 1.06 for at in shape.flat_s)
    assert shape.clipped_s == ()
    cut[30_000] = 1.5
    assert len(waveform_shape(Waveform(cut, 12_000)).clipped_s) == 1
    assert max(shape.highest) == pytest.approx(0.6, abs=1e-3)


def test_trials_are_kept_within_a_size_and_made_once():
    one = make_in_parts(trial_of(the_plan(), TrialKey(0, SENT, -20.0, 0)))
    size = one.recording.waveform.samples.nbytes + 2 * 8 * 180_000
    kept = RecentTrials(most_bytes=2 * size)
    keys = [TrialKey(0, SENT, -20.0, index) for index in range(3)]
    first = kept.get(the_plan(), keys[0])
    assert kept.get(the_plan(), keys[0]) is first and kept.n_bytes == size
    for key in keys[1:]:
        kept.get(the_plan(), key)
    assert kept.n_bytes == 2 * size
    assert kept.get(the_plan(), keys[0]) is not first
    found = []
    threads = [
        threading.Thread(target=lambda: found.append(kept.get(the_plan(), keys[1])))
        for _ in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len({id(one) for one in found}) == 1


def test_a_series_without_a_signal_has_its_own_trials():
    key = AskedTrial(sent=False, index=1).key(the_plan())
    assert key == TrialKey(0, NOTHING_SENT, -10.0, 1)
    with pytest.raises(NotThereError):
        AskedTrial(condition="none").key(the_plan())
    with pytest.raises(PlanError):
        AskedTrial(mute=[WANTED, 9]).silent(the_plan(), key)
