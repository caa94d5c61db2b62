"""The jobs of one sitting: the present one, those before it, those that were undone."""

from dataclasses import dataclass

from formulate.jobs import Job

__all__ = ["History"]


@dataclass(frozen=True)
class History:
    """
    A job with what undo and redo go to.

    Attributes
    ----------
    job : Job
        The job as it stands.
    past : tuple of Job
        What came before, the nearest last.
    future : tuple of Job
        What was undone, the nearest last.

    Examples
    --------
    >>> history = History(Job(volume="10 L")).then(Job(volume="20 L"))
    >>> history.back().job.volume, history.back().forward().job.volume
    ('10 L', '20 L')
    """

    job: Job
    past: tuple = ()
    future: tuple = ()

    def then(self, job):
        """
        Return the history with another job; the same job again changes nothing.

        Parameters
        ----------
        job : Job
            The next job.

        Returns
        -------
        History
            The history; what was undone is gone.

        Examples
        --------
        >>> len(History(Job()).then(Job(volume="1 L")).past)
        1
        """
        if job == self.job and job.folder == self.job.folder:
            return self
        return History(job, (*self.past, self.job))

    def back(self):
        """
        Return the history one step back, or as it is where nothing came before.

        Returns
        -------
        History
            The history.

        Examples
        --------
        >>> History(Job()).back() == History(Job())
        True
        """
        if not self.past:
            return self
        return History(self.past[-1], self.past[:-1], (*self.future, self.job))

    def forward(self):
        """
        Return the history one step on, or as it is where nothing was undone.

        Returns
        -------
        History
            The history.

        Examples
        --------
        >>> History(Job()).forward() == History(Job())
        True
        """
        if not self.future:
            return self
        return History(self.future[-1], (*self.past, self.job), self.future[:-1])
