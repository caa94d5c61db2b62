"""Question sheets for a class, each pupil with numbers of their own, and the key for the teacher."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

import jinja2

from formulate.classroom.class_list import class_list
from formulate.classroom.lesson_titles import lesson_title
from formulate.classroom.register import exercises, read_key
from formulate.files import make_folder, write_text
from formulate.sheets.table import Table, csv_text, table_text
from formulate.working import Shown, printed

__all__ = ["ClassSheets", "class_sheets"]

COLUMNS = ("pupil", "exercise", "title", "answer", "unit", "accepted from", "to")
DIGITS = 4


@dataclass(frozen=True, eq=False)
class ClassSheets(Shown):
    """
    The exercises of one lesson for a class.

    Attributes
    ----------
    lesson : str
        The lesson, such as "03".
    title : str
        Its title.
    drawn : mapping of str to tuple of Exercise
        Each pupil's exercises.

    Examples
    --------
    >>> sheets = class_sheets("03", ["Ada", "Ben"])
    >>> list(sheets.drawn), len(sheets.key.rows) == 2 * len(sheets.drawn["Ada"])
    (['Ada', 'Ben'], True)
    """

    lesson: str
    title: str
    drawn: MappingProxyType

    @property
    def key(self):
        """Return the answers as a table: what is asked of whom, and what counts as right."""
        rows = tuple(
            _key_row(pupil, one) for pupil, tasks in self.drawn.items() for one in tasks
        )
        title = f"{self.lesson} {self.title}: the key"
        return Table("key", title, COLUMNS, rows, frozenset({3, 5, 6}))

    def question_page(self):
        """
        Return the question sheets as one page of HTML, each pupil on paper of their own.

        Returns
        -------
        str
            The page; it needs no other file.

        Examples
        --------
        >>> page = class_sheets("03", ["Ada"]).question_page()
        >>> "Ada" in page, "Answer:" in page
        (True, True)
        """
        return _page(self, with_answers=False)

    def key_page(self):
        """
        Return the key as one page of HTML: answers and workings by pupil.

        Returns
        -------
        str
            The page; it needs no other file.

        Examples
        --------
        >>> "for the teacher" in class_sheets("03", ["Ada"]).key_page()
        True
        """
        return _page(self, with_answers=True)

    def write(self, folder):
        """
        Write the question sheets, the key with its workings, and the key as a table.

        Parameters
        ----------
        folder : str or Path
            Where to; it is made if it is not there.

        Returns
        -------
        tuple of Path
            The files written.

        Raises
        ------
        InputError
            If the folder or the files cannot be written.

        Examples
        --------
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     [path.name for path in class_sheets("03", ["Ada"]).write(folder)]
        ['lesson-03-questions.html', 'lesson-03-key.html', 'lesson-03-key.csv']
        """
        folder = make_folder(folder)
        contents = {
            "questions.html": self.question_page(),
            "key.html": self.key_page(),
            "key.csv": csv_text((self.key,)),
        }
        paths = []
        for name, text in contents.items():
            paths.append(folder / f"lesson-{self.lesson}-{name}")
            write_text(paths[-1], text)
        return tuple(paths)

    def __str__(self):
        return table_text(self.key)


def _key_row(pupil, one):
    """Return one line of the key."""
    task = one.task
    if task.options:
        return (pupil, one.key, one.title, task.right, "letter", "", "")
    ends = (task.answer - task.margin, task.answer + task.margin)
    numbers = [printed(number, DIGITS) for number in (task.answer, *ends)]
    return (pupil, one.key, one.title, numbers[0], task.unit, *numbers[1:])


def _page(sheets, *, with_answers):
    """Return the sheets, or the key, as a page of HTML."""
    return _template().render(
        sheets=sheets, with_answers=with_answers, cautions_of=_cautions_of
    )


def _cautions_of(tasks):
    """Return each caution once, with the keys of the exercises that it belongs to."""
    found = {}
    for one in tasks:
        for text in dict.fromkeys(one.task.care):
            found.setdefault(text, []).append(one.key)
    return found


def class_sheets(lesson, pupils):
    """
    Return the exercises of a lesson for a class, each pupil with their own numbers.

    Parameters
    ----------
    lesson : str or int
        The lesson, such as "03". [-]
    pupils : iterable of str, or str
        The names; they are the seeds, so `exercise("03", seed=name)` asks the same.

    Returns
    -------
    ClassSheets
        Question sheets and key; `.write(folder)` makes the files.

    Raises
    ------
    UnknownName
        If there is no such lesson.
    InputError
        If somebody is named twice or not at all; every fault is told.

    Examples
    --------
    >>> class_sheets("03", "Ada\\nBen").drawn["Ben"][0].seed
    'ben'
    """
    key, _ = read_key(lesson)
    drawn = {name: exercises(key, seed=name) for name in class_list(pupils)}
    return ClassSheets(key, lesson_title(key), MappingProxyType(drawn))


@cache
def _template():
    """Return the template of the pages; whatever it is given is escaped."""
    loader = jinja2.FileSystemLoader(Path(__file__).parent)
    environment = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined
    )
    return environment.get_template("class_sheets.html")
