"""Labels read line by line: every number of the text is an entry or on a line left out.

The texts of tests/labels are invented after the layouts that label law prescribes (order and
wording: SD 38-19-5, AZ 3-275, AAPFCO, EU 2019/1009; label_rules). What a changed text gives
is counted here by a reader of numbers of its own.
"""

import itertools
import re
from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from formulate.errors import Faults, FormulateError
from formulate.ingredients.label_grade import find_grade
from formulate.ingredients.label_sources import sources_of
from formulate.ingredients.label_text import read_entries
from formulate.ingredients.label_tokens import decimal_mark, printed_value
from formulate.ingredients.label_words import nearest_words
from formulate.ingredients.labels import read_label

FOLDER = Path(__file__).parent / "labels"
TEXTS = {p.name: p.read_text(encoding="utf-8") for p in sorted(FOLDER.glob("*.txt"))}
SYMBOL = re.compile(
    r"(?<![A-Za-z])(P[ …*]*[2₂][ …*]*[O0][ …*]*[5₅]|(K|Na)[ …*]*[2₂][ …*]*[O0]"
    r"|\(\s*(SO|NO|NH) \d\s*(-\s*N)?\s*\))"
    r"|Ca\(NO3\)\d?( {0,2}[·.*x…]? ?\d{1,2} ?H2O)?"  # a formula, also behind a name without a space
)
RAISED = re.compile(r"[²³¹]|(?<![A-Za-z])₂")
NUMBER = re.compile(
    r"\d{1,3}(?:[ ']\d{3})+(?=\s?(?:ppm|mg\b))"
    r"|(?<![^\W_])(?:(?<![.,\d])[.,])?\d[\d.,]*"
)


def entries(text, **given):
    faults = Faults()
    reading, _ = read_entries(text, faults, **given)
    assert faults.found == []
    return [(e.line, e.key, e.percent, e.kind, e.agent) for e in reading.entries]


# --- every number is accounted for ---------------------------------------------------------


def values(digits):
    """Return what a printed number may mean: marks as decimals, thousands or leaders."""
    digits = re.sub("[ ']", "", digits).rstrip(".,")
    plain = (
        digits.replace(",", "."),
        digits.replace(",", "").replace(".", ""),
        digits.replace(",", ""),
        digits.replace(".", "").replace(",", "."),
        digits.lstrip(".,").replace(",", "."),
    )
    return {float(text) for text in plain if re.fullmatch(r"\d*\.?\d+", text)}


def printed_numbers(line):
    """Return the numbers of a line, each with what it may mean; symbols hold none."""
    line = re.sub("[\u200b\xad]", "", line)
    line = SYMBOL.sub("X", RAISED.sub(" ", line))
    return [values(text) for text in NUMBER.findall(line)]


def unaccounted(text, reading):
    """Yield each line whose numbers are not those of its entries, and is not left out."""
    used, left = defaultdict(list), {line.line for line in reading.left_out}
    for entry in reading.entries:
        used[entry.line] += entry.numbers
    for number, line in enumerate(re.split("\r\n|[\r\n]", text), 1):
        printed = [] if number in left else printed_numbers(line)
        if number in left or len(printed) > 8:
            continue
        sums = {sum(choice) for choice in itertools.product(*printed)}
        if not any(abs(sum(used[number]) - total) < 1e-6 for total in sums):
            yield f"line {number}: {line!r}: printed {printed}, read {used[number]}"


def check_accounted(text):
    """Read a text; whatever it is, no number may get lost or invented unsaid."""
    try:
        made = read_label(text)
    except FormulateError:
        return
    assert list(unaccounted(text, made.reading)) == []
    said = {line.line for line in made.reading.left_out}
    assert said <= set(range(1, len(text.splitlines()) + 2))


@pytest.mark.parametrize("name", TEXTS)
def test_every_number_of_the_corpus_is_accounted_for(name):
    check_accounted(TEXTS[name])


def test_the_account_bites():
    made = read_label("Potash (K2O) 20 %\nBoron (B) 0.02 %")
    assert list(unaccounted("Potash (K2O) 21 %\nBoron (B) 0.02 %", made.reading))
    assert list(unaccounted("Potash (K2O) 20 % 3\nBoron (B) 0.02 %", made.reading))
    assert list(unaccounted("Potash (K2O) 20 %\nBoron (B)", made.reading))


texts = st.sampled_from(list(TEXTS.values()))
characters = st.sampled_from("0123456789.,%<>-+/()[]:;*| abcNPKSO\t…é²₂\x00\u200b°")


@given(texts, st.lists(st.tuples(st.integers(0, 3), st.integers(0), characters)))
def test_garbled_characters_never_give_a_silent_wrong_sum(text, changes):
    for how, place, char in changes:
        at = place % (len(text) + 1)
        new = {0: "", 1: text[at : at + 1] * 2, 2: char, 3: char + text[at : at + 1]}
        text = text[:at] + new[how] + text[at + 1 :]
    check_accounted(text)


@given(texts, st.lists(st.tuples(st.integers(0, 4), st.integers(0), texts), min_size=1))
def test_moved_lines_never_give_a_silent_wrong_sum(text, changes):
    for how, place, other in changes:
        lines = text.split("\n")
        at, to = place % len(lines), place // len(lines) % len(lines)
        if how == 0:
            del lines[at]
        elif how == 1:
            lines.insert(to, lines[at])
        elif how == 2:
            lines[at], lines[to] = lines[to], lines[at]
        elif how == 3:
            lines.insert(at, other.split("\n")[to % len(other.split("\n"))])
        else:
            lines[at : at + 2] = [" ".join(lines[at : at + 2])]
        text = "\n".join(lines) or " "
    check_accounted(text)


SWAPS = (".,", ",.", "%", " ", "\n ", " \n", "(", ")", ":", " \t", "0O")
PPM = ("%", " ppm")
swaps = st.sampled_from([PPM, *((pair[0], pair[1:]) for pair in SWAPS)])


@given(texts, st.lists(st.tuples(swaps, st.integers(1, 99)), min_size=1, max_size=4))
@example(
    "Calcium nitrate Ca(NO3)2·4H2O\nNitrate nitrogen 11.8%\nCalcium (Ca) 16.9%",
    [((" ", ""), 2)],
)
def test_changed_separators_never_give_a_silent_wrong_sum(text, changes):
    for (old, new), count in changes:
        text = text.replace(old, new, count)
    check_accounted(text)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text):
    check_accounted(text)


# --- changes that change nothing ------------------------------------------------------------

SAME = (
    lambda text: text.replace("\n", "\r\n"),
    lambda text: text.replace("\n", "\n\n"),
    lambda text: text.replace(" ", "\N{NO-BREAK SPACE}"),
    lambda text: re.sub("(?m)^", "   ", text),
    lambda text: re.sub("(?m)$", "  ", text),
    lambda text: re.sub(r" ?\.{4,} ?", " .......... ", text),
    lambda text: text.replace("P2O5", "P₂O₅").replace("K2O", "K₂O"),
    lambda text: "\ufeff" + text,
    lambda text: text.replace("-", "–") if "+" not in text else text,
    lambda text: text + "\nTel. 555 0100",
)
READABLE = [name for name in TEXTS if not name.startswith(("wrong", "us-07"))]


@given(st.sampled_from(READABLE), st.lists(st.sampled_from(SAME), max_size=3))
def test_what_means_the_same_reads_the_same(name, changes):
    text = TEXTS[name]
    expected = read_label(text).forms
    for change in changes:
        text = change(text)
    assert read_label(text).forms == expected


# --- labels written from numbers ---------------------------------------------------------------

WORDS = {  # wordings after EU 2019/1009 and EC 2003/2003 Annex I (memory), SD 38-19-5
    "en": {"NO3-N": "nitric nitrogen", "NH4-N": "ammoniacal nitrogen"}
    | {"P2O5": "phosphorus pentoxide", "K2O": "potassium oxide"}
    | {"MgO": "magnesium oxide", "SO3": "sulphur trioxide", "B": "boron"},
    "us": {"NO3-N": "Nitrate Nitrogen", "NH4-N": "Ammoniacal Nitrogen"}
    | {"P2O5": "Available Phosphate", "K2O": "Soluble Potash"}
    | {"MgO": "Magnesium oxide (MgO)", "SO3": "Sulfur (SO3)", "B": "Boron (B)"},
    "de": {"NO3-N": "Nitratstickstoff", "NH4-N": "Ammoniumstickstoff"}
    | {"P2O5": "Phosphorpentoxid", "K2O": "wasserlösliches Kaliumoxid"}
    | {"MgO": "Magnesiumoxid", "SO3": "Schwefeltrioxid", "B": "Bor"},
    "fr": {"NO3-N": "azote nitrique", "NH4-N": "azote ammoniacal"}
    | {"P2O5": "anhydride phosphorique", "K2O": "oxyde de potassium"}
    | {"MgO": "oxyde de magnésium", "SO3": "anhydride sulfurique", "B": "bore"},
    "es": {"NO3-N": "nitrógeno nítrico", "NH4-N": "nitrógeno amoniacal"}
    | {"P2O5": "pentóxido de fósforo", "K2O": "óxido de potasio"}
    | {"MgO": "óxido de magnesio", "SO3": "trióxido de azufre", "B": "boro"},
    "it": {"NO3-N": "azoto nitrico", "NH4-N": "azoto ammoniacale"}
    | {"P2O5": "anidride fosforica", "K2O": "ossido di potassio"}
    | {"MgO": "ossido di magnesio", "SO3": "anidride solforica", "B": "boro"},
    "nl": {"NO3-N": "nitraatstikstof", "NH4-N": "ammoniumstikstof"}
    | {"P2O5": "fosforzuuranhydride", "K2O": "kaliumoxide"}
    | {"MgO": "magnesiumoxide", "SO3": "zwaveltrioxide", "B": "boor"},
}
LAYOUTS = ("{name} ....... {value} %", "{value} % {name}", "{name}: {value}")
LAYOUTS += ("{name} | {value} %", "{name} ({value}%)", "% {value} {name}")


@given(
    st.sampled_from(list(WORDS)),
    st.sampled_from(LAYOUTS),
    st.dictionaries(st.sampled_from(list(WORDS["en"])), st.integers(1, 50), min_size=1),
    st.sampled_from([".", ","]),
    st.sampled_from(["\n", "   "]),
)
def test_a_label_written_from_numbers_reads_back(tongue, layout, tenths, mark, between):
    shares = {key: tenth / 10 for key, tenth in tenths.items()}
    if between != "\n" and (mark == "," or "|" in layout):
        between = "\n"
    lines = [
        layout.format(name=WORDS[tongue][key], value=f"{share:.1f}".replace(".", mark))
        for key, share in shares.items()
    ]
    made = read_label(between.join(lines))
    for key, share in shares.items():
        assert made.percent(key) == pytest.approx(share, rel=1e-9)


# --- pieces -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("digits", "mark", "foreign", "expected"),
    [
        ("15.5", "", False, (15.5, 1)),
        ("15,5", "", False, (15.5, 1)),
        (".05", ".", False, (0.05, 2)),
        ("0,250", "", True, (0.25, 3)),
        ("1,000", ".", False, (1000, 0)),
        ("1.000", ",", True, (1000, 0)),
        ("1.000", "", False, (1, 3)),
        ("1,234,567", "", False, (1234567, 0)),
        ("1.234,5", "", True, (1234.5, 1)),
        ("12 500", "", True, (12500, 0)),
    ],
)
def test_digits_mean_what_the_label_means(digits, mark, foreign, expected):
    assert printed_value(digits, mark, foreign) == expected


@pytest.mark.parametrize("digits", ["1,000", "05", "1..5", "1.2.3", "1,2.3"])
def test_digits_that_mean_two_things_are_asked_back(digits):
    with pytest.raises(FormulateError):
        printed_value(digits, "", True)


def test_the_decimal_mark_of_a_label():
    assert decimal_mark("N 15,5 %") == ","
    assert decimal_mark("1,000 ppm and 0.5 %") == "."
    assert decimal_mark("15.5 and 15,5; 12.05.2024") == ""


@pytest.mark.parametrize(
    ("line", "shares"),
    [
        ("NPK 15-5-30", [("N", "15"), ("P", "5"), ("K", "30")]),
        ("NPK (Mg) 15+5+30(+3)", [("N", "15"), ("P", "5"), ("K", "30")]),
        ("12-0-0-26Ca", [("N", "12"), ("P", "0"), ("K", "0"), ("Ca", "26")]),
        ("N:P:K".replace(":", "") + " 10:2:15", [("N", "10"), ("P", "2"), ("K", "15")]),
        ("NK 13-46", [("N", "13"), ("K", "46")]),
        ("12-05-2024", None),
        ("555-12-10", None),
        ("60-50-40", None),
        ("10:30:15", None),
        ("pH 6-7", None),
    ],
)
def test_a_grade_is_told_from_dates_and_ranges(line, shares):
    found = find_grade(line)
    assert (found and [(name, digits) for name, _, digits in found.shares]) == shares


def test_a_misspelt_word_has_a_near_one():
    assert "calcium" in nearest_words("Calcinm")
    assert nearest_words("zzzz") == ()


# --- what critics of labels found ---------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "density"),
    [
        # 1 lb/US gal = 0.45359237 kg / 3.785411784 L (definitions)
        ("Weight per gallon 12.0 lbs @ 68 F", 12.0 * 0.45359237 / 3.785411784),
        ("Weight per gallon 11.06 lb at 68F", 11.06 * 0.45359237 / 3.785411784),
        ("Weight per gallon 11.06 lb (68 F)", 11.06 * 0.45359237 / 3.785411784),
        ("Density at 68 F: 10.2 lb/gal", 10.2 * 0.45359237 / 3.785411784),
        ("Density (20 C) 1.2", 1.2),
        ("Dichte 1,2 kg/l bei 20 C", 1.2),
    ],
)
def test_the_temperature_of_a_density_is_no_density(line, density):
    faults = Faults()
    reading, _ = read_entries(f"Total Nitrogen (N) 10 %\n{line}", faults)
    assert faults.found == []
    assert reading.density == pytest.approx(density, rel=1e-12)


@pytest.mark.parametrize(
    ("title", "key", "share"),
    [
        ("Harnstoff 46 % N", "urea-N", 46),
        ("Urea 46 % N", "urea-N", 46),
        ("Nitrat 5 % N", "NO3-N", 5),
    ],
)
def test_a_form_before_and_nitrogen_behind_a_number_are_one_name(title, key, share):
    assert entries(title) == [(1, key, share, "form", "")]


def test_urea_as_a_title_says_what_its_lines_say():
    text = "Harnstoff 46 % N\n46 % N Gesamtstickstoff\n46 % N Carbamidstickstoff"
    read = {(key, percent) for _, key, percent, _, _ in entries(text)}
    assert read == {("urea-N", 46), ("N", 46)}


@pytest.mark.parametrize(
    "line",
    ["Total nitrogen -5%", "N -5 %", "Stickstoff −5 %", "N: -5 %", "N ..... -5 %"],
)
def test_a_negative_share_is_a_fault_of_its_line(line):
    faults = Faults()
    read_entries(f"K2O 3 %\n{line}", faults)
    assert len(faults.found) == 1
    assert "line 2" in faults.found[0]
    assert "negative" in faults.found[0]


@pytest.mark.parametrize(
    ("line", "share"),
    [
        ("Total nitrogen (N) - 5 %", 5),
        ("Total nitrogen (N)-5 %", 5),
        ("Total nitrogen (N) – 5 %", 5),
        ("- 5 % Total nitrogen (N)", 5),
        ("Total nitrogen (N) 5-6 %", 5),
        ("Total nitrogen (N) 5 - 6 %", 5),
        ("Total nitrogen (N) 5 -6 %", 5),
    ],
)
def test_a_dash_apart_from_its_number_is_no_sign(line, share):
    assert [found[1:3] for found in entries(line)] == [("N", share)]


@pytest.mark.parametrize(
    "text",
    [
        "MgO 10 % w/v, 8.3 % w/w\nDensity 1.35 kg/L",
        "MgO 10 % w/v\nMgO 8.3 % w/w\nDensity 1.35 kg/L",
    ],
)
def test_shares_by_volume_and_by_mass_that_disagree_are_read_when_asked(text):
    # 10 g in 100 mL of 1.35 kg/L are 7.4 %, 8.3 % make 1.2 kg/L
    faults = Faults()
    read_entries(text, faults)
    assert len(faults.found) == 1
    faults = Faults()
    reading, _ = read_entries(text, faults, keep_going=True)
    assert faults.found == []
    (apart,) = reading.disagreements
    assert apart.key == "MgO"
    assert apart.number == pytest.approx(10 / 8.3, abs=0.01)
    assert apart.limit == 1.35
    assert "1.2" in apart.what
    assert "1.35" in apart.what
    assert [e.percent for e in reading.entries] == [8.3]


def test_shares_that_agree_with_the_density_have_no_disagreement():
    text = "MgO 10 % w/v, 8.3 % w/w\nDensity 1.2 kg/L"
    reading, _ = read_entries(text, Faults(), keep_going=True)
    assert reading.disagreements == ()
    assert reading.entries[0].percent == 8.3


@pytest.mark.parametrize(
    ("listed", "sources"),
    [
        (
            "sodium ferric ethylenediamine-N,N'-bis(2-hydroxyphenylacetate), urea",
            ("sodium ferric ethylenediamine-N,N'-bis(2-hydroxyphenylacetate)", "urea"),
        ),
        ("potassium nitrate,urea", ("potassium nitrate", "urea")),
        (
            "iron (EDTA, DTPA), potassium nitrate and urea.",
            ("iron (EDTA, DTPA)", "potassium nitrate", "urea"),
        ),
        ("KNO3, KH2PO4 (food grade", ("KNO3", "KH2PO4 (food grade")),
    ],
)
def test_a_comma_inside_a_chemical_name_does_not_split(listed, sources):
    faults = Faults()
    reading, _ = read_entries(f"N 5 %\nDerived from: {listed}", faults)
    assert reading.derived_from == sources


@pytest.mark.parametrize(
    ("name", "brings", "agents"),
    [
        ("schwefelsaures Kali", set(), set()),
        ("Diammoniumhydrogenphosphat", {"NH4-N"}, set()),
        ("nitrate de chaux", {"NO3-N"}, set()),
        (
            "sodium ferric ethylenediamine-N,N'-bis(2-hydroxyphenylacetate)",
            set(),
            {"EDDHA"},
        ),
        ("ammonium calcium nitrate double salt", {"NO3-N", "NH4-N"}, set()),
        ("superphosphoric acid", set(), set()),
        ("ammonium polyphosphate", {"NH4-N"}, set()),
        ("iron EDDHSA", set(), set()),
    ],
)
def test_a_source_in_other_words_brings_what_it_is(name, brings, agents):
    found = sources_of([name])[0]
    assert found.is_known
    assert found.brings == brings
    assert found.agents == agents
    assert found.text == name


def test_a_source_that_no_table_knows_is_unknown():
    assert not sources_of(["glasshouse secret"])[0].is_known
