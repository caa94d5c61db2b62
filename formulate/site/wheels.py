"""The packages that go into a site, as wheels: our own from its files, others by pip."""

import base64
import hashlib
import subprocess
import sys
import zipfile
from pathlib import Path

import formulate
from formulate.errors import FormulateError

__all__ = ["OWN", "downloaded", "own_wheel"]

OWN = "formulate-salts"
KINDS = {".py", ".csv", ".toml", ".txt"}  # what floors 1 to 4 and the classroom read
DAY = (1980, 1, 1, 0, 0, 0)  # the same files make the same bytes


def own_wheel(folder):
    """
    Pack this package as a wheel, from the files that are running.

    Parameters
    ----------
    folder : str or Path
        Where to.

    Returns
    -------
    Path
        The wheel.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     own_wheel(folder).name.endswith("-py3-none-any.whl")
    True
    """
    home = Path(formulate.__file__).parent
    stem = f"{OWN.replace('-', '_')}-{formulate.__version__}"
    parts = {
        str(path.relative_to(home.parent).as_posix()): path.read_bytes()
        for path in sorted(home.rglob("*"))
        if path.suffix in KINDS and "__pycache__" not in path.parts
    }
    parts |= {
        f"{stem}.dist-info/{name}": text.encode()
        for name, text in _told(formulate.__version__).items()
    }
    record = [
        f"{name},sha256={_digest(data)},{len(data)}" for name, data in parts.items()
    ]
    place = f"{stem}.dist-info/RECORD"
    parts[place] = "\n".join([*record, f"{place},,", ""]).encode()
    wheel = Path(folder) / f"{stem}-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(zipfile.ZipInfo(name, DAY), data, zipfile.ZIP_DEFLATED)
    return wheel


def _told(version):
    """Return what a wheel tells of itself."""
    return {
        "METADATA": f"Metadata-Version: 2.1\nName: {OWN}\nVersion: {version}\n",
        "WHEEL": "Wheel-Version: 1.0\nGenerator: formulate\nRoot-Is-Purelib: true\n"
        "Tag: py3-none-any\n",
    }


def _digest(data):
    """Return a checksum as a wheel's record writes it."""
    return base64.urlsafe_b64encode(hashlib.sha256(data).digest()).rstrip(b"=").decode()


def downloaded(requirements, folder, *, python, wheels=()):
    """
    Have pip bring wheels that run anywhere, and nothing that they need.

    Parameters
    ----------
    requirements : iterable of str
        Such as "six==1.17.0".
    folder : str or Path
        Where to.
    python : str
        The version of Python in the browser, such as "3.14".
    wheels : iterable of str or Path
        Folders that have them all among them, so that nothing is fetched.

    Returns
    -------
    tuple of Path
        The wheels in the folder.

    Raises
    ------
    FormulateError
        If pip cannot get one; its own last words are told.

    Examples
    --------
    >>> downloaded(["six==1.17.0"], ".", python="3.14")  # doctest: +SKIP
    """
    if not (requirements := list(requirements)):
        return ()
    anywhere = ("--platform", "any", "--implementation", "py", "--abi", "none")
    at_hand = [word for place in wheels for word in ("--find-links", str(place))]
    at_hand += ["--no-index"] if at_hand else []
    done = subprocess.run(
        [
            *(sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"),
            *("--disable-pip-version-check", "--only-binary", ":all:"),
            *("--python-version", python, *anywhere, *at_hand),
            *("--dest", str(folder), *requirements),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        faults = [line for line in done.stderr.splitlines() if "ERROR" in line]
        raise FormulateError(
            "pip could not bring the packages of the lessons; bring their wheels by hand and "
            f"name the folder with --wheels ({', '.join(requirements)})\n"
            + "\n".join(faults[-3:] or [done.stderr[-400:].strip()])
        )
    return tuple(sorted(Path(folder).glob("*.whl")))
