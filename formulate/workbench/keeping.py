"""Keeps the work of one visitor between sessions, in a file that nobody else is shown.

The file is named by a secret of the visitor's browser. It is written in one step after
every change, so that a killed kernel loses nothing. If another window has changed it
meanwhile, the work goes on under a new name, and neither overwrites the other.
"""

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


class Keeper:
    """
    The file in which one visitor's work is kept.

    Parameters
    ----------
    key : str
        The visitor's secret, 32 hexadecimal digits.
    folder : str, Path or None
        Where the files lie; the work folder if None.

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

    def __init__(self, key, folder=None):
        if not isinstance(key, str) or not KEY.fullmatch(key):
            raise InputError("this browser gave no key to its work")
        self.key = key
        self.folder = Path(folder) if folder else work_folder()
        self._last = None

    @property
    def path(self):
        """Return the file."""
        return self.folder / f"{self.key}.toml"

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
            aside = self.path.with_suffix(".unreadable")
            os.replace(self.path, aside)
            self._last = None
            raise InputError(*error.faults, f"it was set aside as {aside}") from None

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
        self._make_folder()
        forked = self._changed_elsewhere()
        if forked:
            self.key = new_key()
        text = text_of_job(in_folder(job, self.folder))
        write_text(self.path, text)
        self._last = text
        return forked

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
