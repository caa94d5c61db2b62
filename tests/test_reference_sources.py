"""The page of sources: it is what the tables say, whole, and nothing is counted twice."""

import csv
from collections import Counter

import reference_sources as page

PAGE = page.ROOT / "reference" / "sources.md"
DATA = page.ROOT / "formulate" / "data"
REFRESH = "write it anew: python tests/make_reference.py"


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_page_is_what_the_tables_say():
    assert PAGE.read_text(encoding="utf-8") == page.sources_page(), REFRESH


def test_every_source_stands_there_once():
    text = PAGE.read_text(encoding="utf-8")
    for row in rows_of(DATA / "sources.csv"):
        assert text.count(f'<a id="{row["key"]}"></a>') == 1


def test_rows_from_memory_are_all_counted():
    """Counted here from the files themselves."""
    counted = Counter()
    for path in DATA.glob("*.csv"):
        if path.stem != "sources":
            counted.update(r["how_known"] for r in rows_of(path) if r.get("how_known"))
    told = [row for row in page.table_rows() if row[2] != "-"]
    sums = [sum(row[place] for row in told) for place in (2, 3, 4)]
    assert sums == [counted[way] for way in page.WAYS]
    listed = sum(int(row[1].split(" of ")[0]) for row in page.memory_rows())
    assert listed == counted["memory"] > 500


def test_names_that_begin_alike_are_put_together():
    many = [f"KNO3 {t}" for t in range(200)] + ["NaCl 20"]
    assert page.shortened(many) == "KNO3 (200); NaCl 20"
    assert page.shortened(["a b", "c"]) == "a b; c"
