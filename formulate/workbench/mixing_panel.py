"""The mixing: the order and what another would cost, the plan, stocks, what went wrong.

Nothing of it is worked out before it is seen, and each part only once it is opened; the
order as it is typed stands there at once, how it compares follows.
"""

from dataclasses import replace
from inspect import signature

from formulate.errors import FormulateError
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.strength import strength_of, usual_strength
from formulate.mixing.tanks import split_tanks
from formulate.sheets import mixing_page
from formulate.sheets.measures import batch_text
from formulate.sheets.part_sources import mixing_sources
from formulate.tables import read_table
from formulate.workbench.drawn_panel import DrawnPanel
from formulate.workbench.findings import on_screen
from formulate.workbench.mixing_edits import (
    mended_order,
    moved_order,
    with_mixing_entry,
    with_order,
)

__all__ = ["MixingPanel"]

PERCENT = 100.0
USUAL_TANKS = signature(split_tanks).parameters["tanks"].default


def _plan(outcome):
    part = mixing_page.plan_part(outcome.mixing, outcome.job.units)
    return (replace(part, words=()),)  # the order stands above it


def _why(outcome):
    return (mixing_page.order_part(outcome.mixing),)


def _steps(outcome):
    return (mixing_page.steps_part(outcome.mixing),)


def _stocks(outcome):
    parts = mixing_page.stock_parts(outcome.mixing, outcome.job)
    return tuple(replace(p, words=tuple(map(on_screen, p.words))) for p in parts)


def _wrong(outcome):
    return tuple(mixing_page.reading_parts(outcome.mixing))


DRAWN = {
    "plan": _plan,
    "why": _why,
    "steps": _steps,
    "stocks": _stocks,
    "wrong": _wrong,
}


class MixingPanel(DrawnPanel):
    """
    How the batch is mixed.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "mixing"
    SLOTS, HEADING = tuple(DRAWN), "mixed"

    def __init__(self, state):
        self.names, self.shown = (), None  # of which mixing all is shown
        super().__init__(state)

    # --- what follows ----------------------------------------------------------------

    @property
    def _mixing(self):
        return self.state.found.outcome.mixing

    @property
    def _is_judged(self):
        """Return whether it is worked out how the order compares."""
        return "order_notices" in vars(self._mixing)

    @property
    def _is_told(self):
        """Return whether all that is to be known of it is worked out, too."""
        stocks = "tanks_or_why" in vars(self._mixing) or not self._mixing.wants_tanks
        return stocks and self._is_judged

    def _rests_on(self):
        """Return the outcome: its order, its readings and its units count."""
        found = self.state.found
        return found.outcome if found.has_mixing else None

    def _steps_of(self, late):
        """Return the steps: how the order compares, what is seen, what the stocks tell."""
        untold = self.seen and self.shown is not self._mixing
        steps = self._judging() if untold else []
        for slot in late:
            steps += self._drawing(slot)
        if untold and self._mixing.wants_tanks:
            steps += [self._work_out("tanks_or_why"), self._show]
        return [*steps, self.state.glance] if steps else []

    def _judging(self):
        """Return the steps that tell how the order compares."""
        found = ("best", "log", "order_notices")
        return [*map(self._work_out, found), self._show]

    def _drawing(self, slot):
        """Return the steps that draw a slot; what takes long stands by itself."""
        before = {"plan": ["best", "log"], "stocks": ["tanks_or_why"]}.get(slot, [])
        return [*map(self._work_out, before), lambda: self._draw(slot)]

    def _work_out(self, what):
        """Return a step that works something of the mixing out, which keeps it."""

        def step():
            if self.state.found.has_mixing:
                try:
                    getattr(self._mixing, what)
                except FormulateError as error:
                    self.fault = "; ".join(error.faults)
                    self._show()

        return step

    def _made(self, slot):
        """Return one part."""
        return DRAWN[slot](self.state.found.outcome)

    # --- what is shown ---------------------------------------------------------------

    def _source_keys(self):
        """Return the keys of the sources that the part rests on."""
        if not self.state.found.has_mixing:
            return ()
        return mixing_sources(self._mixing)

    def _facts(self):
        """Return what the template shows beside the state."""
        given = dict(self.state.job.mixing)
        return {
            "given": given,
            "usual": self._usual(),
            "waters": tuple((row["key"], row["name"]) for row in read_table("waters")),
            "names": self._order(),
            "own": bool(given.get("order")),
            **self._compared(),
        }

    def _usual(self):
        """Return what counts where nothing is typed."""
        return {
            "water_first_percent": f"{PERCENT * mixing_rule('water first'):g}",
            "strength": usual_strength().as_ratio,
            "tanks": str(USUAL_TANKS),
            "coldest": f"{mixing_rule('coldest'):g}",
            "tank_volume": self._tank_volume(),
        }

    def _tank_volume(self):
        """Return what the batch takes of a concentrate."""
        typed = dict(self.state.job.mixing).get("strength")
        if not self.state.found.has_mixing:
            return ""
        times = (usual_strength() if typed is None else strength_of(typed)).times
        litres = float(f"{self.state.found.outcome.volume / times:.3g}")
        return batch_text(litres, self.state.units)

    def _order(self):
        """Return the order as far as it is known: a best one that is not yet, as before."""
        if not self.state.found.has_mixing:
            return ()
        weighed = [i.name for i, _ in self.state.found.outcome.weighing.amounts]
        if dict(self.state.job.mixing).get("order") or self._is_judged:
            self.names = self._mixing.order
        return tuple(name for name in self.names if name in weighed)

    def _compared(self):
        """Return how the order compares, as far as it is worked out."""
        if not (self.state.found.has_mixing and self._is_judged):
            return {"words": "", "against": "", "best": (), "told": ()}
        mixing, best = self._mixing, self._mixing.best
        own = dict(self.state.job.mixing).get("order")
        told = mixing.order_notices
        if self._is_told:
            self.shown, told = mixing, self.state.notices("mixing")
        return {
            "words": mixing.order_words,
            "against": best.against(mixing.order) if best and own else "",
            "best": best.order if best else (),
            "told": told,
        }

    # --- handlers ----------------------------------------------------------------------

    def _change_entry(self, key, text):
        """Take an entry as typed."""
        self.state.enter(("mixing", key), text, with_mixing_entry, key)

    def _press_earlier(self, _key, name):
        """Let an ingredient go in earlier."""
        self._move(name, -1)

    def _press_later(self, _key, name):
        """Let an ingredient go in later."""
        self._move(name, 1)

    def _move(self, name, by):
        """Let an ingredient go in earlier or later, if it does not stand at the end."""
        now = self._mixing.order if self.state.found.has_mixing else ()
        order = moved_order(now, name, by)
        if order == now:
            self.refresh()  # it stands at that end already
            return
        said = f"{name} goes in at place {order.index(name) + 1}; undo takes it back"
        self.state.alter(with_order, order, said=said)

    def _press_best(self, _value=""):
        """Go back to the best order."""
        said = "mixed in the best order; undo brings the own one back"
        self.state.alter(with_order, (), said=said)

    def _press_mend(self, _value=""):
        """Have the own order hold what is weighed now."""
        job = self.state.job
        usual = self.state.found.of_same_batch(with_order(job)).outcome.mixing.order
        order = mended_order(dict(job.mixing).get("order", ()), usual)
        self.state.alter(with_order, order, said="the order holds what is weighed now")
