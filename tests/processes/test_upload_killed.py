"""A server that is killed while a recording comes in leaves nothing of it behind."""

import re
import socket
import time
import urllib.request
from urllib.parse import urlsplit

from bench_server import Server
from solidcopy.actions.take_recording import INCOMING
from solidcopy.actions.workspace import RECORDINGS, Workspace
from solidcopy.web.app import create_app
from solidcopy.web.guard import KEY_HEADER
from wav_bytes import Wav

WITHIN_S = 20.0


def half_upload(url, n_bytes):
    """A connection over which half of a recording has come."""
    with urllib.request.urlopen(url) as page:
        key = re.search(r'name="bench-key" content="([^"]+)"', page.read().decode())[1]
    place = urlsplit(url)
    connection = socket.create_connection((place.hostname, place.port))
    head = (
        f"PUT /api/recordings/pump.wav HTTP/1.1\r\nhost: {place.netloc}\r\n"
        f"{KEY_HEADER}: {key}\r\ncontent-length: {n_bytes}\r\n\r\n"
    )
    connection.sendall(head.encode() + Wav(bytes(n_bytes)).content()[: n_bytes // 2])
    return connection


def wait_for(is_so):
    end_s = time.monotonic() + WITHIN_S
    while not is_so():
        assert time.monotonic() < end_s
        time.sleep(0.02)


def test_a_half_upload_is_gone_when_a_killed_server_starts_again(tmp_path):
    folder = tmp_path / "bench"
    coming = folder / RECORDINGS

    def left():
        return [file.name for file in coming.iterdir()]

    killed = Server(folder)
    try:
        connection = half_upload(killed.url, 400_000)
        wait_for(lambda: left() and left()[0].startswith(INCOMING))
    finally:
        killed.kill()
    assert len(left()) == 1
    connection.close()
    create_app(Workspace.at(folder), ["127.0.0.1:8437"])
    assert left() == []
