"""The mixing in a browser: moved by keyboard, opened part by part, for everybody."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

PATIENCE = 20_000  # ms, patience and not a bar
FOCUSED = "document.activeElement.getAttribute('aria-label')"
PARTS = ("why", "steps", "stocks", "wrong")
WIDE = "document.documentElement.scrollWidth - window.innerWidth"


def opened(page):
    """Wait until the mixing is in view and worked out; return its part of the page."""
    expect(page.locator(".fm-weights tbody tr").first).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="6 Mixing").click()
    mixing = page.locator(".fm-mixing")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible(
        timeout=PATIENCE
    )
    return mixing


def drawn(mixing, part):
    """Open a part, have it come into view, and wait until it is there."""
    details = mixing.locator(f"details[data-key={part}]")
    if details.get_attribute("open") is None:
        details.locator("summary").click()
    slot = mixing.locator(f"[data-slot={part}]")
    for _ in range(100):
        slot.scroll_into_view_if_needed()
        if "working …" not in slot.inner_text():
            return slot
        slot.page.wait_for_timeout(100)
    raise AssertionError(f"{part} is still worked out: {slot.inner_text()}")


@pytest.fixture
def page(visit, page_server):
    made = visit(page_server, width=1440)
    made.locator(".fm-weights tbody tr").first.wait_for(timeout=60_000)
    return made


def test_an_ingredient_is_moved_by_keyboard_and_keeps_the_focus(page):
    mixing = opened(page)
    mixing.get_by_text("What if another order").click()
    name = mixing.locator(".fm-order li").first.locator("button").last
    label = name.get_attribute("aria-label")
    count = mixing.locator(".fm-order li").count()
    name.focus()
    for place in range(2, count + 2):  # once more than there are places
        page.keyboard.press("Enter")
        moved = mixing.locator(".fm-order li").nth(min(place, count) - 1)
        expect(moved.locator("button").last).to_have_attribute("aria-label", label)
        assert page.evaluate(FOCUSED) == label
    expect(mixing.locator(".fm-sum")).to_contain_text(
        "Against the best: its", timeout=PATIENCE
    )
    page.keyboard.press("Shift+Tab")
    back = label.replace(" later", " earlier")
    assert page.evaluate(FOCUSED) == back
    page.keyboard.press("Enter")
    moved = mixing.locator(".fm-order li").nth(count - 2)
    expect(moved.locator("button").first).to_have_attribute("aria-label", back)
    assert page.evaluate(FOCUSED) == back
    mixing.get_by_role("button", name="Take the best order").press("Enter")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible(
        timeout=PATIENCE
    )
    assert page.evaluate("document.activeElement.name") == "best"


def test_the_plan_follows_and_what_was_closed_stays_closed(page):
    mixing = opened(page)
    plan = drawn(mixing, "plan")
    expect(plan).to_contain_text("fill in 150 L of the water")
    expect(plan).to_contain_text("Never mix concentrates with one another")
    volume = page.get_by_label("Batch, made up to").first
    volume.fill("100 L")
    volume.press("Tab")
    expect(plan).to_contain_text("fill in 75 L of the water", timeout=PATIENCE)
    mixing.get_by_text("The plan, step by step").click()
    volume.fill("120 L")
    volume.press("Tab")
    expect(page.locator(".fm-weights caption")).to_contain_text(
        "120 L", timeout=PATIENCE
    )
    expect(plan).not_to_be_visible()
    mixing.get_by_text("The plan, step by step").click()
    expect(plan).to_contain_text("fill in 90 L of the water", timeout=PATIENCE)


def test_what_is_refused_stays_in_its_field(page):
    mixing = opened(page)
    mixing.get_by_text("Stocks (concentrates)").click()
    coldest = mixing.get_by_label("Coldest they are kept")
    coldest.fill("warm")
    coldest.press("Tab")
    fault = mixing.get_by_role("alert").filter(has_text="not taken: 'warm'")
    expect(fault).to_be_visible(timeout=PATIENCE)
    expect(coldest).to_have_value("warm")
    expect(coldest).to_have_attribute("aria-invalid", "true")
    coldest.fill("")
    coldest.press("Tab")
    expect(fault).to_have_count(0, timeout=PATIENCE)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_no_serious_finding_of_accessibility_and_nothing_too_wide(
    visit, page_server, width, scheme
):
    page = visit(page_server, width=width)
    page.emulate_media(color_scheme=scheme)
    mixing = opened(page)
    mixing.get_by_text("What if another order").click()
    mixing.locator(".fm-order li").first.get_by_role("button").last.click()
    expect(mixing.locator(".fm-sum")).to_contain_text("Against", timeout=PATIENCE)
    mixing.locator("details[data-key=wrong] summary").click()
    mixing.get_by_label("EC measured").fill("1.2")
    mixing.get_by_label("EC measured").press("Tab")
    expect(mixing.locator("[data-slot=wrong]")).to_be_attached(timeout=PATIENCE)
    mixing.locator("details[data-key=stocks] summary").click()
    mixing.get_by_label("Water of the stocks").select_option("pure")
    for part in ("plan", *PARTS):
        drawn(mixing, part)
    told = Axe().run(page, context=".fm-mixing").response["violations"]
    found = {
        v["id"]: [node["html"][:160] for node in v["nodes"][:3]]
        for v in told
        if v["impact"] in ("serious", "critical")
    }
    assert found == {}, json.dumps(found, indent=1)
    assert page.evaluate(WIDE) <= 0
    assert re.search(r"Never mix concentrates", mixing.inner_text())
