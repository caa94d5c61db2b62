"""What follows from a job as far as it goes: results where there are some, words where not.

A job that is being typed is at fault most of the time. Here each part of the bench finds
what it can show, what is missing before it can be worked out, and what to know about it.
"""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.errors import FormulateError, InputError
from formulate.jobs import Job
from formulate.notices import Notice, gravest_first
from formulate.outcome import check_job

__all__ = ["PARTS", "Findings"]

PARTS = MappingProxyType(
    {
        "water": ("water",),
        "shelf": ("shelf",),
        "wishes": ("volume", "target", "units"),
        "recipe": (),
        "sheet": (),
    }
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

    @cached_property
    def _worked_out(self):
        """Return None, or the error that keeps the weights from being worked out."""
        if self.checked.faults:
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
        return not self.checked.faults and self._worked_out is None

    @property
    def why_not(self):
        """Return the error of a job without faults that has no recipe, or None."""
        return self._worked_out

    @cached_property
    def water(self):
        """Return the water, or None while it is at fault."""
        return None if "water" in self.checked.faults else self.outcome.water

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

        if not self.has_recipe:
            raise InputError("there is nothing to print yet", *self.blockers("sheet"))
        return bench_sheet(self.outcome)

    def blockers(self, part):
        """
        Return what keeps a part from being worked out.

        Parameters
        ----------
        part : str
            "water", "shelf", "wishes", "recipe" or "sheet".

        Returns
        -------
        tuple of str
            One text each, saying what to do.

        Examples
        --------
        >>> Findings(Job(volume="10 L")).blockers("shelf")
        ('shelf: nothing on it; add an ingredient',)
        """
        faults = self.checked.faults
        own = [text for key in PARTS[part] for text in faults.get(key, ())]
        if part not in ("recipe", "sheet"):
            return tuple(map(_on_screen, own))
        before = [text for texts in faults.values() for text in texts]
        if not before and self._worked_out is not None:
            before = self._worked_out.faults
        return tuple(map(_on_screen, before))

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
        return self.outcome.notices if self.has_recipe else ()

    def _of_water(self):
        """Return what the analysis says of itself, and what limits the water."""
        from formulate.ingredients.water_suitability import water_suitability

        told = (*self.water.notices, *water_suitability(self.water).notices())
        if any(self.water.solution.forms.values()) or self.water.source_key:
            return told
        what = "nothing is known of this water yet: it counts as pure"
        return (Notice(what, "caution"), *told)


FILE_WORDS = (  # what a job file asks for, and what is done on the screen
    ('add a [[shelf]] with ingredient = "KNO3"', "add an ingredient"),
    ('write published = "..." or a [target.wanted]', "choose a target or type one"),
)


def _on_screen(text):
    """Return a fault in the words of the screen instead of those of a job file."""
    for words, here in FILE_WORDS:
        text = text.replace(words, here)
    return text
