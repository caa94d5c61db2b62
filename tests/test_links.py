"""Every link inside the project leads somewhere: files, folders, headings."""

import json
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted((ROOT / "reference").rglob("*.md")),
    *sorted((ROOT / "notebooks").glob("*.ipynb")),
]
LINK = re.compile(
    r"!?\[(?:[^\[\]]|\[[^\[\]]*\])*\]"  # words, which may hold brackets
    r'\(<?([^()\s<>]+(?:\([^()]*\))?)>?(?:\s+"[^"]*")?\)'  # where to, and a title
)
CODE = re.compile(
    r"^(```|~~~).*?^\1|(`+)(?!`).+?(?<!`)\2(?!`)", re.MULTILINE | re.DOTALL
)
OUTSIDE = re.compile(r"[a-z][a-z0-9+.-]*:", re.IGNORECASE)
FEWEST = 400  # links of all pages together; the pages made from tables hold most


@cache
def prose(path):
    """Return what a page says: Markdown, of a notebook that of its cells."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".ipynb":
        return text
    cells = [c for c in json.loads(text)["cells"] if c["cell_type"] == "markdown"]
    return "\n\n".join("".join(cell["source"]) for cell in cells)


def links(path):
    """Return the links of a page that stay inside the project."""
    found = LINK.findall(CODE.sub("`code`", prose(path)))
    return [link for link in found if not OUTSIDE.match(link)]


def slug(heading):
    """Return the anchor of a heading as code hosts make it."""
    plain = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading).replace("`", "")
    return re.sub(r"[^\w\- ]", "", plain.strip().casefold()).replace(" ", "-")


@cache
def anchors(path):
    """Return the anchors of a page: headings, and those that are set by hand."""
    text = re.sub(r"^(```|~~~).*?^\1", "", prose(path), flags=re.MULTILINE | re.DOTALL)
    headings = re.findall(r"^#+ +(.+?) *#*$", text, re.MULTILINE)
    found = {slug(heading) for heading in headings}
    if path.suffix == ".ipynb":  # notebooks keep capitals and signs
        found |= {heading.strip().replace(" ", "-") for heading in headings}
    return found | set(re.findall(r'<a (?:id|name)="([^"]+)"', text))


def fault(path, link):
    """Return what is wrong with a link of a page; nothing if it leads somewhere."""
    file, _, anchor = link.partition("#")
    target = (path.parent / file).resolve() if file else path
    if not target.is_relative_to(ROOT) or not target.exists():
        return f"{link}: no such file"
    if not anchor:
        return ""
    if target.suffix in (".md", ".ipynb"):
        return "" if anchor in anchors(target) else f"{link}: no such heading"
    is_line = re.fullmatch(r"L[1-9]\d*", anchor)  # which one moves at every edit
    return "" if is_line else f"{link}: no line"


@pytest.mark.parametrize("path", PAGES, ids=[str(p.relative_to(ROOT)) for p in PAGES])
def test_every_link_of_a_page_leads_somewhere(path):
    assert [told for link in links(path) if (told := fault(path, link))] == []


def test_links_are_found():
    assert sum(len(links(path)) for path in PAGES) > FEWEST


def test_the_index_of_the_pages_of_names_lists_every_page():
    folder = ROOT / "reference" / "api"
    listed = re.findall(r"^   (floor_\w+)$", (folder / "index.rst").read_text(), re.M)
    assert listed == sorted(path.stem for path in folder.glob("floor_*.rst"))


@pytest.mark.parametrize(
    ("link", "words"),
    [
        ("gone.md", "no such file"),
        ("../../elsewhere.md", "no such file"),
        ("models.md#no-such-heading", "no such heading"),
        ("../formulate/tables.py#heading", "no line"),
        ("../formulate/tables.py#L1", ""),
        ("../formulate/data", ""),
        ("glossary.md#words", ""),
    ],
)
def test_a_dead_link_is_noticed(link, words):
    told = fault(ROOT / "reference" / "chemistry.md", link)
    assert told.endswith(words)
    assert bool(told) == bool(words)


def test_links_are_read_as_they_are_written():
    text = '[a](b.md) ![c](d.svg) [e](https://f.org) `[g](h.md)` [i [j]](k.md#l) [m](n.md "o")'
    found = LINK.findall(CODE.sub("`code`", text))
    assert found == ["b.md", "d.svg", "https://f.org", "k.md#l", "n.md"]


@pytest.mark.parametrize(
    ("heading", "anchor"),
    [
        ("Solids, acids, oxygen", "solids-acids-oxygen"),
        ("What `fm` is", "what-fm-is"),
        ("From memory, table by table", "from-memory-table-by-table"),
        ("[Words](glossary.md) of 5 °C", "words-of-5-c"),
    ],
)
def test_anchors_are_those_of_code_hosts(heading, anchor):
    assert slug(heading) == anchor
