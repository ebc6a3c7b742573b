"""Recordings that come in: streamed, checked, kept whole or not at all.

The rules are common practice, no source.
"""

import asyncio
import os
import tracemalloc
from collections import namedtuple
from pathlib import Path

import pytest

from solidcopy.actions import take_recording
from solidcopy.actions.take_recording import Incoming, offer_name, sweep_incoming
from solidcopy.actions.workspace import RECORDINGS, Workspace
from solidcopy.errors import AudioFileError, WorkspaceError
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER
from wav_bytes import Wav

SOUND = Wav(bytes(24_000)).content()
HOST = "127.0.0.1:8437"
Disk = namedtuple("Disk", "total used free")


@pytest.fixture
def space(tmp_path):
    return Workspace.at(tmp_path / "bench")


def there(space):
    return sorted(file.name for file in (space.folder / RECORDINGS).iterdir())


def take(space, name, content, *, stated=None):
    with Incoming(space, name, stated) as incoming:
        for start in range(0, len(content), 1000):
            incoming.write(content[start : start + 1000])
        return incoming.keep()


def test_a_recording_is_kept_as_it_came(space):
    taken = take(space, "pump.wav", SOUND, stated=len(SOUND))
    assert (taken.name, taken.n_bytes, taken.duration_s) == ("pump.wav", len(SOUND), 1.0)
    assert (space.folder / RECORDINGS / "pump.wav").read_bytes() == SOUND
    assert there(space) == ["pump.wav"]


def test_nothing_is_written_over(space):
    take(space, "pump.wav", SOUND)
    with pytest.raises(WorkspaceError, match="never written over"):
        take(space, "pump.wav", SOUND + SOUND)
    (space.folder / "by-hand.wav").write_bytes(SOUND)
    with pytest.raises(WorkspaceError, match="never written over"):
        take(space, "by-hand.wav", SOUND)
    # Two come in at once under one name: the one that is whole first keeps it.
    with Incoming(space, "fence.wav", None) as first, Incoming(space, "fence.wav", None) as second:
        first.write(SOUND)
        second.write(SOUND + b"\0\0")
        second.keep()
        with pytest.raises(WorkspaceError, match="never written over"):
            first.keep()
    assert (space.folder / RECORDINGS / "fence.wav").read_bytes() == SOUND + b"\0\0"
    assert there(space) == ["fence.wav", "pump.wav"]


@pytest.mark.parametrize("name", ["../pump.wav", "a/b.wav", ".hidden.wav", "pump.txt", "pump", ""])
def test_a_name_that_leads_elsewhere_is_refused(space, name):
    with pytest.raises(WorkspaceError):
        take(space, name, SOUND)
    assert there(space) == []


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "pump.wav: is empty"),
        (b"no sound at all " * 100, "pump.wav: is no sound file"),
        (Wav(b"").content(), "pump.wav: holds no sound"),
    ],
)
def test_what_is_no_sound_is_refused_in_the_words_of_the_reader(space, content, words):
    with pytest.raises(AudioFileError) as refused:
        take(space, "pump.wav", content)
    assert str(refused.value).startswith(words)
    assert there(space) == []


def test_what_did_not_come_whole_is_refused(space):
    with pytest.raises(WorkspaceError, match="did not come whole"):
        take(space, "pump.wav", SOUND[:-1], stated=len(SOUND))
    assert there(space) == []


def test_a_free_name_is_offered(space):
    def offered(name):
        return offer_name(space, name, len(SOUND))

    assert offered("pump.wav").name == "pump.wav" and offered("pump.wav").sentence == ""
    take(space, "pump.wav", SOUND)
    take(space, "pump-2.wav", SOUND)
    assert offered("pump.wav").name == "pump-3.wav"
    assert "is there already" in offered("pump.wav").sentence
    assert offered("C:\\sounds\\Hafen ü (3).WAV").name == "Hafen - -3.wav"
    assert "cannot be a name here" in offered("Hafen ü.wav").sentence
    assert offered("...wav").name == "recording.wav"
    assert len(offered("x" * 300 + ".flac").name) == 80
    with pytest.raises(WorkspaceError, match="is no sound file by its name"):
        offered("pump.pdf")
    with pytest.raises(WorkspaceError, match="room for"):
        offer_name(space, "pump.wav", 10**18)


def test_too_little_room_and_a_full_disk_are_said(space, monkeypatch):
    full = Path("/dev/full")  # every write into it ends with ENOSPC
    with Incoming(space, "pump.wav", None) as incoming, full.open("wb", buffering=0) as file:
        incoming._file.close()
        incoming._file = file
        with pytest.raises(WorkspaceError, match="disk of the bench folder is full"):
            incoming.write(SOUND)
    assert there(space) == []
    monkeypatch.setattr(take_recording.shutil, "disk_usage", lambda _: Disk(10**12, 10**12, 0))
    with pytest.raises(WorkspaceError, match="make room there"):
        take(space, "pump.wav", SOUND, stated=len(SOUND))


def test_left_overs_of_the_dead_go_and_those_of_the_living_stay(space):
    folder = space.folder / RECORDINGS
    dead, reused = folder / ".incoming-999999999-ab.wav", folder / f".incoming-{os.getpid()}-ab.wav"
    for file in (dead, reused):
        file.write_bytes(SOUND)
    os.utime(reused, (1.0, 1.0))  # older than the process that has its number now
    with Incoming(space, "pump.wav", None) as incoming:
        incoming.write(SOUND)
        sweep_incoming(space)
        assert not dead.exists() and not reused.exists()
        incoming.keep()
    assert there(space) == ["pump.wav"]
    assert space.recordings() == ["pump.wav"]


def upload(space, pieces, *, n_bytes):
    """PUT through the whole application, piece by piece, and its answer's status."""
    app = create_app(space, [HOST])
    said = []

    async def send(message):
        said.append(message)

    async def receive():
        body = next(pieces, None)
        if body is None:
            return {"type": "http.disconnect"}
        return {"type": "http.request", "body": body, "more_body": True}

    headers = {"host": HOST, KEY_HEADER: space.key(), "content-length": str(n_bytes)}
    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": "PUT",
        "scheme": "http",
        "path": "/api/recordings/long.wav",
        "raw_path": b"/api/recordings/long.wav",
        "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in headers.items()],
    }

    async def receive_to_the_end():
        message = await receive()
        done["n"] += len(message.get("body", b""))
        return message | ({"more_body": done["n"] < n_bytes} if "body" in message else {})

    done = {"n": 0}
    asyncio.run(app(scope, receive_to_the_end, send))
    return said[0]["status"]


@pytest.mark.derived
def test_memory_does_not_grow_with_the_file(space):
    """32 MB in pieces of 64 KiB: a copy of the whole would show."""
    piece, n_pieces = bytes(1 << 16), 500
    head = Wav(b"", stated=n_pieces * len(piece)).content()[:44]
    n_bytes = len(head) + n_pieces * len(piece)

    def pieces():
        yield head
        for _ in range(n_pieces):
            yield bytes(1 << 16)

    upload(Workspace.at(space.folder / "warm"), iter([SOUND]), n_bytes=len(SOUND))
    tracemalloc.start()
    try:
        assert upload(space, pieces(), n_bytes=n_bytes) == 201
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert (space.folder / RECORDINGS / "long.wav").stat().st_size == n_bytes
    assert peak < 8e6


def test_a_broken_upload_leaves_nothing(space):
    assert upload(space, iter([SOUND[:5000]]), n_bytes=len(SOUND)) == 400
    assert there(space) == []
