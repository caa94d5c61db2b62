"""The claims: papers pasted or taken from files, each with its answer; products compared.

Papers are checked once this part is seen, one at a time, and each is drawn once it is seen
itself; one that has not changed is not checked again. Nothing of it needs a recipe.
"""

import traceback
from itertools import count
from weakref import WeakKeyDictionary

from formulate.claims.paper_kinds import KIND_WORDS
from formulate.errors import InputError, shortened
from formulate.papers import PAPER_KINDS, Paper
from formulate.sheets import claims_page
from formulate.sheets.bench_sheet import file_stem
from formulate.sheets.claims_tables import verdict_counts
from formulate.sheets.part_sources import claims_sources
from formulate.sheets.parts import finished
from formulate.tables import read_table
from formulate.workbench.drawn_panel import WORKING, DrawnPanel
from formulate.workbench.paper_edits import (
    EXAMPLES,
    claims_text,
    label_on_shelf,
    typed_claims,
    with_comparison,
    with_paper,
    with_paper_entry,
    without_paper,
)

__all__ = ["ClaimsPanel"]

COMPARED, WHOLE = "compared", "whole"
CANNOT = claims_page.CANNOT


def _place(text):
    """Return a place among the papers, counted from 0, as a button or field names it."""
    if not str(text).isdecimal():
        raise InputError(f"{shortened(text)}: there is no such paper")
    return int(text)


class ClaimsPanel(DrawnPanel):
    """
    The papers whose claims are checked.

    Parameters
    ----------
    state : State
        The work.
    """

    PART, HEADING = "claims", "claims"

    def __init__(self, state):
        self.made = WeakKeyDictionary()  # a paper to its parts
        self.places, self.counted = {}, count()  # a paper to its place on the page
        self.dosed = {"product": "", "dose": "", "claims": ""}
        super().__init__(state)

    @property
    def _claims(self):
        """Return the claims; what has not changed was taken over from those before."""
        return self.state.found.claims

    # --- what follows ----------------------------------------------------------------

    def _slots(self):
        """Return what is drawn apart to what it shows; None for what is not known yet."""
        claims = self._claims
        papers = {f"paper {n}": one for n, one in enumerate(claims.answers)}
        return papers | ({COMPARED: claims} if claims.compared else {})

    def _follow(self):
        """Plan what is seen and out of date; what is gone leaves the screen."""
        there = self._slots()
        self.slots = {k: v for k, v in self.slots.items() if k in there}
        self.drawn = {k: v for k, v in self.drawn.items() if k in self.slots}
        self._forget(*(slot for slot in self.kept if slot not in there))
        for slot, what in there.items():
            if what in self.made and self.drawn.get(slot) is not what:
                self._put(slot, self.made[what], what)
        late = [s for s, w in there.items() if w is None or self.drawn.get(s) is not w]
        stale = [s for s in late if s not in self.seen or s not in self.slots]
        self.slots = self.slots | dict.fromkeys(stale, WORKING)
        steps = self._checking() if self.seen else []
        for slot in late if not steps else ():
            steps += self._drawing(slot) if slot in self.seen else []
        if steps:
            self.later.plan(steps)
        else:
            self.later.drop()

    def _checking(self):
        """Return the steps that check each paper that is not checked yet, and go on then."""
        claims = self._claims
        places = [place for place in claims.turns if claims.answers[place] is None]
        steps = [lambda place=place: self._check(place) for place in places]
        return [*steps, self._go_on] if steps else []

    def _check(self, place):
        """Check one paper, and show its answer."""
        try:
            self._claims.answer(place)
        except Exception as error:  # a loop would hide it in a log
            traceback.print_exc()
            self.fault = f"paper {place + 1} cannot be checked ({error!r})"
        self._show()
        self.state.glance()

    def _go_on(self):
        """Draw what is seen, now that all is checked."""
        if None not in self._claims.answers:
            self._follow()

    def _drawing(self, slot):
        """Return the steps that draw a slot, the answer first; what takes long is one."""
        claims = self._claims
        if slot == COMPARED:
            return [
                lambda: claims.comparison_or_why,
                lambda: self._put_comparison(slot, claims),
            ]
        drawing = _Drawing(lambda: claims.answer(_place(slot.split()[1])))
        return [
            lambda step=step: self._draw(slot, drawing, step) for step in drawing.steps
        ]

    def _put_comparison(self, slot, claims):
        """Draw products held against each other."""
        parts = claims_page.comparison_parts(claims)
        self._put(slot, parts, claims)

    def _draw(self, slot, drawing, step):
        """Take one step of drawing a paper, unless it was drawn before."""
        paper = drawing.paper()
        if paper not in self.made:
            step()
            if drawing.is_done:
                self.made[paper] = finished(drawing.parts)
            elif drawing.parts and self.slots.get(slot) == WORKING:
                self._put(slot, drawing.parts)
        if paper in self.made and self.drawn.get(slot) is not paper:
            self._put(slot, self.made[paper], paper)

    def _put(self, slot, parts, what=None):
        """Show parts in a slot, and note what it shows."""
        shown = self._shown(slot, parts, self.state.found.checked.outcome)
        self.slots = {**self.slots, slot: shown}
        self.drawn = {**self.drawn, slot: what}

    # --- what is shown ---------------------------------------------------------------

    def _source_keys(self):
        """Return the keys of the sources that the part rests on."""
        return claims_sources(self.state.found.claims)

    def _facts(self):
        """Return what the template shows beside the state."""
        claims = self._claims
        papers = tuple(zip(self._papers(), claims.answers, strict=False))
        told = [_verdict(checked) for _, checked in papers]
        return {
            "papers": [(n, *papers[n]) for n in reversed(range(len(papers)))],
            "counts": verdict_counts(filter(None, told)) if all(told) else "working …",
            "counted": lambda one: verdict_counts(f.verdict for f in one.findings),
            "key": self._key,
            "examples": [(key, KIND_WORDS[key]) for key in EXAMPLES],
            "kind_words": KIND_WORDS,
            "kinds": [(kind, KIND_WORDS[kind]) for kind in PAPER_KINDS],
            "targets": [
                (row["key"], f"{row['crop']}: {row['name']}")
                for row in read_table("targets")
            ],
            "products": self._products(),
            "claims_text": claims_text,
        }

    def _key(self, name):
        """Return the place on the page of the paper of that name."""
        if name not in self.places:
            self.places[name] = next(self.counted)
        return self.places[name]

    def _papers(self):
        """Return the papers, whatever is wrong with them; none if they are no papers."""
        papers = self.state.job.papers
        is_right = isinstance(papers, tuple) and all(
            isinstance(one, Paper) for one in papers
        )
        return papers if is_right else ()

    def _products(self):
        """Return the names of all that can be dosed or compared."""
        claims = self._claims
        made = [one.product for one in claims.answers if one and one.product]
        names = [one.name for one in (*claims.shelf, *made)]
        return tuple(dict.fromkeys([*names, *self.state.job.compared]))

    # --- handlers ----------------------------------------------------------------------

    def _change_paper(self, where, text):
        """Take one entry of a paper as typed."""
        place, _, key = where.partition(" ")
        at = ("paper", _place(place), key)
        if key == "name":
            self._rename(_place(place), str(text).strip())
        self.state.enter(at, text, with_paper_entry, _place(place), key)

    def _rename(self, place, name):
        """Let a paper keep its place on the page under another name."""
        names = [paper.name for paper in self.state.job.papers]
        if place < len(names) and name not in names:
            self.places[name] = self.places.pop(names[place], next(self.counted))

    def _change_pasted(self, text):
        """Check what was pasted."""
        if text.strip():
            self._add(Paper(text))

    def _press_check(self, _value=""):
        """Show what was found; leaving the text has taken it already."""
        self.refresh()

    def _press_example(self, _value, key=""):
        """Check an invented paper."""
        if key not in EXAMPLES:
            raise InputError(f"{shortened(key)}: there is no such example")
        self._add(Paper(EXAMPLES[key], f"invented {key}"))

    def _add(self, paper):
        """Put one paper more on top of the others."""
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
        place = _place(place)
        claims = self._claims
        made = claims.answer(place) if place < len(claims.papers) else None
        if made is None or made.product is None:
            raise InputError("this paper makes nothing that can stand on a shelf")
        label = made.results[0].derivation
        by_sources = label is not None and label.is_possible
        said = f"{made.name} is on the shelf"
        said += ", counted by its named sources" * by_sources
        change = _shelving(by_sources)
        self.state.alter(change, place, said=said)

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
        name = f"{file_stem(outcome.job.title)}-{self.HEADING}.html"
        text = claims_page.claims_markup(outcome, whole=True)
        self._send_file(name, text, "text/html")

    def _on_upload(self, _name, text, file_name):
        """Check a file."""
        self._add(Paper(text, file_name.rsplit(".", 1)[0]))


class _Drawing:
    """A paper that is drawn in steps, the answer first."""

    def __init__(self, paper):
        self.paper, self.parts, self.figures = paper, (), ()
        self.is_done = False
        self.steps = (
            self._explain,
            self._answer,
            self._draw_figures,
            self._count,
            self._save_figures,
            self._finish,
        )

    def _explain(self):
        _ = self.paper().slips  # kept by what was checked

    def _answer(self):
        self.parts = claims_page.answer_parts(self.paper())

    def _draw_figures(self):
        self.figures = claims_page.figures_of(self.paper())

    def _count(self):
        numbers = claims_page.number_parts(self.paper(), self.figures)
        self.parts = (*self.parts, *numbers)

    def _save_figures(self):
        _ = [figure.svg for figure in self.figures if figure]  # kept by the figure

    def _finish(self):
        self.is_done = True


def _verdict(checked):
    """Return the verdict on a paper, or that it cannot be read; None if not checked."""
    if checked is None:
        return None
    return CANNOT if checked.faults else checked.verdict


def _shelving(by_sources):
    """Return the change that puts a label on the shelf."""
    return lambda job, place: label_on_shelf(job, place, by_sources=by_sources)
