"""The head of the bench: the work as a whole, and where each part of it stands."""

import os

from formulate.chemistry.acid_doses import acid_rule
from formulate.errors import InputError
from formulate.jobs import UNITS
from formulate.mixing.nearness import mixing_rule
from formulate.sheets.bench_sheet import file_stem
from formulate.sheets.tables import printed_cost
from formulate.workbench.edits import with_entry
from formulate.workbench.panel import Panel

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


def _origin(job):
    """Return what to call a water without a name."""
    if not job.water:
        return "nothing known, counts as pure"
    return "as in the report" if "report" in dict(job.water) else "as typed"


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

    def _facts(self):
        """Return what the template shows beside the state."""
        path = self.path or (str(self.state.place) if self.state.place else "")
        return {
            "files": not on_a_page(),
            "path": path,
            "parts": tuple(self._parts()),
            "usual_ph": f"{acid_rule('wanted pH'):g}",
        }

    def _parts(self):
        """Yield key, label, words and whether it is ready, for each part."""
        found = self.state.found
        ready = {
            "water": lambda: found.water.name or _origin(self.state.job),
            "shelf": lambda: f"{len(found.outcome.shelf)} ingredients",
            "wishes": lambda: found.target.name or "own target",
            "recipe": self._recipe,
            "mixing": self._mixing,
            "sheet": lambda: "ready to print",
            "claims": self._papers,
        }
        for number, (part, words) in enumerate(ready.items(), 1):
            missing = len(self.state.blockers(part))
            told = words() if not missing else f"{missing} to settle"
            yield part, f"{number} {part.capitalize()}", told, not missing

    def _recipe(self):
        weighing = self.state.found.outcome.weighing
        cost = printed_cost(weighing.cost)
        count = len(weighing.amounts)
        words = f"{count} weight{'s' * (count != 1)}"
        return f"{words}, cost {cost}" if cost else words

    def _papers(self):
        count = len(self.state.job.papers)
        return (
            f"{count} paper{'s' * (count != 1)} checked" if count else "nothing claimed"
        )

    def _mixing(self):
        """Return whose order it is; what it comes to is worked out in its own part."""
        if dict(self.state.job.mixing).get("order"):
            return "own order"
        count = len(self.state.found.outcome.weighing.amounts)
        most = mixing_rule("most ingredients")
        return "best order" if count <= most else "the trade's order"

    # --- handlers ------------------------------------------------------------------

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
        """Hand the job file to the browser."""
        name = f"{file_stem(self.state.job.title)}.toml"
        self._send_file(name, self.state.text, JOB_FILE)

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
