"""A real browser on the real servers: one server of each kind a session, nothing asked off this machine."""

import importlib.util
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from .stand_in import write_stand_in

ROOT = Path(__file__).parent.parent.parent
HERE = ("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:", "file:")
ADDRESS = re.compile(r"http://127\.0\.0\.1:\d+/\S+")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
]
NEEDED = ("anywidget", "ipywidgets", "jupyterlab", "playwright", "voila")
MISSING = [name for name in NEEDED if not importlib.util.find_spec(name)]
REQUIRED = os.environ.get("FORMULATE_BROWSER") == "required"
STARTED_S, STOPPED_S = 60, 15  # patience, not a bar
READY = """() => {
    const session = window.jupyterapp?.shell?.currentWidget?.sessionContext
    const kernel = session?.session?.kernel
    return session?.isReady && kernel?.connectionStatus === 'connected' && kernel.status === 'idle'
}"""

if MISSING and REQUIRED:
    raise pytest.UsageError(
        f"tests/browser needs {', '.join(MISSING)}: extra 'browser'"
    )
collect_ignore_glob = ["[a-z]*.py"] if MISSING else ["measure.py"]


def pytest_terminal_summary(terminalreporter):
    if MISSING:
        terminalreporter.write_line(
            f"tests/browser left out: no {', '.join(MISSING)} (pip install -e '.[browser]')"
        )


@pytest.fixture(scope="session")
def work(tmp_path_factory):
    """Return the folder in which the workbench saves during this session."""
    return tmp_path_factory.mktemp("work")


@pytest.fixture(scope="session")
def surroundings(work, tmp_path_factory):
    """Return environment variables under which no server sees a user's own settings."""
    home = tmp_path_factory.mktemp("home")
    (home / "config").mkdir()
    (home / "config" / "jupyter_lab_config.json").write_text(
        json.dumps({"LabApp": {"expose_app_in_browser": True}}), encoding="utf-8"
    )
    kept = {k: v for k, v in os.environ.items() if k not in ("MPLBACKEND", "BROWSER")}
    return kept | {
        "FORMULATE_WORK": str(work),
        "HOME": str(home),
        "IPYTHONDIR": str(home / "ipython"),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "run"),
        "PYTHONUNBUFFERED": "1",
    }


@contextmanager
def running(words, environment, log):
    """Run a server, yield it and the address it told, and end it with its kernels."""
    with open(log, "w+", encoding="utf-8") as file:
        process = subprocess.Popen(
            [sys.executable, *words],
            env=environment,
            stdout=file,
            stderr=file,
            start_new_session=True,
        )
        try:
            yield process, told_address(process, Path(log))
        finally:
            process.send_signal(signal.SIGINT)
            try:
                process.wait(STOPPED_S)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
                raise


def told_address(process, log):
    """Return the address that a server has printed."""
    for _ in range(10 * STARTED_S):
        found = ADDRESS.search(log.read_text(encoding="utf-8"))
        if found:
            return found[0]
        if process.poll() is not None:
            break
        time.sleep(0.1)
    raise RuntimeError(f"no server: {log.read_text(encoding='utf-8')}")


@pytest.fixture(scope="session")
def run_server(surroundings):
    """Return a context manager that runs `python` with some words as a server."""
    return lambda words, log: running(words, surroundings, log)


@pytest.fixture(scope="session")
def notebooks(tmp_path_factory):
    """Return a copy of the notebooks: no test writes into the checkout."""
    copy = tmp_path_factory.mktemp("lab") / "notebooks"
    shutil.copytree(ROOT / "notebooks", copy)
    return copy


@pytest.fixture(scope="session")
def stand_in(notebooks):
    """Return a notebook of one widget, in place of the workbench."""
    return write_stand_in(notebooks / "stand_in.ipynb")


@pytest.fixture(scope="session")
def lab(notebooks, run_server):
    """Return a function from a notebook's name to its address in JupyterLab; without one, what it opens on."""
    words = ["-m", "formulate.cli", "lab", str(notebooks / "workbench.ipynb")]
    log = notebooks.parent / "lab.log"
    with run_server([*words, "--no-browser"], log) as (_, told):
        start, token = told.split("/lab/")[0], told.split("token=")[1]

        def address(name=None):
            return (
                f"{start}/lab/tree/{name}?reset&token={token}"
                if name
                else f"{told}&reset"
            )

        yield address


@pytest.fixture(scope="session")
def page_server(notebooks, run_server):
    """Return the address of the workbench as a page."""
    words = ["-m", "formulate.cli", "page", str(notebooks / "workbench.ipynb")]
    log = notebooks.parent / "page.log"
    with run_server([*words, "--no-browser"], log) as (_, told):
        yield told


@pytest.fixture(scope="session")
def browser():
    """Return a running Chromium, Debian's own or the one that is on the path."""
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found and not REQUIRED:
        pytest.skip("no chromium on this machine (FORMULATE_BROWSER is not 'required')")
    assert found, "no chromium, and FORMULATE_BROWSER is 'required'"
    with sync_playwright() as playwright:
        running_browser = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield running_browser
        running_browser.close()


@contextmanager
def visitors(browser):
    """
    Yield a function that opens an address as a visitor of their own.

    At the end it fails if a page wrote an error, raised one, or asked anything off this machine.
    `allowed` names texts of which one must stand in an error that is no fault.
    """
    contexts, faults = [], []

    def open_address(address, *, allowed=(), width=1280, height=900):
        def note(text):
            if not any(piece in text for piece in allowed):
                faults.append(text)

        context = browser.new_context(viewport={"width": width, "height": height})
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: note(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: note(str(error)))
        page.on(
            "request", lambda r: note(r.url) if not r.url.startswith(HERE) else None
        )
        page.on(
            "websocket", lambda s: note(s.url) if not s.url.startswith(HERE) else None
        )
        page.goto(address, wait_until="commit")
        return page

    open_address.faults = faults
    yield open_address
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture
def visit(browser):
    """Return a function that opens an address as a visitor of this test."""
    with visitors(browser) as open_address:
        yield open_address


@pytest.fixture(scope="module")
def stay(browser):
    """Return a function that opens an address as a visitor of all tests of a file."""
    with visitors(browser) as open_address:
        yield open_address


@pytest.fixture(scope="session")
def lodge(browser, page_server):  # which ends after it
    """Return a function that opens an address as a visitor of all tests."""
    with visitors(browser) as open_address:
        yield open_address


@pytest.fixture(scope="session")
def shared(lodge, page_server):
    """Return the bench on a wide screen, opened once for all tests."""
    from .hands import opened

    return opened(lodge(page_server, width=1440))


@pytest.fixture
def demo(shared, lodge):
    """Return the bench that tests share, begun anew with the demo; its faults are this test's."""
    from .hands import begun

    yield begun(shared)
    faults = lodge.faults.copy()
    lodge.faults.clear()
    assert faults == []


@pytest.fixture
def hand(demo):
    """Return a person before the demo, folded as the page first opens."""
    from .hands import folded_as_at_first
    from .walking import Hand

    return Hand(folded_as_at_first(demo))


@pytest.fixture(scope="session")
def ready():
    """Return a function that waits until a notebook in JupyterLab has its kernel."""

    def wait(page):
        page.locator(".jp-Notebook .jp-Cell").first.wait_for(timeout=1000 * STARTED_S)
        page.wait_for_function(READY, timeout=1000 * STARTED_S)

    return wait


@pytest.fixture(scope="session")
def run_all(ready):
    """Return a function that runs every cell of the notebook a page of JupyterLab shows."""

    def run(page):
        ready(page)
        page.evaluate(
            "() => window.jupyterapp.commands.execute('notebook:run-all-cells')"
        )

    return run
