"""The two links of the README for hosted notebooks, on a server as binder/ describes it.

FORMULATE_HOSTED names a virtual environment made from binder/requirements.txt.
"""

import os
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent.parent
HOSTED = os.environ.get("FORMULATE_HOSTED", "")
TOKEN = "not-a-secret"
MATHJAX = (
    "/mathjax/"  # the one address of another machine that Voila's own settings name
)
ONLY_HERE = ("ERR_NAME_NOT_RESOLVED", "ERR_FAILED", MATHJAX)

pytestmark = pytest.mark.skipif(not HOSTED, reason="FORMULATE_HOSTED names no venv")


@pytest.fixture(scope="module")
def hosted(run_server, tmp_path_factory):
    """Return the address of a server that is started as a hosted one is."""
    home = tmp_path_factory.mktemp("hosted")
    words = [ROOT / "binder" / "start", Path(HOSTED) / "bin" / "jupyter", "lab"]
    words += ["--no-browser", "--allow-root", "--ServerApp.port_retries=0"]
    words += [f"--IdentityProvider.token={TOKEN}", "--ServerApp.port"]
    kept = {k: v for k, v in os.environ.items() if k != "MPLBACKEND"}
    own = {
        "FORMULATE_WORK": str(home / "work"),
        "HOME": str(home),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "run"),
        "REPO_DIR": str(ROOT),
    }
    with run_server(
        lambda port: [*words, port], home / "log", "login", cwd=ROOT, env=kept | own
    ) as address:
        yield address


def links():
    """Return what follows `urlpath=` in the links of the README."""
    return re.findall(
        r"urlpath=([^)\s\"`]+)", (ROOT / "README.md").read_text(encoding="utf-8")
    )


def test_the_link_to_the_lessons_opens_the_index(hosted, visit, ready):
    page = visit(f"{hosted}lab/tree/notebooks/00_index.ipynb?reset&token={TOKEN}")
    page.get_by_role("heading", name="Lessons").first.wait_for()
    assert page.locator(".jp-Notebook .jp-Cell").count() > 1
    assert page.get_by_text("notified about official Jupyter news").count() == 0


def test_the_link_to_the_workbench_opens_a_page_that_answers(hosted, visit):
    page = visit(
        f"{hosted}voila/render/notebooks/workbench.ipynb?token={TOKEN}",
        allowed=ONLY_HERE,
    )
    weight = page.locator(".fm-number").first
    weight.wait_for()
    assert page.get_by_text("File on this machine").count() == 0  # it is thrown away
    weight.click()
    page.locator(".fm-working").first.wait_for()
    assert page.locator(".jp-CodeCell .jp-InputArea-editor").count() == 0


def test_the_readme_names_these_links():
    assert sorted(links()) == [
        "lab/tree/notebooks/00_index.ipynb",
        "voila/render/notebooks/workbench.ipynb",
    ]
