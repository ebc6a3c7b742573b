import pytest

from solidcopy.errors import PlanError
from solidcopy.modes.registry import MODE_NAMES, mode_named


def test_every_name_gives_its_mode() -> None:
    assert {"ft8", "ft4"} <= set(MODE_NAMES)
    for name in MODE_NAMES:
        assert mode_named(name).facts.name == name


def test_an_unknown_name_is_answered_with_the_known_ones() -> None:
    with pytest.raises(PlanError, match="'hell' is not known; known modes: ft8, ft4, morse"):
        mode_named("hell")


@pytest.mark.derived
def test_facts_of_ft8() -> None:
    # "The FT4 and FT8 Communication Protocols", from memory; 79 · 0.16 s and 8 · 6.25 Hz.
    facts = mode_named("ft8").facts
    assert facts.duration_s == pytest.approx(12.64, abs=1e-12)
    assert facts.width_hz == 50.0
    assert (facts.slot_s, facts.nominal_start_s, facts.n_payload_bits) == (15.0, 0.5, 77)


@pytest.mark.derived
def test_facts_of_ft4() -> None:
    # As above: 105 · 0.048 s with both ramps, and 4 · 20.83 Hz.
    facts = mode_named("ft4").facts
    assert facts.duration_s == pytest.approx(5.04, abs=1e-12)
    assert facts.width_hz == pytest.approx(83.33, abs=0.005)
    assert (facts.slot_s, facts.nominal_start_s, facts.n_payload_bits) == (7.5, 0.5, 77)
