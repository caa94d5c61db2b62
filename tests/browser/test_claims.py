"""The claims in a browser: pasted, answered in words, taken from a file, by keyboard."""

import re

import pytest

from .hands import checked, drawn, expect, go, kept, typed

# the pure salt holds 13.85 % N and 46.58 % K2O (formula)
RIGHT = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
TOO_RICH = RIGHT.replace("46 %", "55 %")
# a gram of it in a litre: 386.7 mg/L K, and 465.8 mg/L as K2O (formula)
CHART = "week;potassium nitrate g/L;K mg/L\n1;0.5;193\n2;1;466\n"
ASSAY = "nutrient;guaranteed;found;unit\nN;13;12.7;%\nK2O;46;41.2;%\n"
HOSTILE = '<img src=x onerror="document.title=1">'


@pytest.fixture
def claims(demo):
    """Return the claims of a fresh demo, in view: nothing is claimed yet."""
    claims = go(demo, "claims")
    expect(claims.get_by_text("with one of ours")).to_be_visible()
    return claims


def pasted(claims):
    return claims.get_by_label(re.compile("^Paste a label"))


def verdict(paper):
    return paper.locator("summary .verdict").first


def test_a_pasted_label_is_answered_a_slip_named_and_undone(claims):
    paper = checked(claims, RIGHT)
    expect(verdict(paper)).to_have_text("right")
    expect(verdict(paper)).to_be_in_viewport()
    expect(pasted(claims)).to_have_value("")  # it stands in the paper now
    paper = checked(claims, CHART)
    expect(verdict(paper)).to_have_text("wrong")
    expect(paper.locator(".told")).to_contain_text("K2O taken for K")
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
    expect(claims.locator(".fm-paper")).to_have_count(1)
    expect(claims.get_by_role("status").first).to_have_text("1 paper: 1 right")


def test_all_of_it_goes_by_keyboard(claims):
    page = claims.page
    pasted(claims).focus()
    page.keyboard.insert_text(TOO_RICH)
    page.keyboard.press("Tab")
    check_it = claims.get_by_role("button", name="Check it")
    expect(check_it).to_be_focused()
    page.keyboard.press("Enter")
    paper = claims.locator(".fm-paper").first
    expect(verdict(paper)).to_have_text("impossible")
    expect(paper.locator(".of-findings").first).to_contain_text("55")
    expect(check_it).to_be_focused()
    paper.get_by_text("Change it").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(paper.get_by_label("Name", exact=True)).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.insert_text("potash bag")
    page.keyboard.press("Tab")
    expect(paper.locator("summary b").nth(1)).to_have_text("potash bag")
    expect(paper.get_by_label("Dose", exact=True)).to_be_visible()  # it stays open
    expect(paper.get_by_label("What it is", exact=True)).to_be_focused()
    paper.get_by_role("button", name="take potash bag away").focus()
    page.keyboard.press("Enter")
    expect(claims.locator(".fm-paper")).to_have_count(0)


def test_what_is_refused_stays_and_what_is_hostile_is_text(claims):
    paper = checked(claims, f"{HOSTILE}\n{RIGHT}")
    paper.get_by_text("Change it").click()
    typed(paper, "Name", HOSTILE)
    expect(paper.locator("summary b").nth(1)).to_have_text(HOSTILE)
    price = typed(paper, "Price of a kg", "cheap")
    fault = paper.get_by_role("alert").filter(has_text="not taken: 'cheap'")
    expect(fault).to_be_visible()
    expect(price).to_have_value("cheap")
    expect(price).to_have_attribute("aria-invalid", "true")
    typed(paper, "Price of a kg", "1.9")
    expect(fault).to_have_count(0)
    assert claims.locator("img").count() == 0


def test_a_file_is_checked_and_the_findings_are_kept_as_a_page(claims):
    claims.get_by_label("check a paper from a file").set_input_files(
        {"name": "report.csv", "mimeType": "text/csv", "buffer": ASSAY.encode()}
    )
    paper = claims.locator(".fm-paper").first
    expect(verdict(paper)).to_have_text("wrong")
    expect(paper.locator("summary b").nth(1)).to_have_text("report")
    expect(drawn(claims, "paper 0").locator("svg")).to_be_visible()
    page = kept(
        claims.page, claims.get_by_role("button", name="Keep the findings as a page")
    )
    assert page.suggested_filename.endswith("-claims.html")
    text = page.path().read_text(encoding="utf-8")
    assert "report, an assay: wrong" in text
    assert "no legal, agronomic or medical advice" in text
