"""Receivers in the browser: tries on known slots, and a command for a person to type."""

import sys

import pytest
from playwright.sync_api import expect

from solidcopy.actions.receiver_settings import pinned, plan_snippet
from solidcopy.receivers.program.settings import ProgramSettings

pytestmark = pytest.mark.browser

PATIENT_MS = 120_000


@pytest.fixture
def listener(folder):
    """A program that was tried at the command line: it prints one line for any sound."""
    file = folder / "listener.py"
    file.write_text("print('copied NOTHING AT ALL')\n", encoding="utf-8")
    settings = ProgramSettings(
        name="night listener",
        command=("{python}", "-S", "-E", "{plan_folder}/listener.py", "{audio_file}"),
        answer={"kind": "lines", "layout": "copied {text}"},
    )
    (folder / "receivers").mkdir()
    text = plan_snippet(pinned(settings, folder))
    (folder / "receivers" / "listener.toml").write_text(text, encoding="utf-8")
    return file


def test_the_built_in_receiver_is_tried(harbour, page, server, accessible, portrait):
    page.goto(f"{server.url}receivers")
    own = page.locator("#own")
    own.get_by_label("Effort").select_option("belief-propagation")
    own.get_by_role("button", name="Try it").click()
    tried = page.locator("#own-try .tried > li")
    expect(tried).to_have_count(3, timeout=PATIENT_MS)
    expect(tried.nth(0)).to_contain_text("loud: read")
    expect(tried.nth(0)).to_contain_text("what was sent")
    expect(tried.nth(2)).to_contain_text("silent, as it should be")
    expect(page.get_by_text("of the plan “harbour”")).to_be_visible()
    portrait(page, "receivers")
    accessible(page.url, ready="#known h3")


def test_only_what_was_tried_at_the_command_line_is_started(page, server, listener):
    page.goto(f"{server.url}receivers")
    page.get_by_role("button", name="Try night listener of listener").click()
    tried = page.locator("#known .tried > li")
    expect(tried).to_have_count(3, timeout=PATIENT_MS)
    expect(tried.nth(0)).to_contain_text("loud: not read")
    expect(tried.nth(2)).to_contain_text("reported something")
    listener.write_text("print('another')\n", encoding="utf-8")
    page.get_by_role("button", name="Try night listener of listener").click()
    expect(page.get_by_text("another one than was tried")).to_be_visible(timeout=PATIENT_MS)
    page.reload()
    expect(page.get_by_text("Not tried from here")).to_be_visible(timeout=PATIENT_MS)
    expect(page.get_by_role("button", name="Try night listener of listener")).to_have_count(0)


@pytest.mark.skipif(sys.platform == "win32", reason="quoted for sh")
def test_the_command_for_a_program_is_composed_not_run(page, server, folder, accessible):
    page.goto(f"{server.url}receivers")
    form = page.locator("#program")
    form.get_by_label("Name of the receiver").fill("harbour's own")
    form.get_by_label("Command for one slot").fill("touch 'owned {audio_file}'")
    expect(form.get_by_label("Layout of a line")).to_be_hidden()
    form.get_by_label("Its decodes are").select_option("line")
    form.get_by_label("Layout of a line").fill("{snr_db} {text}")
    form.get_by_role("button", name="Show the command").click()
    expect(page.locator("#say")).to_contain_text("--snr-reference-hz", timeout=PATIENT_MS)
    expect(page.locator("#composed")).to_be_hidden()
    form.get_by_label("Bandwidth of its SNR, Hz").fill("2500")
    form.get_by_role("button", name="Show the command").click()
    command = page.locator("#typed")
    expect(command).to_contain_text("solidcopy receiver try", timeout=PATIENT_MS)
    for words in (
        f"cd {folder.resolve()} && mkdir -p receivers && ",
        "--name='harbour'\"'\"'s own'",
        "--command='touch '\"'\"'owned {audio_file}'\"'\"''",
        "--line='{snr_db} {text}'",
        "--snr-reference-hz=2500.0",
    ):
        expect(command).to_contain_text(words)
    assert not list(folder.rglob("owned*"))
