"""Everything open at once: no barrier that axe finds, wide or narrow, light or dark; nothing cut off."""

import json
import re

import pytest

from formulate.workbench.findings import PARTS

from .barriers import barriers, cut_off, out_of_reach, pictures, sideways
from .hands import (
    checked,
    everything_drawn,
    expect,
    go,
    made_up_to,
    mixed_otherwise,
    opened,
    part,
    pressed,
    typed,
    unfold,
)

WIDTHS, HEIGHT = (1440, 390), 900  # px: a desk, a phone
RIGHT = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
TOO_RICH = RIGHT.replace("46 %", "55 %")  # the pure salt holds 46.6 % K2O (formula)
TABLE = "salt;N %;P2O5 %;K2O %\nKNO3;13.9;;46.6\nKH2PO4;;34.6;52.2\n"
NO_PAPER = "a shopping list: milk"
WORKED = tuple(name for name in PARTS if name not in ("sheet", "beside"))
# slots whose numbers stand in the part beside them
BESIDE = {
    "figure": "table:has(caption:has-text('may move'))",
    "picture of carriers": "table:has(caption:has-text('ion pair'))",
    "picture of solids": "table.fm-solids",
}


def say_papers(page):
    """Check papers of every sort and hold two products against each other."""
    claims = go(page, "claims")
    claims.get_by_role("button", name="check an invented example: a feed chart").click()
    expect(claims.locator(".fm-paper > summary .verdict")).to_have_count(1)
    for text in (TOO_RICH, TABLE, NO_PAPER):
        checked(claims, text)
    unfold(claims)
    for name in ("potassium nitrate", "monopotassium phosphate"):
        button = claims.locator(f"button[value='{name}']")
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true")


def unfolded(page):
    """Open all that is folded within the parts; return the page."""
    unfold(page.locator(".fm"))
    return page


def open_everything(page):
    """Open all ten parts with all that is in them, a working in each that has one."""
    page.get_by_label("typed here").check()
    typed(page, "calcium (Ca) of the water, with unit", "40 mg/L")
    page.get_by_role("button", name="more about Epsom salt").click()
    say_papers(page)
    mixed_otherwise(page)
    go(page, "beside").get_by_role("button", name="Keep this job").click()
    expect(part(page, "beside").get_by_text("The first is this job")).to_be_visible()
    typed(page, "Batch, made up to", "90 L")
    made_up_to(page, "90 L")
    fallen = go(page, "chemistry").locator(".fm-solids tr", has_text="brushite").first
    fallen.scroll_into_view_if_needed()
    expect(fallen).to_contain_text("mg/L")
    for name in PARTS:
        explain = part(page, name).locator("button[name=explain]")
        explain.click()
        expect(explain).to_have_attribute("aria-expanded", "true")
    all_drawn(page)
    for name in WORKED:
        pressed(part(page, name), part(page, name).locator("button.fm-number").last)
    all_drawn(page)


def all_drawn(page):
    """Open and draw, until nothing that was drawn holds anything folded."""
    everything_drawn(unfolded(page))
    while page.locator(".fm details:not([open])").count():
        everything_drawn(unfolded(page))


@pytest.fixture(scope="module")
def everything(stay, page_server):
    """Return the page with everything open."""
    page = opened(stay(page_server, width=max(WIDTHS)))
    open_everything(page)
    return page


@pytest.fixture(scope="module", params=WIDTHS)
def whole(request, everything):
    """Return the page with everything open, wide or narrow."""
    everything.set_viewport_size({"width": request.param, "height": HEIGHT})
    all_drawn(everything)
    return everything


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_barrier_with_everything_open(whole, scheme):
    whole.emulate_media(color_scheme=scheme)
    found = barriers(whole)
    assert found == {}, json.dumps(found, indent=1)


def test_all_of_it_was_open_and_drawn(whole):
    for name in PARTS:
        expect(part(whole, name).locator("details:not([open])")).to_have_count(0)
        workings = part(whole, name).locator(".fm-working ol")
        expect(workings).to_have_count(int(name in WORKED))
    expect(whole.locator(".fm-explained")).to_have_count(len(PARTS))
    expect(whole.get_by_text("working …")).to_have_count(0)
    verdicts = whole.locator(".fm-paper > summary .verdict").all_inner_texts()
    assert sorted(verdicts) == ["cannot be read", "impossible", "wrong", "wrong"]
    preview = whole.frame_locator("iframe[data-slot=preview]")
    expect(preview.get_by_role("heading").first).to_be_attached()


def test_nothing_is_too_wide_and_wide_tables_are_reached_by_keyboard(whole):
    assert sideways(whole) <= 0
    assert cut_off(whole) == []
    assert out_of_reach(whole) == []
    wide = whole.locator(".fm-scroll[tabindex='0']")
    if whole.viewport_size["width"] == min(WIDTHS):
        wide.first.focus()
        whole.keyboard.press("ArrowRight")
        whole.wait_for_function("() => document.activeElement.scrollLeft > 0")


def test_each_picture_has_words_and_its_numbers_in_a_table(whole):
    told = pictures(whole)
    drawn_in = {re.search(r"fm-(\w+)$", one["part"])[1] for one in told}
    assert drawn_in >= {"recipe", "chemistry", "mixing", "exchange", "claims", "beside"}
    for one in told:
        title, *words = one["words"]
        assert (one["role"], bool(title.strip())) == ("img", True), one
        assert len(" ".join(words).split()) >= 5, one
        if one["slot"] in BESIDE:
            beside = whole.locator(f".{one['part'].split()[-1]} {BESIDE[one['slot']]}")
            assert beside.locator("tbody tr").count() >= 2, one
        else:
            assert one["rows"] >= 2, one
