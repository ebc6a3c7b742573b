"""The trials behind a point, against outcomes written by hand."""

import pytest
from starlette.testclient import TestClient

from report_examples import PLACE_OF, outcome_of, two_conditions
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.workspace import Workspace
from solidcopy.campaigns.journal import Finished, JournalWriter
from solidcopy.receivers.receiver import Decode
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.outcome import Outcome, Verdict
from solidcopy.trials.trial import SENT
from solidcopy.web.app import create_app

N_TRIALS = 120
DECODED_BY_SHALLOW = set(range(0, 120, 2))
DECODED_BY_DEEP = set(range(0, 120, 3))
FAILED_BY_DEEP = {1, 4}
FALSE_OF_SHALLOW = {7}
RECEIVERS = [
    {"kind": "builtin", "name": "shallow", "passes": 1},
    {"kind": "builtin", "name": "deep"},
]


@pytest.fixture
def client(tmp_path):
    space = Workspace.at(tmp_path / "bench")
    plan = two_conditions(
        axis={"values": [-21, -20]},
        stop={"trials_per_point": N_TRIALS},
        receivers=RECEIVERS,
    )
    with JournalWriter(space.folder / f"pair{SUFFIX}", plan, PLACE_OF) as journal:
        journal.append(list(written(plan)))
        journal.settle()
    return TestClient(create_app(space, ["127.0.0.1:8437"]), base_url="http://127.0.0.1:8437")


def written(plan):
    for receiver, decoded in enumerate((DECODED_BY_SHALLOW, DECODED_BY_DEEP)):
        for index in range(N_TRIALS if receiver == 0 else 100):
            key = TrialKey(0, SENT, -21.0, index)
            outcome = outcome_of(plan, key, is_decoded=index in decoded, is_real=False)
            if receiver == 1 and index in FAILED_BY_DEEP:
                outcome = Outcome(
                    Verdict.FAILED, None, (), 0.1, "00" * 32, outcome.readings, "crash"
                )
            if receiver == 0 and index in FALSE_OF_SHALLOW:
                false = (Decode("CQ Q9ZZZ AA00", 700.0, 0.1),)
                outcome = Outcome(Verdict.MISSED, None, false, 0.1, "00" * 32, outcome.readings)
            yield Finished(key, receiver, outcome)


def listed(client, **asked):
    query = {"condition": "quiet", "axis_value": -21, **asked}
    answered = client.get("/api/campaigns/pair/trials", params=query)
    assert answered.status_code == 200, answered.text
    return answered.json()


def indexes(client, **asked):
    found = listed(client, **asked)
    got = [line["index"] for line in found["lines"]]
    while len(got) < found["n_listed"]:
        more = listed(client, **asked, first=len(got))
        assert more["lines"]
        got += [line["index"] for line in more["lines"]]
    return got


def test_all_trials_page_by_page(client):
    found = listed(client)
    assert found["receivers"] == ["shallow", "deep"]
    assert (found["n_trials"], found["n_listed"]) == (N_TRIALS, N_TRIALS)
    assert len(found["lines"]) == found["per_page"] == 50
    assert indexes(client) == list(range(N_TRIALS))
    assert listed(client, first=500)["lines"] == []


def test_each_receivers_verdict(client):
    lines = {line["index"]: line for line in listed(client)["lines"]}
    assert lines[0]["verdicts"] == ["decoded", "decoded"]
    assert lines[4]["verdicts"] == ["decoded", "failed"]
    assert lines[3]["verdicts"] == ["missed", "decoded"]
    assert lines[7]["false_decodes"] == [True, False]
    last = listed(client, first=100)["lines"][0]
    assert (last["index"], last["verdicts"]) == (100, ["decoded", "not tried"])


def test_one_kind_only(client):
    everything = set(range(N_TRIALS))
    missed = sorted(everything - DECODED_BY_SHALLOW)
    assert indexes(client, show="missed") == missed
    deep = sorted(set(range(100)) - DECODED_BY_DEEP - FAILED_BY_DEEP)
    assert indexes(client, show="missed", receiver="deep") == deep
    assert indexes(client, show="failed", receiver="deep") == [1, 4]
    assert indexes(client, show="failed") == []
    assert indexes(client, show="false-decodes") == [7]
    one = sorted(set(range(100)) & (DECODED_BY_SHALLOW - DECODED_BY_DEEP - FAILED_BY_DEEP))
    assert indexes(client, show="one-alone", receiver="shallow", other="deep") == one
    assert indexes(client, show="one-alone") == one
    two = sorted(DECODED_BY_DEEP & set(range(100)) - DECODED_BY_SHALLOW - FAILED_BY_DEEP)
    assert indexes(client, show="one-alone", receiver="deep", other="shallow") == two


def test_a_point_not_begun_has_no_trials(client):
    found = listed(client, axis_value=-20)
    assert (found["n_trials"], found["lines"]) == (0, [])


@pytest.mark.parametrize(
    ("asked", "status", "said"),
    [
        ({"condition": "loud"}, 404, "it has “quiet”"),
        ({"axis_value": -20.5}, 404, "it has −21, −20"),
        ({"receiver": "human"}, 404, "it has “shallow”"),
        ({"show": "one-alone", "other": "human"}, 404, "no receiver"),
        ({"axis_value": "nan"}, 422, "axis_value"),
        ({"axis_value": "inf"}, 422, "axis_value"),
        ({"first": -1}, 422, "first"),
        ({"show": "some"}, 422, "show"),
        ({"more": 1}, 422, "more"),
    ],
)
def test_what_is_not_there_is_said(client, asked, status, said):
    query = {"condition": "quiet", "axis_value": -21, **asked}
    answered = client.get("/api/campaigns/pair/trials", params=query)
    assert answered.status_code == status
    assert said in answered.json()["sentence"]
