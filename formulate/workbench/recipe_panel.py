"""The recipe: what to weigh, what a litre then holds, what binds, why not, what to buy."""

import math

from formulate.errors import InputError, shortened
from formulate.jobs import ShelfLine
from formulate.recipes.recipe_working import cost_working, weight_working
from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.contents_workings import COLUMNS, contents_working, limit_working
from formulate.sheets.part_sources import recipe_sources
from formulate.sheets.tables import sheet_tables
from formulate.sheets.weighed_tables import in_order_of_use, printed_cost
from formulate.sheets.weighed_workings import (
    STOCK_COLUMNS,
    error_working,
    measure_working,
    stock_working,
)
from formulate.workbench.edits import with_entry, with_share
from formulate.workbench.later import Later
from formulate.workbench.numbers import Numbers
from formulate.workbench.panel import Panel
from formulate.workbench.share_kept import share_kept
from formulate.workbench.shelf_edits import with_line, with_line_entry
from formulate.workbench.ways_out import taken, way_out, ways_of

__all__ = ["RecipePanel"]

WEIGHED, COST, ALONG = "weighed ", "the cost", "along "
CLOSE = 0.005  # share of a limit: nearer than this it is printed as reached
LEAST_SHARE, WHOLE = 0.1, 100.0  # %: a share of the water is told in tenths


def _is_reached(row, room):
    """Return whether what the water brings is so near a bound that a little more breaks it."""
    value = row.constant
    ends = (end for end in (row.low, row.high) if math.isfinite(end))
    return value > 0 and any(abs(value - end) <= room * value for end in ends)


class RecipePanel(Numbers, Panel):
    """
    Weights and what they make; the figure and what to buy follow a moment later.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "recipe"

    def __init__(self, state):
        self.later, self.drawn, self.to_buy = Later(), None, None
        self.tried = None  # the error that ways out belong to, with each of them tried
        self.share = None  # the same error, with the share of the water that helps
        super().__init__(state)

    def _drop(self):
        """Drop what was planned for later."""
        self.later.drop()

    @property
    def _weighing(self):
        return self.state.found.outcome.weighing

    def _show(self):
        """Show the weights; what was found to buy for another recipe is out of date."""
        recipe = self.state.found.outcome.recipe if self._has_recipe else None
        if self.to_buy is not None and self.to_buy[0] is not recipe:
            self.to_buy = None
        super()._show()

    @property
    def _has_recipe(self):
        return self.state.found.has_recipe

    def _follow(self):
        """Plan the figure and what to buy, as far as they are seen and out of date."""
        steps = []
        if self._has_recipe and "figure" in self.seen and not self._is_drawn:
            steps.append(self._draw)
        if self._has_recipe and "more" in self.seen and self.to_buy is None:
            steps.append(self._look_for_more)
        if "ways" in self.seen and self._ways and not self._are_tried:
            steps.append(self._try_ways)
        if "share" in self.seen and self._why_not and not self._is_shared:
            steps.append(self._share_out)
        if not self._has_recipe and self.slots:
            self.slots, self.drawn = {}, None
        if steps:
            self.later.plan(steps)
        else:
            self.later.drop()

    @property
    def _is_drawn(self):
        return self.drawn is self.state.found.outcome.recipe

    def _draw(self):
        """Draw what was achieved against what was wanted."""
        from formulate.sheets.figures.achieved import achieved

        if self._has_recipe:
            drawn = achieved(as_weighed(self._weighing)).svg
            self.slots = {**self.slots, "figure": drawn}
            self.drawn = self.state.found.outcome.recipe

    def _look_for_more(self):
        """Look in the catalogue for what would bring the recipe nearer."""
        if self._has_recipe:
            outcome = self.state.found.outcome
            self.to_buy = (outcome.recipe, outcome.to_buy)
            self._show()

    @property
    def _ways(self):
        """Return the ways out of what cannot hold together: words, amounts and row."""
        return () if self._has_recipe else ways_of(self.state.found.why_not)

    @property
    def _are_tried(self):
        return self.tried is not None and self.tried[0] is self.state.found.why_not

    def _try_ways(self):
        """Work out what each way out would lead to."""
        ways = [way_out(self.state.job, way) for *_, way in self._ways]
        self.tried = (self.state.found.why_not, ways)
        self._show()

    @property
    def _why_not(self):
        return None if self._has_recipe else self.state.found.why_not

    @property
    def _is_shared(self):
        return self.share is not None and self.share[0] is self._why_not

    @property
    def _helping(self):
        """Return the share of the water that has a recipe, with what holds it back."""
        return self.share[1] if self._why_not and self._is_shared else None

    def _share_out(self):
        """Work out how much of the water may be used for a recipe to hold."""
        self.share = (self._why_not, share_kept(self.state.job))
        self._show()

    def _on_seen(self, name, is_seen):
        """Draw the figure once it is seen."""
        super()._on_seen(name, is_seen)
        self._follow()

    def _facts(self):
        """Return what the template shows beside the state."""
        if not self._has_recipe:
            tried = self.tried[1] if self._are_tried else [None] * len(self._ways)
            ways = tuple(zip(self._ways, tried, strict=True))
            return {"ways": ways, "kept": self._helping}
        outcome = self.state.found.outcome
        tables = {
            table.key: table
            for table in sheet_tables(outcome, chemical=False, mixed=False)
        }
        weighing = outcome.weighing
        names = [i.name for i, _ in in_order_of_use(weighing.amounts)]
        lines = {i.name: place for place, i in enumerate(outcome.shelf)}
        return {
            "weights": tables["weights"],
            "names": names,
            "lines": {} if outcome.job.shelf_file else lines,
            "choice": tables["choice"],
            "contents": tables["contents"],
            "columns": COLUMNS,
            "along": tables["along"],
            "limits": tables["limits"],
            "cautions": tables["cautions"].rows,
            "apart": tables["apart"].rows,
            "stocks": [t for key, t in tables.items() if key.startswith("stock ")],
            "cost": printed_cost(weighing.cost),
            "binding": (*outcome.recipe.binding, *self._held_by_water()),
            "correction": ""
            if outcome.correction.is_there
            else outcome.correction.line,
            "additions": None if self.to_buy is None else self.to_buy[1],
            "ways": (),
        }

    def _held_by_water(self):
        """Yield the limits that the water alone reaches, for the salts bring nothing of it."""
        outcome = self.state.found.outcome
        share = dict(outcome.job.water).get("share_percent") or WHOLE
        room = max(CLOSE, LEAST_SHARE / share)
        for row in outcome.recipe.requirements:
            if row.origin == "limit" and row.name not in outcome.recipe.binding:
                brought = float(outcome.recipe.optimum.amounts @ row.coefficients)
                if not brought and _is_reached(row, room):
                    yield f"{row.name} (by the water alone)"

    def _followed(self, key, subject, column):
        """Return the working of a number of the weights, the contents, limits or stocks."""
        if key == COST:
            return cost_working(self._weighing)
        if key.startswith(WEIGHED):
            name = key.removeprefix(WEIGHED)
            used = [i.name for i, _ in self._weighing.amounts]
            return weight_working(self._weighing, name) if name in used else None
        which, _, rest = subject.partition(" ")
        of = {"contents": self._of_contents, "weight": self._of_weight}
        of |= {"limit": self._of_limit, "stock": self._of_stock}
        if column and which in of:
            return of[which](rest, column)
        return self._weighing.working(key.removeprefix(ALONG))

    def _of_contents(self, key, column):
        job = self.state.job
        told = (dict(job.target), job.strength_percent)
        return contents_working(self._weighing, told, key, column)

    def _of_weight(self, name, column):
        weighing, units = self._weighing, self.state.found.outcome.job.units
        amounts = {i.name: (i, amount) for i, amount in weighing.amounts}
        if column != "also":
            return error_working(weighing, name)
        return measure_working(*amounts[name], units) if name in amounts else None

    def _of_limit(self, place, _column):
        return limit_working(self._weighing, int(place)) if place.isdecimal() else None

    def _of_stock(self, rest, column):
        place, _, name = rest.partition(" ")
        if not place.isdecimal() or column not in STOCK_COLUMNS:
            return None
        facts = (int(place), name, STOCK_COLUMNS[column])
        units = self.state.found.outcome.job.units
        return stock_working(self._weighing, *facts, units)

    def _source_keys(self):
        """Return the keys of the sources of what the recipe rests on."""
        own = recipe_sources(self.state.found.outcome) if self._has_recipe else ()
        return [*super()._source_keys(), *own]

    # --- handlers ------------------------------------------------------------------

    def _press_way(self, place):
        """Take a way out of what cannot hold together."""
        ways = dict(enumerate((words, way) for words, _, way in self._ways))
        found = ways.get(int(place) if str(place).isdecimal() else None)
        job = None if found is None else taken(self.state.job, found[1])
        if job is None:
            raise InputError("this way out is not there any more; look again")
        words = found[0]
        self.state.change(job, f"taken: {words}")

    def _press_share(self, _value=""):
        """Take the share of the water at which a recipe holds, the rest pure."""
        if self._helping is None:
            raise InputError("this share is not there any more; look again")
        text = f"{self._helping[0]:g}"
        said = f"{text} % of this water, the rest pure; undo brings all of it back"
        self.state.alter(with_share, text, said=said)

    def _change_entry(self, key, text):
        """Take how the recipe is to be chosen as typed or ticked."""
        self.state.enter((key,), text, with_entry, key)

    def _press_without(self, _key, name):
        """Leave an ingredient out of this batch."""
        shelf = self.state.found.outcome.shelf if self._has_recipe else ()
        places = {i.name: place for place, i in enumerate(shelf)}
        if name not in places:
            raise InputError(f"{shortened(name)} is not on this shelf")
        place = places[name]
        said = f"{name} is left out; undo brings it back"
        self.state.alter(with_line_entry, place, "use", "none", said=said)

    def _press_buy(self, name):
        """Put on the shelf what would bring the recipe nearer."""
        line = ShelfLine(ingredient=name)
        self.state.alter(with_line, line, said=f"{name} is on the shelf")
