"""The shelf: what is at hand, with prices and steps; the catalogue; labels as pasted."""

from dataclasses import replace

from formulate.errors import FormulateError, InputError, shortened
from formulate.ingredients.catalogue_search import found_in_catalogue
from formulate.ingredients.hazards import hazard_text
from formulate.jobs import ShelfLine
from formulate.recipes.recipe_working import content_steps
from formulate.sheets.part_sources import shelf_sources
from formulate.sheets.readings import explain_text
from formulate.shelf_lines import lines_of_shelf, with_shelf
from formulate.stoichiometry.nutrients import nutrient
from formulate.workbench.panel import Panel
from formulate.workbench.shelf_edits import (
    moved_line,
    with_line,
    with_line_entry,
    with_step,
    without_line,
)
from formulate.working import Quantity, Step, Working, printed

__all__ = ["ShelfPanel", "holds"]

SHOWN = ("NO3-N", "NH4-N", "urea-N", "P", "K", "Ca", "Mg", "S", "Si", "Fe", "Mn", "Zn")
SHOWN += ("Cu", "B", "Mo", "Na", "Cl", "Ni", "Co", "F")
FOUND = "found "  # what the search found, of which a number was pressed
MG_PER_PERCENT = 10.0
LEAST = 0.005  # %: less is not told


def holds(ingredient):
    """
    Return how much of each nutrient an ingredient holds.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.

    Returns
    -------
    tuple of (str, str)
        Nutrient key, and its share: % by mass, or mg/mL of a stock.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> holds(salt("KNO3"))
    (('NO3-N', '13.85'), ('K', '38.67'))
    """
    found = []
    for key in SHOWN:
        share = ingredient.amount(key) * nutrient(key).molar_mass
        share = share / MG_PER_PERCENT if ingredient.measured_in == "g" else share
        if share >= LEAST:
            found.append((key, printed(share)))
    return tuple(found)


def _place(text):
    """Return a place on the shelf, counted from 0, as a button or field names it."""
    if not str(text).isdecimal():
        raise InputError(f"{shortened(text)}: there is no such line on this shelf")
    return int(text)


class ShelfPanel(Panel):
    """
    The shelf, in the order of preference.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "shelf"

    def __init__(self, state):
        self.opened = None  # the line whose further entries are shown
        self.searched, self.label_text, self.label_name = "", "", ""
        super().__init__(state)

    def _facts(self):
        """Return what the template shows beside the state."""
        checked = self.state.found.checked
        made = checked.made or (None,) * len(self.state.job.shelf)
        told = checked.lines or ((),) * len(self.state.job.shelf)
        lines = self.state.job.shelf or (ShelfLine(),) * len(made)
        told = told or ((),) * len(lines)
        held = [holds(ingredient) if ingredient else () for ingredient in made]
        return {
            "lines": tuple(zip(lines, made, told, held, strict=True)),
            "found_there": found_in_catalogue(self.searched),
            "holds": holds,
            "hazard_text": hazard_text,
            "label_read": self._label_read(),
        }

    def _label_read(self):
        """Return what was understood of the pasted label, and whether it can be used."""
        if not self.label_text.strip():
            return (), False
        try:
            made, lines = explain_text(self.label_text, kind="label")
        except FormulateError as error:
            return error.faults, False
        return tuple(lines), made is not None

    def _worked(self, key):
        """Return the working of how much of a nutrient an ingredient holds."""
        if key.startswith(FOUND):
            of, _, name = key.removeprefix(FOUND).rpartition(": ")
            ingredient = {i.name: i for i in found_in_catalogue(self.searched)}.get(of)
        else:
            place, _, name = key.partition(" ")
            made = dict(enumerate(self.state.found.checked.made))
            ingredient = made.get(_place(place))
        if ingredient is None or not ingredient.amount(name):
            return None
        known = nutrient(name)
        title = f"{known.key} in {ingredient.name}"
        steps = content_steps(ingredient, known)
        if ingredient.measured_in == "g":
            mass = Quantity(steps[-1].value, "mg/g")
            per = Quantity(MG_PER_PERCENT, "mg/g per %")
            steps.append(Step("in percent", (mass, "÷", per), "%"))
        return Working(title, tuple(steps))

    def _source_keys(self):
        """Return the keys of the sources of what is on the shelf, and of its hazards."""
        made = [i for i in self.state.found.checked.made if i is not None]
        found = found_in_catalogue(self.searched) if self.searched else ()
        return [*super()._source_keys(), *shelf_sources((*made, *found))]

    # --- handlers ------------------------------------------------------------------

    def _change_line(self, where, text):
        """Take one cell as typed."""
        place, _, key = where.partition(" ")
        at = ("line", _place(place), key)
        self.state.enter(at, text, with_line_entry, _place(place), key)

    def _press_more(self, _key, place):
        """Show the further entries of a line, or hide them again."""
        self.opened = None if self.opened == _place(place) else _place(place)
        self.refresh()

    def _press_out(self, _key, place):
        """Take a line off the shelf."""
        name, self.opened = self._name(_place(place)), None
        said = f"{name} is off the shelf; undo brings it back"
        self.state.alter(without_line, _place(place), said=said)

    def _press_up(self, _key, place):
        """Prefer a line."""
        self.opened = None
        self.state.alter(moved_line, _place(place), -1)

    def _name(self, place):
        """Return what a line of the shelf is called."""
        line = dict(enumerate(self.state.job.shelf)).get(place, ShelfLine())
        return line.name or line.ingredient or "it"

    def _search_search(self, text):
        """Look through the catalogue."""
        self.searched = text
        self.refresh()

    def _press_add(self, name):
        """Put an ingredient of the catalogue on the shelf."""
        said = f"{name} is on the shelf"
        self.state.alter(with_line, ShelfLine(ingredient=name), said=said)

    def _change_step(self, text):
        """Weigh everything in the same step."""
        self.state.alter(with_step, text)

    def _change_label(self, text):
        """Read a label as pasted; it is not on the shelf yet."""
        self.label_text = text
        self.refresh()

    def _press_look(self, _value=""):
        """Show what was read of the label; leaving the text has taken it already."""
        self.refresh()

    def _change_called(self, text):
        """Note how the labelled material is to be called."""
        self.label_name = text.strip()
        self.refresh()

    def _press_shelve(self, _value=""):
        """Put the labelled material on the shelf."""
        line = replace(ShelfLine(), label=self.label_text, name=self.label_name)
        self.label_text, self.label_name = "", ""
        self.state.alter(with_line, line, said="the label is on the shelf")

    def _on_upload(self, name, text, file_name):
        """Read a label from a file, or put a whole spreadsheet on the shelf."""
        if name == "label":
            self._change_label(text)
        else:
            lines = lines_of_shelf(text, name=file_name)
            said = f"{len(lines)} lines of {file_name} are on the shelf"
            self.state.alter(with_shelf, lines, said=said)
