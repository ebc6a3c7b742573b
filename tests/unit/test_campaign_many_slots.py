"""Receivers that take many slots at once, within a campaign."""

import sys

import numpy as np
import pytest

from batched_slots import RATE_HZ
from solidcopy.campaigns import workers
from solidcopy.campaigns.schedule import MANY_BATCH_S, BatchSizer
from solidcopy.campaigns.workers import Batch, Job, run_batch
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.batched import arrays
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver as build_any
from solidcopy.receivers.receiver import ManySlotsReceiver, Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.identity import identity_of, receiver_identity
from solidcopy.trials.plan import parse_plan
from solidcopy.trials.trial import NOTHING_SENT, SENT

pytestmark = pytest.mark.derived


def plan_with(*arithmetics):
    noise_at = {"kind": "gaussian-noise", "snr_db": "axis"}
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 3,
            "axis": {"values": [-18.0]},
            "stop": {"trials_per_point": 5},
            "conditions": [{"name": "c", "impairments": [noise_at]}],
            "receivers": [
                {"kind": "builtin", "name": name, "arithmetic": name} for name in arithmetics
            ],
        }
    )


def test_a_batch_of_trials_is_heard_side_by_side(monkeypatch):
    plan = plan_with("compiled", "accelerator")
    monkeypatch.setattr(arrays, "accelerator_namespace", lambda: np)
    monkeypatch.setattr(workers, "MOST_AT_ONCE", 3)
    keys = [TrialKey(0, SENT, -18.0, index) for index in range(4)]
    jobs = [Job(key, (0, 1)) for key in keys] + [Job(TrialKey(0, NOTHING_SENT, -18.0, 0), (1,))]
    finished = run_batch(Batch(plan.model_dump_json(), tuple(jobs))).finished
    assert [(item.key, item.receiver) for item in finished] == [
        (job.key, place) for job in jobs for place in job.receivers
    ]
    pairs = zip(finished[:-1:2], finished[1:-1:2], strict=True)
    for one, other in pairs:
        assert one.outcome.digest == other.outcome.digest
        assert one.outcome.right.text == other.outcome.right.text
    assert finished[-1].outcome.false == ()


class Together:
    """Throws wherever one waveform is silent, whether alone or among others."""

    def receive(self, waveform):
        return self.receive_many([waveform])[0]

    def receive_many(self, waveforms):
        if any(not own.samples.any() for own in waveforms):
            raise RuntimeError("silence")
        return [Reception((), 0.5) for _ in waveforms]


def test_a_failure_among_many_costs_its_own_trial_only():
    sound = Waveform(np.ones(100, np.float32), RATE_HZ)
    silence = Waveform(np.zeros(100, np.float32), RATE_HZ)
    assert isinstance(Together(), ManySlotsReceiver)
    answers = workers.receive_all_safely(Together(), [sound, silence, sound])
    assert [answer.failure is None for answer in answers] == [True, False, True]
    assert "silence" in answers[1].failure


def test_without_the_package_one_sentence_says_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "cupy", None)
    settings = BuiltinSettings(arithmetic="accelerator")
    with pytest.raises(PlanError) as raised:
        build_any(settings, mode_named("ft8"))
    said = str(raised.value)
    assert "cupy" in said and "solidcopy[accelerator]" in said and '"compiled"' in said


def test_without_a_device_one_sentence_says_what_to_do(monkeypatch):
    class Deviceless:
        def arange(self, n):
            raise RuntimeError("no CUDA-capable device is detected\nand more")

    monkeypatch.setitem(sys.modules, "cupy", Deviceless())
    with pytest.raises(PlanError, match="no CUDA-capable device is detected") as raised:
        arrays.accelerator_namespace()
    assert "\n" not in str(raised.value)


def test_the_usual_arithmetic_leaves_the_identity_as_it_was():
    usual, other = (BuiltinSettings(arithmetic=name) for name in ("compiled", "accelerator"))
    older = {
        "kind": "builtin",
        "effort": "ordered-statistics",
        "passes": 4,
        "low_hz": 200.0,
        "high_hz": 2900.0,
        "recipe": BuiltinSettings.recipe,
    }
    assert receiver_identity(usual) == identity_of(older)
    assert receiver_identity(other) == identity_of({**older, "arithmetic": "accelerator"})


def test_batches_are_longer_where_many_are_taken_at_once():
    usual, longer = BatchSizer(), BatchSizer(MANY_BATCH_S)
    for sizer in (usual, longer):
        sizer.learn(10, 0.5)
    assert usual.n_jobs == 20 and longer.n_jobs == 100
