"""The water: an analysis of the package, a report as pasted, or values as typed."""

from formulate.errors import FormulateError
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.workbench.edits import (
    typed_water,
    with_report,
    with_water,
    with_water_value,
)
from formulate.workbench.panel import Panel
from formulate.workbench.usual import named, rows_in_order
from formulate.working import printed, printed_mg_l

__all__ = ["WaterPanel"]

READINGS = ("pH", "EC", "alkalinity")
USUAL = ("Ca", "Mg", "K", "Na", "NH4-N", "NO3-N", "P", "S", "Cl", *READINGS)
USUAL += ("Si", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
IN_REPORT = ("name", "report", "unit")
EXAMPLES = {"pH": "7.4", "EC": "0.65 mS/cm", "alkalinity": "5.7 meq/L", "Ca": "94 mg/L"}


class WaterPanel(Panel):
    """
    The water, and how its charges balance.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, LABEL = "water", "1 Water"

    def __init__(self, state):
        self.choice = ""  # chosen, and nothing given for it yet
        super().__init__(state)

    @property
    def way(self):
        """Return how the water is given: "preset", "report" or "typed"."""
        entries = dict(self.state.job.water)
        given = next((k for k in ("preset", "report") if k in entries), "typed")
        return self.choice or given

    def _facts(self):
        """Return what the template shows beside the state."""
        entries = dict(self.state.job.water)
        waters = [(row["key"], row["name"]) for row in read_table("waters")]
        report = getattr(self.state.found.water, "report", None)
        return {
            "way": self.way,
            "entries": entries,
            "waters": waters,
            "rows": tuple(self._rows(entries)),
            "read": report.entries if report is not None else (),
            "examples": EXAMPLES,
        }

    def _rows(self, entries):
        """Yield key, name, what was typed, mg/L, mmol/L and meq/L of each quantity."""
        typed = [k for k in entries if k not in IN_REPORT and self.way == "typed"]
        typed = [k for k in typed if k not in ("preset",)]
        for key in rows_in_order(USUAL, typed):
            yield key, named(key), entries.get(key, ""), *self._amounts(key)

    def _amounts(self, key):
        """Return what a litre holds: mg/L, mmol/L, meq/L, as far as it has them."""
        made, word = self.state.found.water, key.casefold()
        if made is None:
            return "", "", ""
        if word in ("ph", "ec", "alkalinity"):
            value = getattr(made, word)
            told = "" if value is None else printed(value)
            return ("", "", told) if word == "alkalinity" else (told, "", "")
        try:
            known = nutrient(key)
        except FormulateError:
            return "", "", ""
        amounts = made.solution.mg_l(known), made.solution.mmol_l(known)
        return printed_mg_l(amounts[0]), printed(amounts[1]), self._charge(key)

    def _charge(self, key):
        """Return the equivalents of an ion, or an empty text."""
        try:
            return printed(abs(self.state.found.water.solution.meq_l(key)))
        except FormulateError:
            return ""

    def _worked(self, key):
        """Return the working of a value of the water."""
        made = self.state.found.water
        return None if made is None else made.solution.working(key)

    # --- handlers ------------------------------------------------------------------

    def _change_way(self, way):
        """Give the water in another way."""
        self.choice = ""
        if way == "typed":
            self.state.alter(typed_water, self.state.found.water)
        else:
            self.choice = way if way in ("preset", "report") else ""
            self.refresh()

    def _change_preset(self, key):
        """Take a water of the package."""
        if key:
            self.choice = ""
            self.state.alter(with_water, key)

    def _change_report(self, text):
        """Take a report as pasted."""
        self.choice = ""
        self.state.alter(with_report, text)

    def _press_read(self, _value=""):
        """Show what was read; leaving the text has taken it already."""
        self.refresh()

    def _on_upload(self, name, text, file_name):
        """Take a report from a file."""
        self.choice = ""
        self.state.alter(with_report, text, file_name.rsplit(".", 1)[0])

    def _change_value(self, key, text):
        """Take one value as typed."""
        self.state.enter(("water", key), text, with_water_value, key)
