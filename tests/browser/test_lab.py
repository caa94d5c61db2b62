"""The workbench in JupyterLab: changed live as on a page, run again, its kernel killed; nothing asked elsewhere."""

import shutil

import pytest

from .hands import STARTING, begun, expect, made_up_to, opened, typed
from .stand_in import button
from .test_workbench import (
    test_a_figure_is_drawn_once_it_is_seen_and_never_empty,
    test_water_target_price_and_shelf_change_the_recipe,
)

__all__ = [  # the same as on a page, with the bench of this file
    "test_a_figure_is_drawn_once_it_is_seen_and_never_empty",
    "test_water_target_price_and_shelf_change_the_recipe",
]

ENDED = (
    "Canceled",
    "canceled",
    "Comm not found",
)  # what Lab says of a kernel that is gone
END_KERNEL = """async () => {
    await window.jupyterapp.shell.currentWidget.context.sessionContext.shutdown()
}"""
KILL = """() => {
    const session = window.jupyterapp.shell.currentWidget.context.sessionContext
    window.states = []
    session.statusChanged.connect((_, status) => window.states.push(status))
    const code = 'import os, signal; os.kill(os.getpid(), signal.SIGKILL)'
    session.session.kernel.requestExecute({ code })
}"""
KILLED = "() => window.states.some(status => status.endsWith('restarting'))"
COUNT_REDRAWS = """table => {
    window.redraws = 0
    const text = table.querySelector('caption').firstChild
    new MutationObserver(() => window.redraws += 1).observe(text, { characterData: true })
}"""


@pytest.fixture(scope="module")
def in_lab(lab, notebooks, stay, run_all):
    """Return the bench in Lab, in a notebook of its own, opened once for all tests of this file."""
    path = notebooks / "bench.ipynb"
    shutil.copy(notebooks / "workbench.ipynb", path)
    page = stay(lab(path.name), width=1440, allowed=ENDED)
    run_all(page)
    yield opened(page)
    page.evaluate(END_KERNEL)


@pytest.fixture
def bench(in_lab):
    """Return the bench in Lab, begun anew with the demo."""
    return begun(in_lab)


def test_running_the_cell_again_goes_on_with_the_same_work(bench, run_all):
    typed(bench, "Batch, made up to", "80 L")
    made_up_to(bench, "80 L")
    for _ in range(5):
        run_all(bench)
    weights = bench.locator(".fm-weights")
    expect(weights).to_have_count(1)
    made_up_to(bench, "80 L")
    weights.evaluate(COUNT_REDRAWS)
    typed(bench, "Batch, made up to", "90 L")
    made_up_to(bench, "90 L")
    assert bench.evaluate("window.redraws") == 1


def test_keys_of_lab_do_nothing_to_its_cells_while_the_bench_has_the_focus(bench):
    cells = bench.locator(".jp-Notebook .jp-Cell")
    count = cells.count()
    bench.locator(".fm-parts [data-go=water]").focus()
    for key in ("d", "d", "a", "b", "ArrowUp", "x"):
        bench.keyboard.press(key)
    typed(bench, "Batch, made up to", "90 L")
    made_up_to(bench, "90 L")  # by now Lab has dealt with its keys
    expect(cells).to_have_count(count)


def test_a_killed_kernel_loses_nothing(bench, run_all):
    typed(bench, "Batch, made up to", "66 L")
    made_up_to(bench, "66 L")
    bench.evaluate(KILL)
    bench.wait_for_function(KILLED, timeout=STARTING)
    told = bench.get_by_role("dialog").get_by_role("button", name="Ok")
    expect(told).to_be_visible(timeout=STARTING)
    told.click()
    expect(bench.get_by_role("dialog")).to_have_count(0)
    run_all(bench)
    caption = bench.locator(".fm-weights caption").first
    expect(caption).to_contain_text("66 L", timeout=STARTING)


def test_the_lab_runs_a_notebook_and_asks_nothing_elsewhere(
    lab, stand_in, visit, run_all
):
    page = visit(lab(stand_in.name), allowed=ENDED)
    run_all(page)
    expect(button(page)).to_contain_text("page no", timeout=STARTING)
    button(page).click()
    expect(button(page)).to_contain_text("pressed 1")
    news = page.evaluate("() => fetch('/lab/api/news').then(a => a.json())")
    update = page.evaluate("() => fetch('/lab/api/update').then(a => a.json())")
    assert (news["news"], update["notification"]) == ([], None)
    assert page.get_by_text("Jupyter news").count() == 0
    page.evaluate(END_KERNEL)


def test_the_lab_opens_on_the_workbench(lab, visit, ready):
    page = visit(lab(), allowed=ENDED)
    heading = page.get_by_role("heading", name="Workbench")
    expect(heading).to_be_visible(timeout=STARTING)
    ready(page)
    page.evaluate(END_KERNEL)
