"""A job under change: what follows from it, undo, what was refused, who watches.

Every change makes a new frozen job; what came before stays in a tuple. Panels watch it and
show it; nothing here knows a widget.
"""

import weakref
from dataclasses import replace
from types import MappingProxyType

from formulate.errors import FormulateError, InputError
from formulate.jobs import DEMO, UNITS, read_job
from formulate.workbench.findings import Findings
from formulate.workbench.history import History
from formulate.workbench.view import View

__all__ = ["Work"]

NO_BATCH = ("mixing", "papers", "compared")  # what of a job changes no weight


LISTED = {"line": "shelf", "paper": "paper"}


def _in_words(place):
    """Return a place at which something is typed as faults name it."""
    words = [str(part).replace("_", " ") for part in place]
    if place[0] in LISTED:
        words[:2] = [f"{LISTED[place[0]]} {place[1] + 1}"]
    return ": ".join(words)


class Work:
    """
    The work at the bench.

    Parameters
    ----------
    job : Job or None
        What to start with; the demo if None.

    Attributes
    ----------
    job : Job
        The job as it stands.
    past : tuple of Job
        What undo goes to, the nearest last.
    future : tuple of Job
        What redo goes to, the nearest last.
    refused : mapping of tuple to (str, str)
        Where something was typed that no job can hold: the text, and what is wrong.
    units : str
        "metric" or "us": how weights are shown; never stored.
    view : View
        Which parts are open; never stored.
    said : str
        What happened last, in words.

    Examples
    --------
    >>> from formulate.workbench.edits import with_entry
    >>> state = Work()
    >>> state.enter(("volume",), "100 L", with_entry, "volume")
    >>> state.job.volume, state.undo() or state.job.volume
    ('100 L', '200 L')
    """

    def __init__(self, job=None):
        self._history = History(read_job(DEMO) if job is None else job)
        self.refused = MappingProxyType({})
        self.units = self.job.units if self.job.units in UNITS else "metric"
        self.view, self.said = View(), ""
        self._found, self._besides = None, (None,)
        self._watchers = weakref.WeakSet()

    job = property(lambda self: self._history.job)
    past = property(lambda self: self._history.past)
    future = property(lambda self: self._history.future)

    # --- what follows --------------------------------------------------------------

    @property
    def found(self):
        """Return what follows from the job as it stands."""
        if self._found is None or self._found.job is not self.job:
            self._found = self._findings(self._found)
        elif self._found.units != self.units:
            self._found = self._found.seen_in(self.units)
        return self._found

    def _findings(self, before):
        """Return what follows; from what went before, as far as that holds still."""
        if before is None:
            return Findings(self.job, self.units)
        apart = {key: getattr(before.job, key) for key in NO_BATCH}
        same = replace(self.job, **apart) == before.job and before.units == self.units
        if same and self.job.folder == before.job.folder:
            found = before.of_same_batch(self.job)
        else:
            found = Findings(self.job, self.units)
        found.keep_claims(before)
        return found

    @property
    def outcome(self):
        """Return the outcome of the job, for whoever takes the objects out."""
        faults = [
            text for texts in self.found.checked.faults.values() for text in texts
        ]
        if faults:
            raise InputError(*faults)
        return self.found.outcome

    def blockers(self, part):
        """
        Return what keeps a part from being worked out.

        Parameters
        ----------
        part : str
            One of `PARTS` of the findings, such as "water" or "chemistry".

        Returns
        -------
        tuple of str
            One text each; what was typed and refused comes first.

        Examples
        --------
        >>> state = Work()
        >>> from formulate.jobs import Job
        >>> state.change(Job(volume="10 L"))
        >>> state.blockers("shelf")
        ('shelf: nothing on it; add an ingredient',)
        """
        typed = [f"{where}: {why}" for where, why in self._refused_in(part)]
        return (*typed, *self.found.blockers(part))

    def notices(self, part):
        """
        Return what to know about a part.

        Parameters
        ----------
        part : str
            As in `blockers`.

        Returns
        -------
        tuple of Notice
            The gravest first.

        Examples
        --------
        >>> Work().notices("water")[0].severity
        'caution'
        """
        return self.found.notices(part)

    def _refused_in(self, part):
        """Yield where in a part something was refused, in words, and why."""
        kinds = {"line": "shelf", "water": "water", "mixing": "mixing"}
        kinds["paper"] = "claims"
        for place, (_, why) in self.refused.items():
            if kinds.get(place[0], "wishes") == part:
                yield _in_words(place), why

    # --- changes -------------------------------------------------------------------

    def change(self, job, said=""):
        """
        Go on with another job; the present one can be had back.

        Parameters
        ----------
        job : Job
            The next job.
        said : str
            What happened, in words.

        Examples
        --------
        >>> state = Work()
        >>> from formulate.jobs import Job
        >>> state.change(Job(volume="10 L"))
        >>> len(state.past)
        1
        """
        self._history = self._history.then(job)
        self._tell(said)

    def enter(self, place, text, change, *where):
        """
        Take what was typed at a place.

        Parameters
        ----------
        place : tuple
            Where it was typed, as the panel names it.
        text : str or bool
            What was typed.
        change : callable
            Takes the job, `where` and the text; returns the next job or raises.
        *where : object
            What the change is about.

        Examples
        --------
        >>> from formulate.workbench.edits import with_entry
        >>> state = Work()
        >>> state.enter(("strength_percent",), "half", with_entry, "strength_percent")
        >>> state.said
        "not taken: 'half' is no number; write it like 2.5"
        """
        self._forget(place)
        try:
            job = change(self.job, *where, text)
        except FormulateError as error:
            why = "; ".join(error.faults)
            self.refused = MappingProxyType({**self.refused, place: (str(text), why)})
            self._tell(f"not taken: {why}")
            return
        self.change(job)

    def alter(self, change, *where, said=""):
        """
        Change what a part consists of: a line more or less, another water or target.

        Parameters
        ----------
        change : callable
            Takes the job and `where`; returns the next job or raises.
        *where : object
            What the change is about.
        said : str
            What happened, in words.

        Raises
        ------
        FormulateError
            If the change cannot be made; the job stays.

        Examples
        --------
        >>> from formulate.workbench.shelf_edits import without_line
        >>> state = Work()
        >>> state.alter(without_line, 0)
        >>> len(state.job.shelf)
        11
        """
        job = change(self.job, *where)
        self.refused = MappingProxyType({})
        self.change(job, said)

    def undo(self):
        """
        Go back to the job before; without one, nothing happens.

        Examples
        --------
        >>> state = Work()
        >>> from formulate.jobs import Job
        >>> state.change(Job(volume="10 L"))
        >>> state.undo()
        >>> state.job.volume
        '200 L'
        """
        self._go(self._history.back(), "undone")

    def redo(self):
        """
        Go on to the job that was undone; without one, nothing happens.

        Examples
        --------
        >>> state = Work()
        >>> state.redo()
        >>> state.said
        'nothing to be done again'
        """
        self._go(self._history.forward(), "done again")

    def _go(self, history, said):
        """Go to another place of the history; what was refused is forgotten."""
        moved, self._history = history is not self._history, history
        self.refused = MappingProxyType({})
        self._tell(said if moved else f"nothing to be {said}")

    def look_in(self, units):
        """
        Show weights in other units; the job stays as it is.

        Parameters
        ----------
        units : str
            "metric" or "us".

        Raises
        ------
        InputError
            If it is neither.

        Examples
        --------
        >>> state = Work()
        >>> state.look_in("us")
        >>> state.found.outcome.job.units, state.job.units
        ('us', 'metric')
        """
        if units not in UNITS:
            raise InputError(f"units: write one of {', '.join(UNITS)}")
        self.units = units
        self._tell(f"weights in {'ounces' if units == 'us' else 'grams'}")

    def see(self, view):
        """
        Look at other parts of the bench; the job stays as it is.

        Parameters
        ----------
        view : View
            What is to be open.

        Examples
        --------
        >>> state = Work()
        >>> state.see(state.view.through("checker"))
        >>> sorted(state.view.opened), len(state.past)
        (['claims', 'shelf'], 0)
        """
        if view != self.view:
            self.view = view
            self._tell(self.said)

    # --- a second job --------------------------------------------------------------

    @property
    def beside(self):
        """Return the job that stands beside this one, or None."""
        return self._besides[-1]

    @property
    def had_beside(self):
        """Return whether another stood there before."""
        return len(self._besides) > 1

    def put_beside(self, job, said=""):
        """
        Put a job beside this one, to be compared with it; nothing of this one changes.

        Parameters
        ----------
        job : Job or None
            The second job; None to put it away.
        said : str
            What happened, in words.

        Examples
        --------
        >>> state = Work()
        >>> state.put_beside(state.job)
        >>> state.beside is state.job, len(state.past)
        (True, 0)
        """
        if job != self.beside:
            self._besides = (*self._besides, job)
        self._tell(said)

    def bring_back_beside(self):
        """
        Have the job beside this one again that stood there before.

        Examples
        --------
        >>> state = Work()
        >>> state.put_beside(state.job)
        >>> state.bring_back_beside()
        >>> state.beside is None
        True
        """
        if self.had_beside:
            self._besides = self._besides[:-1]
        self._tell("what stood beside this job before stands there again")

    # --- watching ------------------------------------------------------------------

    def watch(self, panel):
        """
        Have a panel told of every change, for as long as it is used and open.

        Parameters
        ----------
        panel : object
            Something with a method `refresh`; once it is closed, it is told no more.

        Examples
        --------
        >>> class Light:
        ...     def refresh(self):
        ...         print("told")
        >>> state, light = Work(), Light()
        >>> state.watch(light)
        >>> state.undo()
        told
        """
        self._watchers.add(panel)

    def glance(self):
        """
        Have the panels that tell of the others look again: something was worked out.

        Examples
        --------
        >>> Work().glance() is None
        True
        """
        for panel in tuple(self._watchers):
            if not getattr(panel, "is_closed", False):
                getattr(panel, "glance", lambda: None)()

    def _forget(self, place):
        left = {where: told for where, told in self.refused.items() if where != place}
        self.refused = MappingProxyType(left)

    def _tell(self, said):
        self.said = said
        for panel in tuple(self._watchers):
            if getattr(panel, "is_closed", False):
                self._watchers.discard(panel)
            else:
                panel.refresh()
