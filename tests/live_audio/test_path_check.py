"""The check of a path through a real sound server: played and recorded by PortAudio."""

import json

import pytest


def test_the_servers_own_loop_is_fit_for_measuring(sound_server) -> None:
    """A null output and its monitor are a straight wire with a delay: bits pass unchanged."""
    process = sound_server.start(
        *("path", "--safe-path", "--json"),
        *("--output", sound_server.output, "--input", sound_server.source),
    )
    lines, complaints = process.communicate(timeout=300.0)
    assert process.returncode == 0, complaints
    told = json.loads(lines)
    assert told["verdict"] == "fit for measuring", told["findings"]
    assert 0.0 < told["latency_s"]["value"] < 2.5
    assert told["rate_error_ppm"]["value"] == pytest.approx(0.0, abs=0.5)
    assert told["gain_db"]["value"] == pytest.approx(0.0, abs=0.01)
    assert told["slips"] == [] and told["holes"] == []
    assert told["tones"]["thd_n_db"] < -100.0
    assert max(abs(level) for level in told["response"]["ripple_db"]) < 0.15
