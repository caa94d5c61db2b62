"""The shelf: the ingredients at hand, with prices, amounts on hand and weighing steps.

A shelf is kept in a spreadsheet and read as CSV: one ingredient a line, each as a name of
the catalogue, a formula, or the text of its label. Lines that start with # are comments.
"""

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.ingredients.labels import read_label
from formulate.ingredients.salts import acid, as_ingredient, salt
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = [
    "Shelf",
    "nutrient_costs",
    "read_shelf",
    "shelf",
    "shelf_example",
    "shelf_from_text",
    "typed_rows",
]

MOST_LINES = 2000
DELIMITERS = (";", "\t", ",")
LABEL_MARKS = ("\n", "%")
COMMENT = "#"
NUMBER = r"[+-]?\d[\d.,]*"
THREE_DECIMALS = r"[1-9]\d{0,2}\.\d{3}"  # 1.250 EUR: a thousand in much of Europe
APPLIES = {  # what tells how much of the cell's ingredient is in the bag
    "acid": ("strength", "density"),
    "label": ("density",),
    "salt": ("purity",),
}
NOT_OF = {
    "acid": "the strength tells already what is in it; leave it empty",
    "label": "the label tells already what is in the bag; leave it empty",
    "salt": "is for a liquid; give its strength too, or leave it empty",
}
COSTED = (
    "NO3-N",
    "NH4-N",
    "urea-N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "B",
    "Mo",
)


@dataclass(frozen=True, eq=False)
class Shelf(Shown):
    """
    The ingredients at hand.

    Attributes
    ----------
    ingredients : tuple of Ingredient
        In the order of preference.
    on_hand : mapping of str to float
        Name to what is there, in grams, or millilitres of a stock. [g]
    currency : str
        Currency of the prices, if it was told.
    """

    ingredients: tuple
    on_hand: Mapping = field(default_factory=dict)
    currency: str = ""

    def __post_init__(self):
        object.__setattr__(self, "on_hand", MappingProxyType(dict(self.on_hand)))

    def __iter__(self):
        return iter(self.ingredients)

    def __len__(self):
        return len(self.ingredients)

    def __str__(self):
        lines = []
        for ingredient in self.ingredients:
            price = ""
            if ingredient.price is not None:
                per = "kg" if ingredient.measured_in == "g" else "L"
                price = f", {printed(ingredient.price)} {self.currency} per {per}"
            left = self.on_hand.get(ingredient.name)
            there = (
                ""
                if left is None
                else f", {printed(left)} {ingredient.measured_in} there"
            )
            lines.append(f"{ingredient}{price.replace('  ', ' ')}{there}")
        return "\n".join(lines)


def shelf(things, *, on_hand=None, currency=""):
    """
    Return a shelf from ingredients, formulas and names.

    Parameters
    ----------
    things : iterable of Ingredient or str
        What is at hand, in the order of preference.
    on_hand : mapping of str to float or None
        Name to what is there. [g]
    currency : str
        Currency of the prices.

    Returns
    -------
    Shelf
        The shelf.

    Raises
    ------
    InputError
        With every fault: unknown names, one name twice, amounts that are none.

    Examples
    --------
    >>> len(shelf(["KNO3", "Epsom salt"], on_hand={"KNO3": 25000}))
    2
    """
    faults, found = Faults("shelf"), {}
    if isinstance(things, str):
        raise InputError("shelf: give a list of ingredients, such as ['KNO3']")
    for place, thing in enumerate(things, 1):
        with faults.collecting(f"ingredient {place}"):
            ingredient = as_ingredient(thing)
            _add(found, ingredient)
    left = {}
    for name, amount in (on_hand or {}).items():
        with faults.collecting(f"on hand, {name}"):
            if name not in found:
                raise InputError("no ingredient of this name is on the shelf")
            left[name] = checked_number(amount, "amount in g", least=0)
    faults.raise_if_any()
    return Shelf(tuple(found.values()), left, currency)


def _add(found, ingredient):
    """Put an ingredient on the shelf; one name stands for one thing."""
    if ingredient.name in found:
        raise InputError(f"{ingredient.name} is on the shelf twice; rename one")
    found[ingredient.name] = ingredient


# --- reading ---------------------------------------------------------------------------


def read_shelf(path):
    """
    Return the shelf in a CSV file.

    Parameters
    ----------
    path : str or Path
        A file as `formulate shelf new` writes it; semicolons, tabs or commas.

    Returns
    -------
    Shelf
        The shelf.

    Raises
    ------
    InputError
        If the file cannot be read, with every fault by line and column.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "shelf.csv"
    ...     _ = path.write_text(shelf_example(), encoding="utf-8")
    ...     len(read_shelf(path))
    5
    """
    return shelf_from_text(read_text(path), name=Path(path).name)


def shelf_from_text(text, *, name="shelf"):
    """
    Return the shelf that a text in CSV describes.

    Parameters
    ----------
    text : str
        Column names, then one ingredient a line.
    name : str
        What to call it in messages.

    Returns
    -------
    Shelf
        The shelf.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> bags = shelf_from_text("ingredient;price;pack\\nKNO3;65,00 EUR;25 kg\\n")
    >>> bags.ingredients[0].price, bags.currency
    (2.6, 'EUR')
    """
    lines = _lines(text, name)
    header = _header(lines[0], name)
    faults, found, on_hand, currencies = Faults(name), {}, {}, {}
    for number, cells in lines[1:]:
        place = f"line {number}"
        with faults.collecting(place):
            typed = _typed_cells(header, cells)
            ingredient = _ingredient(typed)
            _add(found, ingredient)
            if typed.get("on hand"):
                with faults.collecting(f"{place}, on hand"):
                    on_hand[ingredient.name] = _measured(ingredient, typed["on hand"])
            if typed.get("price"):
                currencies.setdefault(_price(typed["price"])[1], number)
    currencies.pop("", None)
    if len(currencies) > 1:
        places = ", ".join(f"{word} (line {n})" for word, n in currencies.items())
        faults.add(f"prices in several currencies: {places}; write one")
    if not found and not faults.found:
        faults.add("no ingredient; write one a line under the column names")
    faults.raise_if_any()
    return Shelf(tuple(found.values()), on_hand, next(iter(currencies), ""))


def typed_rows(text, *, name="shelf"):
    """
    Return what stands in each line of a shelf in CSV, as it was typed.

    Parameters
    ----------
    text : str
        Column names, then one ingredient a line.
    name : str
        What to call it in messages.

    Returns
    -------
    tuple of dict
        Column to text, for what is filled.

    Raises
    ------
    InputError
        If the columns are not known or a line does not fit them.

    Examples
    --------
    >>> typed_rows("ingredient;step\\nKNO3;0.1 g\\n")
    ({'ingredient': 'KNO3', 'step': '0.1 g'},)
    """
    lines = _lines(text, name)
    header = _header(lines[0], name)
    return tuple(_typed_cells(header, cells) for _, cells in lines[1:])


def _lines(text, name):
    """Return (line number, cells) of each line that is no comment and not empty."""
    lines = text.splitlines(keepends=True)
    plain = [line for line in lines if line.strip() and not _is_comment(line)]
    if not plain:
        raise InputError(f"{name}: empty; `formulate shelf new` writes an example")
    delimiter = max(DELIMITERS, key=plain[0].count)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    found, first = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells) and not _is_comment(cells[0]):
                found.append((first, [cell.strip() for cell in cells]))
            if len(found) > MOST_LINES:
                raise InputError(f"{name}: more than {MOST_LINES} lines")
            first = reader.line_num + 1
    except csv.Error as error:
        where = f"line {first}"
        raise InputError(f"{name}: {where}: {error}; look at the quotes") from None
    return found


def _is_comment(line):
    return line.lstrip().startswith(COMMENT)


def _header(line, name):
    """Return the columns in the order of the file; unknown ones are refused."""
    known = {
        word: row["column"]
        for row in read_table("shelf_columns")
        for word in row["words"].split("|")
    }
    number, cells = line
    faults, columns = Faults(f"{name}: line {number}"), []
    for cell in cells:
        column = known.get(" ".join(cell.casefold().split()))
        if column is None and cell:
            words = ", ".join(row["column"] for row in read_table("shelf_columns"))
            faults.add(f"column {shortened(cell)} is not known; known: {words}")
        elif column in columns and cell:
            faults.add(f"column {column} stands there twice")
        columns.append(column or "note")
    if "ingredient" not in columns:
        faults.add("no column named ingredient")
    faults.raise_if_any()
    return columns


def _typed_cells(header, cells):
    """Return column to text for one line; cells without a column are refused."""
    rest = [cell for cell in cells[len(header) :] if cell]
    if rest:
        what = f"{shortened(rest[0])} stands under no column; quote cells with commas"
        raise InputError(what)
    return {column: cell for column, cell in zip(header, cells, strict=False) if cell}


def _ingredient(typed):
    """Return the ingredient of one line, with every fault of its cells."""
    faults, numbers, made = Faults(), {}, None
    for column in ("purity", "strength", "density"):
        with faults.collecting(column):
            if column in typed:
                numbers[column] = _number(column, typed[column])
    with faults.collecting("ingredient"):
        made = _made(typed, numbers)
    if made is not None:
        facts = {}
        with faults.collecting("price"):
            facts["price"] = _price_per_kg(typed, made)
        with faults.collecting("step"):
            facts["weighing_step"] = made.weighing_step
            if "step" in typed:
                step = _measured(made, typed["step"])
                facts["weighing_step"] = checked_number(step, "step in g", above=0)
        made = made if faults.found else replace(made, **facts)
    faults.raise_if_any()
    return made


def _made(typed, numbers):
    """Return the ingredient that a cell names, or whose label stands in it."""
    text, name = typed.get("ingredient", ""), typed.get("name", "")
    if not text:
        raise InputError("empty; write a name, a formula or the text of a label")
    kind = "acid" if "strength" in typed else "label" if _is_label(text) else "salt"
    strange = [
        c for c in ("purity", "density") if c in typed and c not in APPLIES[kind]
    ]
    if strange:
        raise InputError(f"{', '.join(strange)}: {NOT_OF[kind]}")
    density = numbers.get("density")
    if kind == "acid":
        strength = numbers.get("strength", 100.0)
        return acid(text, percent=strength, density=density, name=name or None)
    if kind == "label":
        return read_label(text, name=name, density=density)
    return salt(text, name=name or None, purity_percent=numbers.get("purity"))


def _number(column, text):
    """Return a number of a cell; a share of 0.98 may be 98 %, so it is asked back."""
    value = read_number(text.rstrip("% "))
    if column != "density" and 0 < value <= 1 and "%" not in text:
        raise InputError(f"{shortened(text)}: write {value * 100:g} %, or {value:g} %")
    return value


def _is_label(text):
    """Return whether a cell holds the text of a label rather than a name."""
    try:
        as_ingredient(text)
    except (InputError, LookupError):
        return any(mark in text for mark in LABEL_MARKS)
    return False


def _measured(ingredient, text):
    """Return a mass or volume of an ingredient in its own unit."""
    value, of_unit = read_quantity(text, "mass", "volume")
    return ingredient.amount_measured(value, of_unit)


def _price(text):
    """Return a price as a number, and the currency that stands beside it."""
    numbers = re.findall(NUMBER, text)
    if len(numbers) != 1:
        what = f"{shortened(text)} is no price" + ", or more than one" * bool(numbers)
        raise InputError(f"{what}; write one number, such as 1250.00 EUR")
    if re.fullmatch(THREE_DECIMALS, numbers[0]):
        whole = numbers[0].replace(".", "")
        raise InputError(f"{shortened(text)}: write {whole} or {numbers[0]}0")
    currency = text.replace(numbers[0], "", 1).strip(" .-")
    price = checked_number(read_number(numbers[0].rstrip(".")), "price", least=0)
    return price, currency


def _price_per_kg(typed, made):
    """Return the price of a kilogram, or of a litre where it is measured so."""
    if "price" not in typed:
        return None
    if "pack" not in typed:
        raise InputError(
            f"{shortened(typed['price'])} for how much? give pack, such as 25 kg"
        )
    price, _ = _price(typed["price"])
    amount = checked_number(_measured(made, typed["pack"]), "pack in g", above=0)
    return price / amount * 1000


# --- costs -----------------------------------------------------------------------------


def nutrient_costs(bags):
    """
    Return what a gram of each nutrient costs from each priced ingredient.

    The whole price is laid on each nutrient in turn, so the figures compare sources of one
    nutrient and do not add up. Nitrogen stands by its form: plants without soil use
    nitrate and ammonium, urea hardly.

    Parameters
    ----------
    bags : iterable of Ingredient
        A shelf.

    Returns
    -------
    tuple of tuple
        (nutrient key, ingredient name, cost of a gram), cheapest first for each nutrient.
        [currency/g]

    Examples
    --------
    >>> bags = shelf_from_text("ingredient;price;pack\\nKNO3;26;10 kg\\nKH2PO4;48;10 kg\\n")
    >>> [(key, name, round(cost, 4)) for key, name, cost in nutrient_costs(bags)][1:3]
    [('P', 'KH2PO4', 0.0211), ('K', 'KNO3', 0.0067)]
    """
    rows = []
    for key in COSTED:
        of_key = []
        for ingredient in bags:
            grams = ingredient.amount(key) * nutrient(key).molar_mass / 1000
            if grams > 0 and ingredient.price is not None:
                of_key.append((key, ingredient.name, ingredient.cost(1.0) / grams))
        rows += sorted(of_key, key=lambda row: row[2])
    return tuple(rows)


def shelf_example():
    """
    Return the text of an example shelf, to be changed in a spreadsheet.

    Returns
    -------
    str
        CSV with comments.

    Examples
    --------
    >>> shelf_example().splitlines()[0].startswith("#")
    True
    """
    return (Path(__file__).parent.parent / "data" / "shelf_example.txt").read_text(
        encoding="utf-8"
    )
