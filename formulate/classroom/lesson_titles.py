"""The lessons by number: title and question, from their table."""

from formulate.errors import UnknownName, shortened
from formulate.tables import read_table

__all__ = ["lesson_title"]


def lesson_title(lesson):
    """
    Return the title of a lesson.

    Parameters
    ----------
    lesson : str
        Its number, such as "03".

    Returns
    -------
    str
        The title.

    Raises
    ------
    UnknownName
        If there is no such lesson.

    Examples
    --------
    >>> lesson_title("03")
    'Labels and oxides'
    """
    for row in read_table("lessons"):
        if row["lesson"] == lesson:
            return row["title"]
    raise UnknownName(f"{shortened(lesson)}: there is no such lesson")
