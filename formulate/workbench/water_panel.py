"""The water: an analysis of the package, a report as pasted, or values as typed."""

from functools import partial

from formulate.errors import FormulateError
from formulate.ingredients.water import preset_values
from formulate.ingredients.water_working import (
    balance_working,
    reading_working,
    water_working,
)
from formulate.sheets.part_sources import water_sources
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.workbench.edits import (
    typed_water,
    with_report,
    with_share,
    with_water,
    with_water_value,
)
from formulate.workbench.numbers import Numbers
from formulate.workbench.panel import Panel
from formulate.workbench.usual import named, rows_in_order
from formulate.working import printed, printed_mg_l

__all__ = ["WaterPanel"]

READINGS = ("pH", "EC", "alkalinity")
USUAL = ("Ca", "Mg", "K", "Na", "NH4-N", "NO3-N", "P", "S", "Cl", *READINGS)
USUAL += ("Si", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
WORDS = {word.casefold(): word for word in READINGS}
SUMS = ("the cations", "the anions", "the balance")
SHARE = "share_percent"
IN_REPORT = ("name", "report", "unit", SHARE)
EXAMPLES = {"pH": "7.4", "EC": "0.65 mS/cm", "alkalinity": "5.7 meq/L", "Ca": "94 mg/L"}


class WaterPanel(Numbers, Panel):
    """
    The water, and how its charges balance.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "water"

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
        report = getattr(self.state.found.water_alone, "report", None)
        return {
            "way": self.way,
            "entries": entries,
            "waters": waters,
            "rows": tuple(self._rows(entries)),
            "read": report.entries if report is not None else (),
            "examples": EXAMPLES,
            "lacks_calcium": self._lacks_calcium(report),
            "share": entries.get(SHARE, ""),
        }

    @staticmethod
    def _lacks_calcium(report):
        """Return whether a report tells a hardness, and not what it consists of."""
        told = {e.quantity for e in report.entries} if report is not None else set()
        return "hardness" in told and not told & {"calcium", "magnesium"}

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

    def _followed(self, key, subject, column):
        """Return the working of a value of the water, or where a reading comes from."""
        made = self.state.found.water
        if made is None:
            return None
        if key in SUMS:
            return balance_working(made, key.removeprefix("the "))
        name = subject.removeprefix("water ")
        if name.casefold() in WORDS:
            return reading_working(made, self._told, WORDS[name.casefold()])
        return water_working(made, self._told, name, column or "mg/L")

    @property
    def _told(self):
        """Return what the analysis says, as it was given; a report is kept with the water."""
        entries = dict(self.state.job.water)
        if "preset" in entries:
            return preset_values(entries["preset"])[1]
        entries.pop(SHARE, None)
        return {} if "report" in entries else entries

    def _source_keys(self):
        """Return the keys of the sources of the water, its masses and its checks."""
        return [*super()._source_keys(), *water_sources(self.state.found.water)]

    # --- handlers ------------------------------------------------------------------

    def _change_way(self, way):
        """Give the water in another way."""
        self.choice = ""
        if way == "typed":
            self.state.alter(typed_water, self.state.found.water_alone)
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

    def _change_calcium(self, text):
        """Add the calcium that a report does not tell to it, as a line."""
        if not text.strip():
            return
        entries = dict(self.state.job.water)
        typed = text.strip() if any(map(str.isalpha, text)) else f"{text.strip()} mg/L"
        report = f"{entries.get('report', '').rstrip()}\nCalcium {typed}\n"
        self.state.alter(with_report, report, entries.get("name", ""))

    def _press_read(self, _value=""):
        """Show what was read; leaving the text has taken it already."""
        self.refresh()

    def _on_upload(self, name, text, file_name):
        """Take a report from a file."""
        self.choice = ""
        self.state.alter(with_report, text, file_name.rsplit(".", 1)[0])

    def _change_value(self, key, text):
        """Take one value as typed, into the water as it is now."""
        self.choice = ""
        change = partial(with_water_value, made=self.state.found.water_alone)
        self.state.enter(("water", key), text, change, key)

    def _change_share(self, text):
        """Take how much of the water is used, the rest pure."""
        self.state.enter(("water", "share"), text, with_share)
