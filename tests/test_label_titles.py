"""The name of a material with numbers, as the title of a label: a title, no guarantee.

Titles are put together as European bags print them; grades of the trade, common practice,
no source.
"""

import pytest

from formulate.claims.label_check import check_label
from formulate.errors import Faults, InputError
from formulate.ingredients.label_text import read_entries
from formulate.ingredients.labels import read_label

MAGNESIA = (
    "30 % K2O wasserlösliches Kaliumoxid\n10 % MgO wasserlösliches Magnesiumoxid\n"
    "42 % SO3 wasserlösliches Schwefeltrioxid"
)
AMMONIUM_SULFATE = (
    "Azote (N) total 21 %\nAzote ammoniacal 21 %\n"
    "Anhydride sulfurique (SO3) soluble dans l'eau 60 %"
)
BAGS = (
    f"Sulfate d'ammoniaque 21\n{AMMONIUM_SULFATE}",
    "Solfato ammonico 21\nAzoto (N) totale 21 %\nAzoto ammoniacale 21 %\n"
    "Anidride solforica (SO3) 60 %",
    "Nitrate d'ammoniaque 33,5\nAzote (N) total 33,5 %\nAzote nitrique 16,75 %\n"
    "Azote ammoniacal 16,75 %",
    "Nitrato amónico 33,5\nNitrógeno (N) total 33,5 %\nNitrógeno nítrico 16,75 %\n"
    "Nitrógeno amoniacal 16,75 %",
    "Nitrate de chaux 15,5\nAzote (N) total 15,5 %\nAzote nitrique 14,4 %\n"
    "Azote ammoniacal 1,1 %\nOxyde de calcium (CaO) 26,5 %",
    f"Kaliumsulfat mit Magnesium 30 (+10+42)\n{MAGNESIA}",
    f"Kaliumsulfat mit Magnesium 30+10+42\n{MAGNESIA}",
    f"EG-DÜNGEMITTEL\nKaliumsulfat mit Magnesium 30+10+42\n{MAGNESIA}",
    "Kaliumsulfat 50 (+45)\nKaliumoxid (K2O) 50 %\nSchwefeltrioxid (SO3) 45 %",
)


def _left_out(text):
    faults = Faults()
    reading, _ = read_entries(text, faults)
    return faults.found, {each.line: each.why for each in reading.left_out}


@pytest.mark.parametrize("bag", BAGS)
def test_a_title_with_numbers_is_no_guarantee(bag):
    check = check_label(bag)
    assert check.verdict == "right", str(check)
    place = next(
        n for n, line in enumerate(bag.splitlines(), 1) if line[-1] in "0125634)"
    )
    faults, left_out = _left_out(bag)
    assert faults == []
    assert "title" in left_out[place]


def test_the_guarantees_alone_are_counted():
    label = read_label(BAGS[6])
    # the guarantees of the bag itself; molar masses [LR21] turn the oxides round
    assert label.percent("K2O") == pytest.approx(30)
    assert label.percent("MgO") == pytest.approx(10)
    assert label.percent("N") == 0


def test_a_number_that_no_guarantee_has_is_told():
    faults = Faults()
    _, page = read_entries(BAGS[0].replace("ammoniaque 21", "ammoniaque 24"), faults)
    assert faults.found == []
    (notice,) = [n for n in page.notices if "title" in n.what]
    assert notice.severity == "caution"
    assert "24" in notice.what


def test_a_grade_behind_a_name_stays_a_grade():
    faults = Faults()
    reading, _ = read_entries("Kaliumnitrat 13-0-46\nK2O 46 %\nNitrat-N 13 %", faults)
    assert reading.grade == (("N", 13.0), ("P2O5", 0.0), ("K2O", 46.0))
    reading, _ = read_entries("Potassium sulfate 12-5-40\nSoluble Potash 40 %", faults)
    assert ("N", 12.0) in reading.grade  # a sulfate without N: not hidden


def test_urea_among_forms_of_nitrogen_is_a_share():
    faults = Faults()
    text = "Urea 4\nNitrate nitrogen 6 %\nTotal nitrogen (N) 10 %"
    reading, _ = read_entries(text, faults)
    assert ("urea-N", 4.0) in [(each.key, each.percent) for each in reading.entries]


def test_a_chelate_in_a_list_is_a_share():
    faults = Faults()
    reading, _ = read_entries("Fe-EDTA 0.1\nMn-EDTA 0.05\nBoron (B) 0.02 %", faults)
    assert [each.percent for each in reading.entries] == [0.1, 0.05, 0.02]
    reading, _ = read_entries("Fe-EDTA 13\nFer (Fe) chélaté par EDTA 13 %", faults)
    assert [each.percent for each in reading.entries] == [13.0]
    assert "title" in reading.left_out[0].why


def test_a_title_with_a_number_alone_gives_nothing():
    with pytest.raises(InputError):
        read_label("Sulfate d'ammoniaque 21")
