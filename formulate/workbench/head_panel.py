"""The head of the bench: the work as a whole, and where each part of it stands."""

import os

from formulate.chemistry.acid_doses import acid_rule
from formulate.errors import InputError
from formulate.jobs import UNITS
from formulate.sheets.bench_sheet import file_stem
from formulate.workbench.edits import with_entry
from formulate.workbench.findings import PARTS
from formulate.workbench.panel import Panel
from formulate.workbench.standing import part_label, standing
from formulate.workbench.view import ALL, doors, tour

__all__ = ["HeadPanel", "on_a_page"]

JOB_FILE = "application/toml"


def on_a_page():
    """
    Return whether this kernel serves a visitor of a page, not its own user.

    Returns
    -------
    bool
        True on a page: then no file of the server is offered.

    Examples
    --------
    >>> on_a_page()
    False
    """
    return bool(os.environ.get("FORMULATE_PAGE"))


class HeadPanel(Panel):
    """
    The head of the bench.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, LABEL = "head", "The work"

    def __init__(self, state):
        self.path = ""
        super().__init__(state)

    @property
    def is_open(self):
        """Return True: the head stays."""
        return True

    def _framed(self, body):
        """Return the head, which has no frame."""
        return body

    def _facts(self):
        """Return what the template shows beside the state."""
        path = self.path or (str(self.state.place) if self.state.place else "")
        return {
            "files": not on_a_page(),
            "path": path,
            "parts": tuple(self._parts()),
            "usual_ph": f"{acid_rule('wanted pH'):g}",
            "doors": tuple(doors().items()),
            "all": ALL,
            "tour": tour(),
            "view": self.state.view,
        }

    def _parts(self):
        """Yield key, label, words and a mark: ready, to settle, wrong or not known yet."""
        for part in PARTS:
            yield part, part_label(part), *standing(self.state, part)

    def glance(self):
        """
        Tell anew where each part stands: something of it was worked out.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> panel = HeadPanel(State())
        >>> _ = panel.state.outcome.trade_offs.doubt
        >>> panel.glance()
        >>> "limits kept in 100 of 100" in panel.html
        True
        """
        self._show()

    # --- handlers ------------------------------------------------------------------

    def _hello_door(self, door):
        """Open what this browser opened last, if that door is still there."""
        if door in (*doors(), ALL):
            self.state.see(self.state.view.through(door))

    def _press_door(self, door):
        """Open the parts that somebody needs who comes for this."""
        self.state.see(self.state.view.through(door))
        self.send({"kind": "remember", "name": "door", "value": door})
        first = "water" if door == ALL else doors()[door].first
        self.send({"kind": "go", "part": first})

    _change_door = _press_door

    def _press_unfold(self, part):
        """Open a part that is folded."""
        self.state.see(self.state.view.with_part(part))

    def _press_tour(self, step):
        """Go to a step of the tour, or leave it."""
        number = int(step) if str(step).isdigit() else 0
        self.state.see(self.state.view.at_step(number))
        if self.state.view.step:
            self.send({"kind": "go", "part": self.state.view.part, "stay": True})

    def _hello_work(self, key):
        """Find the work that this browser left here."""
        self.state.keep_as(key)

    def _follow(self):
        """Tell the browser of a new key to its work."""
        keys = self.state.take_new_key()
        if keys is not None:
            self.send({"kind": "key", "old": keys[0], "key": keys[1]})

    def _change_entry(self, key, text):
        """Take the volume, the strength, the wanted pH or the wanted EC as typed."""
        self.state.enter((key,), text, with_entry, key)

    def _press_undo(self, _value=""):
        """Go back to the job before."""
        self.state.undo()

    def _press_redo(self, _value=""):
        """Go on to the job that was undone."""
        self.state.redo()

    def _press_demo(self, _value=""):
        """Begin with the demo."""
        self.state.demo()

    def _press_fresh(self, _value=""):
        """Begin with nothing."""
        self.state.fresh()

    def _press_keep(self, _value=""):
        """Hand the job to the browser, as one file that needs no other."""
        name = f"{file_stem(self.state.job.title)}.toml"
        self._send_file(name, self.state.shared, JOB_FILE)

    def _change_units(self, units):
        """Show weights in other units."""
        self.state.look_in(units if units in UNITS else "")

    def _change_path(self, path):
        """Note the file that is to be opened or saved to."""
        self.path = path.strip()

    def _press_open(self, _value=""):
        """Open the named file of this machine."""
        self.state.open(self._own_file())

    def _press_save(self, _value=""):
        """Save to the named file of this machine."""
        self.state.save_as(self._own_file())

    def _own_file(self):
        """Return the name of a file, if files of this machine are offered at all."""
        if on_a_page():
            raise InputError("a page reaches no files of the machine that serves it")
        name = self.path or (self.state.place and str(self.state.place))
        if not name:
            raise InputError("name a file first, such as my-batch.toml")
        return name

    def _on_upload(self, name, text, file_name):
        """Open an uploaded job."""
        self.state.take(text, file_name)
