"""Reports and packages of the bench: written, saved, and what is saved is what it says it is."""

import json
import zipfile

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from solidcopy.actions.package.again import make_some_again
from solidcopy.actions.package.unpack import unpack

pytestmark = pytest.mark.browser

PATIENT_MS = 90_000


def saved(page, tmp_path, label):
    with page.expect_download() as begun:
        page.get_by_role("link", name=label).click()
    file = tmp_path / begun.value.suggested_filename
    begun.value.save_as(file)
    return file


@pytest.mark.usefixtures("harbour")
def test_a_report_is_written_saved_and_packed(page, server, accessible, portrait, tmp_path):
    page.goto(f"{server.url}reports")
    answer = page.locator("#campaigns .answer")
    expect(answer).to_contain_text("dB", timeout=PATIENT_MS)
    sentence = answer.inner_text()
    page.get_by_role("button", name="Write all files of harbour").click()
    expect(page.get_by_role("link", name="Report (PDF)")).to_be_visible(timeout=PATIENT_MS)
    page.get_by_role("button", name="Make the package of harbour").click()
    expect(page.get_by_text("Packing")).to_be_visible()
    expect(page.get_by_role("link", name="Package (zip)")).to_be_visible(timeout=PATIENT_MS)
    expect(page.get_by_role("button", name="Make the package of harbour")).to_be_enabled(
        timeout=PATIENT_MS
    )
    expect(page.locator("#campaigns .doing")).to_have_text("")

    html = saved(page, tmp_path, "Report (HTML)")
    assert html.name == "harbour-report.html"
    assert sentence in html.read_text(encoding="utf-8").replace("\u00a0", " ")
    pdf = PdfReader(saved(page, tmp_path, "Report (PDF)"))
    text = " ".join(pdf.pages[0].extract_text().replace("\u00a0", " ").split())
    assert sentence in text
    with zipfile.ZipFile(saved(page, tmp_path, "Tables")) as tables:
        assert {"curves.csv", "trials.csv"} <= set(tables.namelist())
        assert tables.read("trials.csv").count(b"\n") == 1 + 2 * (5 * 16 + 4)
    facts = json.loads(saved(page, tmp_path, "All numbers").read_text(encoding="utf-8"))
    unpacked = unpack(saved(page, tmp_path, "Package"), tmp_path / "elsewhere")
    assert unpacked.environment["fingerprint"] == facts["fingerprint"]
    assert make_some_again(unpacked, 3).is_equal

    expect(answer).to_have_text(sentence)
    portrait(page, "reports")
    accessible(f"{server.url}reports", ready=".files li")
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="Open the report").click()
    expect(opened.value.locator(".answer")).to_contain_text("dB", timeout=PATIENT_MS)


def test_a_bench_without_campaigns_says_where_to_begin(page, server, accessible):
    page.get_by_role("link", name="Reports").click()
    expect(page.get_by_text("There is no campaign yet")).to_be_visible()
    accessible(f"{server.url}reports")
