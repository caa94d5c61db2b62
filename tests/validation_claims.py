"""The part of reference/validation.md on claims: blends, slips, labels, tables, doses, speed.

    python tests/validation_claims.py

prints it alone. The seeded cases are those of the tests, whose bars stand beside them.
"""

import math
import statistics
import time

import numpy as np
import test_allowances as allowances
import test_chart_slips as charts
import test_derivation as blends
import test_discrepancies as ledger
import test_dose_claims as doses
import test_factor_table as factors
import test_feed_chart as feeds
import test_label_check as labels
import test_salt_table as salts
import test_slip_search as slips
import test_solubility_table as solubilities
from random_labels import right_eu_label

from formulate.claims.allowances import us_allowance
from formulate.claims.derivation_findings import ABSENT
from formulate.claims.dose_claims import check_dose
from formulate.claims.feed_chart import read_chart
from formulate.claims.finding import gravest_finding
from formulate.claims.label_check import check_label
from formulate.claims.product_comparison import compare_products
from formulate.claims.salt_table import check_salt_table
from formulate.claims.slip_search import explain
from formulate.claims.solubility_table import check_solubility_table

CLAIMS, CHARTS, EU_LABELS = 500, 60, 100
GUARANTEES = (0.02, 0.5, 2.0, 7.0, 15.0, 40.0)  # of nutrients other than N, P, K
EIGHT = ("KNO3", "K2SO4", "KCl", "KH2PO4", "urea", "MgSO4·7H2O", "NH4Cl", "H3BO3")
LABEL_SLIPS = {
    "oxide": "an oxide printed for an element or the other way round",
    "hydrate": "the numbers of another hydrate",
    "ten": "a number ten times too large or too small",
    "by volume": "shares of the volume printed as shares of the mass",
    "exchanged": "two numbers exchanged",
}
REACHES = {
    "explained": "found and explained by name",
    "found": "found, no name for it",
    "shown": "sources differ, the chosen one is named",
    "out of reach": "out of reach",
}


def agreement_rows():
    """Yield what, what was found, and the bar."""
    yield from _blends()
    yield from _wrong_statements()
    yield from _slips()
    yield from _chart_slips()
    yield from _labels()
    yield from _tables()
    yield from _allowances()
    yield from _doses()


def percent(part, whole):
    """Return a share as text."""
    return f"{100 * part / whole:.1f} % of {whole}"


# --- blends behind a label -------------------------------------------------------------------


def _blends():
    """Yield how far intervals are from programmes set up anew, and whether truth is inside."""
    off, inside, refuted = [], [], 0
    for names, grams, printed, rule in blends._cases():
        found = blends._derived(names, printed, rule)
        refuted += any(f.verdict in ("wrong", "impossible") for f in found.findings)
        rows, most = blends._rows(names, printed, rule)
        for what, costs in _asked(names).items():
            ours = found.range_of(what)
            ends = blends._optimum(costs, rows, most)
            off += [
                abs(a - b) for a, b in zip((ours.low, ours.high), ends, strict=True)
            ]
            true = costs @ grams
            inside.append(ours.low - 1e-6 <= true <= ours.high + 1e-6)
    count = blends.BLENDS
    yield (
        f"{len(inside)} ranges of {count} blends against programmes set up anew, points",
        f"{max(off):.1e}",
        "1e-5",
    )
    yield (
        "ranges that hold the true share",
        percent(sum(inside), len(inside)),
        "99 %",
    )
    yield "right statements called wrong", f"{refuted} of {count}", "0"


def _asked(names):
    """Return what is asked of a blend: ions and each source, in points per gram."""
    held = {
        key: np.array([blends._of(name, key) for name in names]) / 100
        for key in (*blends.IONS, "NO3-N")
    }
    return held | {n: np.eye(len(names))[i] for i, n in enumerate(names)}


def _wrong_statements():
    """Yield how many wrong statements no label can prove, and whether the others are found."""
    flagged = {"swapped": [], "extra": []}
    other = 0
    for kind, names, wrong, printed, rule in blends._wrong_statements():
        found = blends._derived(names, printed, rule)
        rows, most = blends._rows(names, printed, rule)
        target = np.array([float(name == wrong) for name in names])
        ends = blends._optimum(target, rows, most)
        provable = ends is None or ends[1] < ABSENT
        verdicts = [f.verdict for f in found.findings if f.subject == wrong]
        told = not found.is_possible or verdicts == ["wrong"]
        other += told != provable
        flagged[kind].append(told)
    words = {
        "swapped": "a source swapped for a kindred one",
        "extra": "a source too many",
    }
    for kind, found in flagged.items():
        missed = len(found) - sum(found)
        yield (
            f"{words[kind]}, disproved by no label of these digits",
            percent(missed, len(found)),
            "-",
        )
    total = sum(map(len, flagged.values()))
    yield "wrong statements judged otherwise than proven", f"{other} of {total}", "0"


# --- slips -----------------------------------------------------------------------------------


def _slips():
    """Yield how many slips on numbers are found first, and how many right claims are right."""
    rng = np.random.default_rng(20261)
    for many, words in ((1, "single slips"), (2, "pairs of slips")):
        hits = slips.found_first(rng, many, 150)
        yield (
            f"{words} on one to eight numbers, 1 % noise, found first or tied first",
            percent(hits, 150),
            "90 %",
        )
    rng, right = np.random.default_rng(20264), 0
    for _ in range(CLAIMS):
        subjects = slips.SUBJECTS[: int(rng.integers(1, 9))]
        values = {s: float(rng.uniform(1, 300)) for s in subjects}
        right += explain(
            {
                s: (v * math.exp(rng.normal(0, slips.NOISE)), v)
                for s, v in values.items()
            }
        ).is_right
    yield "right claims called right", percent(right, CLAIMS), "98 %"


def _chart_slips():
    """Yield how many slips of charts are found, and how many right charts are left alone."""
    rng, hits, left = np.random.default_rng(82), 0, 0
    for _ in range(CHARTS):
        claims, some, where, key = charts.drawn(rng)
        found = charts.chart_of(claims, some).slips
        first = found.groups[0] if found.groups else ()
        hits += any((e.slips[0].where, e.keys) == (where, (key,)) for e in first)
        noise = rng.normal(0, 0.005, (len(some), len(charts.KEYS)))
        right = charts.said(charts.computed(some), noise)
        left += not charts.chart_of(right, some).slips.groups
    yield (
        "slips in charts of five weeks, 0.5 % noise, found first or tied first",
        percent(hits, CHARTS),
        "90 %",
    )
    yield (
        "right charts, 0.5 % noise, in which no slip is named",
        percent(left, CHARTS),
        "-",
    )


def _labels():
    """Yield what is said of right labels and of labels with one slip."""
    many = 200
    refuted, named, found = labels.measured(many=many)
    yield f"right labels of {many} refuted", f"{100 * refuted:.1f} %", "0"
    yield f"right labels of {many} with a slip named", f"{100 * named:.1f} %", "0"
    rng = np.random.default_rng(5)
    read = [check_label(right_eu_label(rng)) for _ in range(EU_LABELS)]
    wrong = sum(one.is_refuted or bool(one.slips) for one in read)
    yield "right labels in EU wording refuted", f"{wrong} of {EU_LABELS}", "0"
    whole = statistics.mean(found.values())
    yield f"labels of {many} with one slip, detected", f"{100 * whole:.1f} %", "80 %"
    for kind, share in found.items():
        yield f"of these: {LABEL_SLIPS[kind]}", f"{100 * share:.0f} %", "-"


# --- tables ----------------------------------------------------------------------------------


def _tables():
    """Yield how published and seeded tables are judged."""
    yield from _published_tables()
    found, named, left = [], [], []
    for _, rows, touched, words in salts.seeded_tables(seed=20):
        check = check_salt_table(salts.table_of(rows))
        slipped = [f for f in salts.of_line(check, 2) if salts.key_of(f) in touched]
        found.append(all(f.verdict in ("wrong", "impossible") for f in slipped))
        named.append(all(words in f.what for f in slipped))
        left += [f.is_right for f in check.findings if f not in slipped]
    count = len(found)
    yield "tables of ten salts with one slip: found", percent(sum(found), count), "90 %"
    yield "the same: explained by name", percent(sum(named), count), "90 %"
    yield "the same: right numbers called right", percent(sum(left), len(left)), "98 %"
    reach = [row["reach"] for row in ledger.ROWS]
    for word, told in REACHES.items():
        yield (
            f"documented discrepancies: {told}",
            f"{reach.count(word)} of {len(reach)}",
            "-",
        )


def _published_tables():
    """Yield how many rows of published tables have the verdict that their notes justify."""
    rows = salts.published_rows()
    check = check_salt_table(salts.SALT_TABLES)
    agree = sum(
        gravest_finding(salts.of_line(check, line)) == row["expected"]
        for line, row in enumerate(rows, 2)
    )
    yield "published salts judged as their notes do", f"{agree} of {len(rows)}", "all"
    agree, count = 0, 0
    for source in ("vt-spes201", "oxide-divisors", "eu-2019-1009"):
        told = factors.rows_of(source)
        single = [
            f
            for f in factors.check_of(source).findings
            if f.subject.startswith("line ")
        ]
        agree += sum(
            f.verdict == r["expected"] for r, f in zip(told, single, strict=True)
        )
        count += len(told)
    yield "published factors judged as their digits do", f"{agree} of {count}", "all"
    agree, count = 0, 0
    for salt, unit in solubilities.SALTS:
        told, text = solubilities.wide(salt, unit)
        last = check_solubility_table(text).findings[-len(told) :]
        agree += sum(
            f.verdict == r["expected"] for r, f in zip(told, last, strict=True)
        )
        count += len(told)
    yield (
        "published solubilities judged as their notes do",
        f"{agree} of {count}",
        "all",
    )


def _allowances():
    """Yield the farthest differences from allowances whose table was read."""
    off, count = [], 0
    for row in allowances.published("label_allowances_npk"):
        if row["source_key"] != "fl-576-061" or row["how_known"] != "read":
            continue
        for key, column in allowances.MAIN_COLUMNS.items():
            ours = us_allowance(key, float(row["guarantee_percent"])).value
            off.append(abs(ours - float(row[column])))
        count += 1
    yield (
        f"allowances of N, P2O5, K2O, {count} rows that were read, points",
        f"{max(off):.4f}",
        f"{allowances.BAR}",
    )
    off, count = [], 0
    for row in allowances.published("label_allowances_secondary_micro"):
        if row["how_known"] != "read":
            continue
        constant, share, most = (
            float(row[f"{name}"])
            for name in (
                "allowance_constant_percent_points",
                "allowance_percent_of_guarantee",
                "max_allowance_percent_points",
            )
        )
        for guarantee in GUARANTEES:
            right = min(constant + share * guarantee / 100, most)
            key = allowances.SYMBOLS[row["nutrient"]]
            off.append(abs(us_allowance(key, guarantee).value - right))
        count += 1
    yield (
        f"allowances of {count} other nutrients that were read, points",
        f"{max(off):.4f}",
        f"{allowances.BAR}",
    )


def _doses():
    """Yield how many published worked examples are right within what they print."""
    off, right = [], 0
    for ingredient, dose, claims in doses.EXAMPLES.values():
        (claim,) = check_dose(ingredient, dose, claims).claims
        right += claim.finding.is_right
        off.append(abs(claim.difference_percent))
    count = len(off)
    yield "published worked examples called right", f"{right} of {count}", "all"
    yield "the same: printed against computed, farthest, %", f"{max(off):.2f}", "-"


# --- speed -----------------------------------------------------------------------------------


def speed_rows():
    """Yield what, median in ms, and the bar."""
    yield "a label, right", _ms(lambda: check_label(labels.BAG)), "-"
    slipped = labels.BAG.replace("30 %", "36 %").replace("-30", "-36")
    yield "a label, wrong", _ms(lambda: check_label(slipped)), "-"
    weeks = feeds.long_chart()
    yield (
        "a chart of 20 weeks and 8 products, every week",
        _ms(lambda: read_chart(weeks, feeds.SALTS).findings),
        "-",
    )
    yield (
        "the same with its slips",
        _ms(lambda: str(read_chart(weeks, feeds.SALTS).slips)),
        "-",
    )
    pure = list(salts.pure_salts())[:50]
    text = salts.table_of(pure)
    yield (
        f"a table of {len(pure)} salts, right",
        _ms(lambda: check_salt_table(text)),
        "-",
    )
    tenfold = [
        (name, {key: 10 * share for key, share in shares.items()})
        for name, shares in pure
    ]
    wrong = salts.table_of(tenfold)
    yield (
        f"a table of {len(pure)} salts, every number ten times too large",
        _ms(lambda: check_salt_table(wrong)),
        "-",
    )
    named = {name: name for name in EIGHT}
    yield (
        "8 products compared, each at its nearest to a target",
        _ms(lambda: str(compare_products(named, target="steiner-1984"))),
        "-",
    )


def _ms(action, repeats=5):
    """Return the median processor time of an action. [ms]"""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(1000 * (time.process_time() - start))
    return f"{statistics.median(times):.0f}"


if __name__ == "__main__":
    for rows in (agreement_rows(), speed_rows()):
        for row in rows:
            print("| " + " | ".join(row) + " |")
