"""Python for the browser: the five files of Pyodide, brought by hand or fetched by npm."""

import re
import shutil
import subprocess
import tarfile
from pathlib import Path

from formulate.errors import FormulateError, InputError

__all__ = [
    "CORE",
    "LOCK",
    "core_faults",
    "core_version",
    "fetched_core",
    "unpacked_core",
]

LOCK = "pyodide-lock.json"
CORE = (
    "pyodide.mjs",
    "pyodide.asm.mjs",
    "pyodide.asm.wasm",
    "python_stdlib.zip",
    LOCK,
)
WHEEL = ".whl"
VERSION = re.compile(r'"(\d+\.\d+\.\d+[a-z0-9.]*)"')


def core_faults(given):
    """
    Return what is wrong with the Pyodide files that were brought by hand.

    Parameters
    ----------
    given : str or Path
        A folder, or an archive such as npm or a release of Pyodide has it.

    Returns
    -------
    tuple of str
        Each fault; none if all five files are there.

    Examples
    --------
    >>> core_faults("no-such-place")
    ('--pyodide no-such-place: no such folder or file',)
    """
    path = Path(given)
    if not path.exists():
        return (f"--pyodide {given}: no such folder or file",)
    try:
        names = _names(path)
    except (OSError, tarfile.TarError) as error:
        return (f"--pyodide {given}: no archive that can be read ({error})",)
    missing = [name for name in CORE if name not in names]
    if not missing:
        return ()
    return (f"--pyodide {given}: has no {', '.join(missing)}; bring the whole core",)


def _names(path):
    """Return the names of the files in a folder or an archive, without their folders."""
    if path.is_dir():
        return {file.name for file in path.rglob("*") if file.is_file()}
    with tarfile.open(path) as archive:
        return {Path(member.name).name for member in archive if member.isfile()}


def unpacked_core(given, folder):
    """
    Put the files of Pyodide, and wheels that are with them, into a folder.

    Parameters
    ----------
    given : str or Path
        A folder or an archive.
    folder : str or Path
        Where to; it is there.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    InputError
        If files are missing.

    Examples
    --------
    >>> unpacked_core("no-such-place", ".")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: --pyodide no-such-place: no such folder or file
    """
    faults, path, folder = core_faults(given), Path(given), Path(folder)
    if faults:
        raise InputError(*faults)
    if path.is_dir():
        for file in sorted(path.rglob("*")):
            if file.is_file() and _is_wanted(file.name):
                shutil.copyfile(file, folder / file.name)
        return folder
    with tarfile.open(path) as archive:
        for member in archive:
            name = Path(member.name).name
            if member.isfile() and _is_wanted(name):
                with archive.extractfile(member) as file:
                    (folder / name).write_bytes(file.read())
    return folder


def _is_wanted(name):
    """Return whether a file of Pyodide may be needed: the core, and wheels for any machine."""
    return name in CORE or name.endswith(f"-none-any{WHEEL}")


def core_version(folder):
    """
    Return the version of Pyodide that a folder holds.

    Parameters
    ----------
    folder : str or Path
        Where its files are.

    Returns
    -------
    str
        The version, or "of unknown version".

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / "pyodide.mjs").write_text('var version="314.0.6";')
    ...     core_version(folder)
    '314.0.6'
    """
    text = (Path(folder) / "pyodide.mjs").read_text(encoding="utf-8")
    found = VERSION.search(text)
    return found[1] if found else "of unknown version"


def fetched_core(version, folder):
    """
    Have npm fetch the package `pyodide`, and unpack it.

    Parameters
    ----------
    version : str
        The version that the kernel was made for.
    folder : str or Path
        Where to; it is there.

    Returns
    -------
    Path
        The folder.

    Raises
    ------
    FormulateError
        If npm cannot get it; its own last words are told.

    Examples
    --------
    >>> fetched_core("314.0.6", "static/pyodide")  # doctest: +SKIP
    """
    done = subprocess.run(
        [shutil.which("npm") or "npm", "pack", "--silent", f"pyodide@{version}"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    archives = sorted(Path(folder).glob("pyodide-*.tgz"))
    if done.returncode or not archives:
        raise FormulateError(
            f"npm could not fetch pyodide@{version}; bring its files by hand and name them "
            f"with --pyodide\n{done.stderr[-400:].strip()}"
        )
    unpacked_core(archives[0], folder)
    archives[0].unlink()
    return Path(folder)
