"""Texts that nobody writes by mistake: each is refused in a sentence, and at once."""

import time
from pathlib import Path

import pytest
import tomli_w

from example_plans import MINIMAL
from solidcopy.errors import PlanError
from solidcopy.trials.plan import plan_of_text

AT_ONCE_S = 2.0


def with_line(field: str, line: str) -> str:
    return tomli_w.dumps({k: v for k, v in MINIMAL.items() if k != field} | {"title": ""}).replace(
        'title = ""', line, 1
    )


@pytest.mark.derived
@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("x = " + "[" * 5000 + "]" * 5000, "nested too deeply"),
        ("x = " + "{a=" * 3000 + "1" + "}" * 3000, "nested too deeply"),
        ("root_seed = " + "9" * 5000, "is not valid TOML"),
        ("\0", "is not valid TOML"),
        (with_line("conditions", "conditions = 5"), "conditions: Input should be"),
        (
            with_line("conditions", 'conditions = [{ name = "x", impairments = 5 }]'),
            "impairments: Input should be",
        ),
        (
            with_line(
                "conditions",
                'conditions = [{ name = "x", impairments = '
                '[{ kind = "recording", file = "a\\u0000b", snr_db = "axis" }] }]',
            ),
            "zero byte",
        ),
        (with_line("axis", "axis = { start = 0, stop = 1e300, step = 1e-300 }"), "more than 500"),
        (with_line("axis", "axis = { start = 0, stop = 1e15, step = 1e-9 }"), "more than 500"),
    ],
    ids=["lists", "tables", "digits", "zero", "number", "list", "file", "overflow", "values"],
)
def test_a_hostile_text_is_refused_at_once(text: str, sentence: str) -> None:
    began_s = time.monotonic()
    with pytest.raises(PlanError) as caught:
        plan_of_text(text, Path("plan.toml"))
    assert sentence in str(caught.value)
    assert time.monotonic() - began_s < AT_ONCE_S
