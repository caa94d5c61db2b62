"""The ways into the workbench: JupyterLab with its code, or one page without any.

Both listen on this machine only and ask nothing of any other. The page runs in this process, so that its
token stands in no file, no environment and no list of processes.
"""

import asyncio
import atexit
import importlib.util
import logging
import os
import secrets
import shutil
import signal
import socket
import sys
import tempfile
import threading
import warnings
import webbrowser
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

import formulate
from formulate.errors import FormulateError, InputError
from formulate.files import read_text, write_text
from formulate.tables import DATA

__all__ = ["Way", "lab_way", "open_lab", "open_page", "page_way", "starting_notebook"]

HERE = "127.0.0.1"
LAB_PORT, PAGE_PORT, PORTS_TRIED = 8888, 8866, 50
FIRST_PORT, LAST_PORT = 1024, 65535
ENDING_S = 5  # for kernels to end by themselves
NAME = "workbench.ipynb"
SHIPPED = DATA / NAME
JUPYTER = DATA / "jupyter"
EXTENSIONS = (
    "@jupyter-widgets/jupyterlab-manager",
    "@voila-dashboards/widgets-manager8",
    "anywidget",
)
NEEDED = {
    "lab": ("anywidget", "ipywidgets", "jupyterlab"),
    "page": ("anywidget", "ipywidgets", "jupyterlab", "voila"),
}
ONLY_HERE = "; ".join(
    (
        "default-src 'self'",
        "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob: data:",
        "style-src 'self' 'unsafe-inline'",
        "img-src 'self' data: blob:",
        "font-src 'self' data:",
        f"connect-src 'self' ws://{HERE}:* ws://localhost:* data: blob:",
        "frame-src 'self' data: blob:",
        "frame-ancestors 'self'",
        "form-action 'self'",
        "base-uri 'self'",
    )
)


@dataclass(frozen=True)
class Way:
    """
    All that opens one notebook, before anything is started.

    Attributes
    ----------
    notebook : Path
        The notebook that is opened.
    arguments : tuple of str
        Words after the server's own command.
    environment : mapping of str to str
        Variables set for the server and its kernels; no secret is among them.
    settings : mapping of str to mapping
        Options of the server by its class, where it is set up in this process.
    opens_browser : bool
        Whether a browser is opened.
    """

    notebook: Path
    arguments: tuple = ()
    environment: Mapping = field(default_factory=dict)
    settings: Mapping = field(default_factory=dict)
    opens_browser: bool = True


def starting_notebook(folder="."):
    """
    Return the workbench's notebook: that of a checkout, or a copy in a folder.

    Parameters
    ----------
    folder : str or Path
        Where a copy goes if this is no checkout; one that is there is never overwritten.

    Returns
    -------
    Path
        The notebook.

    Examples
    --------
    >>> starting_notebook().name
    'workbench.ipynb'
    """
    in_checkout = Path(formulate.__file__).parent.parent / "notebooks" / NAME
    if in_checkout.is_file():
        return in_checkout
    copy = Path(folder).resolve() / NAME
    if not copy.exists():
        write_text(copy, read_text(SHIPPED))
    return copy


def lab_way(notebook, *, port=None, open_browser=True, as_root=False):
    """
    Return how JupyterLab is started on a notebook.

    News, update checks and the installing of extensions are off; it listens on this machine only.

    Parameters
    ----------
    notebook : str or Path
        The notebook; its folder is what JupyterLab shows.
    port : int or None
        Port to listen on; the first free one from 8888 on if None. [-]
    open_browser : bool
        Whether to open a browser.
    as_root : bool
        Whether the one who starts it is root, whom JupyterLab asks to say so.

    Returns
    -------
    Way
        Arguments, environment and settings.

    Raises
    ------
    InputError
        If there is no such notebook or the port cannot be had.

    Examples
    --------
    >>> way = lab_way(starting_notebook(), open_browser=False)
    >>> "--ServerApp.ip=127.0.0.1" in way.arguments
    True
    """
    path = _checked(notebook, port)
    return Way(
        path,
        arguments=(
            f"--ServerApp.ip={HERE}",
            f"--ServerApp.port={LAB_PORT if port is None else port}",
            f"--ServerApp.port_retries={PORTS_TRIED if port is None else 0}",
            f"--ServerApp.root_dir={path.parent}",
            f"--LabApp.default_url=/lab/tree/{quote(path.name)}",
            f"--ServerApp.open_browser={open_browser}",
            "--ServerApp.answer_yes=True",
            "--ServerApp.log_level=WARN",
            "--KernelManager.transport_encryption=auto",
            "--LabApp.extension_manager=readonly",
            "--LabApp.news_url=None",
            "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            *(["--allow-root"] if as_root else []),
        ),
        environment={"JUPYTER_CONFIG_PATH": _before("JUPYTER_CONFIG_PATH", JUPYTER)},
        opens_browser=open_browser,
    )


def page_way(notebook, *, port=None, open_browser=True, idle_s=600, look_s=60):
    """
    Return how a notebook is served as one page.

    The first kernel starts with the server; each visitor has one of their own. Kernels whose visitor
    has left are ended. Only messages of widgets reach a kernel: a visitor cannot send code.

    Parameters
    ----------
    notebook : str or Path
        The notebook.
    port : int or None
        Port to listen on; the first free one from 8866 on if None. [-]
    open_browser : bool
        Whether to open a browser.
    idle_s : int
        How long a kernel without its visitor is kept. [s]
    look_s : int
        How often such kernels are looked for. [s]

    Returns
    -------
    Way
        Arguments, environment and settings.

    Raises
    ------
    InputError
        If there is no such notebook or the port cannot be had.

    Examples
    --------
    >>> way = page_way(starting_notebook(), open_browser=False)
    >>> way.settings["Voila"]["ip"], way.environment["FORMULATE_PAGE"]
    ('127.0.0.1', '1')
    """
    path = _checked(notebook, port)
    return Way(
        path,
        environment={
            "FORMULATE_PAGE": "1",
            "JUPYTER_PATH": _before("JUPYTER_PATH", JUPYTER),
        },
        settings={
            "Voila": {
                "ip": HERE,
                "port": PAGE_PORT if port is None else port,
                "port_retries": PORTS_TRIED if port is None else 0,
                "root_dir": str(path.parent),
                "log_level": "ERROR",
                "tornado_settings": {
                    "allow_remote_access": False,  # a foreign Host is refused
                    "headers": {"Content-Security-Policy": ONLY_HERE},
                },
            },
            "VoilaConfiguration": {
                "template": "formulate",
                "allow_template_override": "NO",
                "allow_theme_override": "NO",
                "extension_allowlist": list(EXTENSIONS),
                "file_allowlist": [],  # no file beside the notebook is served
                "preheat_kernel": True,
            },
            "MappingKernelManager": {
                "cull_idle_timeout": idle_s,
                "cull_interval": look_s,
            },
            "KernelManager": {"transport_encryption": "auto"},
            "IdentityProvider": {"cookie_options": {"samesite": "Strict"}},
        },
        opens_browser=open_browser,
    )


def open_lab(way):
    """
    Run JupyterLab until it is ended by ctrl-C.

    Parameters
    ----------
    way : Way
        What `lab_way` returned.

    Raises
    ------
    FormulateError
        If a package is missing.

    Examples
    --------
    >>> open_lab(lab_way(starting_notebook()))  # doctest: +SKIP
    """
    _need("lab")
    os.environ.update(way.environment)
    warnings.filterwarnings("ignore", category=DeprecationWarning, module="traitlets")
    from jupyterlab.labapp import LabApp

    _heed_ctrl_c()
    LabApp.launch_instance(list(way.arguments))


def open_page(way, *, say=sys.stdout.write):
    """
    Serve the page until ctrl-C, then end its kernels.

    Parameters
    ----------
    way : Way
        What `page_way` returned.
    say : callable
        Takes the lines that tell the address.

    Raises
    ------
    FormulateError
        If a package is missing.

    Examples
    --------
    >>> open_page(page_way(starting_notebook()))  # doctest: +SKIP
    """
    _need("page")
    os.environ.update(way.environment)
    page = _page_application(way, secrets.token_urlsafe(24), say)
    page.initialize([])
    _heed_ctrl_c()
    page.start()


def _heed_ctrl_c():
    """Let ctrl-C end this also where a script in the background, which ignores it, started it."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def _page_application(way, token, say):
    """Return Voila set up for one notebook, its first kernel started with the server."""
    from jupyter_core.utils import run_sync
    from jupyter_server import DEFAULT_STATIC_FILES_PATH
    from jupyter_server.log import log_request
    from voila.app import Config, Voila
    from voila.shutdown_kernel_handler import VoilaShutdownKernelHandler

    class Left(VoilaShutdownKernelHandler):
        def check_xsrf_cookie(self):
            """Let a visitor's own page end its kernel: it has no form token to send.

            The cookie that lets it in is of this site alone (SameSite=Strict).
            """

    class Page(Voila):
        def init_settings(self):
            settings, kernels = super().init_settings(), self.kernel_manager
            start = kernels.start_kernel

            def start_untold(*words, env, **options):
                told = {key: value for key, value in env.items() if token not in value}
                return start(*words, env=told, **options)

            kernels.start_kernel = start_untold
            # later visitors start their own kernel, from the work as it is saved by then
            kernels.fill_if_needed = lambda **_: None
            return settings

        def init_handlers(self):
            kept = [h for h in super().init_handlers() if "/voila/query/" not in h[0]]
            ends = VoilaShutdownKernelHandler
            return [(h[0], Left, *h[2:]) if h[1] is ends else h for h in kept]

        def stop(self):
            """End every kernel, also one that its visitor is leaving just now."""
            kernels = [k.provisioner for k in self.kernel_manager._kernels.values()]
            processes = [getattr(made, "process", None) for made in kernels]

            async def end():
                await asyncio.wait_for(self.kernel_manager.shutdown_all(), ENDING_S)

            with suppress(TimeoutError, asyncio.TimeoutError, RuntimeError):
                run_sync(end)()
            for process in processes:
                if process is not None and process.poll() is None:
                    process.kill()
            shutil.rmtree(self.connection_dir, ignore_errors=True)

        def launch_browser(self):
            address = f"{self.connection_url}?token={token}"
            say(f"The workbench is at\n    {address}\nctrl-C here ends it.\n")
            sys.stdout.flush()
            if way.opens_browser:
                _show(address)

    logging.getLogger("tornado.general").setLevel(logging.ERROR)
    settings = Config(way.settings)
    settings.Voila.tornado_settings |= {
        "log_function": log_request,  # hides tokens
        "static_path": DEFAULT_STATIC_FILES_PATH,  # for pages that tell a fault
        "static_url_prefix": "/voila/static/",
    }
    return Page.instance(
        config=settings,
        token=token,
        notebook_path=str(way.notebook),
        config_file_paths=[],  # a strange folder's settings are not run
        open_browser=True,
    )


def _show(address):
    """Open a browser by way of a file only its owner can read, so that `ps` shows no token."""
    handle, name = tempfile.mkstemp(prefix="formulate-", suffix=".html")
    atexit.register(Path(name).unlink, missing_ok=True)
    with open(handle, "w", encoding="utf-8") as file:
        file.write(
            '<!DOCTYPE html><html lang="en"><title>formulate</title>'
            f'<meta http-equiv="refresh" content="0;url={address}">'
            f'<p><a href="{address}">Open the workbench</a></p></html>'
        )
    threading.Thread(
        target=webbrowser.open, args=(Path(name).as_uri(),), daemon=True
    ).start()


def _need(which):
    """Raise an error that names what to install, if a package is missing."""
    missing = [name for name in NEEDED[which] if not importlib.util.find_spec(name)]
    if missing:
        raise FormulateError(
            f"formulate {which} needs {', '.join(missing)}: "
            "pip install 'formulate-salts[workbench]' "
            "(in a checkout: pip install -e '.[workbench]')"
        )


def _checked(notebook, port):
    """Return the whole path of a notebook, if it and the port can be had."""
    path, faults = Path(notebook).resolve(), []
    if path.suffix != ".ipynb" or not path.is_file():
        faults.append(f"{notebook}: no such notebook; name a file that ends in .ipynb")
    if port is not None:
        faults += _port_faults(port)
    if faults:
        raise InputError(*faults)
    return path


def _port_faults(port):
    """Return why a port cannot be had, as a list of at most one text."""
    if not FIRST_PORT <= port <= LAST_PORT:
        return [f"port {port}: write a whole number from {FIRST_PORT} to {LAST_PORT}"]
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((HERE, port))
        except OSError as error:
            return [f"port {port}: {error.strerror}; name another, or none"]
    return []


def _before(variable, folder):
    """Return a search path with a folder put first."""
    return os.pathsep.join(filter(None, (str(folder), os.environ.get(variable))))
