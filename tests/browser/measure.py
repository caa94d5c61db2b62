"""Measure the workbench as a browser sees it; writes tests/browser/measured.json.

    python tests/browser/measure.py

From the command to a usable page, from a key press to the changed number, to the new
figure, and the memory of a kernel after a session. Medians on the machine that ran it.
"""

import json
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import expect, sync_playwright

ROOT = Path(__file__).parent.parent.parent
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S+")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run"]
COLD, PRESSES = 5, 15
MB = 1024.0  # kB
WATCH = """([field, shown]) => {
    window.took = null
    const start = () => {
        const began = performance.now()
        const watcher = new MutationObserver(() => requestAnimationFrame(() => {
            if (window.took === null) window.took = performance.now() - began
            watcher.disconnect()
        }))
        watcher.observe(document.querySelector(shown), { childList: true, subtree: true, characterData: true })
    }
    document.querySelector(field).addEventListener('keydown', e => { if (e.key === 'Enter') start() }, { capture: true, once: true })
}"""


def served(work):
    """Start the page; return the process, its address and when it was started."""
    environment = {**os.environ, "FORMULATE_WORK": work}
    began = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "formulate.cli", "page", "--no-browser"],
        cwd=ROOT / "notebooks",
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=environment,
    )
    for line in process.stdout:
        told = ADDRESS.search(line)
        if told:
            return process, told.group(), began
    raise SystemExit("the page did not start")


def usable(browser, address):
    """Open the page and wait until a changed number has been answered."""
    page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.goto(address, wait_until="commit")
    batch = page.locator(".fm-head input[name='entry volume']")
    batch.wait_for(timeout=60_000)
    batch.fill("50 L")
    batch.press("Enter")
    expect(page.locator(".fm-weights caption")).to_contain_text("50 L", timeout=60_000)
    return page


def cold_start():
    """Return the seconds from the command to a usable page, browser start included."""
    with tempfile.TemporaryDirectory() as work, sync_playwright() as playwright:
        process, address, began = served(work)
        try:
            browser = playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=FLAGS
            )
            usable(browser, address)
            return time.perf_counter() - began
        finally:
            process.terminate()
            process.wait(30)


def seen(page, field, shown, values):
    """Return the median milliseconds from Enter in a field to the changed text."""
    times = []
    for value in values:
        where = page.locator(field)
        if value is not None:
            where.fill(str(value))
        page.evaluate(WATCH, [field, shown])
        where.press("Enter")
        page.wait_for_function("window.took !== null", timeout=20_000)
        times.append(page.evaluate("window.took"))
        page.wait_for_timeout(400)  # whatever was planned after it is done
    return statistics.median(times)


def kernel_mb(address_pid):
    """Return the memory of the largest process below one. [MB]"""
    below = subprocess.run(
        ["ps", "-o", "rss=", "--ppid", str(address_pid)],
        capture_output=True,
        text=True,
        check=True,
    )
    return max(map(int, below.stdout.split())) / MB


def session(playwright, address, server):
    """Yield what was measured in one session: name, median and bar."""
    browser = playwright.chromium.launch(
        executable_path=shutil.which("chromium"), args=FLAGS
    )
    page = usable(browser, address)
    page.get_by_label("typed here").check()
    calcium = ".fm-water input[name='value Ca']"
    page.locator(calcium).wait_for()
    price, cost = ".fm-shelf input[name='line 2 price_per_kg']", ".fm-recipe .fm-sum"
    volume = ".fm-head input[name='entry volume']"
    for what, field, shown, values in (
        ("a value of the water", calcium, ".fm-weights", range(40, 55)),
        ("a price", price, cost, range(50, 800, 50)),
        ("the volume", volume, ".fm-weights", range(60, 75)),
    ):
        took = seen(page, field, shown, values)
        yield f"{what} changed, to the number seen, ms", took, "450"
    page.locator("[data-slot=figure]").scroll_into_view_if_needed()
    page.locator("[data-slot=figure] svg").wait_for()
    took = seen(page, calcium, "[data-slot=figure]", range(40, 55))
    yield "a value of the water, to the new figure seen, ms", took, "450"
    yield from mixed(page)
    page.get_by_text("See it as it will be printed").click()
    page.wait_for_timeout(2000)
    seen(page, calcium, ".fm-weights", range(60, 75))
    yield "memory of a visitor's kernel, MB", kernel_mb(server), "250"
    browser.close()


def mixed(page):
    """Yield how long an ingredient takes to another place."""
    page.locator(".fm-parts [data-go=mixing]").click()
    page.get_by_text("What if another order").click()
    expect(page.get_by_text("The best order, proven.")).to_be_visible(timeout=20_000)
    moves = ".fm-order li:first-child button:last-child"
    took = seen(page, moves, ".fm-order", [None] * PRESSES)
    yield "an ingredient moved, to the new order seen, ms", took, "450"


def main():
    """Measure and write."""
    started = statistics.median(cold_start() for _ in range(COLD))
    rows = [("formulate page to usable, browser included, s", started, "10")]
    with tempfile.TemporaryDirectory() as work, sync_playwright() as playwright:
        process, address, _ = served(work)
        try:
            rows += list(session(playwright, address, process.pid))
        finally:
            process.terminate()
            process.wait(30)
    told = [{"what": w, "median": round(v, 3), "bar": b} for w, v, b in rows]
    path = Path(__file__).parent / "measured.json"
    path.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(path.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
