"""The plan page: form and TOML, both ways, in a real browser."""

import re
import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import expect

from bench_server import Server
from solidcopy.actions.folder import SUFFIX
from solidcopy.actions.new_plan import Question, starting_plan
from solidcopy.actions.run import read_status

pytestmark = pytest.mark.browser

EXAMPLE = Path(__file__).parents[2] / "examples" / "decode_file" / "plan.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One bench folder for all tests here: they write their plans anew."""
    return tmp_path_factory.mktemp("plans") / "bench"


@pytest.fixture(scope="module")
def server(folder):
    started = Server(folder)
    yield started
    started.kill()


@pytest.fixture
def opened(page, server, folder):
    """A function that opens a plan of a text."""

    def opening(text, name="first"):
        (folder / f"{name}.toml").write_text(text)
        page.goto(f"{server.url}plans/{name}")
        expect(page.get_by_role("button", name="Save and check")).to_be_visible()
        return page

    return opening


@pytest.fixture
def carrier(opened):
    return opened(starting_plan(Question.CARRIER))


def holding(text):
    return re.compile(re.escape(text))


def toml(page):
    return page.get_by_label("The plan (TOML)")


def change(page, label, text, within=None):
    field = (within or page).get_by_label(label, exact=True).first
    field.fill(text)
    field.blur()


def test_a_form_change_is_written_saved_costed_and_run(opened, folder, portrait):
    page = opened(starting_plan(Question.CARRIER), "run")
    page.get_by_role("button", name="A quick look").click()
    expect(toml(page)).to_have_value(holding("trials_per_point = 10    # or"))
    change(page, "From", "-22")
    change(page, "To", "-18")
    change(page, "In steps of", "2")
    change(page, "Trials at each value", "6")
    change(page, "Trials with nothing sent", "2")
    page.get_by_role("button", name="Take out the same, keyed as Morse from").click()
    expect(page.locator("#trials")).to_have_text("at most 40 trials")
    expect(page.locator("#saved")).to_have_text("not saved yet")
    text = toml(page).input_value()
    assert "# every random draw follows from it" in text  # remarks stay
    assert tomllib.loads(text)["axis"] == {"start": -22, "stop": -18, "step": 2}
    page.get_by_role("button", name="See the cost first").click()
    expect(page.locator("#cost")).to_contain_text("at most 40 trials", timeout=90_000)
    expect(page.locator("#time")).to_contain_text("at most on")
    assert (folder / "run.toml").read_text() == text
    portrait(page, "plan")
    page.get_by_role("button", name="Run the campaign").click()
    page.wait_for_url("**/campaigns/run", timeout=60_000)
    expect(page.locator("#far")).to_contain_text("40 of 40, finished", timeout=180_000)
    assert read_status(folder / f"run{SUFFIX}").n_done == 40


def test_what_is_wrong_is_said_at_the_field_and_at_the_line(carrier):
    page = carrier
    card = page.get_by_role("group", name="A whistle: one carrier").first
    strength = card.get_by_label("This disturbance over the noise (I/N) (dB)")
    strength.fill("strong")
    strength.blur()
    said = "Input should be a valid number"
    expect(card.locator(".wrong")).to_contain_text(said)
    expect(strength).to_have_attribute("aria-invalid", "true")
    wrong = page.get_by_role("list", name="What is wrong")
    expect(wrong).to_contain_text("conditions[2].impairments[2].interference_to_noise_db")
    expect(wrong).to_contain_text(said)
    expect(page.locator("#trials")).to_have_text("no plan yet")
    wrong.get_by_role("button", name="Line").click()
    assert 'interference_to_noise_db = "strong"' in page.evaluate(
        "document.activeElement.value.slice(document.activeElement.selectionStart,"
        " document.activeElement.selectionEnd)"
    )
    with page.expect_response("**/api/plans/first") as refused:
        page.get_by_role("button", name="Save and check").click()
    assert refused.value.status == 400
    expect(page.get_by_role("status")).to_contain_text("interference_to_noise_db: Input should")
    strength.fill("−10")
    strength.blur()
    expect(wrong).to_be_empty()
    assert "interference_to_noise_db = -10" in toml(page).input_value()


def test_the_toml_fills_the_form(carrier):
    page = carrier
    text = toml(page).input_value()
    toml(page).fill(text.replace("step = 1", "step = 0.5").replace('"FT8 beside', '"Ours beside'))
    expect(page.get_by_label("In steps of")).to_have_value("0.5")  # after a pause
    expect(page.get_by_label("Title")).to_have_value("Ours beside a carrier")
    toml(page).fill(text.replace("[axis]", "[axis"))
    expect(page.get_by_text("The TOML cannot be read as it stands")).to_be_visible()
    expect(page.get_by_role("list", name="What is wrong")).to_contain_text("is not valid TOML")
    expect(page.get_by_role("button", name="Line 6")).to_be_visible()
    expect(page.get_by_label("Title")).to_be_disabled()
    toml(page).fill(text + "\n# a remark\n")
    toml(page).blur()  # on leaving, at once
    expect(page.get_by_label("Title")).to_be_enabled()
    expect(page.get_by_label("Title")).to_have_value("FT8 beside a carrier")
    change(page, "Title", "Again")
    expect(toml(page)).to_have_value(holding("# a remark"))


def test_impairments_from_presets_doubled_moved_and_taken_back(carrier):
    page = carrier
    picker = page.get_by_label("Add to steady carrier inside the signal")
    picker.select_option("Electric fence")
    expect(page.locator(f"[id='{picker.get_attribute('id')}-means']")).to_contain_text("1.3 s")
    condition = page.get_by_role("article", name="Condition 2")
    condition.get_by_role("button", name="Add", exact=True).first.click()
    fence = condition.get_by_role("group", name="Fence, engine, motor or arc")
    expect(fence.get_by_label("How strong")).to_be_focused()
    expect(page.get_by_role("status")).to_contain_text("Added: Electric fence")
    assert 'sources = [{ kind = "electric-fence" }]' in toml(page).input_value()
    fence.get_by_label("One more: Sources").select_option("Petrol engine")
    fence.get_by_role("button", name="Add", exact=True).click()
    expect(fence.get_by_role("group", name="Petrol engine")).to_be_visible()
    page.get_by_role("button", name="Double Fence, engine, motor or arc").click()
    expect(condition.get_by_role("group", name="Fence, engine, motor or arc")).to_have_count(2)
    page.get_by_role("button", name="Double steady carrier inside the signal").click()
    expect(page.get_by_role("article", name="steady carrier inside the signal 2")).to_be_visible()
    page.get_by_role("button", name="Move steady carrier inside the signal 2 up").click()
    moved = page.get_by_role("article", name="Condition 2: steady carrier inside the signal 2")
    expect(moved).to_be_visible()
    for _ in range(5):
        page.get_by_role("button", name="Take back").click()
    expect(page.locator("#saved")).to_have_text("saved")
    expect(page.get_by_role("button", name="Take back")).to_be_disabled()
    assert toml(page).input_value() == starting_plan(Question.CARRIER)


def test_what_is_swept_and_a_map(carrier):
    page = carrier
    page.get_by_label("This is changed step by step").select_option(
        "Audio frequency (Hz): how the signal is sent"
    )
    expect(page.get_by_label("From", exact=True).first).to_have_value("300")
    assert tomllib.loads(toml(page).input_value())["conditions"][0]["sending"] == {
        "audio_hz": "axis"
    }
    page.get_by_label("The map runs over").select_option(
        "Distance from the wanted signal (Hz): A whistle: one carrier"
    )
    expect(page.get_by_text("swept by the map").first).to_be_visible()
    values = tomllib.loads(toml(page).input_value())
    assert values["map"] == {"start": -200, "stop": 250, "step": 25}
    expect(page.get_by_role("list", name="What is wrong")).to_be_empty()
    page.get_by_label("The map runs over").select_option("nothing: there is no map")
    expect(page.get_by_text("swept by the map")).to_have_count(0)


def test_by_keyboard_alone(carrier, folder):
    page = carrier
    title = page.get_by_label("Title")
    page.get_by_role("button", name="Delete").focus()
    page.keyboard.press("Tab")
    expect(title).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.type("By keys")
    page.keyboard.press("Tab")
    expect(toml(page)).to_have_value(holding('title = "By keys"'))
    expect(page.get_by_label("Mode")).to_be_focused()  # the form was drawn anew around it
    picker = page.get_by_label("Add to Gaussian noise")
    picker.focus()
    page.keyboard.type("A whistle b")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    whistle = page.get_by_role("article", name="Condition 1").get_by_role(
        "group", name="A whistle: one carrier"
    )
    expect(whistle.get_by_label("Where")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Control+A")
    page.keyboard.type("150")
    page.keyboard.press("Enter")
    expect(toml(page)).to_have_value(holding("offset_hz = 150"))
    page.get_by_role("button", name="Save and check").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#saved")).to_have_text("saved")
    assert 'title = "By keys"' in (folder / "first.toml").read_text()
    expect(page.get_by_role("status")).to_contain_text("Saved and checked", timeout=90_000)


def test_a_plan_that_changed_on_disk(carrier, folder):
    page = carrier
    file = folder / "first.toml"
    change(page, "Title", "Mine")
    expect(page.locator("#saved")).to_have_text("not saved yet")
    theirs = file.read_text().replace("FT8 beside a carrier", "Theirs")
    file.write_text(theirs)
    page.get_by_role("button", name="Save and check").click()
    panel = page.get_by_role("region", name="Changed on disk")
    expect(panel).to_be_visible()
    assert file.read_text() == theirs
    panel.get_by_role("button", name="Show what is on disk").click()
    expect(page.get_by_label("Title")).to_have_value("Theirs")
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_label("Title")).to_have_value("Mine")
    file.write_text(theirs + "\n")
    page.get_by_role("button", name="Save and check").click()
    panel.get_by_role("button", name="Keep mine under a new name").click()
    page.get_by_label("New name").fill("first")
    page.get_by_role("button", name="Copy", exact=True).last.click()
    expect(page.get_by_role("alert")).to_contain_text("is there already")
    page.get_by_label("New name").fill("mine")
    page.get_by_role("button", name="Copy", exact=True).last.click()
    expect(page.get_by_role("heading", name="Plan mine")).to_be_visible()
    assert 'title = "Mine"' in (folder / "mine.toml").read_text()
    assert file.read_text() == theirs + "\n"


def test_a_plan_is_deleted_only_when_asked_twice(carrier, folder, server):
    page = carrier
    page.get_by_role("button", name="Delete").click()
    dialog = page.get_by_role("dialog", name="Delete the plan first?")
    expect(dialog.get_by_role("button", name="Leave it")).to_be_focused()
    page.keyboard.press("Escape")
    assert (folder / "first.toml").exists()
    page.get_by_role("button", name="Delete").click()
    dialog.get_by_role("button", name="Delete it").click()
    page.wait_for_url(server.url)
    assert not (folder / "first.toml").exists()


def test_an_outside_program_is_shown_and_kept(opened, folder):
    page = opened(EXAMPLE.read_text())
    card = page.get_by_role("article", name="Receiver 2: behind a command line")
    expect(card).to_contain_text("Only the command line can set this one")
    expect(card.get_by_label("Settings of behind a command line")).to_contain_text("decode_file.py")
    assert card.locator("input, select, button").count() == 0
    change(page, "Title", "Kept")
    expect(toml(page)).to_have_value(holding('title = "Kept"'))
    ours, theirs = tomllib.loads(toml(page).input_value()), tomllib.loads(EXAMPLE.read_text())
    assert ours["receivers"] == theirs["receivers"]
    text = toml(page).input_value()
    toml(page).fill(text.replace("time_limit_s = 60", "time_limit_s = 90"))
    expect(page.locator(".wrong")).to_contain_text("can be set from the command line only")


@pytest.mark.parametrize("question", [Question.PROTECTION, Question.IMPULSES])
def test_nothing_stands_in_anybodys_way(opened, accessible, server, question):
    opened(starting_plan(question))
    accessible(f"{server.url}plans/first", ready=".card")
