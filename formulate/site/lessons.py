"""Which notebooks stand in a site, and how a notebook is changed when it is copied there."""

import json
import re
from dataclasses import dataclass
from pathlib import Path

import formulate
from formulate.errors import Faults, InputError
from formulate.files import read_text
from formulate.tables import read_table

__all__ = ["SiteLesson", "notebooks_folder", "site_copy", "site_lessons"]

INDEX = "00"
LINK = re.compile(r"\[([^\]]+)\]\(([^)\s]+)\)")
IMPORTS = ("import ", "from ")
NOT_HERE = "not in this folder"
LEFT_OUT = "*Left out in the browser: this step needs numpy.*"
FIRST = (
    "*This lesson runs in your browser; nothing is installed and nothing is sent. Run > Run All "
    "Cells: the first run takes a moment. What you change is kept by this browser alone; File > "
    "Download keeps it for good.*"
)


@dataclass(frozen=True)
class SiteLesson:
    """
    A notebook that stands in a site.

    Attributes
    ----------
    path : Path
        The notebook as it is in the project.
    title : str
        Its first heading.
    opening : str
        The paragraph below the heading.
    left_out : str
        A word of the code cells that are left out in the browser, or an empty text.
    """

    path: Path
    title: str
    opening: str
    left_out: str = ""

    @property
    def name(self):
        """Name of the file."""
        return self.path.name

    @property
    def is_index(self):
        """Whether this is the page that lists the lessons."""
        return self.name.startswith(INDEX)


def notebooks_folder():
    """
    Return the folder of the lessons in a checkout.

    Returns
    -------
    Path
        The folder; it is not there where only the package is installed.

    Examples
    --------
    >>> notebooks_folder().name
    'notebooks'
    """
    return Path(formulate.__file__).parent.parent / "notebooks"


def site_lessons(folder):
    """
    Return the lessons of the table `site_lessons`, from a folder of notebooks.

    Parameters
    ----------
    folder : str or Path
        Where the notebooks are.

    Returns
    -------
    tuple of SiteLesson
        In the order of the table.

    Raises
    ------
    InputError
        With every lesson that is not there, or there twice, or cannot be read.

    Examples
    --------
    >>> site_lessons("no-such-folder")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: no-such-folder: no such folder; ...
    """
    folder, faults, found = Path(folder), Faults(), []
    if not folder.is_dir():
        raise InputError(
            f"{folder}: no such folder; name the one that holds the lessons with "
            "--notebooks (the folder notebooks of a checkout)"
        )
    for row in read_table("site_lessons"):
        paths = sorted(folder.glob(f"{row['lesson']}_*.ipynb"))
        if len(paths) != 1:
            faults.add(
                f"{folder}: {len(paths)} notebooks are called {row['lesson']}_...ipynb; "
                "one is expected"
            )
            continue
        with faults.collecting(paths[0].name):
            found.append(_lesson(paths[0], row["leaves_out"]))
    faults.raise_if_any()
    return tuple(found)


def _lesson(path, left_out):
    """Return one lesson with its heading and the paragraph below."""
    texts = [c["source"] for c in _cells(path) if c["cell_type"] == "markdown"]
    paragraphs = "\n\n".join("".join(text) for text in texts).split("\n\n")
    if not paragraphs[0].startswith("# "):
        raise InputError(f"{path.name}: the first cell has no heading '# ...'")
    opening = " ".join(paragraphs[1].split()) if len(paragraphs) > 1 else ""
    opening = _plain(opening).removeprefix("The question. ")
    return SiteLesson(path, paragraphs[0][2:].strip(), opening, left_out)


def _cells(path):
    """Return the cells of a notebook."""
    try:
        return json.loads(read_text(path, utf8_only=True))["cells"]
    except (ValueError, KeyError, TypeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(f"{path.name}: no notebook ({error})") from None


def _plain(text):
    """Return a line of Markdown without its marks."""
    return LINK.sub(r"\1", text).replace("**", "").replace("`", "")


def site_copy(lesson, names):
    """
    Return a lesson as it stands in a site; the notebook itself stays as it is.

    Results are taken out, so that what is seen was worked out in the browser. A note says
    where it runs, links to what is not in the site become words.

    Parameters
    ----------
    lesson : SiteLesson
        The lesson.
    names : iterable of str
        Files that stand beside it in the site.

    Returns
    -------
    str
        The notebook, as JSON.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "02_one.ipynb"
    ...     cell = {"cell_type": "markdown", "metadata": {}, "source": "[on](09_far.ipynb)"}
    ...     _ = path.write_text(json.dumps({"cells": [cell]}))
    ...     made = site_copy(SiteLesson(path, "One", ""), ["02_one.ipynb"])
    >>> json.loads(made)["cells"][0]["source"]
    'on (not in this folder)'
    """
    notebook = json.loads(read_text(lesson.path, utf8_only=True))
    names = set(names)
    head, *cells = notebook["cells"]
    notebook["cells"] = [
        *_copied(head, lesson.left_out, names),
        _told(FIRST, "site-first"),
    ]
    for cell in cells:
        notebook["cells"] += _copied(cell, lesson.left_out, names)
    return json.dumps(notebook, ensure_ascii=False, indent=1)


def _told(words, name):
    """Return a cell of words."""
    return {"cell_type": "markdown", "id": name, "metadata": {}, "source": words}


def _copied(cell, left_out, names):
    """Return the cells that stand in the site for one cell."""
    text = "".join(cell["source"])
    if cell["cell_type"] != "code":
        return [cell | {"source": LINK.sub(lambda m: _link(m, names), text)}]
    clean = cell | {"outputs": [], "execution_count": None}
    if not left_out or left_out not in text:
        return [clean | {"source": text}]
    lines = [line for line in text.splitlines() if line.startswith(IMPORTS)]
    imports = "\n".join(line for line in lines if left_out not in line)
    told = _told(LEFT_OUT, f"{cell.get('id', 'cell')}-left-out")
    return [told, clean | {"source": imports}] if imports else [told]


def _link(match, names):
    """Return a link of Markdown, or its words where it leads out of the site."""
    words, goal = match.groups()
    file = goal.partition("#")[0]
    if not file or "://" in goal or file in names:
        return match[0]
    return f"{words} ({NOT_HERE})"
