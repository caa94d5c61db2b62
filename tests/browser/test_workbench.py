"""The workbench as a page: changed live, printed, kept, found again, hostile input, by keyboard."""

import re

import pytest

from formulate.jobs import job_from_text

from .hands import drawn, expect, kept, made_up_to, opened, part, typed, weight

HOSTILE = '<script>window.hit = 1</script><img src=x onerror="window.hit = 1">'
COUNT_PRINTS = """
    window.prints = []
    new MutationObserver(() => {
        for (const frame of document.querySelectorAll('iframe.fm-print:not([data-counted])')) {
            frame.dataset.counted = 'yes'
            frame.addEventListener('load', () => {
                if (frame.contentWindow.location.href === 'about:srcdoc')
                    frame.contentWindow.print = () => window.prints.push(frame.srcdoc)
            }, { capture: true, once: true })
        }
    }).observe(document, { childList: true, subtree: true })
"""


@pytest.fixture
def bench(demo):
    """Return the bench with the demo on a page; in test_lab.py it is one in Lab."""
    return demo


# --- changed live ----------------------------------------------------------------------


def test_a_figure_is_drawn_once_it_is_seen_and_never_empty(bench):
    figure = bench.locator("[data-slot=figure]")
    expect(figure.locator("svg")).to_have_count(0)
    drawn(part(bench, "recipe"), "figure")
    expect(figure.locator("svg")).to_be_visible()
    figure.evaluate(
        """slot => { window.empty = 0; window.drawn = 0; new MutationObserver(() => {
            window.drawn += 1; if (!slot.querySelector('svg')) window.empty += 1
        }).observe(slot, { childList: true, subtree: true, attributes: true }) }"""
    )
    typed(bench, "Strength", "70")
    expect(weight(bench, "Epsom salt")).not_to_have_text("46.0")
    figure.scroll_into_view_if_needed()
    bench.wait_for_function("window.drawn > 0")
    assert bench.evaluate("window.empty") == 0
    expect(figure.locator("svg")).to_have_count(1)


def test_water_target_price_and_shelf_change_the_recipe(bench):
    before = weight(bench, "calcium nitrate").inner_text()
    bench.get_by_label("typed here").check()
    typed(bench, "calcium (Ca) of the water, with unit", "40 mg/L")
    expect(weight(bench, "calcium nitrate")).not_to_have_text(before)
    bench.get_by_role("button", name="Undo").click()
    bench.get_by_role("button", name="Undo").click()
    expect(weight(bench, "calcium nitrate")).to_have_text(before)

    cost = bench.locator(".fm-recipe .fm-sum .fm-number")
    paid = cost.inner_text()
    typed(bench, "price of monopotassium phosphate for a kg or L", "48")
    expect(cost).not_to_have_text(paid)

    bench.get_by_label("Target", exact=True).select_option("cornell-lettuce")
    expect(bench.locator(".fm-wishes .fm-sum")).to_contain_text("Lettuce in a pond")
    bench.get_by_label(re.compile("^Search the catalogue")).fill("ammonium sulf")
    bench.get_by_role(
        "button", name="put ammonium sulfate on the shelf", exact=True
    ).first.click()
    line = bench.locator("tbody.fm-line", has_text="ammonium sulfate")
    expect(line).to_be_visible()


def test_what_cannot_be_taken_is_told_and_kept(demo):
    page = demo
    typed(page, "price of potassium nitrate for a kg or L", "abc")
    price = page.get_by_label("price of potassium nitrate for a kg or L")
    fault = page.get_by_role("alert").filter(has_text="not taken: 'abc' is no number")
    expect(fault).to_be_visible()
    expect(price).to_have_value("abc")
    expect(price).to_have_attribute("aria-invalid", "true")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")
    typed(page, "Batch, made up to", "20 buckets")
    expect(page.get_by_text("No weights yet: settle this first")).to_be_visible()
    expect(page.get_by_role("button", name="Print the sheet").first).to_be_disabled()
    typed(page, "Batch, made up to", "200 L")
    expect(weight(page, "Epsom salt")).to_have_text("46.0")


def test_nothing_jumps_and_focus_stays(demo):
    page = demo
    typed(page, "Batch, made up to", "90 L")
    made_up_to(page, "90 L")  # nothing is told in the head any more
    price = page.get_by_label("price of monopotassium phosphate for a kg or L")
    price.scroll_into_view_if_needed()
    first = page.locator(".fm-weights tbody tr").first
    places = price.bounding_box()["y"], first.bounding_box()["y"]
    cost = page.locator(".fm-recipe .fm-sum .fm-number")
    paid = cost.inner_text()
    price.fill("48")
    price.press("Enter")
    expect(cost).not_to_have_text(paid)
    assert (price.bounding_box()["y"], first.bounding_box()["y"]) == places
    below = page.locator("[name='line 3 price_per_kg']")
    expect(below).to_be_focused()  # Enter goes to the next price
    page.get_by_role("button", name="take potassium sulfate off the shelf").press(
        "Enter"
    )
    expect(page.locator("tbody.fm-line")).to_have_count(11)
    expect(page.locator(".fm-shelf :focus")).to_have_count(1)


# --- printed and kept ------------------------------------------------------------------


def test_the_sheet_is_printed_as_the_recipe_stands(demo):
    page = demo
    page.evaluate(COUNT_PRINTS)
    typed(page, "Batch, made up to", "55 L")
    made_up_to(page, "55 L")
    shown = weight(page, "Epsom salt").inner_text()
    page.get_by_role("button", name="Print the sheet").first.click()
    page.wait_for_function("window.prints.length > 0")
    (sheet,) = page.evaluate("window.prints")
    assert "Weigh for 55 L" in sheet
    assert re.search(rf"Epsom salt</td><td[^>]*>{re.escape(shown)}</td>", sheet)


def test_job_and_tables_are_kept_and_opened_by_somebody_else(
    demo, visit, page_server, tmp_path
):
    typed(demo, "Batch, made up to", "33 L")
    made_up_to(demo, "33 L")
    files = {}
    for name in ("Keep it as a page (HTML)", "Keep its tables (CSV)", "Keep the job"):
        file = kept(demo, demo.get_by_role("button", name=name))
        path = tmp_path / file.suggested_filename
        file.save_as(path)
        files[path.suffix] = path
    job = job_from_text(files[".toml"].read_text(encoding="utf-8"))
    assert job.volume == "33 L"
    assert "Weigh for 33 L" in files[".html"].read_text(encoding="utf-8")
    assert "Weigh for 33 L" in files[".csv"].read_text(encoding="utf-8")
    other = opened(visit(page_server, width=1440))
    expect(other.get_by_label("Batch, made up to").first).to_have_value("200 L")
    other.locator("input[type=file][name=job]").set_input_files(files[".toml"])
    made_up_to(other, "33 L")


def test_a_reload_finds_the_work_again_and_nobody_elses(demo, visit, page_server):
    mine = demo
    typed(mine, "Batch, made up to", "77 L")
    made_up_to(mine, "77 L")
    other = opened(visit(page_server))
    made_up_to(other, "200 L")
    mine.reload()
    opened(mine)
    made_up_to(mine, "77 L")
    expect(mine.get_by_text("your work as you left it")).to_be_visible()
    made_up_to(other, "200 L")


# --- hostile, by keyboard, for everybody ------------------------------------------------


def test_a_hostile_name_is_shown_as_text(demo):
    page = demo
    page.get_by_role("button", name="more about Epsom salt").click()
    typed(page, "Name on the sheet", HOSTILE)
    row = page.locator(".fm-weights tbody tr", has_text="<script>")
    expect(row).to_contain_text(HOSTILE)
    page.get_by_text("See it as it will be printed").click()
    preview = page.frame_locator("iframe[data-slot=preview]")
    expect(preview.get_by_text(HOSTILE).first).to_be_visible()
    assert page.evaluate("window.hit") is None
    assert page.locator("script", has_text="window.hit").count() == 0


def test_from_the_first_key_to_the_printed_sheet(visit, page_server):
    page = opened(visit(page_server, width=1440))
    page.evaluate(COUNT_PRINTS)
    page.evaluate("document.activeElement.blur()")
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        stop = page.evaluate(
            """() => { const e = document.activeElement, s = getComputedStyle(e)
                const around = e.closest('.fm-upload') ?? e
                return { label: e.getAttribute('aria-label') ?? e.textContent.trim(), name: e.name,
                    outlined: [s, getComputedStyle(around)].some(x => x.outlineStyle !== 'none') } }"""
        )
        reached.append(stop)
        assert stop["outlined"], stop
        assert stop["label"] or stop["name"] == "job", stop
        if stop["label"] == "Batch, made up to":
            page.keyboard.press("Control+a")
            page.keyboard.type("44 L")
            page.keyboard.press("Enter")
            made_up_to(page, "44 L")
        if stop["label"] == "Print the sheet":
            page.keyboard.press("Enter")
            break
    page.wait_for_function("window.prints.length > 0")
    assert "Weigh for 44 L" in page.evaluate("window.prints[0]")
