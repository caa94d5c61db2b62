"""A panel with parts drawn apart: each only once it is seen, in a step of its own, later.

A number in such a part can be pressed where its working is known; that part alone is then
shown anew, from what was kept of it, with the working beneath.
"""

import traceback

from formulate.errors import FormulateError
from formulate.sheets.parts import finished, followed, parts_markup
from formulate.workbench.explained import sources_in
from formulate.workbench.later import Later
from formulate.workbench.panel import Panel

__all__ = ["WORKING", "DrawnPanel"]

WORKING = "<p>working …</p>"


class DrawnPanel(Panel):
    """
    A panel with parts drawn apart.

    A part is worked out when it is opened and seen, and again when what it rests on has
    changed while it is seen; a newer change drops what is not yet done. A panel of this
    kind names its parts (`SLOTS`) and what of the outcome they are drawn from (`RESTS_ON`),
    and has a method `_made` that returns the HTML of a part, or the parts of a page that
    are shown there, under a `HEADING`.

    Parameters
    ----------
    state : State
        The work.
    """

    SLOTS, RESTS_ON, HEADING = (), "", ""

    def __init__(self, state):
        self.later, self.drawn = Later(), {}  # slot to what it was drawn from
        self.kept = {}  # slot to the parts of a page that stand there, and their outcome
        self.followed = {}  # number that can be pressed to its slot and what is behind it
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
            self._forget(*self.kept)
            return
        self._forget(*(s for s in self.kept if self.drawn.get(s) is not what))
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
            made = self._shown(slot, self._made(slot), self.state.found.outcome)
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

    # --- numbers that can be pressed ---------------------------------------------------

    def _shown(self, slot, made, outcome):
        """Return what was made for a slot as HTML; the parts of a page are kept."""
        self._forget(slot)
        if isinstance(made, str):
            return made
        self.kept[slot] = finished(made), outcome
        behind = followed(self.kept[slot][0], slot)
        self.followed |= {key: (slot, one) for key, one in behind.items()}
        return self._markup(slot)

    def _markup(self, slot):
        """Return what is kept of a slot as HTML, with the working that was asked for."""
        parts, outcome = self.kept[slot]
        where, behind = self.followed.get(self.clicked, ("", None))
        given = {"heading": self.HEADING, "slot": slot, "pressed": self.clicked}
        if where == slot:
            working = behind.worked()
            keys = [step.source_key for step in working.steps]
            given |= {"working": working, "sources": sources_in("", keys)}
        return parts_markup(parts, outcome, **given)

    def _forget(self, *slots):
        """Forget what is kept of slots."""
        for slot in slots:
            if self.kept.pop(slot, None):
                left = self.followed.items()
                self.followed = {key: one for key, one in left if one[0] != slot}

    def _press_working(self, key, _value=""):
        """Show the working of a number, or hide it again, in its part alone."""
        before, apart = self.clicked, self.followed
        self.clicked = "" if key == before else key
        try:
            shown = {apart[k][0]: 0 for k in (before, key) if k in apart}
            shown = {slot: self._markup(slot) for slot in shown}
        except FormulateError:
            self.clicked = ""
            raise
        if shown:
            self.slots = {**self.slots, **shown}
        if key not in apart or (before and before not in apart):
            self.refresh()  # one of them stands among what is not drawn apart
