"""A site step by step: what is missing is told at once, what is there is moved in one step."""

import importlib.util
import json
import os
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

import formulate
from formulate.errors import Faults, FormulateError, InputError
from formulate.files import write_text
from formulate.site.core import (
    LOCK,
    core_faults,
    core_version,
    fetched_core,
    unpacked_core,
)
from formulate.site.front_page import front_page
from formulate.site.lessons import notebooks_folder, site_copy, site_lessons
from formulate.site.lock import needed_packages, package_name, site_lock
from formulate.site.wheels import OWN, downloaded, own_wheel
from formulate.tables import checksum

__all__ = ["MARKER", "Site", "build_site", "site_faults"]

MARKER = "formulate-site.json"
NEEDED = ("comm", "jupyter_server", "jupyterlite_core", "jupyterlite_pyodide_kernel")
KERNEL = ("ipython", "jedi", "micropip")  # what the kernel of the browser loads itself
INSTALLED = {  # taken in the version that is installed here, and tested
    "comm": ("comm",),
    "lazy-loader": ("lazy_loader",),
    "periodictable": ("periodictable",),
}
DEPENDS = {OWN: ("lazy-loader", "periodictable"), "periodictable": ("pyparsing",)}
EXTENSION = "@jupyterlite/pyodide-kernel-extension"
PLUGIN = f"{EXTENSION}:kernel"


@dataclass(frozen=True)
class Site:
    """
    A folder that a browser runs.

    Attributes
    ----------
    folder : Path
        Where it is.
    lessons : tuple of SiteLesson
        What stands in it.
    size : int
        Bytes of all its files. [-]
    pyodide : str
        Version of Pyodide in it.
    """

    folder: Path
    lessons: tuple
    size: int
    pyodide: str


def site_faults(folder, *, pyodide=None, wheels=None, notebooks=None):
    """
    Return what stands in the way of a site, before anything is done.

    Parameters
    ----------
    folder : str or Path
        Where the site is to be.
    pyodide : str, Path or None
        Folder or archive with the files of Pyodide; npm fetches them if None.
    wheels : str, Path or None
        Folder with the wheels of other packages; pip fetches them if None.
    notebooks : str, Path or None
        Folder of the lessons; that of the checkout if None.

    Returns
    -------
    tuple of str
        Each fault: what was found, what to do.

    Examples
    --------
    >>> site_faults(".", wheels="no-such-folder")[-1]
    '--wheels no-such-folder: no such folder'
    """
    faults = [*_folder_faults(Path(folder)), *_package_faults()]
    if pyodide is not None:
        faults += core_faults(pyodide)
    elif not shutil.which("npm"):
        faults.append(
            "the files of Pyodide are missing, and npm, which would fetch them, is too: install "
            "npm, or bring the archive by hand and name it with --pyodide"
        )
    if wheels is not None and not Path(wheels).is_dir():
        faults.append(f"--wheels {wheels}: no such folder")
    elif not importlib.util.find_spec("pip"):
        faults.append("pip is missing: python -m ensurepip")
    lessons = Faults()
    with lessons.collecting():
        site_lessons(notebooks or notebooks_folder())
    return (*lessons.found, *faults)


def _folder_faults(folder):
    """Return why a site cannot be put where it is wanted."""
    if folder.exists() and not folder.is_dir():
        return [f"{folder}: is a file; name a folder"]
    if folder.is_dir() and any(folder.iterdir()) and not (folder / MARKER).is_file():
        return [
            f"{folder}: is not empty, and no site that was made here before; name a new folder"
        ]
    if not folder.resolve().parent.is_dir():
        return [f"{folder.resolve().parent}: no such folder; make it first"]
    return []


def _package_faults():
    """Return which packages of the extra `site` are missing."""
    missing = [name for name in NEEDED if not importlib.util.find_spec(name)]
    if not missing:
        return []
    return [
        f"formulate site needs {', '.join(missing)}: pip install 'formulate-salts[site]' "
        "(in a checkout: pip install -e '.[site]')"
    ]


def build_site(folder, *, pyodide=None, wheels=None, notebooks=None, say=print):
    """
    Make the folder: the lessons, Python for the browser, the packages, JupyterLab.

    All is made beside it and moved there at the end, so that a fault midway leaves an
    earlier site as it was.

    Parameters
    ----------
    folder : str or Path
        Where the site is to be: a new or empty folder, or an earlier site.
    pyodide : str, Path or None
        Folder or archive with the files of Pyodide; npm fetches them if None.
    wheels : str, Path or None
        Folder with the wheels of other packages; pip fetches them if None.
    notebooks : str, Path or None
        Folder of the lessons; that of the checkout if None.
    say : callable
        Takes a line for each step.

    Returns
    -------
    Site
        The site.

    Raises
    ------
    InputError
        With everything that is missing.
    FormulateError
        If a program that was called failed; its last words are told.

    Examples
    --------
    >>> build_site("lessons-site").size  # doctest: +SKIP
    38000000
    """
    folder = Path(folder)
    faults = site_faults(folder, pyodide=pyodide, wheels=wheels, notebooks=notebooks)
    if faults:
        raise InputError(*faults)
    notebooks = Path(notebooks or notebooks_folder())
    lessons = site_lessons(notebooks)
    with _beside(folder) as scratch:
        source, made = scratch / "source", scratch / "site"
        say(f"1 of 5: {len(lessons)} notebooks")
        _write_lessons(lessons, notebooks, source / "content")
        version = _write_core(source / "static" / "pyodide", pyodide, say)
        say("3 of 5: packages")
        _write_packages(source / "static" / "pyodide", scratch / "wheels", wheels)
        say("4 of 5: JupyterLab for the browser")
        _write_settings(source)
        _run_lite(source, made)
        say("5 of 5: the first page, and into its place")
        write_text(made / "index.html", front_page(lessons))
        _mark(made, lessons, version)
        size = sum(file.stat().st_size for file in made.rglob("*") if file.is_file())
        _move(made, folder, scratch)
    return Site(folder, lessons, size, version)


@contextmanager
def _beside(folder):
    """Make a folder beside another, for the time of the work."""
    folder = folder.resolve()
    with tempfile.TemporaryDirectory(
        dir=folder.parent, prefix=f".{folder.name}."
    ) as scratch:
        yield Path(scratch)


def _write_lessons(lessons, notebooks, content):
    """Write the copies, and the files that lessons read."""
    content.mkdir(parents=True)
    data = notebooks / "data"
    if data.is_dir():
        shutil.copytree(data, content / "data")
    names = [file.relative_to(content).as_posix() for file in content.rglob("*")]
    names += [lesson.name for lesson in lessons]
    for lesson in lessons:
        write_text(content / lesson.name, site_copy(lesson, names))


def _write_core(core, given, say):
    """Put Pyodide where JupyterLite looks for it, and return its version."""
    core.mkdir(parents=True)
    expected = _pyodide_of_kernel()
    if given is None:
        say(f"2 of 5: Pyodide {expected}, fetched by npm")
        fetched_core(expected, core)
    else:
        say(f"2 of 5: Pyodide from {given}")
        unpacked_core(given, core)
    found = core_version(core)
    if found != expected:
        say(f"caution: Pyodide {found}; the kernel was made for {expected}")
    return found


def _pyodide_of_kernel():
    """Return the version of Pyodide that the kernel was made for."""
    from jupyterlite_pyodide_kernel.constants import PYODIDE_VERSION

    return PYODIDE_VERSION


def _write_packages(core, scratch, wheels):
    """Put every package beside Pyodide, and leave all others out of its list."""
    scratch.mkdir()
    lock = json.loads((core / LOCK).read_text(encoding="utf-8"))
    depends = {other for others in DEPENDS.values() for other in others}
    names = needed_packages(lock, sorted((depends - {*INSTALLED}) | {*KERNEL}))
    wanted = [f"{name}=={lock['packages'][name]['version']}" for name in names]
    wanted += [f"{name}=={metadata.version(name)}" for name in INSTALLED]
    python = ".".join(lock["info"]["python"].split(".")[:2])
    at_hand = () if wheels is None else (wheels, core)
    found = downloaded(wanted, scratch, python=python, wheels=at_hand)
    by_name = {package_name(path.name): path for path in found}
    for old in core.glob("*.whl"):
        old.unlink()
    for path in (*found, own_wheel(scratch)):
        shutil.copyfile(path, core / path.name)
        by_name[package_name(path.name)] = core / path.name
    own = {
        name: (by_name[name], imports, DEPENDS.get(name, ()))
        for name, imports in {**INSTALLED, OWN: ("formulate",)}.items()
    }
    made = site_lock(lock, {name: by_name[name] for name in names}, own)
    write_text(core / LOCK, json.dumps(made, indent=1))


def _write_settings(source):
    """Write what JupyterLite and its kernel are told."""
    kernel = {
        "disablePyPIFallback": True,
        "loadPyodideOptions": {"packages": [OWN]},
    }
    page = {"appName": "formulate lessons", "litePluginSettings": {PLUGIN: kernel}}
    told = {"jupyter-lite-schema-version": 0, "jupyter-config-data": page}
    build = {
        "apps": ["lab"],
        "contents": [str(source / "content")],
        "federated_extensions": [str(_kernel_extension())],
        "ignore_sys_prefix": True,
        "no_libarchive": True,
        "no_sourcemaps": True,
        "no_unused_shared_packages": True,
    }
    write_text(source / "jupyter-lite.json", json.dumps(told, indent=1))
    write_text(
        source / "jupyter_lite_config.json", json.dumps({"LiteBuildConfig": build})
    )


def _kernel_extension():
    """Return the folder that holds the front end of the browser's kernel."""
    for file in metadata.files("jupyterlite-pyodide-kernel") or ():
        if file.as_posix().endswith(f"labextensions/{EXTENSION}/package.json"):
            return Path(file.locate()).resolve().parent
    raise FormulateError(
        "jupyterlite-pyodide-kernel has no front end; install it again"
    )


def _run_lite(source, made):
    """Have JupyterLite write the folder."""
    done = subprocess.run(
        [
            *(sys.executable, "-m", "jupyterlite_core", "build"),
            *("--lite-dir", str(source), "--output-dir", str(made)),
        ],
        cwd=source,
        env=os.environ | {"JUPYTER_NO_CONFIG": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        words = (done.stdout + done.stderr)[-800:].strip()
        raise FormulateError(f"JupyterLite could not write the folder\n{words}")


def _mark(made, lessons, version):
    """Leave the file by which a site is known again."""
    told = {
        "formulate": formulate.__version__,
        "tables": checksum(),
        "pyodide": version,
        "lessons": [lesson.name for lesson in lessons],
    }
    write_text(made / MARKER, json.dumps(told, indent=1))


def _move(made, folder, scratch):
    """Put the new site where the old one, or nothing, was."""
    if folder.exists():
        os.replace(folder, scratch / "earlier")
    try:
        os.replace(made, folder)
    except OSError:
        if (scratch / "earlier").exists():
            os.replace(scratch / "earlier", folder)
        raise
