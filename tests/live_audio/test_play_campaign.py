"""Campaigns played through a sound server, in real time, to our own receiver listening live."""

import json
import subprocess
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.gather import gather
from solidcopy.reports.measured import Estimate
from solidcopy.trials.outcome import Verdict

PLAN = """
mode = "{mode}"
root_seed = 11
axis = {{ values = {values} }}
stop = {{ trials_per_point = {n}, nothing_sent = 0 }}

[[conditions]]
name = "noise"
impairments = [{{ kind = "gaussian-noise", snr_db = "axis" }}]

[[receivers]]
kind = "{receiver}"
{more}
"""
STATION = 'listener = "our own receiver behind a sound server"\nwait_s = 1.0'
SHORT = {"mode": "ft4", "values": [-19.5, -18, -16.5, -15], "n": 10}
LONG = {"mode": "ft8", "values": [-22, -20], "n": 4}


def playing(server, plan: Path) -> subprocess.Popen:
    return server.start(
        *("play", str(plan), "--safe-path", "--json"),
        *("--output", server.output, "--own-ear", server.source),
    )


def offline(plan: Path, kinds: dict) -> dict:
    plan.write_text(PLAN.format(**kinds, receiver="builtin", more=""))
    for _ in run_campaign(plan, RunOptions(n_workers=1)):
        pass
    return plan.with_suffix(".campaign")


def verdicts(campaign: Path) -> dict:
    with JournalReader(campaign) as reader:
        return {row.key: row.outcome.verdict for row in reader.rows()}


def half_interval(campaign: Path):
    """95 % interval of the 50 % threshold; None if there is none."""
    with JournalReader(campaign) as reader:
        (curve,) = gather(reader).curves
    at = next(one.at for one in curve.thresholds if one.p == 0.5)
    return at.interval if isinstance(at, Estimate) else None


def test_campaigns_are_heard_as_they_are_offline(
    sound_server, other_sound_server, tmp_path
) -> None:
    """The recordings are the same with and without sound, so verdicts are judged in pairs (exact
    McNemar test, by scipy's binomial test). On a busy machine a card may run dry, or its word on
    timing wander; such a slot is void, told and played again, and none else is.
    """
    played = []
    for server, kinds in ((sound_server, SHORT), (other_sound_server, LONG)):
        plan = tmp_path / f"{kinds['mode']}.toml"
        plan.write_text(PLAN.format(**kinds, receiver="station", more=STATION))
        played.append((kinds, plan, playing(server, plan)))
    told = [process.communicate(timeout=600.0) for _, _, process in played]
    for (kinds, plan, process), (lines, complaints) in zip(played, told, strict=True):
        assert process.returncode == 0, complaints
        steps = [json.loads(line) for line in lines.splitlines()]
        n = kinds["n"] * len(kinds["values"])
        last = steps[-1]
        assert (last["message"], last["n_done"], last["n_planned"]) == ("finished", n, n)
        slots = [slot for step in steps for slot in step["slots"]]
        void = [slot["void"] for slot in slots if slot["void"]]
        errors_ms = np.array([slot["start_error_ms"] for slot in slots if not slot["void"]])
        print(f"{kinds['mode']}: {len(slots)} slots, void: {void}; start error")
        print(f"  mean {errors_ms.mean():+.2f} ms, sd {errors_ms.std():.2f} ms", end="")
        print(f", largest {np.abs(errors_ms).max():.2f} ms")
        assert len(void) <= n / 4
        assert all("ran dry" in reason or "it began" in reason for reason in void)
        assert np.median(np.abs(errors_ms)) < 2.0
        live = plan.with_suffix(".campaign")
        alone = offline(tmp_path / f"{kinds['mode']}-offline.toml", kinds)
        here, there = verdicts(live), verdicts(alone)
        assert here.keys() == there.keys()
        lost = sum(there[key] is Verdict.DECODED is not here[key] for key in here)
        gained = sum(here[key] is Verdict.DECODED is not there[key] for key in here)
        n_decoded = sum(verdict is Verdict.DECODED for verdict in here.values())
        print(f"  {n_decoded} of {n} decoded; against offline {lost} lost, {gained} gained")
        assert lost + gained == 0 or binomtest(lost, lost + gained).pvalue > 0.01
        assert 0 < n_decoded < n
        if kinds is SHORT:
            heard, dry = half_interval(live), half_interval(alone)
            print(f"  50 % at {heard.low:.2f} to {heard.high:.2f} dB", end="")
            print(f", offline at {dry.low:.2f} to {dry.high:.2f} dB")
            assert heard.low <= dry.high and dry.low <= heard.high
