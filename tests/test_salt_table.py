"""Published tables of salts: each number right, or found and explained by name."""

import csv
import random
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from formulate.claims.finding import gravest_finding
from formulate.claims.printed_numbers import printed_number
from formulate.claims.published_table import check_table, table_kind
from formulate.claims.salt_table import check_salt_table
from formulate.errors import InputError
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.formula import molar_mass

PUBLISHED = Path(__file__).parent / "published"
SALT_TABLES = PUBLISHED / "salt_tables.csv"
KEYS = ("N", "P2O5", "K2O", "Ca", "Mg", "S", "Cl", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
# mass of what is printed by mistake over the mass of what is meant
BASES = {
    "P2O5": ("P", 2 * molar_mass("P") / molar_mass("P2O5")),
    "K2O": ("K", 2 * molar_mass("K") / molar_mass("K2O")),
    "Ca": ("CaO", molar_mass("CaO") / molar_mass("Ca")),
    "Mg": ("MgO", molar_mass("MgO") / molar_mass("Mg")),
    "S": ("SO4", molar_mass("SO4") / molar_mass("S")),
}
SEEDED = 100
FOUND, RIGHT = 0.90, 0.98  # what a check of tables must find, and leave alone


def published_rows():
    with SALT_TABLES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def published():
    """Return the check of the published table, and its rows by line."""
    return check_salt_table(SALT_TABLES), dict(enumerate(published_rows(), 2))


def of_line(check, line):
    return [f for f in check.findings if f.subject.startswith(f"line {line},")]


@pytest.mark.parametrize("line", range(2, 2 + len(published_rows())))
def test_each_published_row_gets_the_verdict_that_its_note_justifies(line, published):
    # tests/published/salt_tables.csv: salt_analyses.csv of the same folder with the verdict
    # that its columns difference_percent_points and note justify, the reason beside each
    check, rows = published
    row, found = rows[line], of_line(check, line)
    assert found, row["salt"]
    assert gravest_finding(found) == row["expected"], [str(f) for f in found]
    if row["words"]:
        assert any(row["words"] in f.what for f in found), [str(f) for f in found]
    elif row["expected"] == "right":
        assert not any("commercial" in f.what for f in found)


def test_columns_that_are_not_known_are_told(published):
    check, _ = published
    told = [str(n) for n in check.notices if "is left out" in str(n)]
    for heading in ("expected", "words", "reason", "source_key"):
        assert any(f"'{heading}'" in each for each in told)


# --- misprints ----------------------------------------------------------------------------


def only_wrong(text, **options):
    (found,) = check_salt_table(text, **options).not_right
    return found


def test_item_14_potassium_printed_as_phosphorus():
    # hydro-basics-blog: 41.5 % "P" in 0-0-50; 50 x 0.8301 = 41.5 % K
    found = only_wrong("salt;P %;grade\npotassium sulfate;41.5;0-0-50\n")
    assert found.verdict == "wrong"
    assert "its K, printed under P" in found.what


def test_item_2_calcium_beyond_the_ideal_double_salt():
    # ideal 5Ca(NO3)2·NH4NO3·10H2O: 15.55 % N, 18.54 % Ca; labels 15.5 and 19
    found = only_wrong("salt;N %;Ca %\n5Ca(NO3)2·NH4NO3·10H2O;15.5;19.0\n")
    assert found.verdict == "wrong"
    assert "use the label" in found.what
    assert found.limit == pytest.approx(18.544, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "headings", "numbers", "meant"),
    [
        # recipes in older books name a salt without its water (item 17); shares by the
        # published salt_analyses.csv, column element_percent_pure_recomputed
        ("calcium nitrate", "N;Ca", "11.9;17.0", "calcium nitrate tetrahydrate"),
        ("calcium nitrate", "N;Ca", "17.1;24.4", "calcium nitrate anhydrous"),
        ("zinc sulfate", "Zn", "22.7", "zinc sulfate heptahydrate"),
        ("zinc sulfate", "Zn", "36.4", "zinc sulfate monohydrate"),
        ("manganese sulfate", "Mn", "24.6", "manganese sulfate tetrahydrate"),
        ("borax", "B", "11.3", "borax decahydrate"),
    ],
)
def test_item_17_a_name_without_its_water_is_never_guessed_in_silence(
    name, headings, numbers, meant
):
    check = check_salt_table(f"salt;{headings}\n{name};{numbers}\n")
    assert check.is_right
    assert check.assumed == (f"line 2: {name} is {meant}",)
    assert f"only {meant} fits" in check.findings[0].what


def test_several_hydrates_that_fit_are_named():
    # magnesium nitrate: Mg 9.48 (hexahydrate) and 16.39 % (waterless)
    check = check_salt_table("salt;Mg\nmagnesium nitrate;9-17\n")
    assert check.verdict == "cannot tell"
    assert "magnesium nitrate hexahydrate and magnesium nitrate anhydrous" in str(check)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        # pure KNO3: N 13.854, K 38.672, K2O 46.584 % (molar masses)
        ("KNO3;13.85;46.58", "K2O printed as K"),
        ("KNO3;38.67;13.85", "printed under"),
        ("KNO3;13.85;3.867", "the point one place too far left"),
        ("KNO3;13.85;83.67", "digits exchanged: 83.67 for 38.67"),
        ("KNO3;13.85;36.67", "one digit wrong: 36.67 for 38.67"),
        ("KNO3;13.85;8.67", "a digit left out: 8.67 for 38.67"),
        ("KNO3;61.33;38.67", "NO3 printed as N"),
    ],
)
def test_a_slip_is_named(row, words):
    check = check_salt_table(f"salt;N %;K %\n{row}\n")
    assert check.verdict == "wrong"
    assert all(words in finding.what for finding in check.not_right)


def test_the_number_of_another_row_is_named():
    # N of urea 46.65, of KNO3 13.85 %
    check = check_salt_table("salt;N %\nKNO3;46.65\nurea;13.85\n")
    told = [finding.what for finding in check.not_right]
    assert "the number of line 3, urea" in told[0]
    assert "the number of line 2, KNO3" in told[1]


def test_a_number_above_the_salt_without_any_water_is_impossible():
    # Mg in waterless MgSO4 is 20.19 %
    found = only_wrong("salt;Mg %\nMgSO4·7H2O;57\n")
    assert found.verdict == "impossible"
    assert "20.193" in found.what


def test_a_molar_mass_of_another_hydrate_is_named():
    # MgSO4 120.36, MgSO4·7H2O 246.47 g/mol (salt_analyses.csv)
    found = only_wrong("salt;formula;molar mass\nEpsom salt;MgSO4·7H2O;120.4\n")
    assert "magnesium sulfate anhydrous" in found.what
    assert found.limit == pytest.approx(246.466, abs=5e-3)


def test_name_and_formula_that_differ_in_water_are_told():
    check = check_salt_table("salt;formula;Mg %\nEpsom salt;MgSO4;20.2\n")
    assert check.verdict == "wrong"
    assert "differ in water" in check.not_right[0].what


def test_an_unknown_material_cannot_be_told():
    check = check_salt_table("salt;K %\nschool glasshouse mix;12\nKNO3;38.67\n")
    assert [f.verdict for f in check.findings] == [
        "cannot tell",
        "cannot tell",
        "right",
    ]


def test_a_whole_column_on_another_basis_is_told_once_more():
    # P in KH2PO4 22.76, in NH4H2PO4 26.93 % (salt_analyses.csv)
    check = check_salt_table("salt;P2O5 %\nKH2PO4;22.76\nMAP;26.93\n")
    assert len(check.not_right) == 2
    assert any("P printed as P2O5 in 2 of 2" in str(notice) for notice in check.notices)


def test_commercial_purity_is_shared_by_all_numbers_of_a_row():
    # 95 % of N 13.854 and K2O 46.584
    check = check_salt_table("salt;N %;K2O %\nKNO3;13.16;44.25\n")
    assert check.is_right
    assert all("commercial of 94.9 to 95.0 %" in f.what for f in check.findings)


def test_a_grade_whose_numbers_share_no_purity_cannot_be_told():
    # 0-0-50 is 92 to 94 % of K2SO4 (54.06 % K2O), 18 % S at least 95 % (18.40 %)
    check = check_salt_table("salt;grade;S %\npotassium sulfate;0-0-50;18\n")
    assert check.verdict == "cannot tell"
    assert "a grade of 92.5 % purity" in check.not_right[0].what


def test_a_chelate_in_brackets_is_no_formula():
    check = check_salt_table("salt;Fe %\niron chelate (EDTA);13.0\n")
    assert check.is_right
    assert "iron EDTA chelate" in check.assumed[0]


# --- a table printed from the catalogue ------------------------------------------------------


def pure_salts():
    """Return (name, shares as printed with three decimals) of the solids."""
    for made in catalogue().values():
        shares = {key: made.percent(key) for key in KEYS}
        shares = {key: share for key, share in shares.items() if share > 0}
        if made.formula and not made.is_liquid and shares:
            yield made.name, shares


def table_of(rows):
    lines = [";".join(("salt", *(f"{key} %" for key in KEYS)))]
    for name, shares in rows:
        cells = (f"{shares[k]:.3f}" if k in shares else "" for k in KEYS)
        lines.append(";".join((name, *cells)))
    return "\n".join(lines) + "\n"


def test_law_a_table_printed_from_the_catalogue_is_right():
    check = check_salt_table(table_of(pure_salts()))
    assert len(check.findings) > 100
    assert check.is_right
    assert not any("commercial" in finding.what for finding in check.findings)


def waterless_over_wet(name):
    formula = catalogue()[name].formula
    dry, _, water = formula.rpartition("·")
    wet = water.endswith("H2O")
    return molar_mass(formula) / molar_mass(dry) if wet else None


def seeded(kind, name, shares, others, draw):
    """Return the shares with one slip, the keys that it touched and its words."""
    key = draw.choice(sorted(shares))
    if kind == "basis":
        keys = sorted(set(shares) & set(BASES))
        if not keys:
            return None
        key = draw.choice(keys)
        other, factor = BASES[key]
        return {**shares, key: shares[key] * factor}, {key}, f"{other} printed as {key}"
    if kind == "waterless":
        factor = waterless_over_wet(name)
        if not factor:
            return None
        return {k: v * factor for k, v in shares.items()}, set(shares), "the number "
    if kind == "columns":
        partner = draw.choice(sorted(shares))
        if abs(shares[partner] / shares[key] - 1) < 0.002:
            return None
        swapped = {key: shares[partner], partner: shares[key]}
        return {**shares, **swapped}, {key, partner}, "printed under"
    if kind == "point":
        return {**shares, key: shares[key] * draw.choice((10, 0.1))}, {key}, "the point"
    if kind == "row":
        other, its = draw.choice(others)
        if key not in its or abs(its[key] / shares[key] - 1) < 0.002:
            return None
        return {**shares, key: its[key]}, {key}, "the number of line"
    return exchanged(shares, key, draw)


def exchanged(shares, key, draw):
    """Return the shares with two neighbouring digits of one exchanged."""
    text = f"{shares[key]:.3f}"
    digits = [place for place, char in enumerate(text) if char != "."]
    pairs = [p for p in pairwise(digits) if text[p[0]] != text[p[1]]]
    chars = list(text)
    first, second = draw.choice(pairs)
    chars[first], chars[second] = chars[second], chars[first]
    return {**shares, key: float("".join(chars))}, {key}, "digits exchanged"


KINDS = ("basis", "waterless", "columns", "point", "exchanged", "row")


def seeded_tables(seed):
    """Yield (kind, rows, keys touched in the first row, words) of tables of ten salts."""
    draw, salts, made = random.Random(seed), list(pure_salts()), 0
    while made < SEEDED:
        (name, shares), *others = draw.sample(salts, 10)
        slip = seeded(KINDS[made % len(KINDS)], name, shares, others, draw)
        if slip is not None:
            yield KINDS[made % len(KINDS)], [(name, slip[0]), *others], slip[1], slip[2]
            made += 1


def key_of(finding):
    return finding.subject.rsplit(", ", 1)[-1].removesuffix(" %")


def test_law_seeded_slips_are_found_and_right_numbers_left_alone():
    found, named, left = [], [], []
    for kind, rows, touched, words in seeded_tables(seed=20):
        check = check_salt_table(table_of(rows))
        slipped = [f for f in of_line(check, 2) if key_of(f) in touched]
        assert len(slipped) == len(touched)
        found.append((kind, all(f.verdict in ("wrong", "impossible") for f in slipped)))
        named.append((kind, all(words in f.what for f in slipped)))
        rest = [f for f in check.findings if f not in slipped]
        left += [f.is_right for f in rest]
    assert sum(ok for _, ok in found) >= FOUND * SEEDED, Counter(found)
    assert sum(ok for _, ok in named) >= FOUND * SEEDED, Counter(named)
    assert sum(left) >= RIGHT * len(left)
    assert len(left) > 10 * SEEDED


# --- what people hand over ---------------------------------------------------------------------


def test_titles_units_groups_footnotes_and_commas_of_a_spreadsheet(tmp_path):
    text = (
        "Table 3. Salts of the school glasshouse\n\nDünger;Formel;N;P2O5;K2O;Preis\n"
        ";;%;%;%;\nKaliumsalze:\nSalpeter;KNO3;13,85;;46,58;3,20\n"
        "MKP;KH2PO4;–;52,15;34,61;4\n* by the bag\n"
    )
    path = tmp_path / "table.csv"
    path.write_bytes(text.encode("cp1252"))
    check = check_table(path)
    assert check.kind == "salts"
    assert check.is_right
    assert len(check.findings) == 4
    told = " ".join(map(str, check.notices))
    for words in ("Table 3", "Kaliumsalze:", "* by the bag", "'Preis'"):
        assert words in told


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_delimiters_and_marks(mark, delimiter, tmp_path):
    text = "salt;N %;K2O %\nKNO3;13.85;46.58\n".replace(";", delimiter)
    path = tmp_path / "table.csv"
    path.write_bytes(mark + text.encode())
    assert check_table(path).is_right


def test_every_fault_is_told_at_once_by_line_and_column():
    text = "salt;N %;K2O %\nKNO3;13.85;46.58\n;46.6;\nurea;46,6;\nDAP;2l;\nMAP;1;2;3\nKCl;1\n"
    with pytest.raises(InputError) as caught:
        check_table(text)
    told = str(caught.value)
    for words in (
        "line 3, column 1: numbers without a material",
        "line 4, column 'N %': '46,6' has a comma",
        "line 5, column 'N %': '2l' is no number",
        "line 6, column 4: '3' stands under no heading",
        "line 7: 2 cells under 3 headings",
    ):
        assert words in told


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("no such file.csv", "cannot be read"),
        ("salt;price\nKNO3;3\n", "no table that is known"),
        ("salt;N %\n", "no row under the headings"),
        ("salt;N %\nKNO3;-\n", "no number in any column"),
        ('salt,N %\nKNO3,"13,85"\n', "commas part the cells"),
        ('salt;N %\n"KNO3;13\n', "look at the quotes"),
        (3, "give a file or its text"),
    ],
)
def test_what_is_no_table_is_refused_in_words(given, words):
    with pytest.raises(InputError, match=words):
        check_table(given)


def test_alike_rows_are_told():
    check = check_table("salt;N %\nKNO3;13.85\nurea;46.65\nKNO3;13.85\n")
    assert any("lines 2 and 4 are alike" in str(notice) for notice in check.notices)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("salt;N %;K %\nKNO3;13.9;38.7\n", "salts"),
        ("salt,grade\nKNO3,13-0-46\n", "salts"),
        ("from;to;factor\nK;K2O;1.2\n", "factors"),
        ("K to K2O: 1.2046\nP2O5 × 0.4364 = P\n", "factors"),
        ("Solubility, g/L\nsalt;0 °C;20 °C\nKNO3;133;316\n", "solubility"),
        ("week;A g/L\n1;0.5\n", None),
        ("Total Nitrogen (N) 46 %\nDerived from: urea\n", None),
        ("parameter;result;unit\nCa;100;mg/L\n", None),
        ("", None),
    ],
)
def test_the_kind_of_a_table(text, kind):
    assert table_kind(text) == kind


def test_rule_and_tolerance_are_checked():
    text = "salt;N %\nKNO3;14.0\n"
    assert check_table(text, tolerance_percent=1.5).is_right
    with pytest.raises(InputError, match="rule"):
        check_table(text, rule="uk")
    with pytest.raises(InputError, match="tolerance"):
        check_table(text, tolerance_percent=-1)


def test_bare_words_follow_the_rule():
    # "phosphate" on a label of the United States is P2O5: 52.15 % in KH2PO4
    assert check_table("salt;phosphate\nKH2PO4;52.15\n", rule="us").is_right


def test_what_a_check_shows():
    check = check_table("salt;N %\nKNO3;46.6\n")
    assert check.rows()[0][:2] == ("line 2, KNO3, N %", "wrong")
    assert str(check).startswith("table (salts): wrong; 1 wrong\n- line 2")


@pytest.mark.parametrize(
    ("text", "low", "high", "step"),
    [
        ("46.60", 46.6, 46.6, 0.01),
        ("1 290", 1290, 1290, 1),
        ("17-18 %", 17, 18, 1),
        ("~0,5*", 0.5, 0.5, 0.1),
    ],
)
def test_printed_numbers(text, low, high, step):
    number = printed_number(text)
    assert (number.low, number.high) == (low, high)
    assert number.step == pytest.approx(step)
