"""Options of `solidcopy web`."""

import pytest
from typer.testing import CliRunner

from solidcopy.cli import web
from solidcopy.cli.main import app
from solidcopy.errors import WorkspaceError
from solidcopy.web import serve as serving


@pytest.fixture
def served(monkeypatch):
    """What the command asks of the server, which says its address and ends."""
    asked = {}

    def serve(workspace, *, say, **more):
        asked.update(more, folder=workspace.folder)
        say("http://127.0.0.1:8437/")

    monkeypatch.setattr(serving, "serve", serve)
    return asked


def run(*words):
    return CliRunner().invoke(app, ["web", *map(str, words)])


def test_it_prints_the_address_and_asks_no_token_here(served, tmp_path):
    said = run(tmp_path / "bench").output
    assert "http://127.0.0.1:8437/" in said and str(tmp_path / "bench") in said
    assert served == {
        "address": "127.0.0.1",
        "port": web.DEFAULT_PORT,
        "asks_token": False,
        "folder": tmp_path / "bench",
    }


def test_it_opens_the_browser_when_asked(served, tmp_path, monkeypatch):
    opened = []
    monkeypatch.setattr(web.webbrowser, "open", lambda url: opened.append(url) or True)
    monkeypatch.setattr(web.threading.Thread, "start", web.threading.Thread.run)
    assert run(tmp_path, "--open").exit_code == 0
    assert opened == ["http://127.0.0.1:8437/"]


@pytest.mark.parametrize("more", [("--ask-token",), ("--address", "192.0.2.7")])
def test_no_token_gets_into_the_list_of_processes(served, tmp_path, more):
    result = run(tmp_path, "--open", *more)
    assert isinstance(result.exception, WorkspaceError)
    assert served == {}
