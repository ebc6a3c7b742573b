"""The evidence sheet says what the recordings hold, on two pages, and accuses nobody."""

import hashlib
import html as html_of
import io
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from pypdf import PdfReader
from scipy import signal
from typer.testing import CliRunner

from report_examples import shared_campaign
from solidcopy.actions.evidence import Evidence, band_of, cost_of, measure_evidence
from solidcopy.campaigns.journal import JournalReader
from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError, EvidenceError, SolidcopyError
from solidcopy.noise.before_after.by_part import Fate
from solidcopy.noise.before_after.levels import Level
from solidcopy.noise.features.figure import CannotTell
from solidcopy.reports.answer import answer
from solidcopy.reports.evidence.description import EXAMPLE, Description, read_description
from solidcopy.reports.evidence.facts import Comparison
from solidcopy.reports.evidence.page import (
    EvidenceSheet,
    evidence_html,
    evidence_pdf,
    evidence_sheet,
)
from solidcopy.reports.evidence.sheets import no_surroundings
from solidcopy.reports.evidence.words import headline, supports, uncertainty
from solidcopy.reports.gather import gather_figures
from solidcopy.reports.wording import number

RATE_HZ, DURATION_S = 12_000, 21
ACCUSING = re.compile(
    "owner|guilt|culprit|offend|illegal|violat|blame|fault|caused|neighbour's|must stop|interferer|"
    "perpetrat|nuisance|complain|unlawful|breach|pollut"
)
CALIBRATION = """
[calibration]
dbm_at_0_dbfs = -51.0
error_db = 2.0
how = "signal generator"
"""


def record(path: Path, *, has_fence: bool, seed: int) -> Path:
    """Receiver noise of 21 s, with or without the ticks of a made electric fence."""
    generator = np.random.default_rng(seed)
    samples = 0.004 * generator.standard_normal(DURATION_S * RATE_HZ)
    if has_fence:
        for start_s in np.arange(0.4, DURATION_S - 0.5, 1.27):
            start, n = round(start_s * RATE_HZ), RATE_HZ // 80
            decay = np.exp(-np.arange(n) / (0.003 * RATE_HZ))
            samples[start : start + n] += 0.3 * generator.standard_normal(n) * decay
    sections = signal.butter(6, (250, 2850), "bandpass", fs=RATE_HZ, output="sos")
    soundfile.write(path, signal.sosfilt(sections, samples), RATE_HZ, subtype="PCM_16")
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("evidence")
    record(made / "fence-on.wav", has_fence=True, seed=1)
    record(made / "fence-off.wav", has_fence=False, seed=2)
    (made / "fence.toml").write_text(EXAMPLE, encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def measured(folder: Path) -> Evidence:
    return measure_evidence(folder / "fence.toml")


@cache
def shown_of(measured: Evidence) -> EvidenceSheet:
    """Drawn once for all tests."""
    return evidence_sheet(measured.facts)


def described(measured: Evidence, **changes: object) -> Evidence:
    """The same measurement under another description."""
    data = measured.facts.description.model_dump() | changes
    description = Description.model_validate(data)
    return Evidence(replace(measured.facts, description=description), measured.compared)


@pytest.fixture(scope="module")
def at_median(measured: Evidence) -> Evidence:
    """Calibrated so that the quiet recording lies at the median of residential surroundings."""
    at_0_dbfs = -91.04 - measured.facts.heard[1].levels.mean.dbfs
    calibration = {"dbm_at_0_dbfs": at_0_dbfs, "error_db": 0.0, "how": "signal generator"}
    return described(measured, calibration=calibration)


def page_text(measured: Evidence) -> str:
    """The page without marks and styles; words of the figure stay."""
    page = evidence_html(shown_of(measured))
    page = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    text = html_of.unescape(re.sub(r"<[^>]+>", " ", page))
    return re.sub(r"\s+", " ", text)


def pdf_of(measured: Evidence) -> PdfReader:
    return PdfReader(io.BytesIO(evidence_pdf(shown_of(measured))))


@pytest.mark.authority  # scipy.signal.welch for the mean power, numpy for the peak
def test_levels_are_those_of_an_independent_computation(measured: Evidence, folder: Path) -> None:
    text = page_text(measured)
    assert measured.facts.band_hz == (300.0, 2700.0)
    for heard in measured.facts.heard:
        samples, _ = soundfile.read(folder / heard.name)
        frequencies, densities = signal.welch(
            samples, RATE_HZ, nperseg=RATE_HZ, noverlap=RATE_HZ // 2, detrend=False
        )
        inside = (frequencies >= 300.0) & (frequencies < 2700.0)
        mean_dbfs = 10 * np.log10(2500.0 * densities[inside].mean() / 0.5)
        assert heard.levels.mean.dbfs == pytest.approx(mean_dbfs, abs=0.01)
        peak_dbfs = 20 * np.log10(np.abs(samples).max())
        assert heard.levels.peak_dbfs == pytest.approx(peak_dbfs, abs=1e-4)
        assert number(mean_dbfs, 1) in text and number(peak_dbfs, 1) in text


@pytest.mark.derived  # the noise lab's comparison, taken another way
def test_levels_are_those_of_the_noise_lab(measured: Evidence) -> None:
    outcome = measured.facts.outcome
    assert isinstance(outcome, Comparison)
    found, (first, second) = outcome.found, measured.facts.heard
    to_reference_db = 10 * np.log10(2500.0 / 2400.0)
    for own, heard in ((found.in_band.before, first), (found.in_band.after, second)):
        assert heard.levels.mean.dbfs == pytest.approx(own + to_reference_db, abs=1e-9)
    assert first.levels.whole.dbfs == pytest.approx(found.whole.before, abs=1e-9)
    text = page_text(measured)
    assert f"{number(-found.in_band.difference, 1)} dB stronger" in text.replace("\u00a0", " ")
    assert "Gone: periodic impulses, every 1.27" in text


def test_what_is_not_shown_is_not_told_as_a_difference(measured: Evidence) -> None:
    outcome = measured.facts.outcome
    assert isinstance(outcome, Comparison)
    for interval, said in (
        ((-0.3, 0.5), "No difference is shown between “fence on” and “fence off”: +0.1 dB"),
        (CannotTell("it wanders"), "how sure that is cannot be told: it wanders"),
        ((0.05, 0.15), "In the recording “fence off” the noise from 300 to 2700 Hz is 0.1 dB"),
    ):
        change = replace(outcome.found.in_band, difference=0.1, interval=interval)
        found = replace(outcome.found, in_band=change)
        facts = replace(measured.facts, outcome=replace(outcome, found=found))
        assert said in headline(facts)


def test_of_dozens_of_parts_the_strongest_are_named(measured: Evidence) -> None:
    outcome = measured.facts.outcome
    assert isinstance(outcome, Comparison)
    gone = next(one for one in outcome.by_part if one.fate is Fate.GONE)
    many = replace(outcome, by_part=(gone,) * 40)
    part_by_part = supports(replace(measured.facts, outcome=many))[1]
    assert part_by_part.count("periodic impulses") == 8
    assert part_by_part.endswith("32 weaker parts changed besides.")


def test_a_known_change_of_gain_is_told(measured: Evidence) -> None:
    said = uncertainty(described(measured, gain_change_db=10.0).facts)
    assert "The second was taken with 10.0 dB more gain, as stated; that is taken off." in said
    assert any("taken to be the same" in one for one in uncertainty(measured.facts))


@pytest.mark.derived  # mean of n independent squares: relative spread 1 / sqrt(bandwidth x time)
def test_the_interval_of_steady_noise_is_that_of_chance(measured: Evidence) -> None:
    level = measured.facts.heard[1].levels.mean
    assert isinstance(level, Level) and isinstance(level.interval, tuple)
    half_db = (level.interval[1] - level.interval[0]) / 2.0
    by_chance_db = 1.96 * 10.0 / np.log(10.0) / np.sqrt(2400.0 * DURATION_S)
    assert 0.6 < half_db / by_chance_db < 2.5  # eight stretches tell their own spread roughly
    assert level.interval[0] < level.dbfs < level.interval[1]


def test_two_pages_of_a4_say_what_the_page_says(measured: Evidence) -> None:
    shown, pdf = shown_of(measured), pdf_of(measured)
    assert len(pdf.pages) == 2
    sizes = {tuple(round(float(side)) for side in page.mediabox[2:]) for page in pdf.pages}
    assert sizes == {(595, 842)}  # 210 x 297 mm in points of 1/72 inch
    text = re.sub(r"\s", "", "".join(page.extract_text() for page in pdf.pages))
    said = [shown.headline, *shown.supports, *shown.uncertainty, *shown.cost, *shown.limits]
    said += [*shown.cautions, *shown.next_steps, shown.command, shown.made_by]
    said += [cell for sheet in (shown.levels, shown.files) for row in sheet.rows for cell in row]
    said += [text for row in shown.method for text in row]
    bare = text.replace("\u200b", "")
    assert [one for one in said if re.sub(r"\s", "", one) not in bare] == []


def test_the_longest_words_leave_it_at_two_pages(measured: Evidence) -> None:
    longest = {"place", "switched", "receiver", "settings", "antenna", "notes"}
    words = dict.fromkeys(longest, "Wm" * 120)
    recordings = [
        one.model_dump() | {"state": sign * 40}
        for one, sign in zip(measured.facts.description.recordings, "WM", strict=True)
    ]
    calibration = {"dbm_at_0_dbfs": -51.0, "error_db": 2.0, "how": "W" * 240}
    long = described(
        measured,
        **words,
        title="<W> #_$*" * 15,
        measured_by="M" * 120,
        recordings=recordings,
        calibration=calibration,
    )
    heard = tuple(
        replace(one, name="n" * 251 + ".wav", taken=taken)
        for one, taken in zip(long.facts.heard, long.facts.description.recordings, strict=True)
    )
    facts = replace(
        long.facts, heard=heard, origin=replace(long.facts.origin, description="d" * 250 + ".toml")
    )
    pages = pdf_of(Evidence(facts, None)).pages
    assert len(pages) == 2 and "Check it" in pages[1].extract_text()


def test_nobody_is_accused(measured: Evidence, at_median: Evidence) -> None:
    for one in (measured, at_median):
        text = page_text(one).lower()
        assert ACCUSING.findall(text) == []
        assert "nor whose it is" in text and "not what made them differ" in text
        assert "local rules" in text and "not a field strength" in text


def test_without_a_calibration_only_relative_levels_are_given(measured: Evidence) -> None:
    text = page_text(measured)
    assert "dBm" not in text and "only relative levels are known" in text
    assert shown_of(measured).surroundings is None


@pytest.mark.derived  # power at the socket = dBFS + dBm at 0 dBFS; residential median by P.372:
# 72.5 - 27.7 lg 7.074 = 48.96 dB over k T0 b, which is -140.00 dBm in 2500 Hz (FACTS C1)
def test_with_a_calibration_it_stands_beside_the_ranges_of_p372(at_median: Evidence) -> None:
    sheet = shown_of(at_median)
    assert sheet.levels.rows[0][3].startswith("−91.0 (")
    assert sheet.surroundings is not None
    residential = next(row for row in sheet.surroundings.rows if row[0] == "residential")
    # The upper decile is wider than the lower: somewhat less than half lies below the median.
    shares = [int(share) for share in re.findall(r"\d+", residential[3])]
    assert all(44 <= share <= 51 for share in shares)
    assert "neither a pass mark" in sheet.surroundings.note
    high = described(at_median, frequency_mhz=432.0)
    assert "0.3 to 250 MHz only" in no_surroundings(high.facts)


def test_what_a_campaign_says_is_told(measured: Evidence) -> None:
    cost = cost_of(shared_campaign())
    with JournalReader(shared_campaign()) as reader:
        said = answer(gather_figures(reader))
        assert cost.fingerprint == reader.fingerprint()
    assert cost.sentences[0] == said.headline
    told = Evidence(replace(measured.facts, cost=cost), None)
    assert re.sub(r"\s+", " ", said.headline) in page_text(told).replace("\u00a0", " ")


def test_one_recording_alone(folder: Path) -> None:
    text = EXAMPLE.split("[[recordings]]                   # leave")[0]
    text = text.replace("fence-on.wav", "fence-off.wav").replace("fence on", "fence off")
    (folder / "one.toml").write_text(text, encoding="utf-8")
    alone = measure_evidence(folder / "one.toml")
    said = page_text(alone)
    assert "In the recording “fence off” the noise has a mean power of" in said
    assert "Gaussian floor" in said and "second less first" not in said
    assert alone.as_dict()["parts"]


def test_files_are_whole_the_same_again_and_give_digests(
    measured: Evidence, folder: Path, tmp_path: Path
) -> None:
    first = measured.write(tmp_path / "a")
    assert first[0].read_bytes() == evidence_pdf(shown_of(measured))
    assert first[1].read_text(encoding="utf-8") == evidence_html(shown_of(measured))
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == [
        "evidence.html",
        "evidence.json",
        "evidence.pdf",
    ]
    figures = json.loads(first[2].read_text(encoding="utf-8"))
    assert str(folder) not in first[2].read_text(encoding="utf-8")
    for one in figures["recordings"]:
        digest = hashlib.sha256((folder / one["file"]).read_bytes()).hexdigest()
        assert one["sha256"] == digest and digest in first[1].read_text(encoding="utf-8")
    assert "http" not in re.sub(r"http://www.w3.org/\S+", "", first[1].read_text(encoding="utf-8"))
    (tmp_path / "file").write_text("")
    with pytest.raises(EvidenceError, match="choose another folder"):
        measured.write(tmp_path / "file")


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ("title =", "titel =", "titel"),
        ('title = "Noise', "title = Noise", "is not valid TOML"),
        ("2026-11-30T18:10:00Z", "2026-11-30T18:10:00", "timezone"),
        ('state = "fence off"', 'state = "fence on"', "different states"),
        ("fence-off.wav", "fence-on.wav", "are the same"),
        ("fence-off.wav", "nothing.wav", "there is no recording"),
        ("T18:15:00Z", "T18:10:10Z", "one start is wrong"),
        ("7.074", "nan", "frequency_mhz"),
        ("# band_hz = [300, 2700]", "band_hz = [2700, 300]", "low to high"),
        ('place = "club', 'place = "\\u0007club', "printable"),
        ('antenna = "half', f'antenna = "{"long " * 60}', "240"),
        ('antenna = "half', 'antenna = "" #', "antenna"),
        ("# campaign =", "campaign =", "no campaign was begun"),
    ],
)
def test_refusals_are_one_sentence_and_write_nothing(
    folder: Path, tmp_path: Path, old: str, new: str, match: str
) -> None:
    for name in ("fence-on.wav", "fence-off.wav"):
        (tmp_path / name).symlink_to(folder / name)
    assert old in EXAMPLE
    (tmp_path / "bad.toml").write_text(EXAMPLE.replace(old, new, 1), encoding="utf-8")
    before = sorted(tmp_path.iterdir())
    result = CliRunner().invoke(app, ["evidence", str(tmp_path / "bad.toml")])
    assert isinstance(result.exception, SolidcopyError)
    assert re.search(match, str(result.exception)) and "\n" not in str(result.exception)
    assert sorted(tmp_path.iterdir()) == before


def test_a_recording_that_is_not_fit_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "fence-on.wav", np.zeros(30 * RATE_HZ), RATE_HZ, subtype="PCM_16")
    text = EXAMPLE.split("[[recordings]]                   # leave")[0]
    (tmp_path / "one.toml").write_text(text, encoding="utf-8")
    with pytest.raises(AudioFileError):
        measure_evidence(tmp_path / "one.toml")


def test_a_band_that_the_recordings_do_not_fill_is_refused(measured: Evidence) -> None:
    wide = described(measured, band_hz=(300.0, 5500.0)).facts
    with pytest.raises(AudioFileError, match="name a band inside"):
        band_of(wide.description, measured.compared, tuple(one.waveform for one in wide.heard))


def test_the_example_is_printed_and_right(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["evidence", "--example"])
    assert result.exit_code == 0
    (tmp_path / "e.toml").write_text(result.stdout + CALIBRATION, encoding="utf-8")
    said = read_description(tmp_path / "e.toml")
    assert said.calibration is not None and len(said.recordings) == 2
    page = Path(__file__).parents[2] / "docs" / "howto" / "two-page-evidence.md"
    for field in Description.model_fields:
        assert field in EXAMPLE and f"`{field}`" in page.read_text(encoding="utf-8").replace(
            "`[[recordings]]`", "`recordings`"
        ).replace("`[calibration]`", "`calibration`"), field
    missing = CliRunner().invoke(app, ["evidence"])
    assert isinstance(missing.exception, EvidenceError)
