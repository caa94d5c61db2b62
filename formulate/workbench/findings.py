"""What follows from a job as far as it goes: results where there are some, words where not.

A job that is being typed is at fault most of the time. Here each part of the bench finds
what it can show, what is missing before it can be worked out, and what to know about it.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

from formulate.errors import FormulateError, InputError
from formulate.job_mixing import ASKED
from formulate.jobs import Job
from formulate.notices import Notice, gravest_first
from formulate.outcome import check_job

__all__ = ["PARTS", "Findings", "on_screen"]

PARTS = MappingProxyType(
    {
        "water": ("water",),
        "shelf": ("shelf",),
        "wishes": ("volume", "target", "units"),
        "recipe": (),
        "chemistry": (),
        "mixing": ("mixing",),
        "exchange": (),
        "claims": ("claims",),
        "sheet": (),
        "beside": (),
    }
)

APART = ("mixing", "claims")  # what may be at fault while the weights are known
CLAIMS_ON = (  # what of a job its claims rest on
    "papers",
    "compared",
    "shelf",
    "shelf_file",
    "folder",
    "water",
    "target",
    "strength_percent",
)


@dataclass(frozen=True, eq=False)
class Findings:
    """
    What follows from a job, worked out when it is first asked for.

    Attributes
    ----------
    job : Job
        The job.
    units : str
        "metric" or "us": how weights are shown, whatever the job says.
    """

    job: Job
    units: str = "metric"

    @cached_property
    def checked(self):
        """Return the job with the faults of each of its parts."""
        return check_job(self.job)

    @cached_property
    def outcome(self):
        """Return the outcome, shown in the units of this view."""
        return self.checked.outcome.shown_in(self.units)

    def seen_in(self, units):
        """
        Return the same findings in other units; nothing is worked out again.

        Parameters
        ----------
        units : str
            "metric" or "us".

        Returns
        -------
        Findings
            The same.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> found = Findings(read_job(DEMO))
        >>> found.seen_in("us").outcome.recipe is found.outcome.recipe
        True
        """
        _ = self._worked_out  # once, then shared
        seen = Findings(self.job, units)
        kept = {k: v for k, v in vars(self).items() if k not in ("units", "outcome")}
        vars(seen).update(kept)
        return seen

    def of_same_batch(self, job):
        """
        Return what follows from a job that differs only in mixing and papers.

        Parameters
        ----------
        job : Job
            The job.

        Returns
        -------
        Findings
            Its findings; the recipe is not worked out again.

        Examples
        --------
        >>> from dataclasses import replace
        >>> from formulate.jobs import DEMO, read_job
        >>> found = Findings(read_job(DEMO))
        >>> other = found.of_same_batch(replace(found.job, mixing=(("coldest", 5),)))
        >>> other.outcome.recipe is found.outcome.recipe
        True
        """
        _ = self._worked_out  # once, then shared
        found = Findings(job, self.units)
        known = vars(self.checked.outcome) | vars(self.outcome)
        apart = ("job", "mixing", "claims")
        known = {k: v for k, v in known.items() if k not in apart}
        vars(found.checked.outcome).update(known)
        if "mixing" in vars(self.outcome):
            vars(found.outcome.mixing).update(_still_so(self.outcome.mixing, job))
        shared = ("_worked_out", "water", "target")
        vars(found).update({k: v for k, v in vars(self).items() if k in shared})
        return found

    @cached_property
    def _in_the_way(self):
        """Return what is wrong with the job, but for its mixing and its papers."""
        faults = self.checked.faults
        return tuple(t for p, its in faults.items() if p not in APART for t in its)

    @property
    def claims(self):
        """Return the papers of the job; no recipe is needed for them."""
        return self.checked.outcome.claims

    def keep_claims(self, before):
        """
        Take over what was found of papers, where nothing they rest on has changed.

        Parameters
        ----------
        before : Findings
            What followed from the job before.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> before = Findings(read_job(DEMO))
        >>> claims = before.claims
        >>> later = Findings(replace(before.job, title="another"))
        >>> later.keep_claims(before)
        >>> later.claims is claims
        True
        """
        made = vars(before.checked.outcome).get("claims")
        same = all(getattr(self.job, k) == getattr(before.job, k) for k in CLAIMS_ON)
        if made is not None and same:
            vars(self.checked.outcome)["claims"] = made
        elif made is not None:
            self.claims.take_over(made)

    @cached_property
    def _worked_out(self):
        """Return None, or the error that keeps the weights from being worked out."""
        if self._in_the_way:
            return None
        try:
            outcome = self.outcome
            _ = outcome.weighing, outcome.notices  # kept by the outcome
        except FormulateError as error:
            return error
        return None

    @property
    def has_recipe(self):
        """Return whether there are weights to show."""
        return not self._in_the_way and self._worked_out is None

    @property
    def has_mixing(self):
        """Return whether there is something to mix, and an order to mix it in."""
        return self.has_recipe and not self._unmixed

    @cached_property
    def _unmixed(self):
        """Return why weights that are there cannot be mixed: own entries, own order."""
        told = self.checked.faults.get("mixing", ())
        if told:
            return told
        if not self.outcome.weighing.amounts:
            return ("mixing: nothing is weighed, so there is nothing to mix",)
        try:
            _ = dict(self.job.mixing).get("order") and self.outcome.mixing.order
        except FormulateError as error:
            return error.faults
        return ()

    @property
    def why_not(self):
        """Return the error of a job without faults that has no recipe, or None."""
        return self._worked_out

    @cached_property
    def water(self):
        """Return the water, or None while it is at fault."""
        return None if "water" in self.checked.faults else self.outcome.water

    @property
    def water_alone(self):
        """Return the water as its analysis tells it, not blended; None while at fault."""
        parts = getattr(self.water, "parts", ())
        return parts[0][0] if parts else self.water

    @cached_property
    def target(self):
        """Return the target, or None while it is at fault."""
        return None if "target" in self.checked.faults else self.outcome.target

    def sheet(self):
        """
        Return the sheet as it will be printed.

        Returns
        -------
        str
            One HTML page.

        Raises
        ------
        InputError
            If there is no recipe yet, with what is missing.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> "Weigh for 200 L" in Findings(read_job(DEMO)).sheet()
        True
        """
        from formulate.sheets.bench_sheet import bench_sheet

        if not self.has_mixing:
            raise InputError("there is nothing to print yet", *self.blockers("sheet"))
        return bench_sheet(self.outcome)

    def blockers(self, part):
        """
        Return what keeps a part from being worked out.

        Parameters
        ----------
        part : str
            One of `PARTS`, such as "water" or "chemistry".

        Returns
        -------
        tuple of str
            One text each, saying what to do.

        Examples
        --------
        >>> Findings(Job(volume="10 L")).blockers("shelf")
        ('shelf: nothing on it; add an ingredient',)
        """
        if part == "beside":
            return ()  # what can be told of two jobs is told
        if part in ("water", "shelf", "wishes", "claims"):
            faults = self.checked.faults
            told = [text for key in PARTS[part] for text in faults.get(key, ())]
        else:
            told = self._in_the_way or getattr(self._worked_out, "faults", ())
            if part in ("mixing", "sheet"):
                told = told or self._unmixed
        return tuple(map(on_screen, told))

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
            The gravest first, each once.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> Findings(read_job(DEMO)).notices("wishes")[0].severity
        'caution'
        """
        if part == "water":
            return () if self.water is None else gravest_first(self._of_water())
        if part == "shelf":
            made = (i for i in self.checked.made if i is not None)
            return gravest_first(notice for i in made for notice in i.notices)
        if part == "wishes":
            return () if self.target is None else gravest_first(self.target.notices)
        if part == "mixing":
            found = self.outcome.mixing.notices if self.has_mixing else ()
            return tuple(
                replace(notice, what=on_screen(notice.what)) for notice in found
            )
        if part == "claims":
            return self.claims.notices if "checked" in vars(self.claims) else ()
        if part in ("exchange", "beside") or not self.has_recipe:
            return ()
        chemical = self.outcome.chemistry_notices
        if part == "chemistry":
            return chemical
        told = self.outcome.notices  # of the chemistry what is serious stands here, too
        grave = [n for n in told if n.severity == "serious" or n not in chemical]
        return tuple(grave) if part == "recipe" else told

    def _of_water(self):
        """Return what the analysis says of itself, and what limits the water."""
        from formulate.ingredients.water_suitability import water_suitability

        told = (*self.water.notices, *water_suitability(self.water).notices())
        alone = self.water_alone
        if any(alone.solution.forms.values()) or alone.source_key:
            return told
        what = "nothing is known of this water yet: it counts as pure"
        return (Notice(what, "caution"), *told)


HANGS_ON = (  # what of a mixing hangs on which of its entries alone
    (("water_first_percent",), ("best", "log_as_written")),
    (ASKED, ("tanks", "tanks_or_why", "meetings")),
    (("measured_ec", "measured_ph", "measured_at"), ("diagnosis",)),
)


def _still_so(mixing, job):
    """Return what is worked out of a mixing and holds for another job's, too."""
    given, known = dict(job.mixing), vars(mixing)
    return {
        what: known[what]
        for entries, whats in HANGS_ON
        if all(given.get(e) == mixing.given.get(e) for e in entries)
        for what in whats
        if what in known
    }


FILE_WORDS = (  # what a job file asks for, and what is done on the screen
    ('add a [[shelf]] with ingredient = "KNO3"', "add an ingredient"),
    ('write published = "..." or a [target.wanted]', "choose a target or type one"),
    ('(stock_water="pure")', "(choose it under Stocks)"),
    ("; give your own by doubts=", ""),
)


def on_screen(text):
    """
    Return a text in the words of the screen instead of those of a job file.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The same, telling what to do on the screen.

    Examples
    --------
    >>> on_screen('make the stocks with soft water (stock_water="pure")')
    'make the stocks with soft water (choose it under Stocks)'
    """
    for words, here in FILE_WORDS:
        text = text.replace(words, here)
    return text
