"""A shelf from a spreadsheet as lines of a job, so that it can be changed there."""

from dataclasses import replace

from formulate.ingredients.shelf import shelf_from_text, typed_rows
from formulate.jobs import ShelfLine
from formulate.stoichiometry.quantities import read_number

__all__ = ["lines_of_shelf", "with_shelf"]


def lines_of_shelf(text, *, name="shelf"):
    """
    Return the lines of a job that make the same shelf as a text in CSV.

    Parameters
    ----------
    text : str
        Column names, then one ingredient a line.
    name : str
        What to call it in messages.

    Returns
    -------
    tuple of ShelfLine
        The lines; prices are those of a kilogram (or litre).

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> (line,) = lines_of_shelf("ingredient;price;pack\\nKNO3;65.00;25 kg\\n")
    >>> line.ingredient, line.price_per_kg
    ('KNO3', 2.6)
    """
    shelf = shelf_from_text(text, name=name)
    pairs = zip(typed_rows(text, name=name), shelf, strict=True)
    return tuple(_line(cells, ingredient) for cells, ingredient in pairs)


def _line(cells, ingredient):
    """Return one line: what was typed of it, and what was worked out of its price."""
    what = "label" if ingredient.reading is not None else "ingredient"
    numbers = {
        key: read_number(cells[column].rstrip("% "))
        for key, column in (
            ("purity_percent", "purity"),
            ("acid_percent", "strength"),
            ("density", "density"),
        )
        if column in cells
    }
    step = f"{ingredient.weighing_step!r} {ingredient.measured_in}"
    return ShelfLine(
        name=cells.get("name", ""),
        price_per_kg=ingredient.price,
        step=step if "step" in cells else "",
        on_hand=cells.get("on hand", ""),
        **{what: cells["ingredient"]},
        **numbers,
    )


def with_shelf(job, lines):
    """
    Return a job with lines on its shelf, each in place of one of the same name.

    Parameters
    ----------
    job : Job
        The job.
    lines : iterable of ShelfLine
        What is put there.

    Returns
    -------
    Job
        The next job; what is new stands last.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> job = with_shelf(Job(), [ShelfLine("KNO3"), ShelfLine("K2SO4")])
    >>> job = with_shelf(job, [ShelfLine("KNO3", price_per_kg=2.6)])
    >>> [(line.ingredient, line.price_per_kg) for line in job.shelf]
    [('KNO3', 2.6), ('K2SO4', None)]
    """
    shelf = {_called(line): line for line in job.shelf}
    shelf |= {_called(line): line for line in lines}
    return replace(job, shelf=tuple(shelf.values()))


def _called(line):
    return line.name or line.ingredient or line.label
