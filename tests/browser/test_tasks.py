"""Tasks 1 to 6 and 15 of reference/tasks.md, walked as a person would, and counted."""

import re

from formulate.jobs import read_job

from .hands import drawn, expect, kept, weight
from .walking import told

REPORT = "Calcium 82 mg/l\nMagnesium 11 mg/l\nSodium 24 mg/l\nAlkalinity 3.4 mmol/l\npH 7.5\n"
LABEL = """Total nitrogen (N) 9.5 %
  9.5 % nitrate nitrogen
Available phosphate (P2O5) 11 %
Soluble potash (K2O) 26 %
"""


def test_half_strength_for_young_plants(hand):
    page = hand.page
    page.evaluate("window.printed = 0")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    hand.type(page.get_by_label("Batch, made up to").first, "50 L")
    hand.type(page.get_by_label("Strength").first, "50")
    expect(page.locator(".fm-weights caption")).to_contain_text("50 L")
    magnesium = page.locator(".fm-recipe tr", has_text="Mg").filter(has_text="20.00")
    expect(magnesium.first).to_be_visible()  # half of 40 mg/L
    hand.press(page.get_by_role("button", name="Print the sheet").first)
    sheet = page.frame_locator("iframe.fm-print")
    expect(sheet.get_by_text("Weigh for 50 L")).to_be_attached()
    assert hand.counted() == told(1)


def test_my_own_water(hand):
    page = hand.page
    before = weight(page, "Epsom salt").inner_text()
    hand.press(page.get_by_label("a report, pasted or from a file"))
    hand.type(page.get_by_label(re.compile("^Report, as the laboratory")), REPORT)
    expect(page.get_by_text("What was read of each line (5)")).to_be_visible()
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
    expect(holds.locator("..")).to_contain_text("K:Ca")
    assert hand.counted() == told(3)


def test_what_is_in_this_bag_and_what_it_costs(hand):
    page = hand.page
    hand.press(page.get_by_text("From a label"))
    hand.type(page.get_by_label("Label, as printed on the bag"), LABEL)
    hand.type(page.get_by_label("What to call it"), "potassium base")
    hand.press(page.get_by_role("button", name="Put it on the shelf"))
    line = page.locator("tbody.fm-line", has_text="potassium base")
    expect(line).to_contain_text("K 21.58 %")  # 26 x 0.8301 [factors]
    hand.type(page.get_by_label("price of potassium base"), "2.50")
    hand.go("recipe")
    expect(page.locator(".fm-recipe .fm-sum")).to_contain_text("cost")
    assert hand.counted() == told(4)


def test_the_arithmetic_for_a_class(hand, tmp_path):
    page = hand.page
    hand.press(page.get_by_role("button", name=re.compile("^Ca reached")))
    working = page.locator(".fm-recipe .fm-working")
    expect(working).to_contain_text("from the water")
    expect(working).to_contain_text("159.9")
    with page.expect_download() as kept:
        hand.press(page.get_by_role("button", name="Download the job"))
    path = tmp_path / kept.value.suggested_filename
    kept.value.save_as(path)
    assert read_job(path).volume == "200 L"
    page.get_by_role("button", name="Begin with nothing").click()
    hand.presses += 1  # choosing the file; the fresh start only proves that it is read
    page.locator("input[type=file][name=job]").set_input_files(path)
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    assert hand.counted() == told(5)


def test_another_order_of_mixing(hand):
    page = hand.page
    mixing = page.locator(".fm-mixing")
    hand.go("mixing")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible()
    hand.press(mixing.get_by_text("What if another order"))
    last = mixing.locator(".fm-order li").last
    expect(last).to_contain_text("calcium nitrate")  # common practice: calcium last
    hand.press(last.get_by_role("button", name=re.compile("earlier$")))
    expect(mixing.locator(".fm-order li").last).to_contain_text("boric acid")
    costs = mixing.locator(".fm-sum")
    expect(costs).to_contain_text("The order of the job.")
    expect(costs).to_contain_text(re.compile("(than in|that of) the best"))
    hand.press(page.get_by_role("button", name="Undo"))
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible()
    expect(mixing.locator(".fm-order li").last).to_contain_text("calcium nitrate")
    assert hand.counted() == told(6)


PUPIL = 'title = "Ada: half for the seedlings"\nstrength_percent = 50\n'


def test_a_pupils_job_beside_ones_own(hand, tmp_path):
    page = hand.page
    own = kept(page, page.get_by_role("button", name="Download the job").first)
    path = tmp_path / "ada.toml"
    own.save_as(path)
    text = path.read_text(encoding="utf-8")
    head, _, rest = text.partition("\n")
    rest = re.sub(r"^title = .*\n", "", rest, flags=re.MULTILINE)
    path.write_text(f"{head}\n{PUPIL}{rest}", encoding="utf-8")
    beside = hand.go("beside")
    hand.presses += 1
    page.locator("input[type=file][name=second]").set_input_files(path)
    asked = beside.locator("[data-slot=asked]")
    expect(asked).to_contain_text("strength")
    expect(asked).to_contain_text("50 %")
    holds = drawn(beside, "contents")  # what is drawn above may move it out of view
    magnesium = holds.locator("tr", has_text=re.compile("^Mg"))
    expect(magnesium.first).to_contain_text("20.00")  # half of 40 mg/L is wanted
    hand.press(beside.get_by_role("button", name="print 10 Two jobs"))
    paper = page.frame_locator("iframe.fm-print")
    expect(paper.get_by_text("Ada: half for the seedlings").first).to_be_attached()
    assert hand.counted() == told(15)
