"""Recordings of a bench: listed, heard, put away, and the plans and campaigns about them."""

import io

import numpy as np
import pytest
import soundfile
from starlette.testclient import TestClient

from noise_mixtures import mixed
from noise_trial import carrier
from report_examples import write_campaign
from solidcopy.actions.cost_answer import read_cost
from solidcopy.actions.list_recordings import delete_recording, recording_card
from solidcopy.actions.looks.answer import ANSWER, ANSWERED, PLAN
from solidcopy.actions.looks.request import AnswerAsked, CostAsked, TwinAsked
from solidcopy.actions.looks.work import carry_out
from solidcopy.actions.noise_twin import read_over_floor_db
from solidcopy.actions.own_noise import campaigns_beside, plans_beside
from solidcopy.actions.workspace import RECORDINGS, Workspace
from solidcopy.errors import NotThereError, WorkspaceError
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.plan import parse_plan, read_plan
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER

HOST = "127.0.0.1:8437"


@pytest.fixture(scope="module")
def noise():
    return mixed([carrier(900.0, 0.0)[0]], seed=20, duration_s=40.0).waveform


@pytest.fixture
def space(noise, tmp_path):
    space = Workspace.at(tmp_path / "bench")
    file = space.folder / RECORDINGS / "pump.wav"
    write_audio(file, noise.samples, sample_rate_hz=noise.sample_rate_hz)
    return space


@pytest.fixture
def client(space):
    made = TestClient(
        create_app(space, [HOST]), base_url=f"http://{HOST}", raise_server_exceptions=False
    )
    made.headers[KEY_HEADER] = space.key()
    return made


def put_sound(space, name, samples, rate_hz=12_000, **how):
    soundfile.write(space.folder / RECORDINGS / name, samples, rate_hz, **how)


def test_a_card_says_what_a_file_is(space):
    card = recording_card(space, "pump.wav")
    assert card.words == "40.00 s, WAV, 12000 Hz, 32-bit float, 1 channel"
    assert card.is_played and card.duration_s == 40.0
    (space.folder / RECORDINGS / "torn.wav").write_bytes(b"RIFF")
    torn = recording_card(space, "torn.wav")
    assert torn.duration_s is None and torn.words.startswith("is no sound file")
    with pytest.raises(NotThereError):
        recording_card(space, "none.wav")


@pytest.mark.parametrize(
    ("name", "how", "is_played"),
    [
        ("a.flac", {"subtype": "PCM_16"}, True),
        ("a.ogg", {"subtype": "VORBIS"}, True),
        ("a.aiff", {"subtype": "PCM_16"}, False),
        ("a.w64", {"subtype": "PCM_16"}, False),
        ("a.wav", {"subtype": "ULAW"}, False),
    ],
)
def test_what_browsers_play_is_told(space, name, how, is_played):
    put_sound(space, name, np.random.default_rng(1).normal(0, 0.1, 12_000), **how)
    assert recording_card(space, name).is_played is is_played


@pytest.mark.derived
def test_a_piece_keeps_its_level_unless_it_would_clip(space, client):
    loud = np.array([0.5, -2.0] * 12_000)
    put_sound(space, "loud.wav", np.stack([loud, loud, loud], axis=1), subtype="FLOAT")
    answer = client.get("/api/recordings/loud.wav/piece?start_s=1&length_s=0.5")
    piece, rate_hz = soundfile.read(io.BytesIO(answer.content))
    assert rate_hz == 12_000 and piece.shape == (6_000, 2)
    assert piece.min() == pytest.approx(-1.0, abs=1e-4)
    assert piece.max() == pytest.approx(0.25, abs=1e-4)
    put_sound(space, "soft.aiff", loud / 10, subtype="PCM_24")
    answer = client.get("/api/recordings/soft.aiff/piece?length_s=100")
    piece, _ = soundfile.read(io.BytesIO(answer.content))
    assert piece.size == 24_000 and piece.min() == pytest.approx(-0.2, abs=1e-4)
    for unfit in ("start_s=1e308", "start_s=nan", "length_s=inf", "length_s=0", "start_s=-1"):
        assert client.get(f"/api/recordings/soft.aiff/piece?{unfit}").status_code == 422
    answer = client.get("/api/recordings/soft.aiff/piece?start_s=3")
    assert answer.status_code == 400 and "there is nothing from 3 s on" in answer.json()["sentence"]


def test_a_long_file_is_heard_by_ranges(space, client):
    content = (space.folder / RECORDINGS / "pump.wav").read_bytes()
    answer = client.get("/api/recordings/pump.wav/sound", headers={"range": "bytes=1000-1999"})
    assert answer.status_code == 206 and answer.content == content[1000:2000]
    assert answer.headers["content-range"] == f"bytes 1000-1999/{len(content)}"


def test_a_recording_that_is_used_stays(space, client):
    client.post("/api/plans", json={"name": "a", "question": "recording", "recording": "pump.wav"})
    broken = 'mode = "ft8"\nfile = "pump.wav"\nno plan'
    (space.folder / "broken.toml").write_text(broken)
    answer = client.delete("/api/recordings/pump.wav")
    assert answer.status_code == 400
    assert "plan 'a' and plan 'broken'" in answer.json()["sentence"]
    assert plans_beside(space, "pump.wav") == ("a", "broken")
    for name in ("a", "broken"):
        space.plan(name).unlink()
    data = cost_data(space)
    write_campaign(space.folder / "b.campaign", parse_plan(data), [-21.0, -26.0], n_trials=2)
    with pytest.raises(WorkspaceError, match="campaign 'b'"):
        delete_recording(space, "pump.wav")
    (space.folder / "b.campaign").rename(space.folder / "elsewhere")
    assert client.delete("/api/recordings/pump.wav").json() == {"name": "pump.wav"}
    assert space.recordings() == []
    assert client.delete("/api/recordings/pump.wav").status_code == 404


def asked_of(space, asked, *files):
    """A look that is carried out here, kept as the store keeps it."""
    folder = space.folder / "made"
    folder.mkdir(exist_ok=True)
    carry_out(folder, asked, (space.recording(asked.recording), *files))
    return ANSWER.validate_json((folder / ANSWERED).read_bytes())


def cost_data(space):
    """The plan of a cost question with points enough for an answer."""
    asked_of(space, CostAsked(recording="pump.wav"))
    data = read_plan(space.folder / "made" / PLAN).model_dump(mode="json")
    data["axis"] = {"start": -32, "stop": -16, "step": 1}
    data["stop"] = {"trials_per_point": 40, "nothing_sent": 5}
    return data


def test_what_a_noise_costs_is_told_beside_it(space, client):
    plan = parse_plan(cost_data(space))
    campaign = space.folder / "pump-cost.campaign"
    write_campaign(campaign, plan, [-21.0, -26.0], n_trials=40, n_silent=5)
    asked = AnswerAsked(recording="pump.wav", campaign="pump-cost")
    answer = asked_of(space, asked, campaign)
    assert "dB less signal than in Gaussian noise of equal power" in answer.sentence
    assert (answer.sentence, *answer.supports) == tuple(read_cost(campaign).text().split("\n"))
    (beside,) = campaigns_beside(space, "pump.wav")
    assert beside.name == "pump-cost" and beside.is_finished and beside.has_answer
    assert "Answer of campaign pump-cost" in client.get("/noise/pump.wav").text


def test_a_campaign_about_something_else_is_told_apart(space, client):
    data = cost_data(space)
    data["conditions"] = data["conditions"][1:]
    campaign = space.folder / "other.campaign"
    write_campaign(campaign, parse_plan(data), [-26.0], n_trials=2)
    answer = asked_of(space, AnswerAsked(recording="pump.wav", campaign="other"), campaign)
    assert answer.is_refusal and "campaign 'other' asks something else" in answer.sentence
    assert not campaigns_beside(space, "pump.wav")[0].has_answer
    text = client.get("/noise/pump.wav").text
    assert "Answer of campaign" not in text and "Also plays this recording" in text


@pytest.fixture
def made_look(space, monkeypatch):
    """Looks under the key "made" are read from that folder."""

    def file_of(_, key, name):
        file = space.folder / key / name
        if not file.is_file():
            raise NotThereError(name)
        return file

    monkeypatch.setattr("solidcopy.actions.own_noise.file_of_look", file_of)


def test_the_plan_of_a_cost_is_kept_once(space, client, made_look):
    asked = CostAsked(recording="pump.wav", n_trials=50, efforts=("belief-propagation",))
    answer = asked_of(space, asked)
    assert "beside Gaussian noise of equal power" in answer.sentence
    kept = client.post("/api/looks/made/plan", json={"name": "pump cost"})
    assert kept.status_code == 201 and kept.json() == {"name": "pump cost"}
    plan = read_plan(space.existing_plan("pump cost"))
    assert plan.stop.at_most == 50 and plan.receivers[0].effort == "belief-propagation"
    again = client.post("/api/looks/made/plan", json={"name": "pump cost"})
    assert again.status_code == 400 and "is there already" in again.json()["sentence"]
    assert space.plans() == ["pump cost"]


def test_what_was_fitted_is_kept_beside_the_plan_of_a_twin(space, client, made_look):
    asked_of(space, TwinAsked(recording="pump.wav"))
    assert client.post("/api/looks/made/plan", json={"name": "my.twin"}).status_code == 201
    assert read_over_floor_db(space.existing_plan("my.twin")) > 0.0


def test_a_recording_shorter_than_a_slot_costs_nothing(space):
    put_sound(space, "short.wav", np.random.default_rng(1).normal(0, 0.1, 24_000))
    answer = asked_of(space, CostAsked(recording="short.wav"))
    assert answer.is_refusal and answer.sentence.startswith("short.wav: lasts 2 s, less than one")


def test_pages_and_refusals_of_the_lab(space, client):
    assert "pump.wav" in client.get("/noise").text
    assert "Parts and clues" in client.get("/noise/pump.wav").text
    for path in ("/noise/none.wav", "/noise/looks/abc", "/api/looks/abc", "/noise/..%2Fx.wav"):
        answer = client.get(path)
        assert answer.status_code in (400, 404) and answer.json()["sentence"]
    asked = {"kind": "parts", "recording": "pump.wav", "length_s": 1}
    answer = client.post("/api/looks", json=asked)
    assert answer.status_code == 422 and "length_s" in answer.json()["field"]
    answer = client.post("/api/looks", json={"kind": "parts", "recording": "none.wav"})
    assert answer.status_code == 404
    taken = client.put("/api/recordings/pump.wav", content=b"x")
    assert taken.status_code == 400 and "never written over" in taken.json()["sentence"]
