"""Files of a report over the interface: there or not, old or not, under names for a person."""

import io
import os
import shutil
import zipfile

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from packed_campaigns import pump_campaign, pump_package
from solidcopy.actions.workspace import Workspace
from solidcopy.reports.wording import glued
from solidcopy.reports.write import write_report
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER

HERE = "http://127.0.0.1:8437"


@pytest.fixture
def space(tmp_path):
    made = Workspace.at(tmp_path / "bench")
    shutil.copytree(pump_campaign(), made.folder / "pump.campaign")
    return made


@pytest.fixture
def client(space):
    return TestClient(
        create_app(space, ["127.0.0.1:8437"]), base_url=HERE, raise_server_exceptions=False
    )


@pytest.mark.parametrize("kind", ["page", "pdf", "tables", "facts", "package"])
def test_what_was_not_written_is_not_there(client, kind):
    answer = client.get(f"/api/reports/pump/files/{kind}")
    assert answer.status_code == 404
    assert "not written yet" in answer.json()["sentence"]
    assert client.get("/api/reports/pump").json()["files"] == []


def test_each_file_is_saved_under_a_name_for_a_person(client, space):
    written = write_report(space.campaign("pump"), space.campaign("pump") / "report", with_pdf=True)
    shutil.copy(pump_package(), space.campaign("pump") / "package.zip")
    found = client.get("/api/reports/pump").json()
    assert [file["kind"] for file in found["files"]] == [
        "page",
        "pdf",
        "tables",
        "facts",
        "package",
    ]
    assert not any(file["is_older"] for file in found["files"])
    names = {}
    for file in found["files"]:
        answer = client.get(f"/api/reports/pump/files/{file['kind']}")
        assert answer.status_code == 200
        assert answer.headers["content-disposition"].startswith("attachment")
        names[file["kind"]] = answer.headers["content-disposition"].split('"')[1]
        if file["kind"] == "pdf":
            assert PdfReader(io.BytesIO(answer.content)).metadata.subject == glued(written.headline)
        if file["kind"] == "tables":
            with zipfile.ZipFile(io.BytesIO(answer.content)) as tables:
                sizes = [info.file_size for info in tables.infolist()]
            assert sum(sizes) == file["n_bytes"]
    assert names == {
        "page": "pump-report.html",
        "pdf": "pump-report.pdf",
        "tables": "pump-tables.zip",
        "facts": "pump-report.json",
        "package": "pump.zip",
    }


def test_what_is_older_than_the_journal_says_so(client, space):
    write_report(space.campaign("pump"), space.campaign("pump") / "report")
    later_ns = (space.campaign("pump") / "report" / "report.html").stat().st_mtime_ns + 10**9
    os.utime(space.campaign("pump") / "journal.sqlite", ns=(later_ns, later_ns))
    files = client.get("/api/reports/pump").json()["files"]
    assert files and all(file["is_older"] for file in files)


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/reports/other", 404),
        ("/api/reports/..%2F..%2Fetc", 404),
        ("/api/reports/pump/files/journal", 422),
        ("/api/reports/pump/files/..%2Fjournal.sqlite", 404),
        ("/api/duels/pump", 400),
        ("/api/duels/other", 404),
        ("/api/comparison?a=pump&b=other", 404),
        ("/api/comparison?a=pump&b=pump", 400),
    ],
)
def test_what_cannot_be_is_refused(client, path, status):
    answer = client.get(path)
    assert answer.status_code == status, answer.text
    assert answer.json()["sentence"]


@pytest.mark.parametrize("path", ["/api/reports/pump", "/api/reports/pump/package", "/api/duels"])
def test_nothing_is_begun_without_the_key(client, path, space):
    assert client.post(path).status_code == 403
    assert not (space.folder / ".jobs").exists()
    headers = {KEY_HEADER: space.key()}
    assert client.post("/api/reports/other", headers=headers).status_code == 404
