"""The bench: all panels over one state, on a page or in a notebook."""

from pathlib import Path

import ipywidgets

from formulate.jobs import Job, read_job
from formulate.workbench.beside_panel import BesidePanel
from formulate.workbench.chemistry_panel import ChemistryPanel
from formulate.workbench.claims_panel import ClaimsPanel
from formulate.workbench.exchange_panel import ExchangePanel
from formulate.workbench.head_panel import HeadPanel, on_a_page
from formulate.workbench.mixing_panel import MixingPanel
from formulate.workbench.recipe_panel import RecipePanel
from formulate.workbench.sheet_panel import SheetPanel
from formulate.workbench.shelf_panel import ShelfPanel
from formulate.workbench.state import State
from formulate.workbench.water_panel import WaterPanel
from formulate.workbench.wishes_panel import WishesPanel

__all__ = ["Bench", "open_bench"]

PANELS = {
    "head": HeadPanel,
    "water": WaterPanel,
    "shelf": ShelfPanel,
    "wishes": WishesPanel,
    "recipe": RecipePanel,
    "chemistry": ChemistryPanel,
    "mixing": MixingPanel,
    "exchange": ExchangePanel,
    "claims": ClaimsPanel,
    "sheet": SheetPanel,
    "beside": BesidePanel,
}
COLUMNS = (
    ("water", "shelf", "wishes"),
    ("recipe", "chemistry", "mixing", "exchange", "claims", "sheet", "beside"),
)  # given, what follows

_open = {}  # what each bench of this kernel was opened with, to the bench


class Bench(ipywidgets.Box):
    """
    The bench.

    Parameters
    ----------
    state : State
        The work that all panels show.

    Attributes
    ----------
    state : State
        The work.
    panels : dict of str to Panel
        "head", "water", "shelf", "wishes", "recipe", "chemistry", "mixing", "exchange",
        "claims", "sheet" and "beside"; each can be shown by itself in a cell.
    """

    def __init__(self, state):
        self.state = state
        self.panels = {name: panel(state) for name, panel in PANELS.items()}
        columns = [_box(self.panels[part] for part in parts) for parts in COLUMNS]
        body = _box(columns, "fm-body")
        super().__init__([self.panels["head"], body])
        self.add_class("fm-bench")
        if on_a_page():
            self.add_class("fm-page")

    @property
    def job(self):
        """Return the job as it stands."""
        return self.state.job

    @property
    def outcome(self):
        """Return what follows from it; raises InputError while it is at fault."""
        return self.state.outcome

    @property
    def recipe(self):
        """Return the recipe, not rounded."""
        return self.outcome.recipe

    @property
    def solution(self):
        """Return the solution that the recipe makes. [mmol/L]"""
        return self.outcome.solution

    def close(self):
        """
        Leave the screen; the state stays.

        Examples
        --------
        >>> bench = Bench(State())
        >>> bench.close()
        >>> bench.job.volume
        '200 L'
        """
        for widget in (*getattr(self, "panels", {}).values(), *_boxes_in(self)):
            widget.close()
        self.layout.close()
        super().close()

    def __repr__(self):
        missing = self.state.blockers("recipe")
        told = missing if missing else str(self.outcome).splitlines()
        return "\n".join([f"the bench: {self.job.title or 'no title'}", *told])


def _box(children, name=""):
    """Return widgets one under the other."""
    box = ipywidgets.Box(list(children))
    if name:
        box.add_class(name)
    return box


def _boxes_in(box):
    """Yield the boxes in a box, each with its layout."""
    for child in getattr(box, "children", ()):
        if isinstance(child, ipywidgets.Box):
            yield from _boxes_in(child)
            yield child.layout
            yield child


def open_bench(start=None):
    """
    Return the bench, to be shown in a cell or on a page.

    Opening it again in the same kernel goes on with the same work in new panels.

    Parameters
    ----------
    start : Job, str, Path or None
        A job or a job file; None for what this browser left here, or the demo.

    Returns
    -------
    Bench
        The bench; `.job`, `.outcome`, `.recipe` and `.solution` take the objects out.

    Raises
    ------
    InputError
        If the job file cannot be read.

    Examples
    --------
    >>> bench = open_bench()
    >>> bench.job.volume, round(bench.solution.mg_l("K"))
    ('200 L', 123)
    """
    where = start if isinstance(start, Job) or start is None else str(Path(start))
    before = _open.pop(where, None)
    if before is not None:
        before.close()
        state = before.state
    elif where is None or isinstance(start, Job):
        state = State(start)
    else:
        state = State(read_job(start), place=start)
    _open[where] = Bench(state)
    return _open[where]
