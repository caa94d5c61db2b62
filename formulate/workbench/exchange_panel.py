"""The exchange: how sure the batch is, and what its recipe could be exchanged for."""

from dataclasses import replace

from formulate.sheets.comparison import comparison_part
from formulate.sheets.part_sources import exchange_sources
from formulate.trade_offs import TRADES
from formulate.workbench.drawn_panel import WORKING, DrawnPanel
from formulate.workbench.findings import on_screen

__all__ = ["ExchangePanel"]

FIRST = "doubt"
OF_BEFORE = (
    '<p class="fm-before"><b>working …</b> what stands here is of the batch before</p>'
)


class ExchangePanel(DrawnPanel):
    """
    What the recipe could be exchanged for, each part worked out once it is opened and seen.

    Parameters
    ----------
    state : State
        The work.
    """

    PART = "exchange"
    SLOTS = (FIRST, *(name for name in TRADES if name != FIRST))
    RESTS_ON = "chosen"  # mixing, papers and units change nothing
    HEADING = "compared"

    def _shown_until(self, slot):
        """Return what was drawn last, said to be of the batch before."""
        shown = self.slots.get(slot, WORKING)
        fresh = shown == WORKING or shown.startswith(OF_BEFORE)
        return shown if fresh else OF_BEFORE + shown

    def _made(self, slot):
        """Return one part; how it was found stays with the outcome."""
        part = comparison_part(self.state.found.outcome, slot)
        return (replace(part, words=tuple(map(on_screen, part.words))),)

    def _follow(self):
        """Plan what is seen, and tell how much of it there is to do."""
        before = self.late
        super()._follow()
        if before and self.late:  # not done at once
            self._show()

    def _after(self, slot):
        """Tell how far it is; the head tells how sure the batch is."""
        self._show()
        if slot == FIRST:
            self.state.glance()

    # --- what is shown ---------------------------------------------------------------------

    def _source_keys(self):
        """Return the keys of the sources that the part rests on."""
        if not self.state.found.has_recipe:
            return ()
        return exchange_sources(self.state.found.outcome)

    def _facts(self):
        """Return what the template shows beside the state."""
        what = self._rests_on()
        asked = [slot for slot in self.SLOTS if slot in self.seen]
        done = [slot for slot in asked if self.drawn.get(slot) is what]
        return {
            "parts": [(name, TRADES[name]) for name in self.SLOTS],
            "asked": len(asked) if what else 0,
            "done": len(done),
            "chosen": what.lines if what else (),
        }
