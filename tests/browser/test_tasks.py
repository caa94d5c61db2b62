"""The six tasks of reference/tasks.md, walked as a person would, and counted."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from formulate.jobs import read_job

TASKS = Path(__file__).parent.parent.parent / "reference" / "tasks.md"
REPORT = "Calcium 82 mg/l\nMagnesium 11 mg/l\nSodium 24 mg/l\nAlkalinity 3.4 mmol/l\npH 7.5\n"
LABEL = """Total nitrogen (N) 9.5 %
  9.5 % nitrate nitrogen
Available phosphate (P2O5) 11 %
Soluble potash (K2O) 26 %
"""
PATIENCE = 15_000  # ms


class Hand:
    """A person at the page: whatever is pressed or typed is counted."""

    def __init__(self, page):
        self.page, self.presses, self.fields = page, 0, 0

    def press(self, where):
        """Press a button, tick a box, open a part."""
        self.presses += 1
        where.click()

    def type(self, where, text):
        """Type or paste a text and leave the field."""
        self.fields += 1
        where.fill(text)
        where.press("Tab")

    def counted(self):
        """Return presses and fields."""
        return self.presses, self.fields


def told(number):
    """Return presses and fields that the document tells of a task."""
    row = rf"^\| {number} .*?\| (\d+) \| (\d+) \| (\d+) \|$"
    presses, fields, total = map(
        int, re.search(row, TASKS.read_text(encoding="utf-8"), re.MULTILINE).groups()
    )
    assert presses + fields == total
    return presses, fields


@pytest.fixture
def hand(visit, page_server):
    page = visit(page_server, width=1440, height=900)
    expect(page.locator(".fm-weights tbody tr").first).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Begin with the demo").click()
    return Hand(page)


def weight(page, name):
    """Return the number to weigh of an ingredient."""
    row = page.locator(".fm-weights tbody tr", has_text=name)
    return row.locator(".fm-number")


def test_half_strength_for_young_plants(hand):
    page = hand.page
    page.evaluate("window.printed = 0")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    hand.type(page.get_by_label("Batch, made up to").first, "50 L")
    hand.type(page.get_by_label("Strength").first, "50")
    expect(page.locator(".fm-weights caption")).to_contain_text(
        "50 L", timeout=PATIENCE
    )
    magnesium = page.locator(".fm-recipe tr", has_text="Mg").filter(has_text="20.00")
    expect(magnesium.first).to_be_visible(timeout=PATIENCE)  # half of 40 mg/L
    hand.press(page.get_by_role("button", name="Print the sheet").first)
    sheet = page.frame_locator("iframe.fm-print")
    expect(sheet.get_by_text("Weigh for 50 L")).to_be_attached(timeout=PATIENCE)
    assert hand.counted() == told(1)


def test_my_own_water(hand):
    page = hand.page
    before = weight(page, "Epsom salt").inner_text()
    hand.press(page.get_by_label("a report, pasted or from a file"))
    hand.type(page.get_by_label(re.compile("^Report, as the laboratory")), REPORT)
    expect(page.get_by_text("What was read of each line (5)")).to_be_visible(
        timeout=PATIENCE
    )
    calcium = page.get_by_role("button", name=re.compile(r"^calcium .Ca. in"))
    expect(calcium).to_have_text("82.00")
    expect(page.get_by_text("What was assumed")).to_be_visible()
    expect(weight(page, "Epsom salt")).not_to_have_text(before)
    assert hand.counted() == told(2)


def test_a_formula_of_my_own_within_limits(hand):
    page = hand.page
    hand.press(page.get_by_role("button", name="Change these values"))
    hand.type(page.get_by_label("wanted of potassium (K)"), "180 to 220")
    hand.type(page.get_by_label(re.compile(r"^limit on sodium")), "at most 50 mg/L")
    hand.type(page.get_by_label("what a new limit is about"), "K:Ca")
    hand.type(page.get_by_label("bounds of the new limit"), "1.5 to 1.8")
    holds = page.get_by_text("What holds it back")
    expect(holds.locator("..")).to_contain_text("K:Ca", timeout=PATIENCE)
    assert hand.counted() == told(3)


def test_what_is_in_this_bag_and_what_it_costs(hand):
    page = hand.page
    hand.press(page.get_by_text("From a label"))
    hand.type(page.get_by_label("Label, as printed on the bag"), LABEL)
    hand.type(page.get_by_label("What to call it"), "potassium base")
    hand.press(page.get_by_role("button", name="Put it on the shelf"))
    line = page.locator("tbody.fm-line", has_text="potassium base")
    expect(line).to_contain_text("K 21.58 %", timeout=PATIENCE)  # 26 x 0.8301 [factors]
    hand.type(page.get_by_label("price of potassium base"), "2.50")
    hand.press(page.get_by_role("button", name="4 Recipe"))
    expect(page.locator(".fm-recipe .fm-sum")).to_contain_text("cost")
    assert hand.counted() == told(4)


def test_the_arithmetic_for_a_class(hand, tmp_path):
    page = hand.page
    hand.press(page.get_by_role("button", name=re.compile("^Ca reached")))
    working = page.locator(".fm-recipe .fm-working")
    expect(working).to_contain_text("from the water", timeout=PATIENCE)
    expect(working).to_contain_text("159.9")
    with page.expect_download() as kept:
        hand.press(page.get_by_role("button", name="Download the job"))
    path = tmp_path / kept.value.suggested_filename
    kept.value.save_as(path)
    assert read_job(path).volume == "200 L"
    page.get_by_role("button", name="Begin with nothing").click()
    hand.presses += 1  # choosing the file; the fresh start only proves that it is read
    page.locator("input[type=file][name=job]").set_input_files(path)
    expect(weight(page, "Epsom salt")).to_have_text("46.0", timeout=PATIENCE)
    assert hand.counted() == told(5)


def test_another_order_of_mixing(hand):
    page = hand.page
    mixing = page.locator(".fm-mixing")
    hand.press(page.get_by_role("button", name="6 Mixing"))
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible(
        timeout=PATIENCE
    )
    hand.press(mixing.get_by_text("What if another order"))
    last = mixing.locator(".fm-order li").last
    expect(last).to_contain_text("calcium nitrate")  # common practice: calcium last
    hand.press(last.get_by_role("button", name=re.compile("earlier$")))
    expect(mixing.locator(".fm-order li").last).to_contain_text("boric acid")
    costs = mixing.locator(".fm-sum")
    expect(costs).to_contain_text("The order of the job.", timeout=PATIENCE)
    expect(costs).to_contain_text(re.compile("(than in|that of) the best"))
    hand.press(page.get_by_role("button", name="Undo"))
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible(
        timeout=PATIENCE
    )
    expect(mixing.locator(".fm-order li").last).to_contain_text("calcium nitrate")
    assert hand.counted() == told(6)
