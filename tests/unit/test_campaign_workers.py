"""What a worker does with a batch; what a run is remembered by; when a curve has enough."""

import numpy as np
import pytest

from solidcopy.campaigns.environment import this_environment
from solidcopy.campaigns.progress import CurveProgress, PointProgress, Progress, duration
from solidcopy.campaigns.schedule import halves
from solidcopy.campaigns.workers import Batch, Job, receive_safely, run_batch
from solidcopy.errors import CalibrationError
from solidcopy.receivers.receiver import Reception
from solidcopy.signals.waveform import Waveform
from solidcopy.trials.expand import TrialKey, trial_of
from solidcopy.trials.make import make
from solidcopy.trials.outcome import Verdict
from solidcopy.trials.plan import Plan, parse_plan
from solidcopy.trials.score import score
from solidcopy.trials.trial import NOTHING_SENT, SENT

pytestmark = pytest.mark.derived

SILENCE = Waveform(np.zeros(180_000, np.float32), 12_000)


def plan_at(snr_db: float, **changes: object) -> Plan:
    return parse_plan(
        {
            "mode": "ft8",
            "root_seed": 3,
            "axis": {"values": [snr_db]},
            "stop": {"trials_per_point": 5, "nothing_sent": 5},
            "conditions": [
                {"name": "c", "impairments": [{"kind": "gaussian-noise", "snr_db": "axis"}]}
            ],
            "receivers": [
                {"kind": "builtin", "name": "full"},
                {"kind": "builtin", "name": "quick", "effort": "belief-propagation"},
            ],
            **changes,
        }
    )


class Throwing:
    """A receiver with a fault."""

    def __init__(self, error: Exception) -> None:
        self._error = error

    def receive(self, waveform: Waveform) -> Reception:
        raise self._error


def test_a_batch_gives_every_receiver_the_same_recording() -> None:
    plan = plan_at(-10.0)
    sent, silent = TrialKey(0, SENT, -10.0, 4), TrialKey(0, NOTHING_SENT, -10.0, 4)
    jobs = (Job(sent, (0, 1)), Job(silent, (1,)))
    result = run_batch(Batch(plan.model_dump_json(), jobs))
    assert [(item.key, item.receiver) for item in result.finished] == [
        (sent, 0),
        (sent, 1),
        (silent, 1),
    ]
    outcomes = [item.outcome for item in result.finished]
    # At −10 dB in 2500 Hz FT8 is far above its threshold (FACTS E1: about −21 dB).
    assert [outcome.verdict for outcome in outcomes[:2]] == [Verdict.DECODED] * 2
    assert outcomes[0].digest == outcomes[1].digest != outcomes[2].digest
    assert outcomes[2].verdict is Verdict.NOTHING_SENT
    recording, truth = make(trial_of(plan, sent))
    assert outcomes[0].digest == recording.digest
    assert truth.message is not None and outcomes[0].right is not None
    assert outcomes[0].right.text == truth.message.text
    assert result.wall_s > 0.0


def test_a_recording_that_cannot_be_made_is_not_a_failure_of_the_receiver() -> None:
    plan = plan_at(-10.0, audio={"level_dbfs": 0.0})
    batch = Batch(plan.model_dump_json(), (Job(TrialKey(0, SENT, -10.0, 0), (0,)),))
    with pytest.raises(CalibrationError):
        run_batch(batch)


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (RuntimeError("two\n  lines"), "in receive: RuntimeError: two lines"),
        (ConnectionError("the program is gone"), "ConnectionError: the program is gone"),
        (MemoryError(), "in receive: MemoryError"),
    ],
)
def test_what_a_receiver_throws_is_its_failure(error: Exception, said: str) -> None:
    reception = receive_safely(Throwing(error), SILENCE)
    assert reception.decodes == ()
    assert reception.failure is not None and said in reception.failure
    recording, truth = make(trial_of(plan_at(-10.0), TrialKey(0, SENT, -10.0, 0)))
    assert score(reception, truth, recording).verdict is Verdict.FAILED


def test_a_long_complaint_is_cut() -> None:
    failure = receive_safely(Throwing(ValueError("x" * 10_000)), SILENCE).failure
    assert failure is not None and len(failure) == 500 and failure.endswith("…")


def test_lots_are_halved_down_to_one_trial_and_one_receiver() -> None:
    jobs = tuple(Job(TrialKey(0, SENT, -10.0, index), (0, 1)) for index in range(3))
    assert halves(jobs) == [jobs[:1], jobs[1:]]
    assert halves(jobs[:1]) == [(Job(jobs[0].key, (0,)),), (Job(jobs[0].key, (1,)),)]
    assert halves((Job(jobs[0].key, (1,)),)) == []


def test_the_environment_names_what_numbers_depend_on() -> None:
    environment = this_environment(import_folders=("/somewhere",))
    assert environment.libraries["numpy"] == np.__version__
    assert environment.libraries.keys() >= {"solidcopy", "scipy", "numba", "soxr"}
    assert environment.cpu and environment.platform and environment.n_cpus >= 1
    assert environment.started_utc.endswith("+00:00")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.4, "0 s"),
        (89.0, "89 s"),
        (100.0, "2 min"),
        (5399.0, "1 h 30 min"),
        (12_000.0, "3 h 20 min"),
    ],
)
def test_durations_are_said_in_fit_units(seconds: float, text: str) -> None:
    assert duration(seconds) == text


def test_a_line_of_progress_says_how_much_and_how_long() -> None:
    curve = CurveProgress(0, 0, "c", "r", (PointProgress(-20.0, 1, 2),))
    progress = Progress(30, 120, 2, 4.0, 22.5, (curve,), False, "running")
    assert progress.line() == ("30 of 120 (25 %), 4.0 per s, at most 22 s left, 2 failed; running")
