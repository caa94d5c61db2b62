"""The workbench in a browser: changed live, printed, found again, on a page and in Lab."""

import json
import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from formulate.jobs import job_from_text

PATIENCE = 20_000  # ms, patience and not a bar
HOSTILE = '<script>window.hit = 1</script><img src=x onerror="window.hit = 1">'
CANCELLED = ("Canceled", "canceled")
END_KERNEL = (
    "() => window.jupyterapp.shell.currentWidget.context.sessionContext.shutdown()"
)
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


def weight(page, name):
    """Return the number to weigh of an ingredient."""
    return page.locator(".fm-weights tbody tr", has_text=name).locator(".fm-number")


def opened(page):
    """Wait until the bench shows weights."""
    expect(page.locator(".fm-weights tbody tr").first).to_be_visible(timeout=60_000)
    return page


def typed(page, label, text):
    """Type into a field and leave it."""
    field = page.get_by_label(label, exact=True).first
    field.fill(text)
    field.press("Tab")


@pytest.fixture(params=["page", "lab"])
def bench(request, visit):
    """Return the bench with the demo, on a page and in Lab."""
    if request.param == "page":
        page = visit(request.getfixturevalue("page_server"), width=1440)
    else:
        address = request.getfixturevalue("lab")("workbench.ipynb")
        page = visit(address, width=1440, allowed=CANCELLED)
        request.getfixturevalue("run_all")(page)
    yield opened(page)
    if request.param == "lab":
        page.evaluate(END_KERNEL)


@pytest.fixture
def page_bench(visit, page_server):
    return opened(visit(page_server, width=1440))


# --- changed live ----------------------------------------------------------------------


def test_water_target_price_and_shelf_change_the_recipe(bench):
    before = weight(bench, "calcium nitrate").inner_text()
    bench.get_by_label("typed here").check()
    typed(bench, "calcium (Ca) of the water, with unit", "40 mg/L")
    expect(weight(bench, "calcium nitrate")).not_to_have_text(before, timeout=PATIENCE)
    bench.get_by_role("button", name="Undo").click()
    bench.get_by_role("button", name="Undo").click()
    expect(weight(bench, "calcium nitrate")).to_have_text(before, timeout=PATIENCE)

    cost = bench.locator(".fm-recipe .fm-sum .fm-number")
    paid = cost.inner_text()
    typed(bench, "price of monopotassium phosphate for a kg or L", "48")
    expect(cost).not_to_have_text(paid, timeout=PATIENCE)

    bench.get_by_label("Target", exact=True).select_option("cornell-lettuce")
    expect(bench.locator(".fm-wishes .fm-sum")).to_contain_text(
        "Lettuce in a pond", timeout=PATIENCE
    )
    bench.get_by_label(re.compile("^Search the catalogue")).fill("ammonium sulf")
    bench.get_by_role(
        "button", name="put ammonium sulfate on the shelf", exact=True
    ).first.click()
    line = bench.locator("tbody.fm-line", has_text="ammonium sulfate")
    expect(line).to_be_visible(timeout=PATIENCE)


def test_a_figure_is_drawn_once_it_is_seen_and_never_empty(bench):
    figure = bench.locator("[data-slot=figure]")
    expect(figure.locator("svg")).to_have_count(0)
    figure.scroll_into_view_if_needed()
    expect(figure.locator("svg")).to_be_visible(timeout=PATIENCE)
    figure.evaluate(
        """slot => { window.empty = 0; window.drawn = 0; new MutationObserver(() => {
            window.drawn += 1; if (!slot.querySelector('svg')) window.empty += 1
        }).observe(slot, { childList: true }) }"""
    )
    typed(bench, "Strength", "70")
    bench.wait_for_function("window.drawn > 0", timeout=PATIENCE)
    assert bench.evaluate("window.empty") == 0
    expect(figure.locator("svg")).to_have_count(1)


def test_what_cannot_be_taken_is_told_and_kept(page_bench):
    page = page_bench
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
    expect(weight(page, "Epsom salt")).to_have_text("46.0", timeout=PATIENCE)


def test_nothing_jumps_and_focus_stays(page_bench):
    page = page_bench
    price = page.get_by_label("price of monopotassium phosphate for a kg or L")
    price.scroll_into_view_if_needed()
    first = page.locator(".fm-weights tbody tr").first
    places = price.bounding_box()["y"], first.bounding_box()["y"]
    cost = page.locator(".fm-recipe .fm-sum .fm-number")
    paid = cost.inner_text()
    price.fill("48")
    price.press("Enter")
    expect(cost).not_to_have_text(paid, timeout=PATIENCE)
    assert (price.bounding_box()["y"], first.bounding_box()["y"]) == places
    focused = page.evaluate("document.activeElement.name")
    assert focused == "line 3 price_per_kg"  # Enter goes to the next price
    page.get_by_role("button", name="take potassium sulfate off the shelf").press(
        "Enter"
    )
    expect(page.locator("tbody.fm-line")).to_have_count(11, timeout=PATIENCE)
    assert page.evaluate("document.activeElement.closest('.fm-shelf') !== null")


def test_running_the_cell_again_goes_on_with_the_same_work(
    lab, visit, run_all, page_server
):
    page = visit(lab("workbench.ipynb"), width=1440, allowed=CANCELLED)
    run_all(page)
    opened(page)
    typed(page, "Batch, made up to", "80 L")
    caption = page.locator(".fm-weights caption")
    expect(caption).to_contain_text("80 L", timeout=PATIENCE)
    for _ in range(5):
        run_all(page)
    expect(page.locator(".fm-weights")).to_have_count(1, timeout=PATIENCE)
    expect(caption).to_contain_text("80 L", timeout=PATIENCE)
    page.locator(".fm-weights").evaluate(
        """table => { window.redraws = 0; new MutationObserver(() => window.redraws += 1)
            .observe(table.querySelector('caption').firstChild, { characterData: true }) }"""
    )
    typed(page, "Batch, made up to", "90 L")
    expect(caption).to_contain_text("90 L", timeout=PATIENCE)
    assert page.evaluate("window.redraws") == 1
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.get_by_role("button", name="1 Water").focus()
    for key in ("d", "d", "a", "b", "ArrowUp", "x"):
        page.keyboard.press(key)
    expect(page.locator(".jp-Notebook .jp-Cell")).to_have_count(cells)
    page.evaluate(END_KERNEL)


# --- printed and kept ------------------------------------------------------------------


def test_the_sheet_is_printed_as_the_recipe_stands(page_bench):
    page = page_bench
    page.evaluate(COUNT_PRINTS)
    typed(page, "Batch, made up to", "55 L")
    expect(page.locator(".fm-weights caption")).to_contain_text(
        "55 L", timeout=PATIENCE
    )
    shown = weight(page, "Epsom salt").inner_text()
    page.get_by_role("button", name="Print the sheet").first.click()
    page.wait_for_function("window.prints.length > 0", timeout=PATIENCE)
    (sheet,) = page.evaluate("window.prints")
    assert "Weigh for 55 L" in sheet
    assert re.search(rf"Epsom salt</td><td[^>]*>{re.escape(shown)}</td>", sheet)


def test_job_and_tables_are_kept_and_opened_by_somebody_else(
    page_bench, visit, page_server, tmp_path
):
    typed(page_bench, "Batch, made up to", "33 L")
    expect(page_bench.locator(".fm-weights caption")).to_contain_text(
        "33 L", timeout=PATIENCE
    )
    kept = {}
    for name in ("Keep it as a page (HTML)", "Keep its tables (CSV)", "Keep the job"):
        with page_bench.expect_download() as download:
            page_bench.get_by_role("button", name=name).click()
        path = tmp_path / download.value.suggested_filename
        download.value.save_as(path)
        kept[path.suffix] = path
    job = job_from_text(kept[".toml"].read_text(encoding="utf-8"))
    assert job.volume == "33 L"
    assert "Weigh for 33 L" in kept[".html"].read_text(encoding="utf-8")
    assert "Weigh for 33 L" in kept[".csv"].read_text(encoding="utf-8")
    other = opened(visit(page_server, width=1440))
    expect(other.get_by_label("Batch, made up to").first).to_have_value("200 L")
    other.locator("input[type=file][name=job]").set_input_files(kept[".toml"])
    expect(other.locator(".fm-weights caption")).to_contain_text(
        "33 L", timeout=PATIENCE
    )


def test_a_reload_finds_the_work_again_and_nobody_elses(visit, page_server):
    mine, other = (opened(visit(page_server)) for _ in range(2))
    typed(mine, "Batch, made up to", "77 L")
    expect(mine.locator(".fm-weights caption")).to_contain_text(
        "77 L", timeout=PATIENCE
    )
    for page in (mine, other):
        page.reload()
        opened(page)
    expect(mine.locator(".fm-weights caption")).to_contain_text(
        "77 L", timeout=PATIENCE
    )
    expect(mine.get_by_text("your work as you left it")).to_be_visible()
    expect(other.locator(".fm-weights caption")).to_contain_text("200 L")


def test_a_killed_kernel_loses_nothing(lab, visit, run_all):
    page = visit(
        lab("workbench.ipynb"), width=1440, allowed=(*CANCELLED, "Comm not found")
    )
    run_all(page)
    opened(page)
    typed(page, "Batch, made up to", "66 L")
    caption = page.locator(".fm-weights caption")
    expect(caption).to_contain_text("66 L", timeout=PATIENCE)
    page.evaluate(
        """() => { const c = window.jupyterapp.shell.currentWidget.context.sessionContext
            window.states = []
            c.statusChanged.connect((_, status) => window.states.push(status))
            c.session.kernel.requestExecute({ code: 'import os, signal; os.kill(os.getpid(), signal.SIGKILL)' }) }"""
    )
    page.wait_for_function(
        "window.states.some(status => status.endsWith('restarting'))", timeout=60_000
    )
    told = page.get_by_role("dialog").get_by_role("button", name="Ok")
    expect(told).to_be_visible()
    told.click()
    run_all(page)
    expect(page.locator(".fm-weights caption").first).to_contain_text(
        "66 L", timeout=60_000
    )
    page.evaluate(END_KERNEL)


# --- hostile, by keyboard, for everybody ------------------------------------------------


def test_a_hostile_name_is_shown_as_text(page_bench):
    page = page_bench
    page.get_by_role("button", name="more about Epsom salt").click()
    typed(page, "Name on the sheet", HOSTILE)
    row = page.locator(".fm-weights tbody tr", has_text="<script>")
    expect(row).to_contain_text(HOSTILE, timeout=PATIENCE)
    page.get_by_text("See it as it will be printed").click()
    preview = page.frame_locator("iframe[data-slot=preview]")
    expect(preview.get_by_text(HOSTILE).first).to_be_visible(timeout=PATIENCE)
    assert page.evaluate("window.hit") is None
    assert page.locator("script", has_text="window.hit").count() == 0


def test_from_the_first_key_to_the_printed_sheet(page_bench):
    page = page_bench
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
            expect(page.locator(".fm-weights caption")).to_contain_text(
                "44 L", timeout=PATIENCE
            )
        if stop["label"] == "Print the sheet":
            page.keyboard.press("Enter")
            break
    page.wait_for_function("window.prints.length > 0", timeout=PATIENCE)
    assert "Weigh for 44 L" in page.evaluate("window.prints[0]")


def states(page):
    """Yield what the page shows in turn, by name."""
    yield "as opened"
    page.get_by_label("typed here").check()
    expect(page.get_by_label("calcium (Ca) of the water, with unit")).to_be_visible()
    page.get_by_role("button", name=re.compile("^Ca reached")).click()
    page.get_by_role("button", name="more about Epsom salt").click()
    expect(page.locator(".fm-working")).to_have_count(2)
    yield "typed water, a working, a line opened"
    typed(page, "limit on sodium (Na), with unit", "at most 1 mg/L")
    expect(page.get_by_text("No recipe keeps all of this")).to_be_visible(
        timeout=PATIENCE
    )
    yield "limits that cannot hold"
    page.get_by_role("button", name="Begin with nothing").click()
    expect(page.get_by_text("nothing on it; add an ingredient").first).to_be_visible()
    yield "nothing yet"


@pytest.mark.parametrize("width", [1440, 390])
def test_no_serious_finding_of_accessibility(visit, page_server, width):
    page = opened(visit(page_server, width=width))
    page.locator("[data-slot=figure]").scroll_into_view_if_needed()
    expect(page.locator("[data-slot=figure] svg")).to_be_visible(timeout=PATIENCE)
    found = {}
    for name in states(page):
        told = Axe().run(page).response["violations"]
        grave = [v for v in told if v["impact"] in ("serious", "critical")]
        for violation in grave:
            where = [node["html"][:120] for node in violation["nodes"][:3]]
            found.setdefault(name, []).append((violation["id"], where))
    assert found == {}, json.dumps(found, indent=1)
