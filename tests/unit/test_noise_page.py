"""The command, its words, its JSON and its page."""

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from typer.testing import CliRunner

from noise_mixtures import mixed
from noise_trial import carrier, fence, hump
from solidcopy.actions.noise_parts import NoiseParts, Stretch, noise_parts
from solidcopy.cli.main import app
from solidcopy.errors import AudioFileError
from solidcopy.signals.audio_file import write_audio


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = mixed(
        [fence(1.3, 2.0)[0], carrier(900.0, 0.0)[0], hump(1900.0, 200.0, 0.0)[0]],
        seed=20,
        duration_s=20.0,
    )
    path = tmp_path_factory.mktemp("noise") / "hedge & <b>.wav"
    write_audio(path, made.waveform.samples, sample_rate_hz=12_000)
    return path


@pytest.fixture(scope="module")
def found(recording: Path) -> NoiseParts:
    return noise_parts(recording)


class Tags(HTMLParser):
    """Counts tags and collects addresses that would be fetched."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[str] = []
        self.fetched: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append(tag)
        self.fetched += [
            value or ""
            for name, value in attrs
            if name in ("src", "href", "xlink:href") and not (value or "").startswith("#")
        ]


def test_text_names_parts_clues_and_cautions(found: NoiseParts) -> None:
    text = found.text()
    for words in (
        "periodic impulses, every 1.300 s",
        "steady line at 900.0 Hz",
        "hump of noise",
        "Gaussian floor",
        "electric fence",
        "impulsive noise (IN)",
        "cannot tell:",
        "caution:",
    ):
        assert words in text
    assert max(map(len, text.splitlines())) <= 80


def test_json_adds_up(found: NoiseParts) -> None:
    facts = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert sum(part["share"] for part in facts["parts"]) == pytest.approx(1.0, abs=0.05)
    impulses = next(part for part in facts["parts"] if part["kind"] == "periodic impulses")
    assert impulses["period_s"]["value"] == pytest.approx(1.3, abs=0.002)
    assert impulses["clues"][0]["name"] == "electric fence"


def test_page_stands_alone(found: NoiseParts, tmp_path: Path) -> None:
    written = found.write(tmp_path / "out")
    assert [path.name for path in written] == [
        "noise-parts.html",
        "noise-spectrum.svg",
        "noise-spectrogram.svg",
        "noise-envelope.svg",
        "noise-parts.json",
    ]
    html = written[0].read_text(encoding="utf-8")
    tags = Tags()
    tags.feed(html)
    assert "script" not in tags.seen
    assert tags.seen.count("figure") == 3
    assert all(address.startswith("data:image/png") for address in tags.fetched)
    assert "hedge &amp; &lt;b&gt;.wav" in html
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))


def test_stretch_of_a_long_file_is_said(recording: Path) -> None:
    part = noise_parts(recording, stretch=Stretch(2.0, 10.0))
    assert part.parts.duration_s == pytest.approx(10.0)
    assert "Looked at 2 to 12 s of 20 s" in part.text()


def test_command_prints_and_refuses_in_one_line(recording: Path, tmp_path: Path) -> None:
    printed = CliRunner().invoke(app, ["noise", "parts", str(recording), "--json"])
    assert printed.exit_code == 0
    assert json.loads(printed.stdout)["parts"]
    empty = tmp_path / "text.wav"
    empty.write_text("no sound")
    refused = CliRunner().invoke(app, ["noise", "parts", str(empty)])
    assert isinstance(refused.exception, AudioFileError)
    assert "\n" not in str(refused.exception)
    missing = CliRunner().invoke(app, ["noise", "parts", str(tmp_path / "none.wav")])
    assert isinstance(missing.exception, AudioFileError)
