"""Two jobs side by side: what was asked, weighed and reached by this job and by another."""

import operator
from dataclasses import replace

from formulate.sheets.two_jobs import (
    PARTS_OF_TWO,
    two_jobs_names,
    two_jobs_part,
    two_jobs_titles,
)
from formulate.workbench.drawn_panel import DrawnPanel
from formulate.workbench.findings import Findings, on_screen

__all__ = ["BesidePanel"]


class BesidePanel(DrawnPanel):
    """
    Another job beside this one.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, HEADING = "beside", "side by side"
    SLOTS = tuple(PARTS_OF_TWO)

    def __init__(self, state):
        self._second, self._pair = None, None
        super().__init__(state)

    # --- what it rests on ------------------------------------------------------------------

    @property
    def second(self):
        """Return what follows from the job beside this one; None if there is none."""
        job, units = self.state.beside, self.state.units
        if job is None:
            self._second = None
        elif self._second is None or self._second.job is not job:
            self._second = Findings(job, units)
        elif self._second.units != units:
            self._second = self._second.seen_in(units)
        return self._second

    def _rests_on(self):
        """Return both outcomes; None while there is no second job."""
        if self.second is None:
            return None
        pair = (self.state.found.outcome, self.second.outcome)
        if self._pair is None or any(map(operator.is_not, pair, self._pair)):
            self._pair = pair
        return self._pair

    def _made(self, slot):
        """Return one part; what a job lacks is told in the words of the screen."""
        part = two_jobs_part(slot, *self._pair)
        return (replace(part, words=tuple(map(on_screen, part.words))),)

    # --- what is shown ---------------------------------------------------------------------

    def _facts(self):
        """Return what the template shows beside the state."""
        pair = self._rests_on()
        if pair is None:
            return {"names": ()}
        return {"names": two_jobs_names(*pair), "parts": two_jobs_titles(*pair)}

    # --- handlers --------------------------------------------------------------------------

    def _press_set(self, _value=""):
        """Keep this job as the second, so that what is changed from now on can be seen."""
        said = "this job is kept as the second; what you change now is the difference"
        self.state.put_beside(self.state.job, said)

    def _press_exchange(self, _value=""):
        """Go on with the job beside this one; this one stands beside it."""
        self.state.exchange_beside()

    def _press_away(self, _value=""):
        """Put the job beside this one away."""
        self.state.put_beside(None, "nothing stands beside this job any more")

    def _press_return(self, _value=""):
        """Have the job again that stood beside this one before."""
        self.state.bring_back_beside()

    def _on_upload(self, name, text, file_name):
        """Put a job of a file beside this one."""
        self.state.take_beside(text, file_name)
