"""Keeps the work of one visitor between sessions, in a file that nobody else is shown.

The file is named by a secret of the visitor's browser. It is written in one step after
every change, so that a killed kernel loses nothing. If another window has changed it
meanwhile, the work goes on under a new name, and neither overwrites the other.
"""

import hashlib
import os
import re
import secrets
from dataclasses import replace
from pathlib import Path

import platformdirs

from formulate.errors import InputError
from formulate.files import read_text, write_text
from formulate.job_saving import in_folder, text_of_job
from formulate.jobs import job_from_text

__all__ = ["Keeper", "new_key", "work_folder"]

KEY = re.compile(r"[0-9a-f]{32}")
FOLDER = "FORMULATE_WORK"


def work_folder():
    """
    Return the folder in which work is kept.

    Returns
    -------
    Path
        That of the variable FORMULATE_WORK, or one among the user's own data.

    Examples
    --------
    >>> work_folder().name
    'work'
    """
    given = os.environ.get(FOLDER)
    return Path(given) if given else platformdirs.user_data_path("formulate") / "work"


def new_key():
    """
    Return a name for new work that nobody can guess.

    Returns
    -------
    str
        32 hexadecimal digits.

    Examples
    --------
    >>> len(new_key())
    32
    """
    return secrets.token_hex(16)


def _key_about(key, about):
    """Return a key that only this visitor and this file or job lead to."""
    return hashlib.sha256(f"{key} {about}".encode(errors="replace")).hexdigest()[:32]


class Keeper:
    """
    The file in which one visitor's work is kept.

    Parameters
    ----------
    key : str
        The visitor's secret, 32 hexadecimal digits.
    folder : str, Path or None
        Where the files lie; the work folder if None.
    about : str
        What the work began with, where it is to be kept apart from the visitor's other
        work: a file or the text of a job.

    Raises
    ------
    InputError
        If the key is none.

    Examples
    --------
    >>> Keeper("../../etc/passwd")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: this browser gave no key to its work
    """

    def __init__(self, key, folder=None, about=""):
        if not isinstance(key, str) or not KEY.fullmatch(key):
            raise InputError("this browser gave no key to its work")
        self.key = _key_about(key, about) if about else key
        self.folder = Path(folder) if folder else work_folder()
        self._last = None

    @property
    def path(self):
        """Return the file."""
        return self.folder / f"{self.key}.toml"

    @property
    def beside(self):
        """Return the keeper of the second job that stands beside this work."""
        return Keeper(self.key, self.folder, "beside")

    def replace(self, job):
        """
        Keep a job in place of whatever is there, or nothing.

        Parameters
        ----------
        job : Job or None
            The job; None to keep none.

        Raises
        ------
        InputError
            If the file cannot be written.

        Examples
        --------
        >>> import tempfile
        >>> from formulate.jobs import Job
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     keeper = Keeper(new_key(), folder)
        ...     keeper.replace(Job(volume="10 L"))
        ...     before = keeper.load().volume
        ...     keeper.replace(None)
        ...     before, keeper.load()
        ('10 L', None)
        """
        if job is not None:
            self._write(job)
            return
        try:
            self.path.unlink(missing_ok=True)
        except OSError as error:
            raise InputError(f"{self.path}: cannot be removed ({error})") from None
        self._last = None

    def load(self):
        """
        Return the job that was kept, or None if there is none.

        Returns
        -------
        Job or None
            The job.

        Raises
        ------
        InputError
            If what was kept cannot be read; the file is set aside, not lost.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     print(Keeper(new_key(), folder).load())
        None
        """
        if not self.path.exists():
            return None
        try:
            self._last = read_text(self.path, utf8_only=True)
            job = job_from_text(self._last, name="the work kept here")
            return replace(job, folder=str(self.folder))
        except InputError as error:
            what = f"it was set aside as {self.set_aside()}"
            raise InputError(*error.faults, what) from None

    def keep(self, job):
        """
        Keep a job.

        Parameters
        ----------
        job : Job
            The job.

        Returns
        -------
        bool
            Whether the work got a new name, because another window had changed it.

        Raises
        ------
        InputError
            If the file cannot be written.

        Examples
        --------
        >>> import tempfile
        >>> from formulate.jobs import Job
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     keeper = Keeper(new_key(), folder)
        ...     keeper.keep(Job(volume="10 L")), keeper.load().volume
        (False, '10 L')
        """
        forked = self._changed_elsewhere()
        if forked:
            self.key = new_key()
        self._write(job)
        return forked

    def _write(self, job):
        self._make_folder()
        text = text_of_job(in_folder(job, self.folder))
        write_text(self.path, text)
        self._last = text

    def is_newer_than(self, path):
        """
        Return whether what is kept was written after a file was.

        Parameters
        ----------
        path : Path
            The file.

        Returns
        -------
        bool
            Whether it was; False if either is not there.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     Keeper(new_key(), folder).is_newer_than(Path(folder))
        False
        """
        try:
            return self.path.stat().st_mtime_ns > path.stat().st_mtime_ns
        except OSError:
            return False

    def set_aside(self):
        """
        Move what is kept to a file of its own, so that nothing is written over it.

        Returns
        -------
        Path
            Where it lies now.

        Raises
        ------
        InputError
            If it cannot be moved.

        Examples
        --------
        >>> import tempfile
        >>> from formulate.jobs import Job
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     keeper = Keeper("0" * 32, folder)
        ...     forked = keeper.keep(Job())
        ...     keeper.set_aside().suffix, keeper.load()
        ('.aside', None)
        """
        aside = self.folder / f"{self.key}-{new_key()[:8]}.aside"
        try:
            os.replace(self.path, aside)
        except OSError as error:
            raise InputError(f"{self.path}: cannot be moved ({error})") from None
        self._last = None
        return aside

    def _make_folder(self):
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            what = f"{self.folder}: cannot be made ({error.strerror})"
            raise InputError(f"the work is not kept: {what}") from None

    def _changed_elsewhere(self):
        """Return whether the file holds anything but what was last read or written."""
        try:
            there = self.path.read_bytes()
        except OSError:
            return False
        return self._last is None or there != self._last.encode()
