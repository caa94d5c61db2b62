"""The page of equations, read from docstrings: equation, what it gives, line, tests, source.

A docstring tells an equation by a line of this form, and the equation indented below it:

    Equation of the ionic strength [lewis-randall-1921]::

        I = ½ Σ m z²

"of ..." may be left out; the first sentence of the docstring then says what it gives. Keys
stand in the table sources, several with semicolons between.
"""

import ast
import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from reference_calls import calls_of_package, first_sentence, reached, tests_of

from formulate.tables import source

ROOT = Path(__file__).parent.parent
PICKED = Path(__file__).parent / "equation_tests.csv"
FLOORS = (  # heading, folder; files beside the folders stand under the last
    ("What matter is made of", "stoichiometry"),
    ("What may go into the water, and the water", "ingredients"),
    ("What happens in the water", "chemistry"),
    ("How much of what", "recipes"),
    ("In what order, in which tank, at what risk", "mixing"),
    ("Does the label tell the truth", "claims"),
    ("A job, and what people read", ""),
)
EQUATION = re.compile(
    r"^Equation(?: of (?P<what>[^\[\n]+))? \[(?P<keys>[^\]\n]+)\]::\n\n"
    r"(?P<lines>(?: {4}.*(?:\n|$)|\n(?= {4}))+)",
    re.MULTILINE,
)
MOST_TESTS = 2  # shown beside one equation


@dataclass(frozen=True)
class Equation:
    """One equation of a docstring.

    Attributes
    ----------
    path : str
        File, from the root of the project.
    name : str
        Function, class or "Class.method"; empty where the file itself tells it.
    line : int
        Where that begins. [-]
    gives : str
        What it gives, in words.
    lines : tuple of str
        The equation.
    keys : tuple of str
        Where it comes from.
    about : str
        The first sentences of its function and its file.
    """

    path: str
    name: str
    line: int
    gives: str
    lines: tuple
    keys: tuple
    about: str = ""

    @property
    def module(self):
        """Return the module of the file."""
        return self.path.removesuffix(".py").replace("/", ".")

    @property
    def folder(self):
        """Return the folder of its floor; empty for files beside the folders."""
        parts = self.path.split("/")
        named = {folder for _, folder in FLOORS}
        return parts[1] if parts[1] in named else ""


def documented(tree, before=""):
    """Yield (name, line, docstring) of a file and of all that is defined in it."""
    if not before:
        yield "", 1, ast.get_docstring(tree)
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield before + node.name, node.lineno, ast.get_docstring(node)
        if isinstance(node, ast.ClassDef):
            yield from documented(node, f"{before}{node.name}.")


def equations_of(text, path):
    """Yield the equations of one file."""
    tree = ast.parse(text)
    whole = first_sentence(ast.get_docstring(tree) or "")
    for name, line, docstring in documented(tree):
        for found in EQUATION.finditer(docstring or ""):
            gives = found["what"] or first_sentence(docstring)
            lines = [part[4:] for part in found["lines"].rstrip().splitlines()]
            keys = tuple(key.strip() for key in found["keys"].split(";"))
            about = f"{first_sentence(docstring)} {whole}"
            yield Equation(path, name, line, gives.strip(), tuple(lines), keys, about)


def equations():
    """Return every equation of the package, floor by floor."""
    found = []
    for path in sorted((ROOT / "formulate").rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        found += equations_of(path.read_text(encoding="utf-8"), name)
    order = [folder for _, folder in FLOORS]
    return sorted(found, key=lambda each: order.index(each.folder))


def names_of(each):
    """Return what tests an equation: its function, or all functions of its file."""
    own = f"{each.module}.{each.name}"
    return (own,) if each.name else tuple(calls_of_package().defined_in(each.module))


@cache
def picked():
    """Return (file, function, gives) to the tests picked for it, as "file::test"."""
    with PICKED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file, strict=True))
    return {
        (row["file"], row["function"], row["gives"]): tuple(row["tests"].split("; "))
        for row in rows
    }


def checked_by(each):
    """Return (test, what it calls) of the tests of an equation, those to be shown first.

    Those that were picked, as far as calls lead from them to the equation; else all found.
    """
    short = each.path.removeprefix("formulate/")
    named = picked().get((short, each.name, each.gives))
    named = named or picked().get((short, each.name, ""))
    if not named:
        about = f"{each.name} {each.gives} {each.about}"
        return tests_of(names_of(each), about, each.module)
    found = reached(names_of(each))
    wanted = [tuple(test.split("::")) for test in named]
    return tuple(found[test][:2] for test in wanted if test in found)


def code(line):
    """Return a line as code inside a cell of a table."""
    return "`" + line.replace("|", "\\|") + "`"


def anchor_of(each):
    """Return the anchor of an equation: its file, and its function without marks."""
    name = each.name.rpartition(".")[2].strip("_").replace("_", "-")
    parts = (Path(each.path).stem.replace("_", "-"), name.lower())
    return "-".join(filter(None, parts))


def equation_row(each, anchored):
    """Return the cells of one equation; with an anchor, if it is the first of its own."""
    shown = each.name.split(".")[-1] if each.name else "whole file"
    own = f"{each.module}.{each.name}"
    where = f"[{each.path.removeprefix('formulate/')}](../{each.path}#L{each.line}) {code(shown)}"
    cells = []
    for test, name in checked_by(each)[:MOST_TESTS]:
        through = f" of {code(name.split('.')[-1])}" if name != own else ""
        cells.append(f"[{test.name}](../tests/{test.file}#L{test.line}){through}")
    papers = [paper(key) for key in each.keys]
    anchor = f'<a id="{anchor_of(each)}"></a>' if anchored else ""
    lines = "<br>".join(code(line) for line in each.lines)
    sides = (anchor + lines, each.gives, where)
    return (*sides, "<br>".join(cells), "<br>".join(papers))


def paper(key):
    """Return a source in full, how it is known, with a link to its line."""
    found = source(key)
    if key == "definition":
        return f"[by definition](sources.md#{key})"
    who = ", ".join(part for part in (found.author, found.year) if part)
    text = f"{who}: {found.title}" if who else found.title
    return f"[{text}](sources.md#{key}), {found.how_known}"


INTRODUCTION = """# Equations

Made from the docstrings by `python tests/make_reference.py`; do not edit by hand. A symbol is explained where its
equation stands: the third column leads there. Letters of a paper are kept; units are the house's unless the docstring
says otherwise ([glossary](glossary.md)). The tests are found by following calls: those that call the function, or what
uses it. How a source is known: *read* in the document or a copy, from *memory*, or *computed* ([sources](sources.md)).
Ranges and errors: [models](models.md)."""


def equations_page():
    """Return the text of reference/equations.md."""
    found, parts = equations(), [INTRODUCTION]
    first = {anchor_of(each): each for each in reversed(found)}
    for heading, folder in FLOORS:
        here = [each for each in found if each.folder == folder]
        rows = [equation_row(e, first[anchor_of(e)] is e) for e in here]
        if rows:
            head = ("equation", "gives", "line", "tests", "source")
            lines = [head, ("---",) * len(head), *rows]
            table = "\n".join(f"| {' | '.join(row)} |" for row in lines)
            parts += [f"## {heading}", table]
    return "\n\n".join(parts) + "\n"
