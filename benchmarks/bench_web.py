"""The bench in the browser beside long journals: `python benchmarks/bench_web.py [n_outcomes]`.

Campaigns with about 1e3 and 1e6 outcomes (or so many) lie in one bench folder: four conditions
heard by two receivers (88 points), and a map of 598 cells. Printed, all of one run:

- time of each call that home and the campaign page make: the first ever; the first of a server that
  has just started beside what was kept; warm; and while another process writes outcomes,
- memory of the server,
- weight, requests and time to usable of both pages in Chromium.

Wall time; other programs lengthen it. Processor time of the server stands beside warm calls.
"""

import subprocess
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import NamedTuple

import numpy as np
import psutil
from playwright.sync_api import Browser, Page, Request, Response, expect, sync_playwright

from bench_server import Server
from laps import machine
from made_journal import (
    HERE,
    curves_plan,
    finished_behind,
    map_plan,
    with_trials,
    write_made_journal,
)
from solidcopy.actions.folder import SUFFIX
from solidcopy.campaigns.journal import JournalReader, JournalWriter
from solidcopy.campaigns.journal.schema import JOURNAL_FILE
from solidcopy.trials.plan import Plan

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]
N_SMALL = 1000
N_WARM = 7
N_OPENED = 5
N_WHILE_WRITING = 15
EVERY_S = 0.4
BATCH = 200
"""Outcomes that the other process writes at a time, and then waits a moment."""
WRITES_EVERY_S = 0.2
WAIT_MS = 120_000
N_MORE, N_ROUNDS = 20, 500
"""Trials a point that it adds in one round, and rounds."""


def plans(n_outcomes: int) -> dict[str, Plan]:
    """A plan of curves and one of a map, of about so many outcomes each."""
    n_silent = n_outcomes // 250
    n_per_point = (n_outcomes - 8 * n_silent) // 88
    return {
        "curves": curves_plan(n_per_point, n_silent=n_silent),
        "map": map_plan(max(1, round(n_outcomes / 598))),
    }


def calls(name: str, kind: str) -> dict[str, str]:
    """What the pages ask of the server, by what it is."""
    campaign = f"api/campaigns/{urllib.parse.quote(name)}"
    condition, value = ("carrier 1", -20) if kind == "curves" else ("carrier, offset 25 Hz", -20)
    point = urllib.parse.urlencode({"condition": condition, "axis_value": value})
    return {
        "card of home": f"api/cards/{name}",
        "state": campaign,
        "results": f"{campaign}/results",
        "answer": f"{campaign}/answer",
        "trials of a point": f"{campaign}/trials?{point}",
        "those one alone got": f"{campaign}/trials?{point}&show=one-alone",
        "campaign page": f"campaigns/{name}",
    }


def asked_s(server: Server, path: str) -> float:
    """Seconds until the whole answer is here."""
    started_s = time.perf_counter()
    with urllib.request.urlopen(server.url + path, timeout=600) as answer:
        answer.read()
    return time.perf_counter() - started_s


def processor_s(server: Server) -> float:
    times = psutil.Process(server.process.pid).cpu_times()
    return float(times.user + times.system)


def memory_mb(server: Server) -> float:
    return float(psutil.Process(server.process.pid).memory_info().rss) / 1e6


@contextmanager
def served(folder: Path) -> Iterator[Server]:
    server = Server(folder)
    try:
        yield server
    finally:
        server.kill()


def span(values_s: list[float]) -> str:
    """Median, least and most in milliseconds."""
    ms = 1e3 * np.array(values_s)
    return f"{np.median(ms):7.0f} ({ms.min():.0f} – {ms.max():.0f})"


def print_first(folder: Path, names: dict[str, str], title: str) -> None:
    """The first call of each kind of a new server, campaign by campaign."""
    print(f"\n{title}: ms on the wall (of the server's processor)")
    for name, kind in names.items():
        with served(folder) as server:
            told = [f"home {first_words(server, '')}"]
            idle_mb = memory_mb(server)
            told += [
                f"{what} {first_words(server, path)}" for what, path in calls(name, kind).items()
            ]
            print(f"  {name}: {', '.join(told)}")
            print(f"    memory {idle_mb:.0f} MB, then {memory_mb(server):.0f} MB", flush=True)


def first_words(server: Server, path: str) -> str:
    """One call's time on the wall and the server's processor time meanwhile."""
    began_s = processor_s(server)
    took_s = asked_s(server, path)
    return f"{1e3 * took_s:.0f} ({1e3 * (processor_s(server) - began_s):.0f})"


def print_warm(server: Server, small: str, large: str, kind: str) -> None:
    """Repeated calls of two campaigns beside each other."""
    print(f"\nwarm, {kind}: ms, median (least – most) of {N_WARM}; processor ms; ratio of medians")
    both = zip(calls(small, kind).items(), calls(large, kind).values(), strict=True)
    for (what, path_small), path_large in [(("home", ""), ""), *both]:
        columns, medians = [], []
        for path in (path_small, path_large):
            began_s = processor_s(server)
            took = [asked_s(server, path) for _ in range(N_WARM)]
            used_ms = 1e3 * (processor_s(server) - began_s) / N_WARM
            columns.append(f"{span(took):>24s} {used_ms:6.0f}")
            medians.append(np.median(took))
        print(
            f"  {what:20s} {columns[0]}   {columns[1]}   × {medians[1] / medians[0]:.1f}",
            flush=True,
        )


def print_while_written(folder: Path, server: Server, name: str, kind: str) -> None:
    """The same calls while another process writes into that campaign."""
    words = [sys.executable, __file__, "--write", str(folder / f"{name}{SUFFIX}")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        writer.stdout.readline()
        took: dict[str, list[float]] = {}
        began_s, used_s = time.perf_counter(), processor_s(server)
        for _ in range(N_WHILE_WRITING):
            for what, path in calls(name, kind).items():
                took.setdefault(what, []).append(asked_s(server, path))
            time.sleep(EVERY_S)
        busy = (processor_s(server) - used_s) / (time.perf_counter() - began_s)
        writer.kill()
    print(f"\nwhile up to {BATCH / WRITES_EVERY_S:.0f} outcomes a second go into {name}: ms")
    for what, seconds in took.items():
        print(f"  {what:20s} {span(seconds):>24s}")
    print(
        f"  the server takes {100 * busy:.0f} % of one processor, {memory_mb(server):.0f} MB",
        flush=True,
    )


def write_on(folder: Path) -> None:
    """Go on with a made campaign, index by index as runs do, until killed: the other process."""
    with JournalReader(folder) as reader:
        plan = reader.plan
    n_done = plan.stop.limit_per_point
    with JournalWriter(folder, with_trials(plan, n_done + N_ROUNDS * N_MORE), HERE) as writer:
        print("writing", flush=True)
        for first in range(n_done, n_done + N_ROUNDS * N_MORE, N_MORE):
            more = finished_behind(plan, first, N_MORE)
            while batch := list(islice(more, BATCH)):
                writer.append(batch)
                time.sleep(WRITES_EVERY_S)


class Opened(NamedTuple):
    """One visit of a page."""

    took_s: float
    weight: int
    n_requests: int
    n_elsewhere: int


def print_opened(browser: Browser, url: str, path: str, ready: Callable[[Page], None]) -> None:
    """Weight, requests and time to usable of one page, each time by a new visitor."""
    visits = [opened(browser, url, path, ready) for _ in range(N_OPENED)]
    print(
        f"  {path or 'home':28s} {max(v.weight for v in visits) / 1e3:6.0f} kB in "
        f"{max(v.n_requests for v in visits)} requests, {sum(v.n_elsewhere for v in visits)} off "
        f"this machine; usable after {span([v.took_s for v in visits])} ms",
        flush=True,
    )


def opened(browser: Browser, url: str, path: str, ready: Callable[[Page], None]) -> Opened:
    """Visit a page with nothing cached."""
    answers: list[Response] = []
    urls: list[str] = []

    def hear(answer: Response) -> None:
        answers.append(answer)

    def note(request: Request) -> None:
        urls.append(request.url)

    with browser.new_context() as context:
        page = context.new_page()
        page.on("response", hear)
        page.on("request", note)
        started_s = time.perf_counter()
        page.goto(url + path)
        ready(page)
        took_s = time.perf_counter() - started_s
        own = (url, "data:", "blob:")
        n_elsewhere = sum(not one.startswith(own) for one in urls)
        return Opened(took_s, sum(map(_weight, answers)), len(urls), n_elsewhere)


def _weight(answer: Response) -> int:
    """Bytes of an answer and its head."""
    sizes = answer.request.sizes()
    return sizes["responseBodySize"] + sizes["responseHeadersSize"]


def cards_are_told(page: Page) -> None:
    """Home is usable: every campaign has its answer."""
    page.locator("#campaigns li.told").first.wait_for(timeout=WAIT_MS)
    page.locator("#campaigns li:not(.told)").first.wait_for(state="detached", timeout=WAIT_MS)


def curves_are_drawn(page: Page) -> None:
    """A campaign is usable: its answer is there and its curves or maps are drawn."""
    expect(page.locator("#answer")).not_to_be_empty(timeout=WAIT_MS)
    page.locator("#results svg").first.wait_for(timeout=WAIT_MS)


def make(folder: Path, n_outcomes: int) -> dict[str, str]:
    """The bench folder's campaigns and their kinds."""
    names = {}
    for size, n in (("small", N_SMALL), ("large", n_outcomes)):
        for kind, plan in plans(n).items():
            name = f"{size}-{kind}"
            began_s = time.perf_counter()
            campaign = write_made_journal(folder / f"{name}{SUFFIX}", plan)
            with JournalReader(campaign) as reader:
                n_there = sum(run.n_outcomes for run in reader.runs())
            size_mb = (campaign / JOURNAL_FILE).stat().st_size / 1e6
            took_s = time.perf_counter() - began_s
            print(
                f"  {name}: {n_there} outcomes, {size_mb:.0f} MB, made in {took_s:.0f} s",
                flush=True,
            )
            names[name] = kind
    return names


def main() -> None:
    if sys.argv[1:2] == ["--write"]:
        write_on(Path(sys.argv[2]))
        return
    n_outcomes = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print(machine())
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name)
        names = make(folder, n_outcomes)
        print_first(folder, names, "first ever, nothing kept; a new server for each campaign")
        print_first(folder, names, "first of a new server, beside what was kept")
        with served(folder) as server:
            for kind in ("curves", "map"):
                print_warm(server, f"small-{kind}", f"large-{kind}", kind)
            print(f"  memory {memory_mb(server):.0f} MB")
            print(f"\nin Chromium, a new visitor each time, of {N_OPENED}")
            browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            print_opened(browser, server.url, "", cards_are_told)
            for campaign in names:
                print_opened(browser, server.url, f"campaigns/{campaign}", curves_are_drawn)
            browser.close()
            for campaign in ("large-curves", "large-map"):
                print_while_written(folder, server, campaign, names[campaign])
        print(machine())


if __name__ == "__main__":
    main()
