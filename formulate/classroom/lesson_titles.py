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
    titles = {row["lesson"]: row["title"] for row in read_table("lessons")}
    if lesson not in titles:
        raise UnknownName(
            f"{shortened(lesson)} is no lesson; write one of {', '.join(titles)}"
        )
    return titles[lesson]
