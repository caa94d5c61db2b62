"""What of the bench is open: doors, the tour, folded parts, words and sources; printed, shared, two jobs."""

import re
import shutil
import subprocess

import pytest

from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, job_from_text, read_job
from formulate.workbench.findings import PARTS
from formulate.workbench.standing import part_label
from formulate.workbench.view import doors, tour

from .hands import (
    STARTING,
    drawn,
    expect,
    go,
    kept,
    made_up_to,
    opened,
    part,
    pressed,
    typed,
    weight,
)

LABELS = {name: part_label(name) for name in PARTS}
REMOVE = "all => all.forEach(one => one.remove())"
STAMP = re.compile(r"formulate 0\.\d+")


@pytest.fixture
def page(visit, page_server):
    return opened(visit(page_server, width=1440))


def heading(page, name):
    return part(page, name).get_by_role("heading", name=LABELS[name], exact=True)


def fold(page, name):
    return part(page, name).get_by_role("button", name=f"fold {LABELS[name]}")


def unfold_button(page, name):
    return part(page, name).get_by_role("button", name=f"open {LABELS[name]}")


def expect_open(page, names):
    """Expect these parts to be open and every other folded to a line of its own."""
    for name in PARTS:
        is_open = name in names
        expect(fold(page, name)).to_have_count(int(is_open))
        expect(unfold_button(page, name)).to_have_count(int(not is_open))
        expect(heading(page, name)).to_have_count(1)
        if not is_open:
            assert part(page, name).bounding_box()["height"] <= 60  # one line, or two


# --- doors -------------------------------------------------------------------------------


def test_a_door_opens_its_parts_by_keyboard_and_is_found_again(page):
    first, *others = doors()
    page.get_by_role("button", name=re.compile(f"^{doors()[first].title}")).press(
        "Enter"
    )
    choice = page.get_by_label("Open the parts for")
    for door in (first, *others):
        chosen = doors()[door]
        if door != first:
            choice.select_option(door)
        expect_open(page, chosen.parts)
        expect(heading(page, chosen.first)).to_be_in_viewport()
        expect(heading(page, chosen.first)).to_be_focused()
        expect(page.get_by_text("What brings you here?")).to_have_count(0)
    page.reload()
    expect(choice).to_have_value(door, timeout=STARTING)
    expect_open(page, chosen.parts)
    expect(page.get_by_text("What brings you here?")).to_have_count(0)
    choice.select_option("all")
    expect_open(page, PARTS)


def test_each_visitor_has_a_door_of_their_own(page, visit, page_server):
    page.get_by_role("button", name="I check a claim").click()
    expect_open(page, doors()["checker"].parts)
    other = opened(visit(page_server, width=1440))
    expect(other.get_by_text("What brings you here?")).to_be_visible()
    expect_open(other, PARTS)


def test_a_part_that_no_door_opened_is_opened_by_going_there_and_by_the_tour(page):
    page.get_by_role("button", name="I check a claim").click()
    expect_open(page, doors()["checker"].parts)
    page.locator(".fm-parts [data-go=mixing]").press("Enter")
    expect_open(page, (*doors()["checker"].parts, "mixing"))
    expect(heading(page, "mixing")).to_be_focused()
    expect(heading(page, "mixing")).to_be_in_viewport()
    fold(page, "mixing").click()
    expect_open(page, doors()["checker"].parts)
    page.get_by_role("button", name="tour of two minutes").press("Enter")
    told = page.get_by_role("region", name="the tour")
    expect(told).to_contain_text("1 of 8.")
    expect_open(page, (*doors()["checker"].parts, "water"))
    expect(page.locator(".fm-head :focus")).to_have_count(1)
    told.get_by_role("button", name="next step of the tour").press("Enter")
    expect(told).to_contain_text("2 of 8.")
    told.get_by_role("button", name="one step back in the tour").press("Enter")
    expect(told).to_contain_text("1 of 8.")
    told.get_by_role("button", name="Leave the tour").press("Enter")
    expect(told).to_have_count(0)
    expect(page.locator(".fm-head :focus")).to_have_count(1)


# --- the tour ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def newcomer(stay, page_server):
    """Return a page on which no door is ever taken."""
    return opened(stay(page_server, width=1440))


@pytest.mark.parametrize("width", [1440, 390])
def test_the_tour_shows_each_part_and_keeps_the_focus_on_next(newcomer, width):
    page = newcomer
    page.set_viewport_size({"width": width, "height": 900})
    page.get_by_role("button", name="Show me round").press("Enter")
    told = page.get_by_role("region", name="the tour")
    assert len(tour()) == 8
    forward = told.locator("button.fm-main")
    for step, (name, words) in enumerate(tour(), 1):
        expect(told.get_by_role("status")).to_have_text(f"{step} of 8. {words}")
        expect(told).to_be_in_viewport()
        expect(heading(page, name)).to_be_in_viewport()
        expect(forward).to_be_focused()
        expect(page.locator(".fm-parts [aria-current]")).to_have_attribute(
            "data-go", name
        )
        page.keyboard.press("Enter")
    expect(told).to_have_count(0)
    expect(page.get_by_text("What brings you here?")).to_be_visible()


# --- folded, explained ---------------------------------------------------------------------


def test_each_part_is_folded_and_opened_by_keyboard(demo):
    for name in PARTS:
        fold(demo, name).press("Enter")
        expect(unfold_button(demo, name)).to_be_focused()
        expect(part(demo, name).locator("table, input, textarea")).to_have_count(0)
    typed(demo, "Strength", "90")  # what is folded follows once it is opened
    expect(demo.get_by_role("button", name="Undo")).to_be_enabled()
    for name in PARTS:
        unfold_button(demo, name).press("Enter")
        expect(fold(demo, name)).to_be_focused()
        expect(part(demo, name).locator(".fm-folded")).to_have_count(0)


def test_the_recipe_that_was_folded_shows_what_holds_now(demo):
    fold(demo, "recipe").press("Enter")
    expect(unfold_button(demo, "recipe")).to_be_focused()
    typed(demo, "Batch, made up to", "20 L")
    expect(part(demo, "recipe")).not_to_contain_text("200 L")
    unfold_button(demo, "recipe").press("Enter")
    made_up_to(demo, "20 L")
    expect(weight(demo, "Epsom salt")).to_have_text("4.6")  # a tenth of 46.0


def test_words_and_sources_of_each_part_are_shown_and_put_away(demo):
    for name in PARTS:
        label = f"words and sources of {LABELS[name]}"
        explain = part(demo, name).get_by_role("button", name=label)
        explain.press("Enter")
        told = part(demo, name).get_by_role("region", name=label)
        expect(told).to_be_visible()
        expect(explain).to_be_focused()
        words = told.locator("dl").first
        assert words.locator("dt").count() == words.locator("dd").count() >= 1
        expect(told.get_by_text("Where its numbers come from")).to_be_visible()
        explain.press("Enter")
        expect(told).to_have_count(0)
        expect(explain).to_be_focused()


def test_a_working_names_its_sources_in_full(demo):
    recipe = part(demo, "recipe")
    pressed(recipe, recipe.get_by_role("button", name=re.compile("^Ca reached")))
    sources = recipe.locator(".fm-working").get_by_role("list", name="sources")
    expect(sources).to_contain_text(re.compile(r"\[[a-z0-9-]+\] \w+.*\w+"))


# --- a number within what is drawn apart -----------------------------------------------------


def drawn_numbers(page):
    """Yield parts drawn apart that hold numbers with a working."""
    mixing = go(page, "mixing")
    expect(mixing.get_by_text("The best order, proven.")).to_be_visible()
    for slot in ("plan", "why", "steps", "stocks"):
        yield mixing, drawn(mixing, slot)
    exchange = go(page, "exchange")
    for slot in ("doubt", "cost_curve", "cheapest"):
        yield exchange, drawn(exchange, slot)
    claims = go(page, "claims")
    claims.get_by_role("button", name="check an invented example: a feed chart").click()
    yield claims, drawn(claims, "paper 0")


def test_a_number_drawn_apart_opens_its_working_and_keeps_the_focus(demo):
    count = 0
    for panel, slot in drawn_numbers(demo):
        numbers = slot.locator("button.fm-number:visible")
        if not numbers.count():
            continue
        number = pressed(panel, numbers.first)
        expect(number).to_be_focused()
        beneath = number.locator("xpath=ancestor::tr/following-sibling::tr[1]")
        expect(beneath).to_have_class("fm-working")
        expect(beneath.locator("li").first).to_contain_text(re.compile(r"\w"))
        expect(panel.locator(".fm-working")).to_have_count(1)
        demo.keyboard.press("Enter")
        expect(panel.locator(".fm-working")).to_have_count(0)
        expect(number).to_be_focused()
        count += 1
    assert count >= 6


def test_what_was_opened_within_a_drawn_part_stays_open(demo):
    claims = go(demo, "claims")
    claims.get_by_role("button", name="check an invented example: a feed chart").click()
    paper = drawn(claims, "paper 0")
    right = paper.locator("details[data-key=right]")
    right.locator("summary").click()
    expect(right.locator("table")).to_be_visible()
    pressed(claims, paper.locator("button.fm-number:visible").first)
    expect(right.locator("table")).to_be_visible()


# --- printed -----------------------------------------------------------------------------------


def print_part(page, name):
    """Print a part; return the paper that goes to the printer."""
    page.locator("iframe.fm-print").evaluate_all(REMOVE)
    button = part(page, name).get_by_role("button", name=f"print {LABELS[name]}")
    button.click()
    frame = page.locator("iframe.fm-print")
    expect(frame).to_be_attached()
    return frame.get_attribute("srcdoc")


@pytest.fixture
def on_paper(browser):
    """Return a function that shows a paper as the printer has it."""
    context = browser.new_context(java_script_enabled=False)

    def show(paper):
        page = context.new_page()
        page.set_content(paper)
        return page

    yield show
    context.close()


def test_each_part_is_printed_as_it_is_seen(demo, on_paper):
    for name in PARTS:
        numbers = part(demo, name).locator("button.fm-number:visible")
        working = ""
        if numbers.count():
            pressed(part(demo, name), numbers.first)
            working = part(demo, name).locator(".fm-working li").first.inner_text()
        paper = on_paper(print_part(demo, name))
        heading_there = paper.get_by_role("heading", name=LABELS[name], exact=True)
        expect(heading_there).to_be_visible()
        expect(paper.locator("body > header")).to_contain_text("Lindenhof glasshouse")
        expect(paper.locator("body > footer")).to_contain_text(STAMP)
        expect(paper.locator("body > footer")).to_contain_text("not advice")
        pressable = paper.locator("button, input, select, textarea, iframe")
        expect(pressable).to_have_count(0)
        expect(paper.locator("main")).to_contain_text(working)
        assert paper.title() == LABELS[name]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("recipe", ("Weigh for 200 L", "Epsom salt", "46.0", "What holds it back")),
        ("chemistry", ("pH", "brushite", "The wanted pH: acid or alkali")),
    ],
)
def test_a_part_is_read_again_from_paper(demo, on_paper, tmp_path, name, words):
    path = tmp_path / f"{name}.pdf"
    paper = on_paper(print_part(demo, name))
    paper.pdf(path=path, format="A4")
    assert path.read_bytes().startswith(b"%PDF")
    told = paper.locator("body").inner_text()
    if shutil.which("pdftotext"):  # what the file itself holds, where that can be read
        words_of = ["pdftotext", "-layout", path, "-"]
        told = subprocess.run(
            words_of, capture_output=True, text=True, check=True
        ).stdout
    for text in (LABELS[name], "Lindenhof glasshouse", "not advice", *words):
        assert text in told
    assert STAMP.search(told)


# --- two jobs ------------------------------------------------------------------------------------


def test_what_is_changed_from_now_on_is_the_difference(demo):
    beside = go(demo, "beside")
    beside.get_by_role("button", name="Keep this job as the second").click()
    expect(drawn(beside, "asked")).to_contain_text("othing differs")
    typed(demo, "Strength", "50")
    expect(weight(demo, "Epsom salt")).not_to_have_text("46.0")
    expect(drawn(beside, "asked")).to_contain_text("strength")
    row = drawn(beside, "weighed").locator("tr", has_text="Epsom salt").first
    expect(row).to_contain_text("46.0")
    expect(drawn(beside, "contents").locator("svg")).to_have_count(1)
    demo.get_by_role("button", name="Undo").click()
    expect(weight(demo, "Epsom salt")).to_have_text("46.0")
    expect(drawn(beside, "asked")).to_contain_text("othing differs")


def test_a_job_file_is_put_beside_exchanged_and_put_away(demo):
    beside = go(demo, "beside")
    theirs = text_of_job(read_job(DEMO)).replace("Lindenhof", "Pupils of the Lindenhof")
    beside.get_by_label("open a job file as the second").set_input_files(
        {
            "name": "theirs.toml",
            "mimeType": "text/plain",
            "buffer": theirs.replace('"200 L"', '"4 L"').encode(),
        }
    )
    names = beside.locator(".fm-sum")
    expect(names).to_contain_text("the second Pupils of")
    expect(drawn(beside, "asked")).to_contain_text("4 L")
    drawn(beside, "litres")  # batches that differ are compared by the litre, too
    made_up_to(demo, "200 L")
    beside.get_by_role("button", name="Exchange the two").click()
    made_up_to(demo, "4 L")
    expect(names).to_contain_text("this job, Pupils of")
    beside.get_by_role("button", name="put the second job away").click()
    expect(names).to_contain_text("Put a second job beside")
    beside.get_by_role("button", name="Bring back").click()
    expect(names).to_contain_text("this job, Pupils of")


def test_a_file_that_is_no_job_is_told_and_nothing_is_lost(demo):
    beside = go(demo, "beside")
    beside.get_by_role("button", name="Keep this job as the second").click()
    expect(beside.get_by_role("button", name="Exchange the two")).to_be_visible()
    beside.get_by_label("open a job file as the second").set_input_files(
        {"name": "broken.toml", "mimeType": "text/plain", "buffer": b"volume = ["}
    )
    expect(beside.get_by_role("alert")).to_contain_text("broken.toml")
    expect(beside.get_by_role("button", name="Exchange the two")).to_be_visible()


# --- shared ----------------------------------------------------------------------------------------


def test_a_job_is_shared_as_one_file(demo, visit, page_server, tmp_path):
    typed(demo, "price of Epsom salt for a kg or L", "7.5")
    typed(demo, "Batch, made up to", "33 L")
    made_up_to(demo, "33 L")
    shown = weight(demo, "Epsom salt").inner_text()
    file = kept(demo, demo.get_by_role("button", name="Download the job"))
    path = tmp_path / file.suggested_filename
    file.save_as(path)
    job = job_from_text(path.read_text(encoding="utf-8"))
    assert (job.volume, job.shelf_file) == ("33 L", "")
    other = opened(visit(page_server, width=1440))
    made_up_to(other, "200 L")
    other.get_by_label("Open a job file", exact=True).set_input_files(path)
    made_up_to(other, "33 L")
    expect(weight(other, "Epsom salt")).to_have_text(shown)
    price = other.get_by_label("price of Epsom salt for a kg or L")
    expect(price).to_have_value("7.5")
