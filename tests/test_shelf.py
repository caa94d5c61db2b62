"""The shelf: what a spreadsheet may hold, and what a gram of a nutrient costs."""

import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate import nutrient_costs, read_shelf, shelf
from formulate.errors import InputError
from formulate.ingredients.shelf import shelf_example, shelf_from_text


def share(formula, element):
    """Return the mass share of an element, from periodictable's own atomic masses."""
    made = periodictable.formula(formula)
    symbol = getattr(periodictable, element)
    return made.atoms[symbol] * symbol.mass / made.mass


def mg_g(ingredient, key, element=None):
    """Return milligrams of an element in a gram, from periodictable's atomic masses."""
    return ingredient.amount(key) * getattr(periodictable, element or key).mass


@pytest.mark.parametrize("delimiter", [";", "\t", ","])
def test_a_spreadsheet_may_part_cells_as_it_likes(delimiter):
    lines = (
        ("ingredient", "price", "pack", "on hand", "step"),
        ("KNO3", "65.00 EUR", "25 kg", "22 kg", "0.1 g"),
        ("Epsom salt", "30 EUR", "25 kg", "500 g", "1 g"),
    )
    made = shelf_from_text("\n".join(delimiter.join(line) for line in lines))
    nitrate, epsom = made.ingredients
    assert (nitrate.price, epsom.price) == (2.6, 1.2)
    assert (nitrate.weighing_step, epsom.weighing_step) == (0.1, 1)
    assert list(made.on_hand.values()) == [22000, 500]
    assert made.currency == "EUR"


def test_decimal_commas_where_semicolons_part_the_cells():
    made = shelf_from_text("ingredient;price;pack\nKNO3;65,50 EUR;2,5 kg\n")
    assert made.ingredients[0].price == pytest.approx(26.2, rel=1e-12)


@pytest.mark.parametrize(
    ("pack", "kilograms"),
    [
        ("25 kg", 25),
        ("500 g", 0.5),
        ("0.05 t", 50),
        # NIST SP 811 appendix B.8: 1 lb = 0.453 592 37 kg exactly, 1 oz = 1/16 lb
        ("50 lb", 50 * 0.45359237),
        ("8 oz", 0.5 * 0.45359237),
    ],
)
def test_price_of_a_kilogram_from_any_pack(pack, kilograms):
    made = shelf_from_text(f"ingredient;price;pack\nKNO3;10;{pack}\n")
    assert made.ingredients[0].price == pytest.approx(10 / kilograms, rel=1e-12)


def test_a_label_may_stand_in_a_cell():
    text = (
        "ingredient;name;price;pack\n"
        '"Total Nitrogen (N) 15.5%\n14.5% Nitrate Nitrogen\n1.0% Ammoniacal Nitrogen\n'
        'Calcium (Ca) 19%";the bag by the door;40;25 kg\n'
    )
    bag = shelf_from_text(text).ingredients[0]
    assert bag.name == "the bag by the door"
    assert mg_g(bag, "Ca") == pytest.approx(190, rel=1e-4)
    assert mg_g(bag, "NO3-N", "N") == pytest.approx(145, rel=1e-4)
    assert bag.price == 1.6


def test_faults_after_a_label_of_several_lines_name_the_line_they_start_on():
    text = 'ingredient\n"Calcium (Ca) 19%\n# a tag\nN 15%"\n\n"Xx\nCalcium 300 %"\n'
    with pytest.raises(InputError) as raised:
        shelf_from_text(text)
    assert any("line 6" in fault for fault in raised.value.faults)
    assert any("line 2" in fault for fault in raised.value.faults)


def test_purity_counts():
    made = shelf_from_text("ingredient;purity\nKNO3;98 %\n").ingredients[0]
    assert mg_g(made, "K") == pytest.approx(980 * share("KNO3", "K"), rel=1e-4)


def test_an_acid_with_strength_and_density_is_priced_by_the_kilogram():
    text = "ingredient;strength;density;price;pack\nHNO3;38;1.24;21;10 kg\n"
    made = shelf_from_text(text).ingredients[0]
    assert mg_g(made, "N") == pytest.approx(380 * share("HNO3", "N"), rel=1e-4)
    assert made.price == pytest.approx(2.1, rel=1e-12)


def test_every_fault_is_told_at_once_with_its_line_and_column():
    text = (
        "# our shelf\n"
        "ingredient;purity;price;pack;on hand;step\n"
        "KNO3;130;x EUR;25 kg;;\n"
        "unobtainium;;;;;\n"
        "Epsom salt;;30 EUR;;-4 kg;none\n"
        "KH2PO4;;9 EUR;1 kg;3 mS/cm;\n"
    )
    with pytest.raises(InputError) as raised:
        shelf_from_text(text, name="bags.csv")
    told = "\n".join(raised.value.faults)
    for piece in (
        "line 3",
        "line 4",
        "unobtainium",
        "line 5",
        "price",
        "pack",
        "step",
        "line 6",
        "on hand",
    ):
        assert piece in told
    assert len(raised.value.faults) >= 5


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("", "empty"),
        ("# only a comment\n", "empty"),
        ("ingredient\n", "no ingredient"),
        ("name;price\nKNO3;5\n", "no column named ingredient"),
        ("ingredient;colour\nKNO3;white\n", "column 'colour' is not known"),
        ("ingredient;price;cost\nKNO3;5;6\n", "column price stands there twice"),
        ("ingredient\nKNO3\nKNO3\n", "on the shelf twice"),
        ("ingredient;price\nKNO3;5 EUR\n", "for how much"),
        (
            "ingredient;price;pack\nKNO3;5 EUR;1 kg\nKH2PO4;5 USD;1 kg\n",
            "EUR (line 2), USD (line 3)",
        ),
        ("ingredient;price;pack\nKNO3;5;1 kg;9\n", "stands under no column"),
        ('ingredient;price\n"KNO3;5\n', "quotes"),
        ("ingredient;price;pack\nKNO3;-5;1 kg\n", "price"),
        ("ingredient;price;pack\nKNO3;1 250,00 EUR;1 kg\n", "more than one"),
        ("ingredient;price;pack\nKNO3;1'250.00 CHF;1 kg\n", "more than one"),
        ("ingredient;price;pack\nKNO3;65 EUR/25 kg;1 kg\n", "more than one"),
        ("ingredient;price;pack\nKNO3;1.250 EUR;1 kg\n", "write 1250 or 1.2500"),
        ("ingredient;price;pack\nKNO3;5 EUR;25\n", "has no unit"),
        ("ingredient;on hand\nKNO3;5\n", "has no unit"),
        ("ingredient;step\nKNO3;0 g\n", "step in g"),
        ("ingredient;purity\nKNO3;0.98\n", "write 98 %, or 0.98 %"),
        ("ingredient;density\nKNO3;1.3\n", "density: is for a liquid"),
        ("ingredient;purity\nPotash (K2O) 50 %;98\n", "the label tells already"),
        ("ingredient;purity;strength\nHNO3;98;38\n", "the strength tells already"),
        ("ingredient;price;pack\nKNO3;5;0 kg\n", "pack"),
    ],
)
def test_what_is_refused(text, piece):
    with pytest.raises(InputError, match=None) as raised:
        shelf_from_text(text)
    assert piece in str(raised.value)


def test_calcium_nitrate_is_asked_back():
    """Three materials bear the name (catalogue table)."""
    with pytest.raises(InputError) as raised:
        shelf_from_text("ingredient\ncalcium nitrate\n")
    assert "calcium nitrate tetrahydrate" in str(raised.value)


def test_read_from_a_file_saved_by_a_spreadsheet(tmp_path):
    path = tmp_path / "bags.csv"
    path.write_bytes("\ufeffingredient;price;pack\r\nKNO3;65,00 €;25 kg\r\n".encode())
    made = read_shelf(path)
    assert (made.currency, made.ingredients[0].price) == ("€", 2.6)
    path.write_bytes("ingredient;price;pack\nKNO3;65 €;25 kg\n".encode("cp1252"))
    assert read_shelf(path).currency == "€"


def test_files_that_cannot_be_read_say_why(tmp_path):
    binary = tmp_path / "sheet.csv"
    binary.write_bytes(b"ingredient;note\nKNO3;\x81\n")  # no letter of cp1252
    with pytest.raises(InputError, match="UTF-8"):
        read_shelf(binary)
    with pytest.raises(InputError, match="cannot be read"):
        read_shelf(tmp_path / "missing.csv")
    large = tmp_path / "large.csv"
    large.write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="larger than"):
        read_shelf(large)


def test_the_example_reads_and_explains_every_column():
    made = shelf_from_text(shelf_example())
    header = next(line for line in shelf_example().splitlines() if line[0] != "#")
    comments = " ".join(
        line for line in shelf_example().splitlines() if line.startswith("#")
    )
    for column in header.split(";"):
        assert column in comments
    assert all(one.price is not None for one in made)
    assert len(made.on_hand) == len(made)


def test_cost_of_a_gram_of_each_nutrient():
    text = "ingredient;price;pack\nKNO3;26;10 kg\nKCl;12;10 kg\n(NH4)2SO4;9;10 kg\nCH4N2O;15;10 kg\n"
    costs = {
        (key, name): cost for key, name, cost in nutrient_costs(shelf_from_text(text))
    }
    # price of a gram ÷ mass share, shares from periodictable
    expected = {
        ("K", "KNO3"): 0.0026 / share("KNO3", "K"),
        ("K", "KCl"): 0.0012 / share("KCl", "K"),
        ("NO3-N", "KNO3"): 0.0026 / share("KNO3", "N"),
        ("NH4-N", "(NH4)2SO4"): 0.0009 / share("(NH4)2SO4", "N"),
        ("urea-N", "CH4N2O"): 0.0015 / share("CH4N2O", "N"),
        ("S", "(NH4)2SO4"): 0.0009 / share("(NH4)2SO4", "S"),
    }
    for row, cost in expected.items():
        assert costs[row] == pytest.approx(cost, rel=1e-4), row
    assert set(costs) == set(expected)


def test_costs_stand_cheapest_first_and_unpriced_bags_are_left_out():
    text = "ingredient;price;pack\nKNO3;26;10 kg\nKCl;12;10 kg\nK2SO4;;\n"
    rows = [row for row in nutrient_costs(shelf_from_text(text)) if row[0] == "K"]
    assert [name for _, name, _ in rows] == ["KCl", "KNO3"]


def test_a_stock_is_priced_by_the_litre_and_costs_alike():
    """A gram costs the same whether the price is told by litre or by kilogram."""
    heavy = shelf_from_text(
        "ingredient;strength;density;price;pack\nH3PO4;75;1.58;15.8;10 kg\n"
    )
    by_volume = shelf_from_text(
        "ingredient;strength;density;price;pack\nH3PO4;75;1.58;15.8;6.329113924 L\n"
    )
    one, other = (nutrient_costs(bags)[0][2] for bags in (heavy, by_volume))
    assert one == pytest.approx(other, rel=1e-9)


def test_shelf_from_things_keeps_their_order_and_tells_all_faults():
    made = shelf(["Epsom salt", "KNO3"], on_hand={"KNO3": 5})
    assert [one.name for one in made][1] == "KNO3"
    assert made.on_hand["KNO3"] == 5
    with pytest.raises(InputError) as raised:
        shelf(["KNO3", "Xx", "KNO3"], on_hand={"sugar": 5})
    for piece in ("ingredient 2", "ingredient 3", "sugar"):
        assert piece in str(raised.value)
    with pytest.raises(InputError, match="list of ingredients"):
        shelf("KNO3")


@given(st.text(alphabet=';,\t"\n#KNO3 ingredient%.-é0', max_size=120))
def test_any_text_is_read_or_refused(text):
    try:
        made = shelf_from_text("ingredient;price;pack\n" + text)
    except InputError:
        return
    assert len(made) >= 1
