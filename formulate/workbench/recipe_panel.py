"""The recipe: what to weigh, what a litre then holds, what binds, why not, what to buy."""

from formulate.errors import InputError, shortened
from formulate.jobs import ShelfLine
from formulate.recipes.recipe_working import cost_working, weight_working
from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.tables import sheet_tables
from formulate.sheets.weighed_tables import in_order_of_use, printed_cost
from formulate.workbench.edits import with_entry
from formulate.workbench.later import Later
from formulate.workbench.panel import Panel
from formulate.workbench.shelf_edits import with_line, with_line_entry

__all__ = ["RecipePanel"]

WEIGHED, COST = "weighed ", "the cost"


class RecipePanel(Panel):
    """
    Weights and what they make; the figure and what to buy follow a moment later.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, LABEL = "recipe", "4 Recipe"

    def __init__(self, state):
        self.later, self.drawn, self.to_buy = Later(), None, None
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

    def _on_seen(self, name, is_seen):
        """Draw the figure once it is seen."""
        super()._on_seen(name, is_seen)
        self._follow()

    def _facts(self):
        """Return what the template shows beside the state."""
        if not self._has_recipe:
            return {"ways": getattr(self.state.found.why_not, "ways", ())}
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
            "along": tables["along"],
            "limits": tables["limits"],
            "cautions": tables["cautions"].rows,
            "apart": tables["apart"].rows,
            "stocks": [t for key, t in tables.items() if key.startswith("stock ")],
            "cost": printed_cost(weighing.cost),
            "binding": outcome.recipe.binding,
            "additions": None if self.to_buy is None else self.to_buy[1],
            "ways": (),
        }

    def _worked(self, key):
        """Return the working of a nutrient reached, or of what a weight brings."""
        if key == COST:
            return cost_working(self._weighing)
        if key.startswith(WEIGHED):
            name = key.removeprefix(WEIGHED)
            used = [i.name for i, _ in self._weighing.amounts]
            return weight_working(self._weighing, name) if name in used else None
        return self._weighing.working(key)

    # --- handlers ------------------------------------------------------------------

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
