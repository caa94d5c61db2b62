"""The sheet: seen as it will be printed, printed, or kept as HTML, CSV or job."""

from formulate.sheets.bench_sheet import file_stem
from formulate.sheets.tables import csv_text, sheet_tables
from formulate.workbench.later import Later
from formulate.workbench.panel import Panel

__all__ = ["SheetPanel"]


class SheetPanel(Panel):
    """
    The bench sheet.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "sheet"

    def __init__(self, state):
        self.later, self.drawn = Later(), None
        super().__init__(state)

    def _drop(self):
        """Drop what was planned for later."""
        self.later.drop()

    def _follow(self):
        """Plan to draw the sheet, if it is seen and out of date."""
        found = self.state.found
        if not found.has_mixing:
            self.later.drop()
            if self.slots:
                self.slots, self.drawn = {}, None
        elif "preview" in self.seen and self.drawn is not found.outcome:
            self.later.plan([self._draw])

    def _draw(self):
        if self.state.found.has_mixing:
            self.slots = {"preview": self.state.found.sheet()}
            self.drawn = self.state.found.outcome

    def _on_seen(self, name, is_seen):
        """Draw the sheet once it is seen."""
        super()._on_seen(name, is_seen)
        self._follow()

    # --- handlers ------------------------------------------------------------------

    def _press_html(self, _value=""):
        """Hand the sheet to the browser as a file."""
        self._send_file(f"{self._stem}.html", self.state.found.sheet(), "text/html")

    def _press_csv(self, _value=""):
        """Hand the tables of the sheet to the browser as a file."""
        text = csv_text(sheet_tables(self.state.found.outcome))
        self._send_file(f"{self._stem}.csv", text, "text/csv")

    def _press_job(self, _value=""):
        """Hand the job to the browser, as one file that needs no other."""
        self._send_file(f"{self._stem}.toml", self.state.shared, "application/toml")

    @property
    def _stem(self):
        return file_stem(self.state.job.title)
