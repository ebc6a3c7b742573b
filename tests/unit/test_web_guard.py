"""Who is let in. The rules are those of the Fetch standard and of common practice (no source)."""

import pytest
from starlette.testclient import TestClient

from solidcopy.actions.workspace import Workspace
from solidcopy.errors import NotThereError, WorkspaceError
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER, MOST_BODY_BYTES

HERE = "http://127.0.0.1:8437"
OTHER = "http://192.0.2.7:8437"


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


@pytest.fixture
def client(space):
    return TestClient(
        create_app(space, ["127.0.0.1:8437"]), base_url=HERE, raise_server_exceptions=False
    )


def key_of(client):
    text = client.get("/").text
    return text.split('name="bench-key" content="')[1].split('"')[0]


def new_plan(client, **more):
    body = {"name": "first", "question": "noise"}
    return client.post("/api/plans", json=body, headers={KEY_HEADER: key_of(client), **more})


def test_its_own_page_gets_in(client):
    answer = client.get("/")
    assert answer.status_code == 200
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "unsafe" not in answer.headers["content-security-policy"]
    assert new_plan(client, origin=HERE).status_code == 201


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"host": "bench.example:8437"}, 400),
        ({"host": "127.0.0.1"}, 400),
        ({"origin": "http://bench.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://127.0.0.1:9999"}, 403),
        ({"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}, 403),
        (
            {
                "sec-fetch-site": "cross-site",
                "sec-fetch-mode": "navigate",
                "sec-fetch-dest": "document",
            },
            403,
        ),
        ({KEY_HEADER: "guessed"}, 403),
        ({"content-length": str(MOST_BODY_BYTES + 1)}, 413),
        ({"content-length": "-1"}, 413),
    ],
)
def test_what_is_foreign_is_refused(client, space, headers, status):
    answer = new_plan(client, **headers)
    assert answer.status_code == status
    assert answer.json()["kind"] == "refused" and answer.json()["sentence"]
    assert space.plans() == []


def test_a_body_without_length_is_cut_off(client, space):
    def pieces():
        yield b'{"name": "first", "question": "noise", "recording": "'
        for _ in range(5):
            yield b"x" * (MOST_BODY_BYTES // 4)

    headers = {KEY_HEADER: key_of(client), "content-type": "application/json"}
    answer = client.post("/api/plans", content=pieces(), headers=headers)
    assert answer.status_code == 413
    assert space.plans() == []


def test_without_a_key_nothing_changes(client, space):
    answer = client.post("/api/plans", json={"name": "first", "question": "noise"})
    assert answer.status_code == 403
    assert space.plans() == []


def test_beyond_this_machine_a_token_is_asked(space):
    app = create_app(space, ["192.0.2.7:8437"], token="secret-word")
    client = TestClient(app, base_url=OTHER)
    assert client.get("/").status_code == 401
    assert client.get("/?token=wrong").status_code == 401
    assert client.get("/?token=secret-word").status_code == 200
    assert client.get("/").status_code == 200  # by its cookie


@pytest.mark.parametrize(
    "path",
    [
        "/plans/..%2F..%2Fetc%2Fpasswd",
        "/api/plans/%2e%2e",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/campaigns/.hidden/report",
        "/api/campaigns/a%00b",
    ],
)
def test_no_path_leads_out(client, path):
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert set(answer.json()) == {"kind", "sentence", "field"}


def test_names_and_links_stay_inside(space, tmp_path):
    outside = tmp_path / "outside.toml"
    outside.write_text("x = 1")
    (space.folder / "link.toml").symlink_to(outside)
    assert space.plans() == []
    with pytest.raises(WorkspaceError, match="leads out"):
        space.plan("link")
    for name in ("", "..", "a/b", "a\\b", "x" * 81, "end.", "-x"):
        with pytest.raises(WorkspaceError, match="cannot be a name"):
            space.plan(name)
    with pytest.raises(NotThereError, match="no recording"):
        space.recording("x.wav")


def test_a_campaign_with_a_link_inside_that_leads_out_is_none(space, tmp_path):
    outside = tmp_path / "outside"
    outside.write_text("x")
    folder = space.folder / "given.campaign"
    folder.mkdir()
    (folder / "journal.sqlite").touch()
    assert space.campaigns() == ["given"]
    (folder / "run.log").symlink_to(outside)
    assert space.campaigns() == []
    with pytest.raises(WorkspaceError, match="leads out"):
        space.campaign("given")


def test_a_page_cannot_set_programs_or_files_elsewhere(client, space, tmp_path):
    new_plan(client)
    text = client.get("/api/plans/first").json()["text"]
    headers = {KEY_HEADER: key_of(client)}

    def put(changed):
        return client.put("/api/plans/first", json={"text": changed}, headers=headers)

    assert put(text + "\n# a remark\n").status_code == 200
    program = text + '\n[[receivers]]\nkind = "python"\nname = "x"\nfactory = "os:system"\n'
    answer = put(program)
    assert answer.status_code == 400 and "receivers" in answer.json()["sentence"]
    assert client.get("/api/plans/first").json()["text"].endswith("# a remark\n")
    # Written by hand it may stay.
    (space.folder / "first.toml").write_text(text)
    outside = 'conditions = [{ name = "x", impairments = [{ kind = "recording", file = "%s" } ] }]'
    kept = "\n".join(line for line in text.splitlines() if line.startswith(("mode", "root_seed")))
    answer = put(f"{kept}\n{outside % (tmp_path / 'y.wav')}\n")
    assert answer.status_code == 400


def test_errors_have_one_shape(client):
    for path, status in (("/nowhere", 404), ("/api/plans/none", 404), ("/api/campaigns/no", 404)):
        answer = client.get(path)
        assert answer.status_code == status
        assert set(answer.json()) == {"kind", "sentence", "field"}
    headers = {KEY_HEADER: key_of(client)}
    answer = client.post("/api/plans", json={"name": "x", "question": "why"}, headers=headers)
    assert answer.status_code == 422 and answer.json()["field"] == "question"
    answer = client.post("/api/campaigns/none/run", headers=headers)
    assert answer.status_code == 404
