"""Groups: which forms a formula holds, and what cannot be told from its atoms."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulaError
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.groups import counted_symbols, forms_of_parts
from formulate.stoichiometry.notation import read_notation


def forms(text):
    return dict(parse_formula(text).forms)


def wanted(text):
    """Read "potassium nitrate:2" as forms with their counts."""
    pairs = (pair.partition(":") for pair in text.split())
    return {form: float(count or 1) for form, _, count in pairs}


# Composition of each compound as its systematic name states it (memory).
SALTS = [
    ("KNO3", "potassium nitrate"),
    ("Ca(NO3)2·4H2O", "calcium nitrate:2"),
    ("5Ca(NO3)2·NH4NO3·10H2O", "calcium:5 ammonium nitrate:11"),
    ("Mg(NO3)2·6H2O", "magnesium nitrate:2"),
    ("NH4NO3", "ammonium nitrate"),
    ("NaNO3", "sodium nitrate"),
    ("KNO2", "potassium nitrite"),
    ("KH2PO4", "potassium phosphate"),
    ("K2HPO4", "potassium:2 phosphate"),
    ("NH4H2PO4", "ammonium phosphate"),
    ("(NH4)2HPO4", "ammonium:2 phosphate"),
    ("Ca(H2PO4)2·H2O", "calcium phosphate:2"),
    ("NH4MgPO4·6H2O", "ammonium magnesium phosphate"),
    ("Ca5(PO4)3OH", "calcium:5 phosphate:3"),
    ("K2SO4", "potassium:2 sulfate"),
    ("(NH4)2SO4", "ammonium:2 sulfate"),
    ("MgSO4·7H2O", "magnesium sulfate"),
    ("CaSO4·0.5H2O", "calcium sulfate"),
    ("KHSO4", "potassium sulfate"),
    ("K2SO4·2MgSO4", "potassium:2 magnesium:2 sulfate:3"),
    ("K2Ca2Mg(SO4)4·2H2O", "potassium:2 calcium:2 magnesium sulfate:4"),
    ("KCl", "potassium chloride"),
    ("CaCl2·2H2O", "calcium chloride:2"),
    ("NH4Cl", "ammonium chloride"),
    ("K2CO3·1.5H2O", "potassium:2 carbonate"),
    ("KHCO3", "potassium carbonate"),
    ("CaMg(CO3)2", "calcium magnesium carbonate:2"),
    ("K2SiO3", "potassium:2 silicate"),
    ("Na2SiO3·5H2O", "sodium:2 silicate"),
    ("FeSO4·7H2O", "iron_ii sulfate"),
    ("FeCl3·6H2O", "iron_iii chloride:3"),
    ("Fe2(SO4)3·9H2O", "iron_iii:2 sulfate:3"),
    ("(NH4)2Fe(SO4)2·6H2O", "ammonium:2 iron_ii sulfate:2"),
    ("NH4Fe(SO4)2·12H2O", "ammonium iron_iii sulfate:2"),
    ("Fe3O4", "iron_ii iron_iii:2"),
    ("MnSO4·H2O", "manganese sulfate"),
    ("ZnSO4·7H2O", "zinc sulfate"),
    ("CuSO4·5H2O", "copper sulfate"),
    ("NiSO4·6H2O", "nickel sulfate"),
    ("CoCl2·6H2O", "cobalt chloride:2"),
    ("Na2B4O7·10H2O", "sodium:2 borate:4"),
    ("Na2B8O13·4H2O", "sodium:2 borate:8"),
    ("Na2MoO4·2H2O", "sodium:2 molybdate"),
    ("(NH4)6Mo7O24·4H2O", "ammonium:6 molybdate:7"),
    ("KF", "potassium fluoride"),
]
ACIDS_AND_BASES = [
    ("HNO3", "nitrate"),
    ("H3PO4", "phosphate"),
    ("H2SO4", "sulfate"),
    ("HCl", "chloride"),
    ("H3BO3", "borate"),
    ("B(OH)3", "borate"),
    ("C6H8O7·H2O", "citrate"),
    ("H2CO3", "carbonate"),
    ("CO2", "carbonate"),
    ("H4SiO4", "silicate"),
    ("KOH", "potassium"),
    ("Ca(OH)2", "calcium"),
    ("MgO", "magnesium"),
    ("NH3", "ammonium"),
    ("NH4OH", "ammonium"),
    ("CO(NH2)2·H3PO4", "urea phosphate"),
    ("H2O", ""),
]
UREA = ["CO(NH2)2", "(NH2)2CO", "NH2CONH2", "H2NCONH2", "CH4N2O"]
CHELATES = [
    ("NaFeEDTA·3H2O", "sodium iron_iii edta"),
    ("NH4FeEDTA", "ammonium iron_iii edta"),
    ("K2MnEDTA", "potassium:2 manganese edta"),
    ("Na2ZnEDTA", "sodium:2 zinc edta"),
    ("CaNa2EDTA", "calcium sodium:2 edta"),
    ("Na2H2EDTA·2H2O", "sodium:2 edta"),
    ("H4EDTA", "edta"),
    ("C10H16N2O8", "edta"),
    ("Na2FeDTPA", "sodium:2 iron_iii dtpa"),
    ("NaHFeDTPA", "sodium iron_iii dtpa"),
    ("H5DTPA", "dtpa"),
    ("KFeEDDHA", "potassium iron_iii eddha"),
    ("NaFeHBED", "sodium iron_iii hbed"),
    ("K3citrate·H2O", "potassium:3 citrate"),
    ("FeC6H5O7", "iron_iii citrate"),
]
IONS = [
    ("NO3-", "nitrate"),
    ("NH4+", "ammonium"),
    ("HPO4-2", "phosphate"),
    ("HCO3-", "carbonate"),
    ("Fe+2", "iron_ii"),
    ("Fe+3", "iron_iii"),
    ("FeEDTA-", "iron_iii edta"),
    ("FeEDTA-2", "iron_ii edta"),
    ("B(OH)4-", "borate"),
    ("Fe(OH)2+", "iron_iii"),
]


@pytest.mark.parametrize(
    ("text", "expected"), [*SALTS, *ACIDS_AND_BASES, *CHELATES, *IONS]
)
def test_the_forms_of_a_compound(text, expected):
    assert forms(text) == wanted(expected)


@pytest.mark.parametrize("text", UREA)
def test_urea_in_any_spelling_is_urea(text):
    assert forms(text) == {"urea": 1.0}


@pytest.mark.parametrize(("text", "expected"), SALTS)
def test_nitrogen_phosphorus_and_sulfur_are_conserved(text, expected):
    atoms, found = parse_formula(text).atoms, forms(text)
    nitrogen = sum(found.get(f, 0) for f in ("nitrate", "nitrite", "ammonium"))
    assert nitrogen == atoms.get("N", 0)
    assert found.get("phosphate", 0) == atoms.get("P", 0)
    assert found.get("sulfate", 0) == atoms.get("S", 0)


@pytest.mark.parametrize("text", [text for text, _ in SALTS])
@pytest.mark.parametrize("times", [2, 7])
def test_twice_the_formula_holds_twice_the_forms(text, times):
    main = text.partition("·")[0].lstrip("5")
    many = {form: times * count for form, count in forms(main).items()}
    assert forms(f"{times}{main}") == many
    assert forms(f"({main}){times}") == many


CATIONS = {
    "K": ("potassium", 1),
    "Na": ("sodium", 1),
    "NH4": ("ammonium", 1),
    "Ca": ("calcium", 2),
    "Mg": ("magnesium", 2),
    "Mn": ("manganese", 2),
    "Zn": ("zinc", 2),
    "Cu": ("copper", 2),
}
ANIONS = {
    "NO3": ("nitrate", 1),
    "Cl": ("chloride", 1),
    "SO4": ("sulfate", 2),
    "H2PO4": ("phosphate", 1),
    "HPO4": ("phosphate", 2),
    "PO4": ("phosphate", 3),
    "CO3": ("carbonate", 2),
    "HCO3": ("carbonate", 1),
    "MoO4": ("molybdate", 2),
    "SiO3": ("silicate", 2),
    "EDTA": ("edta", 4),
    "citrate": ("citrate", 3),
}


def simple_salt(cation, anion):
    """Return the text and the forms of the neutral salt of two ions."""
    (plus, charge), (minus, opposite) = CATIONS[cation], ANIONS[anion]
    both = math.lcm(charge, opposite)
    n, m = both // charge, both // opposite
    return f"({cation}){n}({anion}){m}", {plus: n, minus: m}


salts = st.builds(
    simple_salt, st.sampled_from(sorted(CATIONS)), st.sampled_from(sorted(ANIONS))
)


@given(st.lists(st.tuples(st.integers(1, 9), salts), min_size=1, max_size=3), st.data())
def test_a_double_salt_holds_the_forms_of_its_parts_in_any_order(parts, data):
    expected = {}
    for times, (_, found) in parts:
        for form, count in found.items():
            expected[form] = expected.get(form, 0) + times * count
    texts = [f"{times}{text}" for times, (text, _) in parts]
    texts.append(f"{data.draw(st.integers(1, 12))}H2O")
    assert forms("·".join(data.draw(st.permutations(texts)))) == expected


@given(salts, st.integers(1, 3))
def test_an_atom_too_many_never_passes(salt, extra):
    """Neutral salts stay neutral: one more counter-ion must be noticed."""
    text, _ = salt
    for foreign in ("K", "Cl", "Ca", "O"):
        with pytest.raises(FormulaError, match="charges do not add up"):
            _ = parse_formula(f"{text}{foreign}{extra}").forms


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("KAl(SO4)2", "Al"),
        ("LiCl", "Li"),
        ("CH3COOK", "C2"),
        ("K2C2O4", "C2"),
        ("KSCN", "C N"),
        ("N2H4O3", "N2"),
        ("CaCN2", "C N2"),
        ("Na2SeO4", "Se"),
        ("KI·AgCl", "I Ag"),
        ("C10H12FeN2NaO8", "C10 N2"),
    ],
)
def test_atoms_that_belong_to_no_form_are_named(text, left):
    with pytest.raises(FormulaError, match=f"no known form: {left};"):
        _ = parse_formula(text).forms


IMPOSTORS = [
    *("K2SO3", "Na2S2O3", "K2S", "KMnO4", "MnO2", "NaOCl", "KClO3", "H3PO3"),
    *("Cl2", "H2O2", "H2", "O2", "Fe", "Zn", "Ca", "SO4", "NH4", "KNO3Cl"),
    *("Ca(NO3)", "KSO4", "K2NO3", "MgSO", "MgSO42", "Na2EDTA", "FeDTPA", "NaFeEDTA2"),
]


@pytest.mark.parametrize(
    "text",
    IMPOSTORS,
)
def test_what_only_looks_like_a_known_salt_is_refused(text):
    """Sulfite is no sulfate, hypochlorite no chloride, metal no ion."""
    with pytest.raises(FormulaError, match="charges do not add up"):
        _ = parse_formula(text).forms


def test_what_is_missing_counts_the_iron_that_is_there():
    """Iron(III) and DTPA(5-) lack two charges, not five."""
    with pytest.raises(FormulaError, match=r"\+2 is missing"):
        _ = parse_formula("FeDTPA").forms


def test_a_ligand_by_name_and_by_its_atoms_is_one_form():
    assert forms("Na3citrate·C6H8O7") == {"sodium": 3.0, "citrate": 2.0}


def test_a_zero_in_place_of_the_o_of_water_is_pointed_out():
    with pytest.raises(FormulaError) as caught:
        _ = parse_formula("MgSO4·7H20").forms
    assert caught.value.suggestion == "MgSO4·7H2O"


def test_symbols_are_counted_through_brackets_and_coefficients():
    parts, _ = read_notation("2K4[Fe(CN)6]·3H2O")
    counts = counted_symbols(parts)
    assert counts == {"K": 8, "Fe": 2, "C": 12, "N": 12, "H": 6, "O": 3}
    assert counted_symbols(()) == {}


def test_forms_take_the_charge_they_are_told():
    parts, _ = read_notation("Fe")
    assert forms_of_parts("Fe", parts, 2) == {"iron_ii": 1}
    assert forms_of_parts("Fe", parts, 3) == {"iron_iii": 1}
    with pytest.raises(FormulaError):
        forms_of_parts("Fe", parts, 4)
