"""The bench for everybody: no barrier that axe finds, wide or narrow, light or dark; nothing cut off."""

import json
import re

import pytest
from playwright.sync_api import expect

from formulate.workbench.findings import PARTS

from .barriers import barriers, cut_off, out_of_reach, pictures, sideways
from .hands import (
    drawn,
    everything_drawn,
    go,
    made_up_to,
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


def check(claims, text):
    """Paste a paper and wait for its verdict."""
    before = claims.locator(".fm-paper").count()
    claims.get_by_label(re.compile("^Paste a label")).fill(text)
    claims.get_by_role("button", name="Check it").click()
    papers = claims.locator(".fm-paper")
    expect(papers).to_have_count(before + 1)
    expect(papers.first.locator("summary .verdict").first).to_be_visible()


def say_papers(page):
    """Check papers of every sort and hold two products against each other."""
    claims = go(page, "claims")
    claims.get_by_role("button", name="check an invented example: a feed chart").click()
    expect(claims.locator(".fm-paper > summary .verdict")).to_have_count(1)
    for text in (TOO_RICH, TABLE, NO_PAPER):
        check(claims, text)
    unfold(claims)
    for name in ("potassium nitrate", "monopotassium phosphate"):
        button = claims.locator(f"button[value='{name}']")
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true")


def mix_otherwise(page):
    """Mix in an own order, in pure water, and tell what a meter showed."""
    mixing = go(page, "mixing")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible()
    unfold(mixing)
    mixing.locator(".fm-order li").first.get_by_role("button").last.click()
    expect(mixing.locator(".fm-sum")).to_contain_text("Against")
    typed(page, "EC measured", "1.2")
    expect(mixing.locator("[data-slot=wrong]")).to_be_attached()
    mixing.get_by_label("Water of the stocks").select_option("pure")


def unfolded(page):
    """Open all that is folded within the parts; return the page."""
    unfold(page.locator(".fm"))
    return page


def open_everything(page):
    """Open all ten parts with all that is in them, a working in each that has one."""
    page.get_by_label("typed here").check()
    typed(page, "calcium (Ca) of the water, with unit", "40 mg/L")
    page.get_by_role("button", name="more about Epsom salt").click()
    mix_otherwise(page)
    say_papers(page)
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


# --- everything open -------------------------------------------------------------------


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


# --- what differs from it ----------------------------------------------------------------


def told_at_first(page):
    """Yield what the page shows before a job is changed, and where."""
    expect(page.get_by_text("What brings you here?")).to_be_visible()
    yield "as opened, with its doors", None
    page.get_by_role("button", name="Show me round").click()
    expect(page.get_by_text("1 of 8.")).to_be_visible()
    yield "the tour", [".fm-head"]
    page.get_by_role("button", name="Leave the tour").click()
    page.get_by_role("button", name="I check a claim").click()
    expect(page.get_by_role("button", name="open 1 Water")).to_be_visible()
    yield "most parts folded", None
    page.get_by_label("Open the parts for").select_option("all")
    expect(page.get_by_role("button", name="fold 1 Water")).to_be_visible()


def told_of_water_and_limits(page):
    """Yield what the page shows while water, shelf and limits are typed, and where."""
    page.get_by_label("typed here").check()
    expect(page.get_by_label("calcium (Ca) of the water, with unit")).to_be_visible()
    page.get_by_role("button", name=re.compile("^Ca reached")).click()
    page.get_by_role("button", name="more about Epsom salt").click()
    expect(page.locator(".fm-working")).to_have_count(2)
    yield (
        "typed water, a working, a line opened",
        [".fm-water", ".fm-recipe", ".fm-shelf"],
    )
    typed(page, "price of potassium nitrate for a kg or L", "abc")
    refused = part(page, "shelf").get_by_text("not taken: 'abc'")
    expect(refused).to_be_visible()
    yield "a price that is none", [".fm-shelf"]
    page.get_by_label("a report, pasted or from a file").check()
    expect(page.get_by_label(re.compile("^Report, as the lab"))).to_be_visible()
    yield "a report to be pasted", [".fm-water"]
    page.get_by_role("button", name="Begin with the demo").click()
    page.get_by_role("button", name="Change these values").click()
    expect(page.get_by_label("wanted of potassium (K)")).to_be_visible()
    yield "own values", [".fm-wishes"]
    typed(page, "limit on sodium (Na), with unit", "at most 1 mg/L")
    no_recipe = page.get_by_text("No recipe keeps all of this").first
    expect(no_recipe).to_be_visible()
    yield "limits that cannot hold", [".fm-recipe", ".fm-wishes", ".fm-sheet"]


def told_of_the_rest(page):
    """Yield what the page shows of orders, papers and two jobs, and where."""
    page.get_by_role("button", name="Begin with the demo").click()
    mixing, claims, beside = (part(page, n) for n in ("mixing", "claims", "beside"))
    mix_otherwise(page)
    yield "an order of one's own", [".fm-mixing"]
    page.get_by_role(
        "button", name=re.compile("^take calcium nitrate .* off the shelf")
    ).click()
    expect(mixing.get_by_role("button", name="Keep my order")).to_be_visible()
    yield "an order that lacks what is weighed", [".fm-mixing"]
    go(page, "claims")
    check(claims, TOO_RICH)
    drawn(claims, "paper 0")
    yield "a paper that is wrong", [".fm-claims"]
    check(claims, NO_PAPER)
    yield "a paper that cannot be read", [".fm-claims"]
    go(page, "beside").get_by_role("button", name="Keep this job").click()
    typed(page, "Strength", "70")
    drawn(beside, "contents")
    yield "two jobs", [".fm-beside"]
    page.get_by_role("button", name="Begin with nothing").click()
    expect(page.get_by_text("nothing on it; add an ingredient").first).to_be_visible()
    yield "nothing yet", None


@pytest.fixture(scope="module")
def plain(stay, page_server):
    """Return the page as it opens."""
    return opened(stay(page_server, width=max(WIDTHS)))


def faults_of(page, name, where):
    """Return what is wrong with a state at one width."""
    found = {name: barriers(page, where)}
    found[f"{name}, too wide"] = [f"{sideways(page)} px"] * (sideways(page) > 0)
    found[f"{name}, cut off"] = cut_off(page)
    return found


@pytest.mark.parametrize(
    "told", [told_at_first, told_of_water_and_limits, told_of_the_rest]
)
def test_no_barrier_in_any_state(plain, told):
    found = {}
    for name, where in told(plain):
        for width in reversed(WIDTHS):  # what comes next is done on the wide one
            plain.set_viewport_size({"width": width, "height": HEIGHT})
            found |= faults_of(plain, f"{name}, {width} px", where)
        plain.emulate_media(color_scheme="dark")  # which can change its colours only
        found[f"{name}, dark"] = barriers(plain, where, only_contrast=True)
        plain.emulate_media(color_scheme="light")
    found = {name: faults for name, faults in found.items() if faults}
    assert found == {}, json.dumps(found, indent=1)
