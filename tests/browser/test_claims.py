"""The claims in a browser: pasted, answered in words, by keyboard, on a phone."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from .conftest import HERE

PATIENCE = 20_000  # ms, patience and not a bar
WIDE = "document.documentElement.scrollWidth - window.innerWidth"
FOCUSED = "document.activeElement.name"
# the pure salt holds 13.85 % N and 46.58 % K2O (formula)
RIGHT = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
TOO_RICH = RIGHT.replace("46 %", "55 %")
# a gram of it in a litre: 386.7 mg/L K, and 465.8 mg/L as K2O (formula)
CHART = "week;potassium nitrate g/L;K mg/L\n1;0.5;193\n2;1;466\n"
ASSAY = "nutrient;guaranteed;found;unit\nN;13;12.7;%\nK2O;46;41.2;%\n"
TABLE = "salt;N %;P2O5 %;K2O %\nKNO3;13.9;;46.6\nKH2PO4;;34.6;52.2\n"
HOSTILE = '<img src=x onerror="document.title=1">'


@pytest.fixture(scope="module")
def page(browser, page_server):
    """Return the bench, opened once; what it writes as an error or asks elsewhere is a fault."""
    context, faults = browser.new_context(), []
    page = context.new_page()
    page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "request", lambda r: None if r.url.startswith(HERE) else faults.append(r.url)
    )
    page.goto(page_server, wait_until="commit")
    page.locator(".fm-weights tbody tr").first.wait_for(timeout=60_000)
    yield page
    context.close()
    assert faults == []


@pytest.fixture
def claims(page):
    """Return the claims of a fresh demo, in view on a wide screen."""
    page.set_viewport_size({"width": 1400, "height": 900})
    page.get_by_role("button", name="Begin with the demo").click()
    part = page.locator(".fm-claims")
    expect(part.get_by_text("with one of ours")).to_be_attached(timeout=PATIENCE)
    page.get_by_role("button", name="8 Claims").click()
    return part


def pasted(claims):
    return claims.get_by_label(re.compile("^Paste a label"))


def check(claims, text):
    """Paste a paper, check it, and return where its answer stands: on top of the others."""
    before = claims.locator(".fm-paper").count()
    pasted(claims).fill(text)
    claims.get_by_role("button", name="Check it").click()
    expect(claims.locator(".fm-paper")).to_have_count(before + 1, timeout=PATIENCE)
    paper = claims.locator(".fm-paper").first
    expect(verdict(paper)).to_be_visible(timeout=PATIENCE)
    return paper


def verdict(paper):
    return paper.locator("summary .verdict").first


def test_a_pasted_label_is_answered_a_slip_named_and_undone(claims):
    paper = check(claims, RIGHT)
    expect(verdict(paper)).to_have_text("right")
    expect(verdict(paper)).to_be_in_viewport()
    expect(pasted(claims)).to_have_value("")  # it stands in the paper now
    paper = check(claims, CHART)
    expect(verdict(paper)).to_have_text("wrong")
    expect(paper.locator(".told")).to_contain_text("K2O taken for K", timeout=PATIENCE)
    wrong = paper.locator(".of-findings").first
    expect(wrong.locator("tbody tr")).to_have_count(1)
    expect(wrong).to_contain_text("week 2, K")
    expect(paper.get_by_text("week 1, K")).not_to_be_visible()  # right: folded
    paper.get_by_text("what is right (1)").click()
    expect(paper.get_by_text("week 1, K")).to_be_visible()
    expect(claims.get_by_role("status").first).to_have_text(
        "2 papers: 1 wrong, 1 right"
    )
    claims.page.get_by_role("button", name="Undo").click()
    expect(claims.locator(".fm-paper")).to_have_count(1, timeout=PATIENCE)
    expect(claims.get_by_role("status").first).to_have_text("1 paper: 1 right")


def test_all_of_it_goes_by_keyboard(claims):
    page = claims.page
    pasted(claims).focus()
    page.keyboard.insert_text(TOO_RICH)
    page.keyboard.press("Tab")
    assert page.evaluate(FOCUSED) == "check"
    page.keyboard.press("Enter")
    paper = claims.locator(".fm-paper").first
    expect(verdict(paper)).to_have_text("impossible", timeout=PATIENCE)
    expect(paper.locator(".of-findings").first).to_contain_text("55")
    assert page.evaluate(FOCUSED) == "check"
    paper.get_by_text("Change it").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate(FOCUSED) == "paper 0 name"
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("potash bag")
    page.keyboard.press("Tab")
    expect(paper.locator("summary b").nth(1)).to_have_text("potash bag")
    expect(paper.get_by_label("Dose", exact=True)).to_be_visible()  # it stays open
    assert page.evaluate(FOCUSED) == "paper 0 kind"
    paper.get_by_role("button", name="take potash bag away").focus()
    page.keyboard.press("Enter")
    expect(claims.locator(".fm-paper")).to_have_count(0, timeout=PATIENCE)


def test_what_is_refused_stays_and_what_is_hostile_is_text(claims):
    paper = check(claims, f"{HOSTILE}\n{RIGHT}")
    paper.get_by_text("Change it").click()
    name = paper.get_by_label("Name", exact=True)
    name.fill(HOSTILE)
    name.press("Tab")
    expect(paper.locator("summary b").nth(1)).to_have_text(HOSTILE, timeout=PATIENCE)
    price = paper.get_by_label("Price of a kg")
    price.fill("cheap")
    price.press("Tab")
    fault = paper.get_by_role("alert").filter(has_text="not taken: 'cheap'")
    expect(fault).to_be_visible(timeout=PATIENCE)
    expect(price).to_have_value("cheap")
    expect(price).to_have_attribute("aria-invalid", "true")
    price.fill("1.9")
    price.press("Tab")
    expect(fault).to_have_count(0, timeout=PATIENCE)
    assert claims.locator("img").count() == 0


def test_a_file_is_checked_and_the_findings_are_kept_as_a_page(claims):
    claims.get_by_label("check a paper from a file").set_input_files(
        {"name": "report.csv", "mimeType": "text/csv", "buffer": ASSAY.encode()}
    )
    paper = claims.locator(".fm-paper").first
    expect(verdict(paper)).to_have_text("wrong", timeout=PATIENCE)
    expect(paper.locator("summary b").nth(1)).to_have_text("report")
    expect(paper.locator("svg")).to_be_visible(timeout=PATIENCE)
    with claims.page.expect_download(timeout=PATIENCE) as told:
        claims.get_by_role("button", name="Keep the findings").click()
    assert told.value.suggested_filename.endswith("-claims.html")
    text = told.value.path().read_text(encoding="utf-8")
    assert "report, an assay: wrong" in text
    assert "no legal, agronomic or medical advice" in text


@pytest.mark.parametrize("width", [1400, 390])
def test_no_serious_finding_of_accessibility_and_nothing_too_wide(claims, width):
    claims.page.set_viewport_size({"width": width, "height": 900})
    claims.get_by_role("button", name="check an invented example: a feed chart").click()
    claims.locator(".fm-paper summary").first.scroll_into_view_if_needed()
    claims.page.mouse.wheel(0, 300)
    expect(claims.locator(".fm-paper svg")).to_be_visible(timeout=PATIENCE)
    for text in (TOO_RICH, TABLE, "a shopping list: milk"):
        check(claims, text)
    compared = claims.locator("details[data-key=compare]")
    if compared.get_attribute("open") is None:
        compared.locator("summary").first.click()
    for name in ("potassium nitrate", "monopotassium phosphate"):
        button = claims.locator(f"button[value='{name}']")
        button.click()
        expect(button).to_have_attribute("aria-pressed", "true", timeout=PATIENCE)
    claims.locator("[data-slot=compared]").scroll_into_view_if_needed()
    expect(claims.locator("[data-slot=compared] svg")).to_be_visible(timeout=PATIENCE)
    told = Axe().run(claims.page, context=".fm-claims").response["violations"]
    found = {
        v["id"]: [node["html"][:160] for node in v["nodes"][:3]]
        for v in told
        if v["impact"] in ("serious", "critical")
    }
    assert found == {}, json.dumps(found, indent=1)
    assert claims.page.evaluate(WIDE) <= 0
    counts = "4 papers: 1 impossible, 2 wrong, 1 cannot be read"
    assert claims.get_by_role("status").first.inner_text() == counts
