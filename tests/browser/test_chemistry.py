"""The chemistry and the exchange in a browser: opened part by part, for everybody."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

PATIENCE = 20_000  # ms, patience and not a bar
WIDE = "document.documentElement.scrollWidth - window.innerWidth"


@pytest.fixture
def page(visit, page_server):
    made = visit(page_server, width=1440)
    made.locator(".fm-weights tbody tr").first.wait_for(timeout=60_000)
    return made


def part(page, name):
    """Go to a part; return it."""
    page.get_by_role("button", name=name).click()
    return page.locator(f".fm-{name.split()[1].lower()}")


def drawn(panel, slot):
    """Have a slot come into view, and wait until it is there."""
    found = panel.locator(f"[data-slot='{slot}']")
    for _ in range(100):
        found.scroll_into_view_if_needed()
        if "working …" not in found.inner_text():
            return found
        found.page.wait_for_timeout(100)
    raise AssertionError(f"{slot} is still worked out: {found.inner_text()}")


def slots(panel):
    """Return the names of what is drawn apart and can be opened."""
    found = panel.locator("details [data-slot]")
    return found.evaluate_all("all => all.map(one => one.dataset.slot)")


def test_what_falls_out_is_filled_in_once_it_is_seen(page):
    chemistry = part(page, "5 Chemistry")
    row = chemistry.locator(".fm-solids tr", has_text="brushite").first
    row.scroll_into_view_if_needed()
    expect(row).to_contain_text("mg/L", timeout=PATIENCE)


def test_a_dotted_word_is_opened_by_keyboard_and_stays_open(page):
    chemistry = part(page, "5 Chemistry")
    named = page.get_by_text("EC", exact=True)
    word = chemistry.locator(".fm-term").filter(has=named).first
    meaning = word.get_by_text("electrical conductivity of a solution")
    expect(meaning).not_to_be_visible()
    word.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(meaning).to_be_visible()
    volume = page.get_by_label("Batch, made up to").first
    volume.fill("90 L")
    volume.press("Tab")
    expect(page.locator(".fm-weights caption")).to_contain_text(
        "90 L", timeout=PATIENCE
    )
    expect(meaning).to_be_visible()


def test_the_exchange_is_worked_out_as_it_is_opened_and_the_head_tells(page):
    exchange = part(page, "7 Exchange")
    head = page.get_by_role("button", name="7 Exchange")
    expect(head).to_contain_text("not worked out yet")
    exchange.get_by_text("how sure the weighed batch is").click()
    doubt = drawn(exchange, "doubt")
    expect(doubt.locator("svg")).to_have_count(1, timeout=PATIENCE)
    expect(head).to_contain_text("limits kept in 100 of 100", timeout=PATIENCE)
    expect(exchange.get_by_role("status")).to_contain_text("1 opened part")
    price = page.get_by_label("price of potassium nitrate for a kg or L")
    price.fill("4")
    price.press("Tab")
    expect(exchange.get_by_role("status")).to_contain_text(
        "all worked out", timeout=PATIENCE
    )
    expect(doubt.locator("svg")).to_have_count(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", ["5 Chemistry", "7 Exchange"])
def test_no_serious_finding_of_accessibility_and_nothing_too_wide(
    visit, page_server, name, width, scheme
):
    page = visit(page_server, width=width)
    page.emulate_media(color_scheme=scheme)
    page.locator(".fm-weights tbody tr").first.wait_for(timeout=60_000)
    panel = part(page, name)
    for summary in panel.locator("details[data-key] > summary").all():
        summary.click()
    panel.locator(".fm-term summary").first.click()
    if name == "5 Chemistry":
        panel.get_by_role("button", name=re.compile("^index of brushite")).click()
        expect(panel.locator(".fm-working")).to_be_visible(timeout=PATIENCE)
    for slot in slots(panel):
        drawn(panel, slot)
    assert panel.locator("svg").count() >= 3
    told = Axe().run(page, context=f".fm-{name.split()[1].lower()}")
    found = {
        v["id"]: [node["html"][:160] for node in v["nodes"][:3]]
        for v in told.response["violations"]
        if v["impact"] in ("serious", "critical")
    }
    assert found == {}, json.dumps(found, indent=1)
    assert page.evaluate(WIDE) <= 0
