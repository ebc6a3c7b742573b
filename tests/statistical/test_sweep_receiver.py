"""`make validate`: the receiver through the whole chain, with enough trials to quote figures.

Prints the tables that docs/accuracy.md holds. Bounds: FACTS A10 (derived there): a threshold
better than about −22.5 dB for soft bits of three-symbol blocks would mean a calibration error,
and the curve must rise from 10 to 90 % within 1.6 to 2 dB.
"""

from collections.abc import Iterator

import pytest
from swept_curves import carried_out, printed_bound, printed_thresholds

from solidcopy.campaigns.journal import JournalReader

pytestmark = pytest.mark.sweep

TRIALS_PER_POINT = 1_000
NOTHING_SENT = 4_000


@pytest.fixture(scope="module")
def white_noise(tmp_path_factory: pytest.TempPathFactory) -> Iterator[JournalReader]:
    with carried_out(
        tmp_path_factory.mktemp("white-noise"),
        root_seed=21,
        axis={"start": -23.5, "stop": -19.5, "step": 0.5},
        stop={"trials_per_point": TRIALS_PER_POINT, "nothing_sent": NOTHING_SENT},
    ) as journal:
        yield journal


@pytest.mark.derived
def test_threshold_in_white_noise(white_noise: JournalReader) -> None:
    values_db = printed_thresholds(white_noise, "FT8, usual level")
    assert -22.5 < values_db[0.5] <= -21.2
    assert 1.3 <= values_db[0.9] - values_db[0.1] <= 2.2


@pytest.mark.derived
def test_false_decodes(white_noise: JournalReader) -> None:
    decodes = white_noise.false_decodes(0, 0)
    assert printed_bound("sent", decodes.sent) < 1e-3
    assert printed_bound("nothing sent", decodes.nothing_sent) < 1e-3
