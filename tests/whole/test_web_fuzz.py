"""The interface asked at random from its own description: no mistakes, one shape, no surprises."""

import json
import shutil
import subprocess
import zlib

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import (
    content_type_conformance,
    not_a_server_error,
    response_schema_conformance,
    status_code_conformance,
)
from schemathesis.config import SchemathesisConfig
from schemathesis.python import asgi

import fuzzed_bench
from solidcopy.web.app import bare_app, create_app
from solidcopy.web.guard import KEY_HEADER

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
QUICK = settings(
    max_examples=8,
    derandomize=True,
    deadline=None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
N_THOROUGH = 300
PATIENCE_S = 120.0
"""A machine may be busy with other things."""
DESCRIPTION = bare_app().openapi()
ONLY_DRAWN = SchemathesisConfig.from_dict({"phases": {"coverage": {"enabled": False}}})
DRAWN = schemathesis.openapi.from_dict(DESCRIPTION, config=ONLY_DRAWN)
ALL = schemathesis.openapi.from_dict(DESCRIPTION)
"""With each limit of each value tried, beside what is drawn."""
LIKELY = {
    "condition": ["quiet band"],
    "receiver": ["builtin"],
    "recording": [fuzzed_bench.RECORDING],
    "after": [fuzzed_bench.RECORDING],
    "campaign": [fuzzed_bench.CAMPAIGN],
    "axis_value": [-22.0, -18.0, 0.0],
    "index": [0, 1, 5],
    "first": [0],
    "mute": [[]],
    "opened": [None],
    "question": ["noise", "recording"],
}
"""Values that the folder of this test knows."""


def name_of(path):
    """What a name in an address may be the name of."""
    is_sound = path.startswith("/api/recordings")
    return fuzzed_bench.RECORDING if is_sound else fuzzed_bench.CAMPAIGN


class Asker:
    """Sends requests, every second one with some values that the folder knows: they get further."""

    def __init__(self, space, client):
        self._space, self._client = space, client
        self._key = fuzzed_bench.finished_look(client)
        self._kept = space.folder.parent / "kept"
        shutil.copytree(space.folder, self._kept)

    def restore(self):
        """The folder as it was made."""
        shutil.rmtree(self._space.folder)
        shutil.copytree(self._kept, self._space.folder)

    def ask(self, case):
        """One request, whose answer is checked against the description."""
        self._make_likely(case)
        response = case.call(session=self._client, app=self._client.app, timeout=PATIENCE_S)
        case.validate_response(response, checks=CHECKS)
        if response.status_code >= 400:
            assert set(json.loads(response.content)) == {"kind", "sentence", "field"}
        assert response.headers["x-content-type-options"] == ["nosniff"]

    def _make_likely(self, case):
        parts = [case.path_parameters, case.query, case.body]
        draw = zlib.crc32(repr(parts).encode("utf-8", "replace"))
        if draw % 2:
            return
        is_whole = draw % 16 == 0
        for part in parts:
            if not isinstance(part, dict):
                continue
            for key in list(part):
                if key in LIKELY and is_whole:
                    part[key] = LIKELY[key][draw // 16 % len(LIKELY[key])]
        if case.path_parameters:
            known = {"name": name_of(case.operation.path), "key": self._key}
            case.path_parameters.update(
                {k: v for k, v in known.items() if k in case.path_parameters}
            )
        if isinstance(case.body, dict) and "text" in case.body:
            case.body["text"] = fuzzed_bench.strange_text(draw // 16)


@pytest.fixture(scope="module")
def asker(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fuzz") / "bench"
    space = fuzzed_bench.populated(folder)
    app = create_app(space, [asgi.HOST])
    heard = fuzzed_bench.HeardProcesses(space.folder)
    with pytest.MonkeyPatch.context() as patch, asgi.get_client(app) as client:
        client.headers[KEY_HEADER] = space.key()
        made = Asker(space, client)
        patch.setattr(subprocess, "Popen", heard)
        yield made
    assert heard.words and heard.foreign() == []
    inside = {path.name for path in folder.parent.iterdir()}
    assert inside == {"bench", "kept"}, "something was written beside the folder"


def ask_alone(case, asker):
    """One request to the folder as it was made."""
    if case.method != "GET":
        asker.restore()
    asker.ask(case)


def all_cases(schema):
    found = [result.ok() for result in schema.get_all_operations()]
    return st.one_of([operation.as_strategy() for operation in found])


@DRAWN.parametrize()
@QUICK
def test_no_request_is_answered_with_a_mistake(case, asker):
    ask_alone(case, asker)


@settings(QUICK, max_examples=4)
@given(st.lists(all_cases(DRAWN), min_size=20, max_size=20))
def test_no_request_after_others_is_answered_with_a_mistake(asker, cases):
    asker.restore()
    for case in cases:
        asker.ask(case)


@pytest.mark.sweep
@ALL.parametrize()
@settings(QUICK, max_examples=N_THOROUGH, derandomize=False)
def test_no_request_of_many_is_answered_with_a_mistake(case, asker):
    ask_alone(case, asker)


@pytest.mark.sweep
@settings(QUICK, max_examples=N_THOROUGH, derandomize=False)
@given(st.lists(all_cases(DRAWN), min_size=40, max_size=40))
def test_no_request_after_many_is_answered_with_a_mistake(asker, cases):
    asker.restore()
    for case in cases:
        asker.ask(case)
