"""`formulate class`: question sheets for a class, the key, and a notebook for nbgrader, from a shell."""

__all__ = ["add_class"]

DONE = 0
DESCRIPTION = (
    "Write question sheets for a class, each pupil with numbers of their own on paper of their own, and the key with "
    "the working of every answer (HTML), also as a table (CSV). The same names as seeds ask the same in a notebook."
)


def add_class(commands):
    """
    Add the command to a command line.

    Parameters
    ----------
    commands : argparse action
        Where commands are added.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_class(parser.add_subparsers())
    >>> parser.parse_args(["class", "03", "--pupils", "7b.csv"]).lesson
    '03'
    """
    found = commands.add_parser(
        "class", help="question sheets and key for a class", description=DESCRIPTION
    )
    found.add_argument("lesson", help="the lesson, such as 03")
    found.add_argument(
        "--pupils",
        metavar="FILE",
        help="the class list: a name a line, or CSV with a column 'name'",
    )
    found.add_argument(
        "--notebook",
        action="store_true",
        help="write the exercises as a notebook that nbgrader collects and grades",
    )
    found.add_argument(
        "--out", metavar="DIR", default=".", help="where to (default: here)"
    )
    found.set_defaults(do=_class)


def _class(options):
    """Write what was asked for and tell the files."""
    from formulate.classroom.assignment import write_assignment
    from formulate.classroom.class_list import read_class_list
    from formulate.classroom.class_sheets import class_sheets
    from formulate.errors import InputError

    if not (options.pupils or options.notebook):
        raise InputError(
            "nothing to write: give a class list (--pupils FILE), or --notebook"
        )
    paths = []
    if options.pupils:
        pupils = read_class_list(options.pupils)
        paths += class_sheets(options.lesson, pupils).write(options.out)
        print(f"{len(pupils)} pupils: {'; '.join(pupils)}")  # a title line would show
    if options.notebook:
        paths.append(write_assignment(options.lesson, options.out))
    print("\n".join(f"written: {path}" for path in paths))
    return DONE
