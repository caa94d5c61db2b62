"""Files as people save them: read whatever editor wrote them, written in one step."""

import os
import tempfile
from pathlib import Path

from formulate.errors import InputError, shortened

__all__ = ["make_folder", "read_text", "text_of_bytes", "write_bytes", "write_text"]

LARGEST = 1_000_000  # bytes; all that is read here is typed or printed by people
MARKS = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"\xef\xbb\xbf": "utf-8-sig"}
SPREADSHEETS = "cp1252"  # what spreadsheets of western Europe and America save


def read_text(path, *, utf8_only=False):
    """
    Return the text of a file.

    Parameters
    ----------
    path : str or Path
        A text file; UTF-8, UTF-16 with its mark, or as older spreadsheets save it.
    utf8_only : bool
        Whether anything but UTF-8 is refused.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    InputError
        If it cannot be read, is too large, or is no text.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_text(Path(folder) / "note.txt", "Härte 15 °dH")
    ...     read_text(Path(folder) / "note.txt")
    'Härte 15 °dH'
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST + 1)
    except (OSError, TypeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{shortened(path)}: cannot be read ({reason})") from None
    return text_of_bytes(data, Path(path).name, utf8_only=utf8_only)


def text_of_bytes(data, name, *, utf8_only=False):
    """
    Return the text that the bytes of a file hold.

    Parameters
    ----------
    data : bytes
        What was read or uploaded.
    name : str
        What to call it in messages.
    utf8_only : bool
        Whether anything but UTF-8 is refused.

    Returns
    -------
    str
        The text.

    Raises
    ------
    InputError
        If it is too large, or no text.

    Examples
    --------
    >>> text_of_bytes(b"H\\xe4rte", "report.txt")
    'Härte'
    """
    if len(data) > LARGEST:
        raise InputError(f"{name}: larger than {LARGEST} bytes; take what is needed")
    marked = next((code for mark, code in MARKS.items() if data.startswith(mark)), "")
    codings = (marked,) if marked else ("utf-8", SPREADSHEETS)
    for coding in ("utf-8-sig",) if utf8_only else codings:
        try:
            return data.decode(coding)
        except UnicodeDecodeError:
            continue
    raise InputError(f"{name}: is no UTF-8 text; save it as text in UTF-8")


def make_folder(folder):
    """
    Return a folder; it is made if it is not there.

    Parameters
    ----------
    folder : str or Path
        The folder.

    Returns
    -------
    Path
        The same.

    Raises
    ------
    InputError
        If it cannot be made.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as place:
    ...     make_folder(Path(place) / "sheets").is_dir()
    True
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be made ({error.strerror})") from None
    return folder


def write_text(path, text):
    """
    Write a text file in one step, so that a fault midway leaves the old file whole.

    Parameters
    ----------
    path : str or Path
        Where to.
    text : str
        What to write, as UTF-8.

    Raises
    ------
    InputError
        If it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_text(Path(folder) / "note.txt", "K 200")
    ...     (Path(folder) / "note.txt").read_text()
    'K 200'
    """
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError(f"{path}: cannot be written ({error})") from None
    write_bytes(path, data)


def write_bytes(path, data):
    """
    Write a file in one step, so that a fault midway leaves the old file whole.

    Parameters
    ----------
    path : str or Path
        Where to.
    data : bytes
        What to write.

    Raises
    ------
    InputError
        If it cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_bytes(Path(folder) / "note.bin", b"K 200")
    ...     (Path(folder) / "note.bin").read_bytes()
    b'K 200'
    """
    path, temporary = Path(path), None
    try:
        mode = path.stat().st_mode & 0o777 if path.exists() else None
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, mode if mode is not None else 0o666 & ~_umask())
        os.replace(temporary, path)
    except (OSError, TypeError, ValueError) as error:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{path}: cannot be written ({reason})") from None


def _umask():
    """Return what this process leaves out of the rights of a new file."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
