"""The knowledge of kinds of source, and which of them fit a part."""

import re
from dataclasses import replace

import pytest

from solidcopy.noise.clues.knowledge import Knowledge, knowledge
from solidcopy.noise.clues.match import clues_for
from solidcopy.noise.features.figure import CannotTell, Figure
from solidcopy.noise.parts.part import ITU_CLASSES, Part, PartKind, Times

SOURCE = re.compile(
    r"from memory|common practice, no source|FACTS|ITU-R|Radio Regulations|EU Directive|"
    r"derived here|RR No"
)

IMPULSES = Part(
    kind=PartKind.PERIODIC_IMPULSES,
    power=1e-4,
    level_error_db=0.1,
    band_hz=(200.0, 2900.0),
    times=Times(0.0, 30.0, 0.01),
    p_chance=1e-9,
    rhythm_hz=Figure(1.0 / 1.3, 1e-4),
)


def names(part: Part) -> list[str]:
    return [clue.name for clue in clues_for(part)]


def test_every_entry_names_its_source() -> None:
    known = knowledge()
    entries = [*known.kind, *known.caution.values()]
    assert all(SOURCE.search(entry.source) for entry in entries)


def test_every_kind_of_part_has_a_clue_and_a_class() -> None:
    known = knowledge()
    assert {kind for entry in known.kind for kind in entry.parts} == set(PartKind)
    assert set(ITU_CLASSES) == set(PartKind)


def test_mains_and_lines_never_go_without_their_caution() -> None:
    for entry in knowledge().kind:
        words = " ".join(entry.confirm)
        if "breaker" in words or "supply" in entry.likely:
            assert "mains" in entry.cautions, entry.name
        if "power line" in entry.likely and "arc" in entry.likely:
            assert {"line", "regulator"} <= set(entry.cautions)
        if "fence" in entry.name:
            assert "fence" in entry.cautions


def test_nobody_is_accused() -> None:
    words = re.compile(r"neighbour'?s? fault|guilty|culprit|illegal|offender", re.IGNORECASE)
    for entry in knowledge().kind:
        assert not words.search(entry.likely + " ".join(entry.confirm)), entry.name


@pytest.mark.authority
def test_a_fence_pulses_no_faster_than_about_once_a_second() -> None:
    """IEC 60335-2-76 (from memory): about one pulse a second at most."""
    assert names(IMPULSES)[0] == "electric fence"
    faster = replace(IMPULSES, rhythm_hz=Figure(2.0, 1e-4))
    assert "electric fence" not in names(faster)


@pytest.mark.authority
@pytest.mark.parametrize(("rhythm_hz", "supply"), [(100.02, "50 Hz"), (60.0, "60 Hz")])
def test_arcs_follow_the_supply(rhythm_hz: float, supply: str) -> None:
    """Twice a cycle, or once where one polarity arcs (public pages, FACTS D4)."""
    first = names(replace(IMPULSES, rhythm_hz=Figure(rhythm_hz, 0.01)))
    assert supply in first[0]
    assert "ignition" in first


def test_an_unsure_rhythm_keeps_both_supplies() -> None:
    unsure = names(replace(IMPULSES, rhythm_hz=Figure(110.0, 4.0)))
    assert sum("arc" in name for name in unsure) == 2


def test_no_order_hints_at_storms_and_switches() -> None:
    part = replace(
        IMPULSES, kind=PartKind.RANDOM_IMPULSES, rhythm_hz=CannotTell("no order was found")
    )
    assert {"lightning", "switching"} <= set(names(part))


def test_a_caution_that_does_not_exist_is_refused() -> None:
    known = knowledge().model_dump()
    known["kind"][0]["cautions"] = ("dragons",)
    with pytest.raises(ValueError, match="names no caution"):
        Knowledge.model_validate(known)
