"""The head of the bench: the work as a whole, and where each part of it stands."""

import os

from formulate.chemistry.acid_doses import acid_rule
from formulate.errors import InputError
from formulate.jobs import UNITS
from formulate.mixing.nearness import mixing_rule
from formulate.sheets.bench_sheet import file_stem
from formulate.sheets.claims_tables import verdict_counts
from formulate.sheets.tables import printed_cost
from formulate.workbench.edits import with_entry
from formulate.workbench.panel import Panel
from formulate.working import printed

__all__ = ["HeadPanel", "on_a_page"]

JOB_FILE = "application/toml"
READY, OPEN, UNKNOWN = "✓ ", "▸ ", ""  # marks of a part
WRONG = ("wrong", "impossible", "cannot be read")


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
        """Yield key, label, words and a mark: ready, to settle, wrong or not known yet."""
        found = self.state.found
        ready = {
            "water": lambda: found.water.name or _origin(self.state.job),
            "shelf": lambda: f"{len(found.outcome.shelf)} ingredients",
            "wishes": lambda: found.target.name or "own target",
            "recipe": self._recipe,
            "chemistry": self._chemistry,
            "mixing": self._mixing,
            "exchange": self._exchange,
            "claims": self._papers,
            "sheet": lambda: "ready to print",
        }
        for number, (part, words) in enumerate(ready.items(), 1):
            missing = len(self.state.blockers(part))
            told = (f"{missing} to settle", OPEN) if missing else words()
            told, mark = (told, READY) if isinstance(told, str) else told
            yield part, f"{number} {part.capitalize()}", told, mark

    def _recipe(self):
        weighing = self.state.found.outcome.weighing
        cost = printed_cost(weighing.cost)
        count = len(weighing.amounts)
        words = f"{count} weight{'s' * (count != 1)}"
        return f"{words}, cost {cost}" if cost else words

    def _chemistry(self):
        found = self.state.found.outcome.expected
        return f"pH {found.ph.words}, EC {printed(found.conductivity.ec, 3)} mS/cm"

    def _exchange(self):
        """Return how sure the batch is, once that is worked out in its own part."""
        doubt = vars(self.state.found.outcome.trade_offs).get("doubt")
        if doubt is None:
            return "not worked out yet", UNKNOWN
        if doubt.probability is not None:
            return f"limits kept in {100 * doubt.probability:.0f} of 100"
        ec = doubt.intervals["EC"]
        return f"EC {ec.low:.2f} to {ec.high:.2f} mS/cm"

    def _papers(self):
        """Return how many papers are wrong, as far as they are checked."""
        claims = self.state.found.claims
        told = [
            "cannot be read" if a.faults else a.verdict for a in claims.answers if a
        ]
        count, unknown = len(claims.papers), len(claims.papers) - len(told)
        if not count:
            return "nothing claimed"
        words = [verdict_counts(told)] if told else []
        words += [f"{unknown} not checked yet"] if unknown else []
        is_wrong = any(verdict in WRONG for verdict in told)
        is_right = all(verdict == "right" for verdict in told) and not unknown
        papers = f"{count} paper{'s' * (count != 1)}"
        return (
            f"{papers}: {', '.join(words)}",
            OPEN if is_wrong else READY if is_right else UNKNOWN,
        )

    def _mixing(self):
        """Return whose order it is; what it comes to is worked out in its own part."""
        if dict(self.state.job.mixing).get("order"):
            return "own order"
        count = len(self.state.found.outcome.weighing.amounts)
        most = mixing_rule("most ingredients")
        return "best order" if count <= most else "the trade's order"

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
