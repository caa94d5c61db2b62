"""One state after the other: no barrier that axe finds, wide or narrow, light or dark; nothing cut off."""

import json
import re

import pytest

from .barriers import barriers, cut_off, sideways
from .hands import checked, drawn, expect, go, mixed_otherwise, opened, part, typed
from .test_for_everybody import HEIGHT, NO_PAPER, TOO_RICH, WIDTHS


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
    mixed_otherwise(page)
    yield "an order of one's own", [".fm-mixing"]
    page.get_by_role(
        "button", name=re.compile("^take calcium nitrate .* off the shelf")
    ).click()
    expect(mixing.get_by_role("button", name="Keep my order")).to_be_visible()
    yield "an order that lacks what is weighed", [".fm-mixing"]
    go(page, "claims")
    checked(claims, TOO_RICH)
    drawn(claims, "paper 0")
    yield "a paper that is wrong", [".fm-claims"]
    checked(claims, NO_PAPER)
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
