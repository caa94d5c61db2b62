"""The ways into the workbench, before anything is started."""

import fnmatch
import json
import os
import queue
import re
import socket
import stat
import subprocess
import sys
import tomllib
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

import formulate
from formulate import serving
from formulate.errors import FormulateError, InputError
from formulate.serving import lab_way, open_lab, open_page, page_way, starting_notebook

ROOT = Path(__file__).parent.parent
SHIPPED = Path(formulate.__file__).parent / "data"
NOTEBOOK = ROOT / "notebooks" / "workbench.ipynb"


def option(way, name):
    """Return what the arguments say of an option, each said once."""
    said = [a.partition("=")[2] for a in way.arguments if a.startswith(f"{name}=")]
    assert len(said) == 1
    return said[0]


def free_port():
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return trial.getsockname()[1]


def test_lab_listens_here_only_and_opens_the_notebook():
    way = lab_way(NOTEBOOK)
    assert option(way, "--ServerApp.ip") == "127.0.0.1"
    assert option(way, "--ServerApp.root_dir") == str(ROOT / "notebooks")
    assert option(way, "--LabApp.default_url") == "/lab/tree/workbench.ipynb"
    assert option(way, "--ServerApp.open_browser") == "True"
    assert "--allow-root" not in way.arguments


def test_lab_asks_for_no_news_no_updates_and_installs_nothing():
    way = lab_way(NOTEBOOK)
    assert option(way, "--LabApp.news_url") == "None"
    assert "Never" in option(way, "--LabApp.check_for_updates_class")
    assert option(way, "--LabApp.extension_manager") == "readonly"
    settings = Path(way.environment["JUPYTER_CONFIG_PATH"].split(os.pathsep)[0])
    written = (settings / "labconfig" / "default_setting_overrides.json").read_text()
    notices = json.loads(written)["@jupyterlab/apputils-extension:notification"]
    assert notices == {"checkForUpdates": False, "fetchNews": "false"}


def test_a_port_that_is_named_is_used_or_none():
    port = free_port()
    assert option(lab_way(NOTEBOOK, port=port), "--ServerApp.port") == str(port)
    assert option(lab_way(NOTEBOOK, port=port), "--ServerApp.port_retries") == "0"
    assert page_way(NOTEBOOK, port=port).settings["Voila"]["port"] == port
    assert page_way(NOTEBOOK, port=port).settings["Voila"]["port_retries"] == 0
    assert page_way(NOTEBOOK).settings["Voila"]["port_retries"] > 0
    assert int(option(lab_way(NOTEBOOK), "--ServerApp.port_retries")) > 0


def test_root_and_no_browser_are_handed_on():
    way = lab_way(NOTEBOOK, open_browser=False, as_root=True)
    assert option(way, "--ServerApp.open_browser") == "False"
    assert "--allow-root" in way.arguments
    assert page_way(NOTEBOOK, open_browser=False).opens_browser is False


def test_page_listens_here_only_and_tells_its_kernels():
    way = page_way(NOTEBOOK)
    assert way.settings["Voila"]["ip"] == "127.0.0.1"
    assert way.settings["Voila"]["tornado_settings"]["allow_remote_access"] is False
    assert way.settings["VoilaConfiguration"]["file_allowlist"] == []
    assert way.settings["MappingKernelManager"]["cull_idle_timeout"] > 0
    assert way.environment["FORMULATE_PAGE"] == "1"
    assert "FORMULATE_PAGE" not in lab_way(NOTEBOOK).environment


def test_no_way_holds_a_token():
    for way in (lab_way(NOTEBOOK), page_way(NOTEBOOK)):
        assert "token" not in repr(way).casefold()


def test_the_page_may_load_from_this_machine_only():
    """Every source a browser is allowed is the page itself or a name of this machine."""
    headers = page_way(NOTEBOOK).settings["Voila"]["tornado_settings"]["headers"]
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'self';")
    for rule in policy.split("; "):
        for source in rule.split()[1:]:
            if "//" in source:
                assert urlsplit(source).netloc.split(":")[0] in (
                    "127.0.0.1",
                    "localhost",
                )
            else:
                assert source.startswith("'") or source in ("data:", "blob:")


def test_the_template_links_nothing_elsewhere():
    texts = [p.read_text() for p in (SHIPPED / "jupyter").rglob("*") if p.is_file()]
    assert len(texts) >= 3
    assert [x for text in texts for x in re.findall(r"\S*//\S*", text)] == []


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        page_way("no-such.ipynb", port=80)
    assert len(caught.value.faults) == 2
    assert "no-such.ipynb" in caught.value.faults[0]
    assert "1024 to 65535" in caught.value.faults[1]
    with pytest.raises(InputError, match="port 70000"):
        lab_way(NOTEBOOK, port=70000)
    with pytest.raises(InputError, match=r"ends in \.ipynb"):
        lab_way(ROOT / "README.md")


def test_a_port_in_use_is_told():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(InputError, match=f"port {port}: .*name another, or none"):
            page_way(NOTEBOOK, port=port)


def test_a_checkout_opens_its_own_notebook(tmp_path):
    assert starting_notebook(tmp_path) == NOTEBOOK
    assert list(tmp_path.iterdir()) == []


def test_elsewhere_a_copy_is_put_and_never_overwritten(tmp_path, monkeypatch):
    installed = tmp_path / "packages" / "formulate" / "__init__.py"
    monkeypatch.setattr(formulate, "__file__", str(installed))
    copy = starting_notebook(tmp_path)
    assert copy == tmp_path / "workbench.ipynb"
    assert copy.read_text() == (SHIPPED / "workbench.ipynb").read_text()
    copy.write_text("mine")
    assert starting_notebook(tmp_path) == copy
    assert copy.read_text() == "mine"


def test_the_shipped_notebook_is_that_of_the_checkout():
    """A change of one is copied to the other: `cp notebooks/workbench.ipynb formulate/data/`."""
    assert (SHIPPED / "workbench.ipynb").read_text() == NOTEBOOK.read_text()


def test_what_the_ways_need_is_in_the_wheel():
    setup = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]
    patterns = setup["package-data"]["formulate"]
    files = [p for p in (SHIPPED / "jupyter").rglob("*") if p.is_file()]
    for path in (*files, SHIPPED / "workbench.ipynb"):
        name = path.relative_to(SHIPPED.parent)
        assert any(
            len(Path(p).parts) == len(name.parts) and fnmatch.fnmatch(str(name), p)
            for p in patterns
        ), f"{name} stands in no pattern of package-data"


@pytest.mark.parametrize(
    ("opens", "way", "absent"),
    [(open_lab, lab_way, "jupyterlab"), (open_page, page_way, "voila")],
)
def test_a_missing_package_is_named_with_what_to_install(
    opens, way, absent, monkeypatch
):
    def find(name):
        return None if name == absent else "there"

    made = way(NOTEBOOK)
    monkeypatch.setattr("importlib.util.find_spec", find)
    with pytest.raises(FormulateError) as caught:
        opens(made)
    assert f"needs {absent}: pip install 'formulate-salts[workbench]'" in str(
        caught.value
    )


def test_the_browser_is_handed_a_file_that_only_its_owner_reads(monkeypatch):
    """What a browser is started with stands in the list of processes: no token there."""
    opened = queue.Queue()
    monkeypatch.setattr("webbrowser.open", opened.put)
    address = "http://127.0.0.1:8866/?token=secret"
    serving._show(address)
    told = opened.get(timeout=60)
    assert told.startswith("file:")
    assert "secret" not in told
    path = Path(unquote(urlsplit(told).path))
    try:
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert f"url={address}" in path.read_text()
    finally:
        path.unlink()


def test_the_command_starts_without_what_only_a_recipe_needs():
    code = "import sys, formulate.cli; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.split())
    assert "formulate.serving" in loaded
    assert not loaded & {"numpy", "scipy", "pandas", "matplotlib", "jupyter_server"}
