"""A panel with parts drawn apart: each only once it is seen, in a step of its own, later."""

import traceback

from formulate.errors import FormulateError
from formulate.workbench.later import Later
from formulate.workbench.panel import Panel

__all__ = ["DrawnPanel"]

WORKING = "<p>working …</p>"


class DrawnPanel(Panel):
    """
    A panel with parts drawn apart.

    A part is worked out when it is opened and seen, and again when what it rests on has
    changed while it is seen; a newer change drops what is not yet done. A panel of this
    kind names its parts (`SLOTS`) and what of the outcome they are drawn from (`RESTS_ON`),
    and has a method `_made` that returns the HTML of a part.

    Parameters
    ----------
    state : State
        The work.
    """

    SLOTS, RESTS_ON = (), ""

    def __init__(self, state):
        self.later, self.drawn = Later(), {}  # slot to what it was drawn from
        super().__init__(state)

    def _drop(self):
        """Drop what was planned for later."""
        self.later.drop()

    def _rests_on(self):
        """Return what the parts are drawn from, or None while there is nothing to draw."""
        found = self.state.found
        return getattr(found.outcome, self.RESTS_ON) if found.has_recipe else None

    def _shown_until(self, slot):
        """Return what stands in a part that is seen until it is drawn anew."""
        return self.slots.get(slot, WORKING)

    @property
    def late(self):
        """Return the parts that are seen and not drawn from what holds now."""
        what = self._rests_on()
        known = {slot: self.drawn.get(slot) for slot in self.SLOTS}
        return [s for s in self.SLOTS if s in self.seen and known[s] is not what]

    def _follow(self):
        """Plan what is seen and out of date; what is neither leaves the screen."""
        what = self._rests_on()
        if what is None:
            self.later.drop()
            self.slots, self.drawn = {}, {}
            return
        slots = {s: self.slots[s] for s in self.SLOTS if self.drawn.get(s) is what}
        late = self.late
        slots |= {s: self._shown_until(s) for s in late}
        slots |= dict.fromkeys((s for s in self.SLOTS if s not in slots), WORKING)
        if slots != self.slots:
            self.slots = slots
        steps = self._steps_of(late)
        if steps:
            self.later.plan(steps)
        else:
            self.later.drop()

    def _steps_of(self, late):
        """Return the steps that draw parts: one each, in their order."""
        return [lambda slot=slot: self._draw(slot) for slot in late]

    def _draw(self, slot):
        """Draw one part; why it cannot be drawn stands in its place."""
        what = self._rests_on()
        if what is None:
            return
        try:
            made = self._made(slot)
        except FormulateError as error:
            made = self._why_not(error.faults)
        except Exception as error:  # a loop would hide it in a log
            traceback.print_exc()
            made = self._why_not((repr(error),))
        self.slots = {**self.slots, slot: made}
        self.drawn = {**self.drawn, slot: what}
        self._after(slot)

    def _why_not(self, faults):
        """Return in HTML why a part cannot be worked out."""
        return self._macro("unmade", faults)

    def _after(self, slot):
        """Do what comes after a part was drawn."""

    def _on_seen(self, name, is_seen):
        """Draw what is seen."""
        super()._on_seen(name, is_seen)
        self._follow()
