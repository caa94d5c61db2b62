"""The list of packages that a browser loads: only what stands in the folder itself is in it."""

import hashlib
import re
from pathlib import Path

from formulate.errors import FormulateError, InputError

__all__ = ["needed_packages", "package_name", "site_lock"]


def package_name(text):
    """
    Return the name of a package as the keys of a lock file write it.

    Parameters
    ----------
    text : str
        A name in any spelling, or the file name of a wheel.

    Returns
    -------
    str
        The name.

    Examples
    --------
    >>> package_name("prompt_toolkit-3.0.52-py3-none-any.whl"), package_name("Jinja2")
    ('prompt-toolkit', 'jinja2')
    """
    name = text.split("-")[0] if text.endswith(".whl") else text
    return re.sub(r"[-_.]+", "-", name).lower()


def needed_packages(lock, names):
    """
    Return the packages that some need, themselves among them.

    Parameters
    ----------
    lock : mapping
        A Pyodide lock file as it is read.
    names : iterable of str
        Names as they stand in the lock.

    Returns
    -------
    tuple of str
        Sorted names.

    Raises
    ------
    InputError
        With every name that the lock does not have.

    Examples
    --------
    >>> lock = {"packages": {"jedi": {"depends": ["parso"]}, "parso": {"depends": []}}}
    >>> needed_packages(lock, ["jedi"])
    ('jedi', 'parso')
    """
    packages, waiting, found = lock["packages"], list(names), set()
    while waiting:
        name = package_name(waiting.pop())
        if name not in found:
            found.add(name)
            waiting += packages.get(name, {}).get("depends", ())
    missing = sorted(found - set(packages))
    if missing:
        raise InputError(
            *(f"the lock file of Pyodide has no package {name!r}" for name in missing)
        )
    return tuple(sorted(found))


def site_lock(lock, files, own):
    """
    Return a lock file that names packages of the folder and no others.

    Whatever the browser were to ask for beyond them it would have to fetch from elsewhere.

    Parameters
    ----------
    lock : mapping
        A Pyodide lock file as it is read.
    files : mapping of str to Path
        The wheel of each package that is taken over from the lock.
    own : mapping of str to (Path, tuple of str, tuple of str)
        Packages that the lock does not have: the wheel, what it is imported as, what it
        depends on.

    Returns
    -------
    dict
        The lock file; name and checksum of each file are those of the wheel.

    Raises
    ------
    FormulateError
        If a dependency stands in neither.

    Examples
    --------
    >>> import tempfile
    >>> lock = {"info": {}, "packages": {"six": {"depends": [], "version": "1"}, "numpy": {}}}
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     wheel = Path(folder) / "six-1-py3-none-any.whl"
    ...     _ = wheel.write_bytes(b"")
    ...     made = site_lock(lock, {"six": wheel}, {})
    >>> list(made["packages"]), made["packages"]["six"]["sha256"][:8]
    (['six'], 'e3b0c442')
    """
    packages = {
        name: lock["packages"][name] | _file(path)
        for name, path in sorted(files.items())
    }
    for name, (path, imports, depends) in own.items():
        packages[name] = {
            "depends": list(depends),
            "imports": list(imports),
            "install_dir": "site",
            "name": name,
            "package_type": "package",
            "unvendored_tests": False,
            "version": Path(path).name.split("-")[1],
            **_file(path),
        }
    lost = sorted(
        f"{name} needs {other}"
        for name, package in packages.items()
        for other in package["depends"]
        if package_name(other) not in packages
    )
    if lost:
        raise FormulateError(*(f"{what}, which is not in the folder" for what in lost))
    return {**lock, "packages": packages}


def _file(path):
    """Return name and checksum of a wheel, as a lock tells them."""
    path = Path(path)
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return {"file_name": path.name, "sha256": digest}
