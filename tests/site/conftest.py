"""A site built for real and served as the command tells; a browser that can reach this machine only.

Runs where FORMULATE_SITE is `required` (extras `browser` and `site`, npm or the Pyodide files that
FORMULATE_PYODIDE names); is left out elsewhere.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
HERE = ("http://127.0.0.1:", "ws://127.0.0.1:", "data:", "blob:", "about:")
REQUIRED = os.environ.get("FORMULATE_SITE") == "required"
STARTED_S = 180  # patience, not a bar
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
READY = """() => {
    const session = window.jupyterapp?.shell?.currentWidget?.sessionContext
    const kernel = session?.session?.kernel
    return session?.isReady && kernel?.connectionStatus === 'connected' && kernel.status === 'idle'
}"""
RUN_ALL = """async () => {
    await window.jupyterapp.commands.execute('notebook:run-all-cells')
    return window.jupyterapp.shell.currentWidget.content.model.sharedModel.toJSON().cells
}"""
STATUS = (
    "() => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.status"
)
RUN_CODE = """async (code) => {
    const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel
    const future = kernel.requestExecute({ code })
    let told = ''
    future.onIOPub = message => { told += message.content.text ?? message.content.evalue ?? '' }
    const reply = await future.done
    return [reply.content.status, told]
}"""

collect_ignore_glob = [] if REQUIRED else ["test_*.py"]


def free_port():
    """Return a port that nothing listens on."""
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


@contextmanager
def served(words_of_port, log, answers="", **surroundings):
    """Run a server until the block ends; yield its address once it answers."""
    port = free_port()
    address = f"http://127.0.0.1:{port}/"
    with open(log, "w", encoding="utf-8") as file:
        process = subprocess.Popen(
            list(map(str, words_of_port(port))),
            stdout=file,
            stderr=file,
            **surroundings,
        )
    try:
        wait_for(address + answers, process, log)
        yield address
    finally:
        process.terminate()
        process.wait(60)


def wait_for(address, process, log):
    """Return once a server answers."""
    for _ in range(10 * STARTED_S):
        if process.poll() is not None:
            break
        try:
            urllib.request.urlopen(address, timeout=10).close()
            return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"no server: {Path(log).read_text(encoding='utf-8')}")


@pytest.fixture(scope="session")
def built(tmp_path_factory):
    """Return the folder of a site that the command has written, and what it told."""
    folder = tmp_path_factory.mktemp("site") / "lessons-site"
    brought = os.environ.get("FORMULATE_PYODIDE")
    done = subprocess.run(
        [
            *(sys.executable, "-m", "formulate.cli", "site", str(folder)),
            *(["--pyodide", brought] if brought else []),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return folder, done.stdout


@pytest.fixture(scope="session")
def site(built):
    """Return the address of the site, served as the command tells."""
    folder = built[0]
    words = [sys.executable, "-m", "http.server", "--bind", "127.0.0.1", "-d", folder]
    with served(lambda port: [*words, port], folder.parent / "server.log") as address:
        yield address


@pytest.fixture(scope="session")
def run_server():
    """Return a context manager that runs a server, given its words for a port."""
    return served


@pytest.fixture(scope="session")
def browser():
    """Return a running Chromium, to which names of other machines mean nothing."""
    from playwright.sync_api import sync_playwright

    found = shutil.which("chromium") or shutil.which("chromium-browser")
    assert found, "no chromium, and FORMULATE_SITE is 'required'"
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=found, args=FLAGS)
        yield running
        running.close()


@pytest.fixture
def visit(browser):
    """
    Return a function that opens an address as a visitor of their own.

    The test fails at its end if a page asked anything off this machine, wrote an error, or asked
    for something that is not there; `allowed` names pieces of what is no fault.
    """
    contexts, faults = [], []

    def open_address(address, *, allowed=()):
        def note(text):
            if not any(piece in text for piece in allowed):
                faults.append(text)

        context = browser.new_context(viewport={"width": 1280, "height": 900})
        contexts.append(context)
        context.set_default_timeout(1000 * STARTED_S)
        context.route(lambda url: not url.startswith(HERE), lambda r: r.abort())
        context.on("request", lambda r: r.url.startswith(HERE) or note(r.url))
        context.on("response", lambda r: r.status < 400 or note(f"{r.status} {r.url}"))
        context.on("weberror", lambda error: note(str(error.error)))
        page = context.new_page()
        page.on("websocket", lambda s: s.url.startswith(HERE) or note(s.url))
        page.route("**/jupyter-lite.json*", show_application)
        page.goto(address)
        return page

    yield open_address
    for context in contexts:
        context.close()
    assert faults == []


def show_application(route):
    """Serve the settings of the site with the one that lets a test look inside."""
    response = route.fetch()
    settings = response.json()
    if "jupyter-config-data" in settings:
        settings["jupyter-config-data"]["exposeAppInBrowser"] = True
    route.fulfill(response=response, body=json.dumps(settings))


@pytest.fixture(scope="session")
def ready():
    """Return a function that waits until the notebook of a page has its kernel."""

    def wait(page):
        page.locator(".jp-Notebook .jp-Cell").first.wait_for()
        page.wait_for_function(READY)

    return wait


@pytest.fixture(scope="session")
def run_all(ready):
    """Return a function that runs every cell of a page's notebook and returns the cells."""

    def run(page):
        ready(page)
        cells = page.evaluate(RUN_ALL)
        return cells, page.evaluate(STATUS)

    return run


@pytest.fixture(scope="session")
def run_code(ready):
    """Return a function that runs code in the kernel of a page: the status, and what it told."""

    def run(page, code):
        ready(page)
        return tuple(page.evaluate(RUN_CODE, code))

    return run
