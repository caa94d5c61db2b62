"""The wishes: how much solution, for what crop and stage, within what limits."""

from formulate.job_nouns import CHARGES
from formulate.sheets.part_sources import wish_sources
from formulate.sheets.wanted_workings import wanted_working
from formulate.tables import read_table
from formulate.workbench.edits import (
    own_target,
    with_entry,
    with_target_entry,
    with_target_value,
)
from formulate.workbench.numbers import Numbers
from formulate.workbench.panel import Panel
from formulate.workbench.usual import named, rows_in_order
from formulate.working import printed, printed_mg_l

__all__ = ["WishesPanel"]

USUAL = ("N", "P", "K", "Ca", "Mg", "S", "Si", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
USUAL += ("Na", "Cl", "alkalinity")
ELEMENTS = frozenset(USUAL)


class WishesPanel(Numbers, Panel):
    """
    What the solution is to hold.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "wishes"

    def __init__(self, state):
        self.subject, self.bounds = "", ""  # a limit on its way
        super().__init__(state)

    def _facts(self):
        """Return what the template shows beside the state."""
        entries = dict(self.state.job.target)
        limits = dict(entries.get("limits", ()))
        rows = tuple(self._rows(entries, limits))
        shown = {row[0] for row in rows}
        share = entries.get("ammonium_share_percent", ("", ""))
        by_charge = any(key in entries for key in CHARGES)
        return {
            "entries": entries,
            "is_own": "published" not in entries and not by_charge,
            "by_charge": by_charge,
            "crops": _crops(),
            "stages": tuple(read_table("strengths")),
            "rows": rows,
            "others": [pair for pair in limits.items() if pair[0] not in shown],
            "share": share,
        }

    def _rows(self, entries, limits):
        """Yield key, name, what was typed, what it counts as, and its limit."""
        wanted = dict(entries.get("wanted", ()))
        bounded = [key for key in limits if key in ELEMENTS]
        target = self.state.found.target
        known = [] if target is None else [*target.wanted]
        for key in rows_in_order(USUAL, dict.fromkeys([*(wanted or known), *bounded])):
            counted = self._counted(key)
            yield key, named(key), wanted.get(key, ""), counted, limits.get(key, "")

    def _counted(self, key):
        """Return what a litre is to hold, with its unit, at the strength that is set."""
        target = self.state.found.target
        if target is None:
            return ""
        if key == "alkalinity":
            ends = dict.fromkeys(target.alkalinity or ())
            return " to ".join(printed(end, 3) for end in ends) + " meq/L" * bool(ends)
        if key not in target.wanted:
            return ""
        mass, value = target.mg_l(key), target.wanted[key]
        ends = target.ranges.get(key, (value,))
        each = mass / value if value else 0.0
        return " to ".join(printed_mg_l(end * each) for end in dict.fromkeys(ends))

    def _followed(self, key, subject, column):
        """Return the working of a wanted value."""
        target, job = self.state.found.target, self.state.job
        if target is None:
            return None
        told = (target, dict(job.target), job.strength_percent)
        return wanted_working(*told, subject.removeprefix("wanted "))

    def _source_keys(self):
        """Return the keys of the sources of the target and of the strengths of stages."""
        return [*super()._source_keys(), *wish_sources(self.state.found.target)]

    # --- handlers ------------------------------------------------------------------

    def _change_entry(self, key, text):
        """Take the volume, the title or the strength as typed."""
        self.state.enter((key,), text, with_entry, key)

    def _change_stage(self, share):
        """Take the usual strength of a stage."""
        if share:
            self._change_entry("strength_percent", share)

    def _change_stocks(self, is_on):
        """Propose stocks for traces, or weigh them for each batch."""
        self.state.enter(("trace_stocks",), bool(is_on), with_entry, "trace_stocks")

    def _change_source(self, source):
        """Type the target value by value, starting from what it is."""
        if source == "own":
            self.state.alter(own_target)

    def _press_own(self, _value=""):
        """Type the target value by value, starting from what it is."""
        self.state.alter(own_target)

    def _change_published(self, key):
        """Take a published target."""
        if key:
            self.state.alter(with_target_entry, "published", key)

    def _change_target(self, key, value):
        """Take an entry of the target as typed."""
        self.state.enter(("target", key), value, with_target_entry, key)

    def _change_wanted(self, key, text):
        """Take a wanted value or range as typed."""
        self.state.enter(("wanted", key), text, with_target_value, "wanted", key)

    def _change_limit(self, key, text):
        """Take a limit as typed."""
        self.state.enter(("limits", key), text, with_target_value, "limits", key)

    def _change_subject(self, text):
        """Note what a new limit is about."""
        self.subject = text.strip()
        self._add_limit()

    def _change_bounds(self, text):
        """Note the bounds of a new limit."""
        self.bounds = text.strip()
        self._add_limit()

    def _add_limit(self):
        """Take a new limit once both its cells are filled."""
        subject, bounds = self.subject, self.bounds
        if subject and bounds:
            self.subject, self.bounds = "", ""
            self._change_limit(subject, bounds)
        else:
            self.refresh()


def _crops():
    """Return crop to (key, name) of its published targets."""
    crops = {}
    for row in read_table("targets"):
        crops.setdefault(row["crop"], []).append((row["key"], row["name"]))
    return crops
