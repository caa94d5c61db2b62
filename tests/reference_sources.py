"""The page of sources: what is taken from each, how it is known, and what rests on memory."""

import re
from collections import Counter
from functools import cache
from pathlib import Path

from reference_equations import equations

from formulate.tables import read_table, table_names

ROOT = Path(__file__).parent.parent
DATA = ROOT / "formulate" / "data"
PUBLISHED = ROOT / "tests" / "published"
KEY = r"[a-z0-9]+(?:[-.][A-Za-z0-9]+)*"
WAYS = ("read", "memory", "computed")
WORDS = {  # tables of words: what is from memory there is usage, told by these columns
    "assay_words": "role",
    "label_sources": "language",
    "label_words": "language",
    "salt_names": "language",
    "terms": "source_key",
    "water_words": "language",
}
LANGUAGES = {
    "": "in any language",
    "de": "German",
    "en": "English",
    "es": "Spanish",
    "fr": "French",
    "it": "Italian",
    "nl": "Dutch",
}
MOST_NAMES = 900  # characters of a list of names in a row, before rows are counted
NAMED_BY = {  # the columns that tell a row from others, where the first does not
    "activity": ("species",),
    "acid_densities": ("acid", "percent"),
    "company_rules": ("rule",),
    "check_values": ("key",),
    "chelates": ("ligand", "metal"),
    "ec_errors": ("case",),
    "eu_tolerances": ("case", "nutrients", "product"),
    "field_tests": ("nutrient", "test"),
    "hazards": ("substance", "applies_to"),
    "iron_windows": ("holder", "metal"),
    "label_limits": ("kind", "subject"),
    "label_allowances": ("guarantee",),
    "look_alikes": ("first", "second"),
    "plant_limits": ("quantity", "stage"),
    "protonation": ("form", "step"),
    "restrictions": ("substance", "place"),
    "sit": ("cation", "anion"),
    "solubility": ("formula", "temperature"),
    "water_equations": ("equation", "symbol"),
    "water_checks": ("check", "from_anions"),
    "water_values": ("water", "quantity"),
}


@cache
def tables():
    """Return the tables whose rows tell a source, by name."""
    return {
        name: rows
        for name in table_names()
        if name != "sources" and "source_key" in (rows := read_table(name))[0].cells
    }


def keys_of(row):
    """Return the source keys of a row."""
    return [key.strip() for key in row["source_key"].split(";") if key.strip()]


@cache
def taken():
    """Return source key to table to how many of its rows name it."""
    found = {}
    for name, rows in tables().items():
        for row in rows:
            for key in keys_of(row):
                found.setdefault(key, Counter())[name] += 1
    return found


def named_in(paths):
    """Return source key to the files that name it."""
    found = {}
    for path in sorted(paths):
        told = set(re.findall(KEY, path.read_text(encoding="utf-8")))
        for row in read_table("sources"):
            if row["key"] in told:
                found.setdefault(row["key"], []).append(path.name)
    return found


@cache
def held_against():
    """Return source key to the files of published values that name it."""
    return named_in(PUBLISHED.glob("*.csv"))


@cache
def elsewhere():
    """Return source key to where it is named, beside rows, equations and published values."""
    places = {
        "notes of tables": DATA.glob("*.csv"),
        "docstrings": (ROOT / "formulate").rglob("*.py"),
        "tests": (ROOT / "tests").glob("*.py"),
    }
    found = {}
    for place, paths in places.items():
        for key in named_in(p for p in paths if p.name != "sources.csv"):
            found.setdefault(key, []).append(place)
    return found


@cache
def in_equations():
    """Return source key to how many equations name it."""
    return Counter(key for each in equations() for key in each.keys)


def linked(name):
    """Return a link to a table."""
    return f"[{name}](../formulate/data/{name}.csv)"


def table(columns, rows):
    """Return a Markdown table, its cells on one line each."""
    lines = [columns, ["---"] * len(columns), *rows]
    cells = [
        [" ".join(str(c).split()).replace("|", "\\|") for c in row] for row in lines
    ]
    return "\n".join(f"| {' | '.join(row)} |" for row in cells)


# --- every source --------------------------------------------------------------------------


def records():
    """Return (what, author, where, how known) to the keys that stand for it."""
    found = {}
    for row in read_table("sources"):
        who = ", ".join(part for part in (row["author"], row["year"]) if part)
        what = (row["title"], who, row["where"], row["how_known"])
        found.setdefault(what, []).append(row["key"])
    return found


def uses(keys):
    """Return what is taken by some source keys, in words."""
    rows = sum((taken().get(key, Counter()) for key in keys), Counter())
    parts = [f"{linked(name)} {count}" for name, count in sorted(rows.items())]
    count = sum(in_equations()[key] for key in keys)
    parts += [f"[equations](equations.md) {count}"] if count else []
    files = sorted({f for key in keys for f in held_against().get(key, ())})
    folder = "[tests/published](../tests/published)"
    parts += [f"{folder}: {', '.join(f'`{f}`' for f in files)}"] if files else []
    named = dict.fromkeys(place for key in keys for place in elsewhere().get(key, ()))
    told = f"no row; named in {', '.join(named)}" if named else "nothing yet"
    return "; ".join(parts) or told


def source_rows(way):
    """Yield key, source, where it can be read and what is taken, of one way of knowing."""
    for (title, who, where, how), keys in records().items():
        if how == way:
            anchors = "".join(f'<a id="{key}"></a>' for key in keys)
            told = f"{who}: {title}" if who else title
            shown = ", ".join(f"`{key}`" for key in keys)
            yield f"{anchors}{shown}", told, where or "-", uses(keys)


# --- what rests on memory ------------------------------------------------------------------


def known(rows):
    """Return how many rows are known in each way."""
    counts = Counter(row["how_known"] for row in rows)
    return [counts[way] for way in WAYS]


def table_rows():
    """Yield each table with its rows, how they are known, and the share from memory."""
    for name, rows in tables().items():
        if "how_known" in rows[0].cells:
            read, memory, computed = known(rows)
            share = f"{100 * memory / len(rows):.0f}"
            yield linked(name), len(rows), read, memory, computed, share
        else:
            yield linked(name), len(rows), "-", "-", "-", "-"


def name_of(row):
    """Return what tells a row of a table from the others."""
    columns = NAMED_BY.get(row.table) or (next(iter(row.cells)),)
    return " ".join(row[column].split("|")[0] for column in columns if row[column])


def shortened(names):
    """Return names as a list, those that begin alike together."""
    groups = {}
    for name in names:
        head, _, rest = name.partition(" ")
        groups.setdefault(head, []).append(rest)
    plain = "; ".join(dict.fromkeys(names))
    if len(plain) <= MOST_NAMES:
        return plain
    short = [
        f"{head} ({len(rests)})" if len(rests) > 1 else f"{head} {rests[0]}".strip()
        for head, rests in groups.items()
    ]
    return "; ".join(short)


def memory_rows():
    """Yield each table with the rows known only from memory, and by which keys."""
    for name, rows in tables().items():
        found = [row for row in rows if row.cells.get("how_known") == "memory"]
        if not found:
            continue
        keys = dict.fromkeys(key for row in found for key in keys_of(row))
        if name in WORDS:
            counts = Counter(row[WORDS[name]] for row in found)
            told = [f"{LANGUAGES.get(k, k)} {n}" for k, n in sorted(counts.items())]
            said = f"words, no numbers: {', '.join(told)}"
        else:
            said = shortened([name_of(row) for row in found])
        links = ", ".join(f"[{key}](#{key})" for key in keys)
        yield linked(name), f"{len(found)} of {len(rows)}", said, links


INTRODUCTION = """# Sources

Made from `formulate/data/*.csv` by `python tests/make_reference.py`; do not edit by hand. Every row of every table names
its source by a key and says how it is known: **read** in the document or in a copy that is named, from **memory**, or
**computed**. What stands under "From memory" nobody has proven here: check it before much depends on it. Which equations
rest on a source: [equations](equations.md); what was tried: [validation](validation.md); in words: [chemistry](chemistry.md),
[recipes](recipes.md), [mixing](mixing.md), [claims](claims.md), [models](models.md).

`ext-...` keys are common practice of the trade, with no single table behind them. `definition` is what a word of this
project means, or a choice of its own that the note of the row explains."""


def sources_page():
    """Return the text of reference/sources.md."""
    every = [row for rows in tables().values() for row in rows]
    told = [row for row in every if "how_known" in row.cells]
    counts = Counter(row["how_known"] for row in read_table("sources"))
    totals = known(told)
    summary = table(
        ("", *WAYS, "all"),
        [
            ("sources", *(counts[w] for w in WAYS), len(read_table("sources"))),
            ("rows of tables", *totals, len(told)),
            (
                "rows that are no words",
                *known([row for row in told if row.table not in WORDS]),
                sum(row.table not in WORDS for row in told),
            ),
        ],
    )
    head = ("key", "source", "where it can be read", "what is taken, in rows")
    parts = [
        INTRODUCTION,
        summary,
        "## From memory, table by table",
        "Rows that rest on memory alone, by their names; behind a name in brackets how many rows begin with it.",
        table(("table", "rows", "from memory", "sources"), memory_rows()),
        "## How the rows of each table are known",
        table(("table", "rows", *WAYS, "from memory, %"), table_rows()),
        "## Sources that were read",
        table(head, source_rows("read")),
        "## Sources from memory",
        table(head, source_rows("memory")),
        "## What was computed, and what is ours",
        table(head, source_rows("computed")),
    ]
    return "\n\n".join(parts) + "\n"
