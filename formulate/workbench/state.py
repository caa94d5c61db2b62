"""The work at the bench without a browser: changed, saved, kept between sessions."""

from pathlib import Path
from types import MappingProxyType

from formulate.errors import InputError
from formulate.job_saving import save_job, self_contained, text_of_job
from formulate.jobs import DEMO, Job, job_from_text, read_job
from formulate.workbench.keeping import Keeper
from formulate.workbench.work import Work

__all__ = ["State"]

FRESH = Job(volume="10 L")


def _job_by_itself(text, name):
    """Return a job from its text, if it needs no other file."""
    job = job_from_text(text, name=name)
    if job.shelf_file:
        what = "its shelf stands in a file beside it, which cannot be reached from here"
        raise InputError(f"{name}: {what}; download it as one file where it was made")
    return job


class State(Work):
    """
    The work at the bench, with the file it stands in and where it is kept.

    Parameters
    ----------
    job : Job or None
        What to start with; the demo if None.
    place : str, Path or None
        The file that the job was read from, if any.

    Attributes
    ----------
    place : Path or None
        The file that save writes to.

    Examples
    --------
    >>> from formulate.workbench.edits import with_entry
    >>> state = State()
    >>> state.enter(("volume",), "100 L", with_entry, "volume")
    >>> state.job.volume, state.undo() or state.job.volume
    ('100 L', '200 L')
    """

    def __init__(self, job=None, *, place=None):
        super().__init__(job)
        self.place = None if place is None else Path(place)
        self._saved = self.job if place else None
        self._began_with = "" if job is None else text_of_job(job)
        if place is not None:
            self._began_with = str(self.place.resolve())
        self._keepers, self._kept, self._new_key = {}, None, None
        self._kept_beside = {}  # key to the second job that is kept under it

    def _tell(self, said):
        """Say what happened, keep the job as it stands, have the panels show it."""
        self.said = said
        self._keep()
        super()._tell(self.said)

    # --- files ---------------------------------------------------------------------

    def demo(self):
        """
        Begin again with the demo; the present job can be had back by undo.

        Examples
        --------
        >>> state = State(Job(volume="10 L"))
        >>> state.demo()
        >>> state.job.volume
        '200 L'
        """
        self._begin(read_job(DEMO), None, "the demo")

    def fresh(self):
        """
        Begin with nothing; the present job can be had back by undo.

        Examples
        --------
        >>> state = State()
        >>> state.fresh()
        >>> state.job == FRESH
        True
        """
        self._begin(FRESH, None, "a fresh start")

    def open(self, path):
        """
        Open a job file; the present job can be had back by undo.

        Parameters
        ----------
        path : str or Path
            A job file.

        Raises
        ------
        InputError
            If it cannot be read, with every fault; the job stays.

        Examples
        --------
        >>> state = State()
        >>> state.open(DEMO)
        >>> state.is_saved
        True
        """
        self._begin(read_job(path), Path(path), f"opened {Path(path).name}")
        self._saved = self.job

    def take(self, text, name="the text"):
        """
        Open a job from its text, such as an upload.

        Parameters
        ----------
        text : str
            Text of a job file.
        name : str
            What to call it.

        Raises
        ------
        InputError
            If it cannot be read, or reads another file; the job stays.

        Examples
        --------
        >>> state = State()
        >>> state.take('formulate = 1\\nvolume = "4 L"')
        >>> state.job.volume
        '4 L'
        """
        self._begin(_job_by_itself(text, name), None, f"opened {name}")

    def take_beside(self, text, name="the text"):
        """
        Put a job beside this one from its text, such as an upload.

        Parameters
        ----------
        text : str
            Text of a job file.
        name : str
            What to call it.

        Raises
        ------
        InputError
            If it cannot be read, or reads another file; what stood there stays.

        Examples
        --------
        >>> state = State()
        >>> state.take_beside('formulate = 1\\nvolume = "4 L"')
        >>> state.beside.volume, state.job.volume
        ('4 L', '200 L')
        """
        job = _job_by_itself(text, name)
        self.put_beside(job, f"{name} stands beside this job")

    def exchange_beside(self):
        """
        Go on with the job beside this one; this one stands beside it from then on.

        Raises
        ------
        InputError
            If none stands beside this job.

        Examples
        --------
        >>> state = State()
        >>> state.put_beside(Job(volume="10 L"))
        >>> state.exchange_beside()
        >>> state.job.volume, state.beside.volume
        ('10 L', '200 L')
        """
        first, second = self.job, self.beside
        if second is None:
            raise InputError("no job stands beside this one; put one there first")
        self._besides = (*self._besides, first)
        self._begin(second, None, "the two jobs are exchanged")

    def save(self):
        """
        Save to the file that was opened or last saved to.

        Raises
        ------
        InputError
            If there is none, or it cannot be written.

        Examples
        --------
        >>> State().save()
        Traceback (most recent call last):
            ...
        formulate.errors.InputError: this work has no file yet; give it a name to save as
        """
        if self.place is None:
            raise InputError("this work has no file yet; give it a name to save as")
        save_job(self.job, self.place)
        self._saved = self.job
        self._tell(f"saved as {self.place}")

    def save_as(self, path):
        """
        Save to another file, and go on with that one.

        Parameters
        ----------
        path : str or Path
            Where to.

        Raises
        ------
        InputError
            If another file of that name is there already, or it cannot be written; the
            job keeps its file.

        Examples
        --------
        >>> import tempfile
        >>> state = State()
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     state.save_as(Path(folder) / "batch.toml")
        ...     read_job(Path(folder) / "batch.toml") == state.job
        True
        """
        before, self.place = self.place, Path(path)
        if self.place != before and self.place.exists():
            self.place = before
            raise InputError(f"{path}: is there already; give another name")
        try:
            self.save()
        except InputError:
            self.place = before
            raise

    @property
    def is_saved(self):
        """Return whether the job stands in its file as it is."""
        return self._saved == self.job

    @property
    def text(self):
        """Return the text of the job file."""
        return text_of_job(self.job)

    @property
    def shared(self):
        """Return the job as one file that needs no other; raises if one cannot be read."""
        return text_of_job(self_contained(self.job))

    def _begin(self, job, place, said):
        self.place, self._saved = place, None
        self.refused = MappingProxyType({})
        self.change(job, said)

    # --- keeping -------------------------------------------------------------------

    def keep_as(self, key, folder=None):
        """
        Keep the work under a visitor's key, and go on with what was kept there.

        Work that began with a file or a job of its own is kept apart from the rest; a file
        that was changed since is followed instead of what was kept of it. A second browser
        that looks on (in Lab) has the same work kept for it too.

        Parameters
        ----------
        key : str
            The visitor's secret, 32 hexadecimal digits.
        folder : str, Path or None
            Where; the work folder if None.

        Raises
        ------
        InputError
            If the key is none, or what was kept cannot be read.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     first, second = State(), State()
        ...     first.keep_as("0" * 32, folder)
        ...     first.fresh()
        ...     second.keep_as("0" * 32, folder)
        ...     second.job == FRESH
        True
        """
        if key in self._keepers:
            return  # the cell was run again
        is_first = not self._keepers
        keeper = Keeper(key, folder, self._began_with)
        self._keepers[key], self._kept = keeper, None
        self._find_beside(keeper)
        kept = keeper.load()
        if kept is None or kept == self.job:
            self._tell(self.said)
        elif is_first and not self._goes_before(keeper):
            self.change(kept, "your work as you left it")
        else:
            aside = keeper.set_aside()
            self._tell(f"what was kept here before was set aside as {aside.name}")

    def _goes_before(self, keeper):
        """Return whether what is here goes before what was kept."""
        return bool(self.past) or (self.place and not keeper.is_newer_than(self.place))

    def take_new_key(self):
        """
        Return the key that a visitor's browser has to learn in place of its own, once.

        Returns
        -------
        (str, str) or None
            The old key and the new one, after another window took the old.

        Examples
        --------
        >>> State().take_new_key() is None
        True
        """
        keys, self._new_key = self._new_key, None
        return keys

    def _find_beside(self, keeper):
        """Go on with the second job that was kept, if none stands here yet."""
        kept = keeper.beside.load()
        self._kept_beside[keeper.key] = kept
        if kept is not None and self.beside is None:
            self._besides = (kept,)

    def _keep(self):
        """Keep both jobs as they stand, for each browser that looks on."""
        self._keep_job()
        for keeper in self._keepers.values():
            if self._kept_beside.get(keeper.key) != self.beside:
                try:
                    keeper.beside.replace(self.beside)
                    self._kept_beside[keeper.key] = self.beside
                except InputError as error:
                    self.said = f"the job beside this one is not kept: {error}"

    def _keep_job(self):
        """Keep the job as it stands."""
        if self.job == self._kept:
            return
        for visitor, keeper in self._keepers.items():
            try:
                if keeper.keep(self.job):
                    self.said = "open in another window too; both go on, each by itself"
                    if not self._began_with:
                        self._new_key = (visitor, keeper.key)
                self._kept = self.job
            except InputError as error:
                self.said = f"this work is not kept: {'; '.join(error.faults)}"
