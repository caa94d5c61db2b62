"""The tables are whole: readable, sourced, neutral, consistent; and the checks bite."""

import csv
import re
import shutil
from collections import Counter

import periodictable
import pytest

from formulate.errors import InputError, MissingData, UnitError
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.units import unit
from formulate.tables import DATA, checksum, cite, read_table, source, table_names

HOW_KNOWN = {"read", "memory", "computed"}
NO_UNITS_OF_OURS = {"% of N", "kg/L", "steps"}  # a share; a density; a count
SLIP_SUBJECTS = {
    *("any", "dose", "salt", "liquid", "dilution", "EC", "alkalinity", "acid"),
}
READINGS = {"pH", "EC", "alkalinity"}  # of a water report, beside nutrient keys
LIMITED = {"pH", "EC", "ammonium share"}  # beside nutrient keys
NITROGEN = {"nitrate": "N", "nitrite": "N", "ammonium": "N", "urea": "N"}
CENTRES = {**NITROGEN, "carbonate": "C", "iron_ii": "Fe", "iron_iii": "Fe"}
REPORT_BASES = {"", "CaCO3", "OH"}  # beside nutrient keys
KEYS = {  # the columns that name a row, where that is not the first alone
    "acid_densities": ("acid", "percent"),
    "as_sold": ("material", "grade", "key"),
    "chelates": ("ligand", "metal"),
    "ec_errors": ("case", "limit"),
    "hazard_statements": ("code", "category"),
    "hazards": ("cas", "applies_to"),
    "iron_windows": ("holder", "metal"),
    "label_limits": ("kind", "subject"),
    "label_words": ("words", "role", "language"),
    "look_alikes": ("first", "second"),
    "plant_limits": ("quantity", "stage", "severity"),
    "protonation": ("form", "step"),
    "restrictions": ("cas", "place", "level"),
    "sit": ("cation", "anion"),
    "solubility": ("formula", "temperature", "source_key"),
    "target_values": ("target", "nutrient"),
    "units": ("unit", "kind"),
    "water_checks": ("check", "from_anions"),
    "water_equations": ("equation", "symbol"),
    "water_values": ("water", "quantity"),
    "water_words": ("kind", "word"),
}


def raw(folder):
    """Return table name to its lines as lists, read without the package."""
    tables = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            tables[path.stem] = list(csv.reader(file, strict=True))
    return tables


def rows(tables, name):
    header, *lines = tables[name]
    return [dict(zip(header, line, strict=False)) for line in lines]


def cells(tables, name, column):
    return [row[column] for row in rows(tables, name)]


def atoms(text, ligands=()):
    """Return the atoms of an ion without its charge, and the charge."""
    body, charge = re.fullmatch(r"(.+?)([+-]\d)?", text).groups()
    body = dict(ligands).get(body, body)
    counts = periodictable.formula(body).atoms
    return Counter({el.symbol: n for el, n in counts.items()}), int(charge or 0)


# --- the checks: each takes the tables and yields faults ---------------------------------


def shape_faults(tables):
    for name, (header, *lines) in tables.items():
        if "" in header or len(set(header)) < len(header):
            yield f"{name}: empty or double header"
        for number, line in enumerate(lines, 2):
            if len(line) != len(header):
                yield f"{name} line {number}: {len(line)} cells, {len(header)} columns"
            if any(cell != cell.strip() for cell in line):
                yield f"{name} line {number}: blanks around a cell"


def source_faults(tables):
    known = set(cells(tables, "sources", "key"))
    for name, (header, *_) in tables.items():
        for number, row in enumerate(rows(tables, name), 2):
            if "source_key" in header:
                keys = row["source_key"].split("; ")
                yield from (
                    f"{name} line {number}: source {key!r}"
                    for key in keys
                    if key not in known
                )
            if "how_known" in header and row["how_known"] not in HOW_KNOWN:
                yield f"{name} line {number}: how known {row['how_known']!r}"
            if not {"source_key", "how_known"} <= {*header} and name not in (
                "sources",
                "target_values",  # sourced by their target
            ):
                yield f"{name}: no source"


def honesty_faults(tables):
    """A row may be called read only if one of its sources was read."""
    known = {row["key"]: row["how_known"] for row in rows(tables, "sources")}
    for name in tables:
        for number, row in enumerate(rows(tables, name), 2):
            if name == "sources" or row.get("how_known") != "read":
                continue
            if "read" not in {known.get(key) for key in row["source_key"].split("; ")}:
                yield f"{name} line {number}: read, from a source known by memory"


def key_faults(tables):
    for name, (header, *_) in tables.items():
        columns = KEYS.get(name, header[:1])
        keys = [tuple(row[column] for column in columns) for row in rows(tables, name)]
        yield from (f"{name}: {k} twice" for k, n in Counter(keys).items() if n > 1)
    yield from (f"no table {name!r}" for name in set(KEYS) - set(tables))


def alias_faults(tables):
    for name, column in (
        ("nutrients", "key"),
        ("units", "unit"),
        ("catalogue", "name"),
    ):
        owners = {}
        for row in rows(tables, name):
            for text in (row[column], *filter(None, row["aliases"].split("|"))):
                kind = row.get("kind") if name == "units" else ""
                owner = owners.setdefault((text, kind), row[column])
                if owner != row[column]:
                    yield f"{name}: {text!r} means {owner} and {row[column]}"


def unit_faults(tables):
    for name in set(tables) - {"units", "answer_units"}:
        for number, row in enumerate(rows(tables, name), 2):
            text = row.get("unit", "")
            if text in NO_UNITS_OF_OURS or not text:
                continue
            try:
                unit(text)
            except UnitError:
                yield f"{name} line {number}: unit {text!r}"
    for row in rows(tables, "answer_units"):  # what only answers of pupils have
        if (
            row["unit"] in cells(tables, "units", "unit")
            or not float(row["number"]) > 0
        ):
            yield f"answer_units: {row['unit']}"
    names = set(cells(tables, "units", "unit")) | {""}
    for row in rows(tables, "units"):
        if not {row["base"], row["per_unit"]} <= names or not float(row["number"]) > 0:
            yield f"units: {row['unit']} rests on {row['base']} / {row['per_unit']}"
        if bool(row["base"]) != bool(row["per_unit"]):
            yield f"units: {row['unit']} is half a quotient"
    for row in rows(tables, "short_units"):
        if not set(row["readings"].split("|")) <= names:
            yield f"short_units: {row['words']} may mean {row['readings']}"


def cas_faults(tables):
    numbers = [
        (name, cas)
        for name, (header, *_) in tables.items()
        for column in header
        if column in ("cas", "acid_cas")
        for cas in cells(tables, name, column)
    ]
    for name, cas in numbers:
        if not re.fullmatch(r"[1-9]\d{1,6}-\d\d-\d", cas):
            yield f"{name}: {cas!r} is no CAS number"
            continue
        *digits, check = cas.replace("-", "")
        weighted = sum(n * int(d) for n, d in enumerate(reversed(digits), 1))
        if weighted % 10 != int(check):
            yield f"{name}: check digit of {cas}"


def formula_faults(tables):
    written = [("catalogue", f) for f in cells(tables, "catalogue", "formula") if f]
    written += [("acid_densities", f) for f in cells(tables, "acid_densities", "acid")]
    for name, formula in written:
        try:
            read = parse_formula(formula)
            if read.charge or not read.forms or not read.molar_mass > 0:
                yield f"{name}: {formula} is an ion or empty"
        except InputError as error:
            yield f"{name}: {formula} does not read: {error}"


def ion_faults(tables):
    """The nominal ion is the counted ion with protons; ligands are acids without."""
    ligands = {row["ligand"]: row["formula"] for row in rows(tables, "ligands")}
    for row in rows(tables, "forms"):
        ion, charge = atoms(row["ion"], ligands)
        nominal, nominal_charge = atoms(row["nominal_ion"], ligands)
        protons = nominal.pop("H", 0) - ion.pop("H", 0)
        if nominal != ion or nominal_charge - charge != protons:
            yield f"forms: {row['form']}: {row['ion']} and {row['nominal_ion']}"
    for row in rows(tables, "ligands"):
        acid, _ = atoms(row["acid_formula"])
        bare, _ = atoms(row["formula"])
        bare["H"] -= int(row["charge"])
        if acid != bare:
            yield f"ligands: {row['ligand']} and its acid differ by more than protons"
    for row in rows(tables, "nutrients"):
        if (
            row["ion"]
            and atoms(row["ion"], ligands)[0] != atoms(row["basis"], ligands)[0]
        ):
            yield f"nutrients: {row['key']}: {row['ion']} is not {row['basis']}"
    for row in rows(tables, "molar_volumes"):
        known = {
            text for f in rows(tables, "forms") for text in (f["ion"], f["nominal_ion"])
        }
        if row["ion"] not in known | {"H2O"}:
            yield f"molar_volumes: {row['ion']} is no ion of a form"


def form_faults(tables):
    """Every form and nutrient key that a table names is there, and counts rightly."""
    forms = {row["form"]: row for row in rows(tables, "forms")}
    nutrients = {row["key"]: row for row in rows(tables, "nutrients")}
    ligands = {row["ligand"]: row["formula"] for row in rows(tables, "ligands")}
    for name, extra in (
        ("groups", set()),
        ("ligands", set()),
        ("protonation", {"water"}),
        ("molar_volumes", {"water"}),
    ):
        for key in set(cells(tables, name, "form")) - set(forms) - extra:
            yield f"{name}: no form {key!r}"
    if set(cells(tables, "molar_volumes", "form")) != {*forms, "water"}:
        yield "molar_volumes: a form has no volume"
    for row in forms.values():
        if row["symbol"] not in nutrients:
            yield f"forms: {row['form']} is shown as {row['symbol']!r}"
    for row in nutrients.values():
        for pair in row["forms"].split():
            key, weight = pair.split(":")
            if key not in forms:
                yield f"nutrients: {row['key']} counts {key!r}"
                continue
            centre = CENTRES.get(key, forms[key]["element"])
            if not centre or row["key"] == "hardness":
                continue
            in_form = atoms(forms[key]["ion"], ligands)[0][centre]
            in_basis = atoms(row["basis"], ligands)[0][centre]
            if float(weight) * in_basis != in_form:
                yield f"nutrients: {row['key']} counts {weight} of {key}"
    for name, column, extra in (
        ("target_values", "nutrient", set()),
        ("water_values", "quantity", READINGS),
        ("water_words", "basis", REPORT_BASES),
        ("slips", "subjects", SLIP_SUBJECTS),
    ):
        named = {key for cell in cells(tables, name, column) for key in cell.split()}
        yield from (f"{name}: no key {key!r}" for key in named - {*nutrients} - extra)
    for key in {*cells(tables, "plant_limits", "quantity")} - {*nutrients} - LIMITED:
        yield f"plant_limits: no key {key!r}"
    groups = {f"group {row['group']}" for row in nutrients.values()}
    for key in set(cells(tables, "ceilings", "key")) - {*nutrients} - groups:
        yield f"ceilings: no key {key!r}"


def agreement_faults(tables):
    """What stands in two tables stands in both."""
    if set(cells(tables, "targets", "key")) != {
        *cells(tables, "target_values", "target")
    }:
        yield "targets and target_values name different targets"
    for row in rows(tables, "target_values"):
        low, high = (float(row[c]) if row[c] else None for c in ("low", "high"))
        ranged = low is not None and high is not None and 0 <= low < high
        if bool(row["value"]) == ranged or (row["value"] and (low or high)):
            yield f"target_values: {row['target']} {row['nutrient']}: value or range"
        elif row["value"] and not float(row["value"]) >= 0:
            yield f"target_values: {row['target']} {row['nutrient']} is negative"
    waters = set(cells(tables, "waters", "key"))
    if waters - set(cells(tables, "water_values", "water")) != {
        "pure",
        "reverse-osmosis",
    }:
        yield "a water has no values"
    if set(cells(tables, "water_values", "water")) - waters:
        yield "values of a water that is not listed"
    codes = {*cells(tables, "hazard_statements", "code"), "none"}
    for row in rows(tables, "hazards"):
        if not set(row["codes"].split()) <= codes or not row["codes"]:
            yield f"hazards: {row['substance']}: a code without words"
        if not set(row["pictograms"].split()) <= {
            *cells(tables, "pictograms", "pictogram")
        }:
            yield f"hazards: {row['substance']}: a pictogram without words"
    limits = {}
    for row in rows(tables, "plant_limits"):
        limit = limits.setdefault((row["quantity"], row["severity"]), set())
        limit.add((float(row["low"] or "-inf"), float(row["high"] or "inf")))
    for (quantity, severity), limit in limits.items():
        for low, high in limit:
            outer = limits.get((quantity, "serious"), {(low, high)})
            if not all(a <= low < high <= b for a, b in outer):
                yield f"plant_limits: {quantity}: {severity} is no milder than serious"
    for row in rows(tables, "protonation"):
        steps = [r for r in rows(tables, "protonation") if r["form"] == row["form"]]
        pkas = [float(r["pka"]) for r in steps]
        if pkas != sorted(pkas) or [r["step"] for r in steps] != [
            str(n) for n in range(1, len(steps) + 1)
        ]:
            yield f"protonation: steps of {row['form']}"


def charge_of(ion):
    """Return the charge that a name of a species ends with."""
    sign, count = re.fullmatch(r".*?(?:([+-])(\d*))?", ion).groups()
    return int(f"{sign}{count or 1}") if sign else 0


def species_faults(tables):
    """Charges add up; every species has an activity and, if it is an ion, conducts."""
    active = {row["species"]: row for row in rows(tables, "activity")}
    bare = {row["form"]: row for row in active.values() if row["form"]}
    forms = {row["form"]: row for row in rows(tables, "forms")}
    conducting = {*cells(tables, "conduction", "species")}
    if set(bare) != set(forms):
        yield f"activity: bare ions of {sorted(set(bare) ^ set(forms))}"
    for row in active.values():
        if int(row["charge"]) != charge_of(row["species"]):
            yield f"activity: charge of {row['species']}"
        if int(row["charge"]) and row["species"] not in conducting:
            yield f"conduction: no {row['species']}"
        if row["model"] == "ion" and not float(row["size"]) > 0:
            yield f"activity: {row['species']} has no size"
    for row in rows(tables, "association"):
        if row["species"] not in active:
            yield f"activity: no {row['species']}"
            continue
        made = int(row["protons"]) - 0
        for side, count in (("cation", 1), ("ligand", int(row["ligands"]))):
            if row[side]:
                made += count * int(bare[row[side]]["charge"])
        if made != int(row["charge"]):
            yield f"association: charge of {row['species']}"
    for row in rows(tables, "sit"):
        for side, sign in (("cation", 1), ("anion", -1)):
            if charge_of(row[side]) * sign <= 0:
                yield f"sit: {row[side]} is no {side}"
    for row in rows(tables, "chelates"):
        if not {row["ligand"], row["metal"]} <= set(forms):
            yield f"chelates: {row['ligand']} with {row['metal']}"
        ends = [row[c] for c in ("low_least", "low_most", "high_least", "high_most")]
        if any(ends) and [*map(float, ends)] != sorted(map(float, ends)):
            yield f"chelates: window of {row['ligand']} with {row['metal']}"
    for row in rows(tables, "minerals"):
        for part in row["components"].split():
            name = part.rpartition(":")[0]
            if name not in active and name != "H2O":
                yield f"minerals: {row['mineral']} names {name}"


def size_faults(tables):
    whole = {"source_key", "how_known", "name"}
    targets = [r for r in rows(tables, "targets") if all(r[c] for c in whole)]
    salts = [
        r
        for r in rows(tables, "catalogue")
        if all(r[c] for c in (*whole, "cas", "purity_percent"))
        and 0 < float(r["purity_percent"]) <= 100
        and bool(r["formula"]) != bool(r["analysis"])
    ]
    if len(targets) < 25 or len(targets) < len(rows(tables, "targets")):
        yield f"{len(targets)} targets with source"
    if len(salts) < 20 or len(salts) < len(rows(tables, "catalogue")):
        yield f"{len(salts)} catalogue entries with source, purity and CAS number"


CHECKS = (
    shape_faults,
    source_faults,
    honesty_faults,
    key_faults,
    alias_faults,
    species_faults,
    unit_faults,
    cas_faults,
    formula_faults,
    ion_faults,
    form_faults,
    agreement_faults,
    size_faults,
)
CORRUPTIONS = (
    (shape_faults, "forms", "K+1,K+1,K+1,1,K,K,", "K+1,K+1,K+1,1,K,K,,"),
    (shape_faults, "forms", "form,name", "form,"),
    (shape_faults, "waters", "pure,water", "pure ,water"),
    (source_faults, "targets", "wiki-hoagland; hershey", "wiki-hoagland, hershey"),
    (source_faults, "waters", "definition,computed", "nobody-2020,computed"),
    (source_faults, "forms", "definition,computed", "definition,guessed"),
    (honesty_faults, "protonation", "handbook-misc,memory", "handbook-misc,read"),
    (key_faults, "waters", "reverse-osmosis,", "pure,"),
    (alias_faults, "catalogue", "MKP|", "MAP|"),
    (unit_faults, "water_values", "Ca,94.4,mg/L", "Ca,94.4,mg/l of it"),
    (unit_faults, "units", "1,oz,100,US gal", "1,oz,100,gal"),
    (cas_faults, "catalogue", "7757-79-1", "7757-97-1"),
    (cas_faults, "hazards", "57-13-6", "57-13-5"),
    (formula_faults, "catalogue", "KH2PO4", "KHPO4"),
    (formula_faults, "catalogue", "MgSO4·7H2O", "MgSO4·7H20"),
    (ion_faults, "forms", "PO4-3,H2PO4-1", "PO4-3,HPO4-1"),
    (ion_faults, "ligands", "C10H16N2O8", "C10H15N2O8"),
    (ion_faults, "nutrients", "HPO4-2", "H2PO4-1"),
    (form_faults, "nutrients", "phosphate:0.5", "phosphate:2"),
    (form_faults, "target_values", "knop,K,", "knop,k,"),
    (form_faults, "slips", "MgO,Mg,Mg MgO", "MgO,Mg,Magnesia"),
    (form_faults, "molar_volumes", "nickel,Ni+2", "cobalt,Ni+2"),
    (agreement_faults, "target_values", "knop,N,", "knopp,N,"),
    (agreement_faults, "target_values", "Fe,,1,5,", "Fe,,5,1,"),
    (agreement_faults, "hazards", "H272 H319", "H272 H320"),
    (form_faults, "plant_limits", "NO2-N,any", "NO2_N,any"),
    (unit_faults, "short_units", "US gal|imp gal", "US gal|imp. gal"),
    (agreement_faults, "plant_limits", "B,any,,0.7,", "B,any,,7,"),
    (agreement_faults, "protonation", "carbonate,1,6.35", "carbonate,1,16.35"),
    (species_faults, "association", "CaHCO3+,1,", "CaHCO3+,2,"),
    (species_faults, "activity", "KSO4-,,-1", "KSO4-,,1"),
    (species_faults, "conduction", "HSO4-,-1", "HSO3-,-1"),
    (species_faults, "minerals", "Ca+2:1 SO4-2:1", "Ca+2:1 SO3-2:1"),
    (species_faults, "sit", "Ca+2,NO3-", "NO3-,Ca+2"),
    (species_faults, "chelates", "3,3,6.0,6.5", "3,3,6.5,6.0"),
    (size_faults, "catalogue", "CO(NH2)2,57-13-6,100", "CO(NH2)2,57-13-6,"),
    (size_faults, "targets", "hoagland-umol-page,read", ",read"),
)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
def test_the_tables_hold(check):
    assert list(check(raw(DATA))) == []


@pytest.mark.parametrize(("check", "table", "old", "new"), CORRUPTIONS)
def test_a_corrupted_row_is_caught(check, table, old, new, tmp_path):
    folder = shutil.copytree(DATA, tmp_path / "data")
    path = folder / f"{table}.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text, "the corruption no longer fits the table"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert list(check(raw(folder))) != []


# --- the reader --------------------------------------------------------------------------


@pytest.mark.parametrize("name", table_names())
def test_a_table_reads_as_it_stands_in_its_file(name):
    header, *lines = raw(DATA)[name]
    read = read_table(name)
    assert [dict(row.cells) for row in read] == [
        dict(zip(header, line, strict=True)) for line in lines
    ]
    assert [row.line for row in read] == list(range(2, len(lines) + 2))


def test_a_cell_is_a_number_or_nothing_or_a_fault():
    row = read_table("water_checks")[0]
    assert row.number("limit") == 0.2  # Standard Methods 1030 E, memory
    assert read_table("target_values")[0].number("low") is None
    with pytest.raises(InputError, match=r"water_checks, line 2, unit: 'meq/L'"):
        row.number("unit")
    with pytest.raises(MissingData, match="no column 'colour'"):
        row.number("colour")


def test_rows_cannot_be_changed():
    row = read_table("forms")[0]
    with pytest.raises(TypeError):
        row.cells["form"] = "other"
    with pytest.raises(AttributeError):
        row.line = 7


@pytest.mark.parametrize(
    "name", ["", "x", "forms.csv", "../data/forms", "/etc/passwd", "\0", "n" * 5000]
)
def test_an_unknown_table_is_missing_data(name):
    with pytest.raises(MissingData, match="forms"):
        read_table(name)


def test_sources_are_told_in_words_and_memory_is_admitted():
    assert source("sm-1030e").how_known == "memory"
    assert str(source("sm-1030e")).endswith("(from memory)")
    text = cite("steiner-1984; sm-1030e")
    assert "universal nutrient solution" in text
    assert "Standard Methods" in text
    assert cite("") == ""


@pytest.mark.parametrize("keys", ["nobody-2020", "sm-1030e; nobody-2020"])
def test_an_unknown_source_is_missing_data(keys):
    with pytest.raises(MissingData, match="nobody-2020"):
        cite(keys)


def test_the_checksum_is_stable_and_short():
    assert checksum() == checksum()
    assert re.fullmatch(r"[0-9a-f]{12}", checksum())
