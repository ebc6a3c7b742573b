"""Plans over the interface: fields and changes, and what happens to the file."""

import pytest
from starlette.testclient import TestClient

from solidcopy.actions.workspace import Workspace
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER

HERE = "http://127.0.0.1:8437"


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


@pytest.fixture
def client(space):
    made = TestClient(create_app(space, ["127.0.0.1:8437"]), base_url=HERE)
    made.headers[KEY_HEADER] = space.key()
    assert made.post("/api/plans", json={"name": "first", "question": "carrier"}).status_code == 201
    return made


def test_fields_in_plain_words(client):
    form = client.get("/api/plan-form").json()
    fields = {field["name"]: field for field in form["tables"]["GaussianNoise"]["fields"]}
    assert fields["snr_db"]["unit"] == "dB" and "2500 Hz" in fields["snr_db"]["help"]
    assert [shape["form"] for shape in fields["snr_db"]["shapes"]] == ["number", "axis", "map"]
    assert form["tables"]["ProgramSettings"]["locked"]
    assert len([preset for preset in form["presets"] if preset["list"] == "impairments"]) > 30


def test_from_text_to_values_and_from_a_change_to_text(client):
    text = client.get("/api/plans/first").json()["text"]
    state = client.post("/api/plans/first/form", json={"text": text}).json()
    assert state["text"] == text and state["problems"] == []
    change = {"do": "set", "place": ["stop", "trials_per_point"], "value": "0"}
    asked = {"text": text, "change": change}
    changed = client.post("/api/plans/first/form/change", json=asked).json()
    (problem,) = changed["problems"]
    assert problem["field"] == "stop.trials_per_point"
    # The command line says the same sentence, and so does the refusal to save.
    refused = client.put("/api/plans/first", json={"text": changed["text"]})
    assert refused.status_code == 400
    assert refused.json()["field"] == "stop.trials_per_point"
    assert f"stop.trials_per_point: {problem['sentence']}" in refused.json()["sentence"]


@pytest.mark.parametrize(
    "change",
    [{"do": "nothing"}, {"do": "set", "place": [], "value": 1}, {"do": "set", "place": [-1]}],
)
def test_a_change_that_is_none(client, change):
    answer = client.post("/api/plans/first/form/change", json={"text": "", "change": change})
    assert answer.status_code == 422 and answer.json()["sentence"]


def test_a_plan_that_changed_on_disk_is_not_overwritten(client, space):
    opened = client.get("/api/plans/first").json()
    file = space.folder / "first.toml"
    file.write_text(opened["text"] + "# by somebody else\n")
    mine = opened["text"] + "# mine\n"
    asked = {"text": mine, "opened": opened["digest"]}
    answer = client.put("/api/plans/first", json=asked)
    assert answer.status_code == 409 and answer.json()["kind"] == "changed"
    assert file.read_text().endswith("# by somebody else\n")
    kept = client.post("/api/plans/first/copy", json={"name": "mine", "text": mine})
    assert kept.status_code == 201 and (space.folder / "mine.toml").read_text() == mine
    now = client.get("/api/plans/first").json()["digest"]
    saved = client.put("/api/plans/first", json=asked | {"opened": now})
    assert saved.status_code == 200 and file.read_text() == mine
    again = client.put("/api/plans/first", json={"text": mine, "opened": saved.json()["digest"]})
    assert again.status_code == 200


def test_copied_under_a_new_name_and_deleted(client, space):
    text = (space.folder / "first.toml").read_text()
    assert client.post("/api/plans/first/copy", json={"name": "second"}).status_code == 201
    assert (space.folder / "second.toml").read_text() == text
    taken = client.post("/api/plans/first/copy", json={"name": "second"})
    assert taken.status_code == 400 and "choose another name" in taken.json()["sentence"]
    out = client.post("/api/plans/first/copy", json={"name": "../second"})
    assert out.status_code == 400
    assert client.delete("/api/plans/first").status_code == 200
    assert space.plans() == ["second"]
    assert client.delete("/api/plans/first").status_code == 404
    unkeyed = client.delete("/api/plans/second", headers={KEY_HEADER: "guessed"})
    assert unkeyed.status_code == 403 and space.plans() == ["second"]


def test_a_copy_may_not_bring_programs_in(client, space):
    text = (space.folder / "first.toml").read_text()
    program = text + '\n[[receivers]]\nkind = "python"\nname = "x"\nload = "os:system"\n'
    answer = client.post("/api/plans/first/copy", json={"name": "second", "text": program})
    assert answer.status_code == 400 and "command line only" in answer.json()["sentence"]
    assert answer.json()["field"] == "receivers[1]"
    assert space.plans() == ["first"]


def test_an_unknown_mode_is_refused_as_on_the_command_line(client, space):
    text = (space.folder / "first.toml").read_text().replace('"ft8"', '"ft9"')
    answer = client.put("/api/plans/first", json={"text": text})
    assert answer.status_code == 400 and "known modes: ft8, ft4" in answer.json()["sentence"]
