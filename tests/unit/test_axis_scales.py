"""An SNR read in other references. Hand-worked values beside their sources."""

import pytest

from report_facts import facts_of
from solidcopy.errors import PlanError
from solidcopy.modes.registry import mode_named
from solidcopy.reports.axis_scales import AS_PLANNED, axis_scales, scale_named


@pytest.mark.derived
@pytest.mark.parametrize(
    ("mode", "key", "shift_db"),
    [
        # 10 lg 2500 = 10 (4 − 2 lg 2) = 10 (4 − 0.60206) = 33.979, by hand.
        ("ft8", "1-hz", 33.979),
        # 10 lg (2500 / 500) = 10 lg 5 = 6.990, by hand.
        ("ft8", "500-hz", 6.990),
        # FT8 occupies 8 × 6.25 = 50 Hz: 10 lg 50 = 16.990. FT4: 4 × 20.833 = 83.33 Hz: 14.771.
        ("ft8", "mode-width", 16.990),
        ("ft4", "mode-width", 14.771),
        # A symbol of FT8 takes 0.16 s: 10 lg (2500 × 0.16) = 10 lg 400 = 26.021.
        ("ft8", "es-n0", 26.021),
        # 77 bits in 79 symbols: 10 lg (2500 × 79 × 0.16 / 77) = 10 lg 410.39 = 26.132.
        ("ft8", "eb-n0", 26.132),
    ],
)
def test_an_snr_in_another_reference(mode, key, shift_db):
    scale = scale_named(key, facts_of("snr").axis, mode_named(mode).facts)
    assert scale.shift_db == pytest.approx(shift_db, abs=0.0006)


def test_the_label_names_the_bandwidth():
    scales = axis_scales(facts_of("snr").axis, mode_named("ft8").facts)
    labels = [scale.label for scale in scales]
    assert labels[:4] == [
        "SNR in 2500 Hz, dB",
        "SNR in 500 Hz, dB",
        "SNR in 50 Hz, dB",
        "C/N0 (SNR in 1 Hz), dB-Hz",
    ]
    assert scales[0].key == AS_PLANNED and scales[0].shift_db == 0.0


@pytest.mark.parametrize("axis", ["ratio", "interference", "level", "offset"])
def test_what_is_no_snr_has_one_scale(axis):
    facts, mode = facts_of(axis), mode_named("ft8").facts
    (only,) = axis_scales(facts.axis, mode)
    assert only.label == facts.axis.label
    with pytest.raises(PlanError, match="can be read as as-planned"):
        scale_named("1-hz", facts.axis, mode)
