"""The claims: papers pasted or taken from files, each with its answer; products compared.

A paper is checked once it is seen; nothing of it needs a recipe.
"""

from formulate.claims.paper_kinds import KIND_WORDS
from formulate.errors import InputError, shortened
from formulate.papers import PAPER_KINDS, PAPER_RULES, Paper
from formulate.sheets import claims_page
from formulate.sheets.bench_sheet import file_stem
from formulate.sheets.parts import parts_markup
from formulate.tables import read_table
from formulate.workbench.later import Later
from formulate.workbench.panel import Panel
from formulate.workbench.paper_edits import (
    claims_text,
    label_on_shelf,
    typed_claims,
    with_comparison,
    with_paper,
    with_paper_entry,
    without_paper,
)

__all__ = ["ClaimsPanel"]

HEADING = "claims"
WORKING = "<p>working …</p>"
COMPARED = "compared"


def _place(text):
    """Return a place among the papers, counted from 0, as a button or field names it."""
    if not str(text).isdecimal():
        raise InputError(f"{shortened(text)}: there is no such paper")
    return int(text)


class ClaimsPanel(Panel):
    """
    The papers whose claims are checked.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, LABEL = "claims", "7 Claims"

    def __init__(self, state):
        self.later, self.drawn = Later(), {}
        self.dosed = {"product": "", "dose": "", "claims": ""}
        super().__init__(state)

    def _drop(self):
        """Drop what was planned for later."""
        self.later.drop()

    @property
    def _claims(self):
        return self.state.found.claims

    @property
    def _is_checked(self):
        """Return whether the papers of this job are checked already."""
        return "checked" in vars(self._claims)

    # --- what follows ----------------------------------------------------------------

    def _slots(self):
        """Return what is drawn apart: each paper, and products compared."""
        papers = [f"paper {place}" for place in range(len(self._claims.papers))]
        return [*papers, *([COMPARED] if self._claims.compared else [])]

    def _follow(self):
        """Plan what is seen and out of date; what is gone leaves the screen."""
        there, claims = self._slots(), self._claims
        self.slots = {k: v for k, v in self.slots.items() if k in there}
        late = [s for s in there if self.drawn.get(s) is not claims]
        stale = [s for s in late if s not in self.seen or s not in self.slots]
        self.slots = self.slots | dict.fromkeys(stale, WORKING)
        steps = [lambda s=slot: self._draw(s) for slot in late if slot in self.seen]
        if steps and not self._is_checked:
            steps = [self._check, *steps]
        if steps:
            self.later.plan(steps)
        else:
            self.later.drop()

    def _check(self):
        """Check all papers, and show their answers."""
        _ = self._claims.checked
        self._show()

    def _draw(self, slot):
        """Draw one paper, or what was compared."""
        if slot not in self._slots():
            return
        claims, outcome = self._claims, self.state.found.checked.outcome
        if slot == COMPARED:
            parts = claims_page.comparison_parts(claims)
        else:
            paper = claims.checked[_place(slot.split()[1])]
            parts = claims_page.paper_parts(paper)
        made = parts_markup(parts, outcome, heading=HEADING)
        self.slots = {**self.slots, slot: made}
        self.drawn = {**self.drawn, slot: claims}

    def _on_seen(self, name, is_seen):
        """Check what is seen."""
        super()._on_seen(name, is_seen)
        self._follow()

    # --- what is shown ---------------------------------------------------------------

    def _facts(self):
        """Return what the template shows beside the state."""
        papers = self.state.job.papers if not self.state.blockers("claims") else ()
        checked = self._claims.checked if self._is_checked else (None,) * len(papers)
        return {
            "papers": tuple(zip(papers, checked, strict=True)) if papers else (),
            "kinds": [(kind, KIND_WORDS[kind]) for kind in PAPER_KINDS],
            "rules": PAPER_RULES,
            "targets": [
                (row["key"], f"{row['crop']}: {row['name']}")
                for row in read_table("targets")
            ],
            "products": self._products(),
            "claims_text": claims_text,
        }

    def _products(self):
        """Return the names of all that can be dosed or compared."""
        names = [one.name for one in self._claims.shelf]
        if self._is_checked:
            names = list(self._claims.products)
        return tuple(dict.fromkeys([*names, *self.state.job.compared]))

    # --- handlers ----------------------------------------------------------------------

    def _change_paper(self, where, text):
        """Take one entry of a paper as typed."""
        place, _, key = where.partition(" ")
        at = ("paper", _place(place), key)
        self.state.enter(at, text, with_paper_entry, _place(place), key)

    def _change_pasted(self, text):
        """Check what was pasted."""
        if text.strip():
            self._add(Paper(text))

    def _press_check(self, _value=""):
        """Show what was found; leaving the text has taken it already."""
        self.refresh()

    def _add(self, paper):
        """Put one paper more under the others."""
        job = with_paper(self.state.job, paper)
        name = job.papers[-1].name
        self.state.alter(with_paper, paper, said=f"{name} is checked below")

    def _press_out(self, _key, place):
        """Take a paper away."""
        name = dict(enumerate(p.name for p in self.state.job.papers)).get(_place(place))
        said = f"{name} is taken away; undo brings it back"
        self.state.alter(without_paper, _place(place), said=said)

    def _press_shelve(self, _key, place):
        """Put what a label makes on the shelf."""
        made = dict(enumerate(self._claims.checked)).get(_place(place))
        if made is None or made.product is None:
            raise InputError("this paper makes nothing that can stand on a shelf")
        label = made.results[0].derivation
        by_sources = label is not None and label.is_possible
        said = f"{made.name} is on the shelf"
        said += ", counted by its named sources" * by_sources
        change = _shelving(by_sources)
        self.state.alter(change, _place(place), said=said)

    def _change_dosed(self, key, text):
        """Note what is dosed, how much, and what is claimed of it."""
        if key not in self.dosed:
            raise InputError(f"{shortened(key)} is nothing that a dose has")
        self.dosed[key] = text.strip()
        self.refresh()

    def _press_dose(self, _value=""):
        """Check the dose that was typed."""
        lacking = [key for key, text in self.dosed.items() if not text]
        if lacking:
            raise InputError(f"a dose needs its {', '.join(lacking)} as well")
        told = {**self.dosed, "claims": typed_claims(self.dosed["claims"])}
        name = f"{told['product']}, {told['dose']}"
        self.dosed = dict.fromkeys(self.dosed, "")
        self._add(Paper(name=name, kind="dose", **told))

    def _press_compare(self, _key, name):
        """Compare a product, or compare it no more."""
        self.state.alter(with_comparison, name)

    def _press_keep(self, _value=""):
        """Hand what was found to the browser as a page."""
        if not self.state.job.papers and not self.state.job.compared:
            raise InputError("there is nothing to keep yet; paste a paper first")
        outcome = self.state.found.checked.outcome
        name = f"{file_stem(outcome.job.title)}-{HEADING}.html"
        text = claims_page.claims_markup(outcome, whole=True)
        self._send_file(name, text, "text/html")

    def _on_upload(self, _name, text, file_name):
        """Check a file."""
        self._add(Paper(text, file_name.rsplit(".", 1)[0]))


def _shelving(by_sources):
    """Return the change that puts a label on the shelf."""
    return lambda job, place: label_on_shelf(job, place, by_sources=by_sources)
