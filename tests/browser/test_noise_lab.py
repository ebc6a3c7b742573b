"""The noise lab in the browser: bring a recording, learn what it is, and ask what it costs."""

import base64
import io

import pytest
import soundfile
from playwright.sync_api import expect

from bench_server import Server
from noise_mixtures import mixed
from noise_trial import carrier, fence
from solidcopy.actions.workspace import RECORDINGS
from solidcopy.signals.audio_file import write_audio
from solidcopy.trials.plan import read_plan

pytestmark = pytest.mark.browser

WAIT_MS = 120_000


@pytest.fixture(scope="session")
def sounds(tmp_path_factory):
    """A harbour with its electric fence, and with the fence switched off."""
    folder = tmp_path_factory.mktemp("sounds")
    for name, added in (("fence on.wav", [fence(1.3, 2.0)[0]]), ("fence off.wav", [])):
        made = mixed([*added, carrier(900.0, 0.0)[0]], seed=20, duration_s=20.0).waveform
        write_audio(folder / name, made.samples, sample_rate_hz=made.sample_rate_hz)
    return folder


@pytest.fixture
def recordings(folder, sounds):
    """Both in the bench folder."""
    (folder / RECORDINGS).mkdir(parents=True, exist_ok=True)
    for file in sounds.iterdir():
        (folder / RECORDINGS / file.name).write_bytes(file.read_bytes())
    return folder / RECORDINGS


def drop(page, file, name):
    """A file falls onto the page, as from a folder of the desktop."""
    content = base64.b64encode(file.read_bytes()).decode()
    transfer = page.evaluate_handle(
        """([content, name]) => {
            const bytes = Uint8Array.from(atob(content), (letter) => letter.charCodeAt(0));
            const transfer = new DataTransfer();
            transfer.items.add(new File([bytes], name));
            return transfer;
        }""",
        [content, name],
    )
    page.locator("#drop").dispatch_event("drop", {"dataTransfer": transfer})


@pytest.fixture
def looks_fit(page, accessible, portrait):
    """A function that judges the page as it is, and keeps pictures of it."""

    def check(name, ready):
        portrait(page, name)
        accessible(page.url, ready=ready)

    return check


def panel(page, head):
    return page.get_by_role("region", name=head, exact=True)


def test_from_a_dropped_recording_to_a_plan(page, server, folder, sounds, looks_fit):
    page.goto(f"{server.url}noise")
    drop(page, sounds / "fence on.wav", "Hafen (3).wav")
    expect(page).to_have_url(f"{server.url}noise/Hafen%20-3.wav", timeout=WAIT_MS)
    assert (folder / RECORDINGS / "Hafen -3.wav").read_bytes() == (
        sounds / "fence on.wav"
    ).read_bytes()
    expect(page.get_by_label("Hafen -3.wav", exact=True)).to_have_js_property("volume", 0.1)
    expect(page.locator("#volume")).to_contain_text("Volume 10 % (−20 dB")
    expect(panel(page, "Health")).to_contain_text("Fit for measuring", timeout=WAIT_MS)
    parts = panel(page, "Parts and clues")
    parts.get_by_role("button", name="Find the parts").click()
    expect(parts.locator(".answer")).to_contain_text(
        "periodic impulses, every 1.300 s", timeout=WAIT_MS
    )
    expect(parts).to_contain_text("May be: an electric fence")
    picture = parts.get_by_role("img").first
    expect(picture).to_have_js_property("complete", True)
    assert picture.evaluate("image => image.naturalWidth") > 300
    cost = panel(page, "Cost")
    cost.get_by_label("Most trials of one curve").fill("60")
    cost.get_by_role("button", name="Work out a plan").click()
    expect(cost.locator(".answer")).to_contain_text(
        "beside Gaussian noise of equal power", timeout=WAIT_MS
    )
    # What was found is there at once when the page is opened anew.
    page.reload()
    expect(parts.locator(".answer")).to_contain_text(
        "periodic impulses, every 1.300 s", timeout=3_000
    )
    expect(panel(page, "Health")).to_contain_text("Fit for measuring", timeout=3_000)
    looks_fit("noise-recording", ".found .answer")
    page.get_by_label("Keep this plan as").first.fill("fence cost")
    page.get_by_role("button", name="Keep it to change first").first.click()
    expect(page).to_have_url(f"{server.url}plans/fence%20cost", timeout=WAIT_MS)
    assert read_plan(folder / "fence cost.toml").stop.at_most == 60
    page.goto(f"{server.url}noise")
    expect(page.get_by_role("link", name="Hafen -3.wav")).to_be_visible()
    looks_fit("noise", "h1")


def test_before_and_after_and_what_is_used_stays(page, recordings, server, folder):
    page.goto(f"{server.url}noise/fence%20on.wav")
    expect(panel(page, "Health")).to_contain_text("Fit for measuring", timeout=WAIT_MS)
    change = panel(page, "Before and after")
    change.get_by_role("button", name="Compare").click()
    expect(change.locator(".answer")).to_contain_text("quieter", timeout=WAIT_MS)
    expect(change).to_contain_text("Gone: periodic impulses")
    used = f'conditions = ["{recordings / "fence on.wav"}"]'
    (folder / "mine.toml").write_text(used)  # no plan yet, but the name stands in it
    page.get_by_role("button", name="Delete …").click()
    page.get_by_role("button", name="Delete it").click()
    expect(page.locator("#say")).to_contain_text("is used by plan 'mine'")
    assert (recordings / "fence on.wav").exists()
    page.goto(f"{server.url}noise")
    opener = page.get_by_role("button", name="Delete fence off.wav")
    opener.click()
    page.get_by_role("button", name="Keep it").click()
    expect(opener).to_be_focused()
    opener.click()
    page.get_by_role("button", name="Delete it").click()
    expect(page.get_by_role("link", name="fence off.wav")).to_have_count(0)
    assert [file.name for file in recordings.iterdir()] == ["fence on.wav"]


def test_what_is_no_sound_is_refused_and_what_is_not_played_is_heard(page, server, folder, sounds):
    samples, rate_hz = soundfile.read(sounds / "fence off.wav")
    aiff = io.BytesIO()
    soundfile.write(aiff, samples / 10, rate_hz, format="AIFF")
    page.goto(f"{server.url}noise")
    page.get_by_label("Drop recordings here").set_input_files(
        [
            {"name": "letter.wav", "mimeType": "audio/wav", "buffer": b"Dear harbour, " * 90},
            {"name": "letter.txt", "mimeType": "text/plain", "buffer": b"Dear harbour"},
            {"name": "fence.aiff", "mimeType": "audio/aiff", "buffer": aiff.getvalue()},
        ]
    )
    coming = page.get_by_role("list", name="Recordings that come in")
    expect(coming).to_contain_text("letter.wav: is no sound file that can be read", timeout=WAIT_MS)
    expect(coming).to_contain_text("letter.txt' is no sound file by its name")
    page.get_by_role("row").get_by_role("link", name="fence.aiff").click()
    assert [file.name for file in (folder / RECORDINGS).iterdir()] == ["fence.aiff"]
    press_play(page, from_s="5", length_s="2")
    page.wait_for_function("() => document.getElementById('player').duration === 2")


def test_a_button_that_is_pressed_before_the_scripts_have_come_waits_for_them(
    page, recordings, server
):
    held = []
    page.route("**/noise-recording.js", lambda route: held.append(route))  # noqa: PLW0108 - builtins bear no attribute
    page.goto(f"{server.url}noise/fence%20on.wav", wait_until="commit")
    press_play(page, from_s="5", length_s="2")
    (script,) = held
    script.continue_()
    page.wait_for_function("() => document.getElementById('player').duration === 2")
    assert page.url == f"{server.url}noise/fence%20on.wav"


def press_play(page, *, from_s, length_s):
    page.get_by_label("From, s").fill(from_s)
    page.get_by_label("So many seconds").first.fill(length_s)
    page.get_by_role("button", name="Play this piece").click()


def test_a_look_outlives_its_server_and_can_be_cancelled(page, recordings, server, folder):
    page.goto(f"{server.url}noise/fence%20on.wav")
    expect(panel(page, "Health")).to_contain_text("Fit for measuring", timeout=WAIT_MS)
    twin = panel(page, "Twin")
    twin.get_by_role("button", name="Fit a twin").click()
    expect(twin).to_contain_text("looking for")
    server.kill()
    expect(twin).to_contain_text("the bench does not answer")
    again = Server(folder, server.port)
    try:
        expect(twin.locator(".answer")).to_contain_text("stand for the noise", timeout=WAIT_MS)
        slots = panel(page, "Slots")
        slots.get_by_role("button", name="Find the slots").click()
        expect(slots).to_contain_text("looking for")
        slots.get_by_role("button", name="Cancel").click()
        expect(page.locator("#say")).to_contain_text("Slots: cancelled.")
        page.reload()
        expect(twin.locator(".answer")).to_be_visible()
        expect(slots.locator(".answer")).to_have_count(0)
        assert len(list((folder / ".looks").iterdir())) == 2  # health and twin
    finally:
        again.kill()
