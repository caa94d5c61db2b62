"""`formulate site`: the lessons that need no numpy, as a folder that a browser runs by itself."""

import sys

__all__ = ["add_site"]

DONE = 0
MB = 1_000_000
DESCRIPTION = (
    "Write a folder in which the lessons on formulas, labels, units and water run in a browser, "
    "from any web space and without installing anything on the pupils' machines. Needs "
    "the extra 'site'. Python for the browser is fetched by npm, other packages by pip, unless "
    "they are brought by hand. The pages ask nothing of any machine but the one they come from."
)


def add_site(commands):
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
    >>> add_site(parser.add_subparsers())
    >>> parser.parse_args(["site", "lessons-site"]).folder
    'lessons-site'
    """
    site = commands.add_parser(
        "site",
        help="the lessons without numpy, as a folder for a browser",
        description=DESCRIPTION,
    )
    site.add_argument(
        "folder", metavar="DIR", help="a new or empty folder, or an earlier site"
    )
    site.add_argument(
        "--pyodide",
        metavar="FOLDER|FILE",
        help="the files of Pyodide, brought by hand: unpacked, or the archive of npm or of a "
        "release; without it npm fetches them",
    )
    site.add_argument(
        "--wheels",
        metavar="FOLDER",
        help="wheels of the other packages, brought by hand; without it pip fetches them",
    )
    site.add_argument(
        "--notebooks",
        metavar="FOLDER",
        help="where the lessons are; without it those of this checkout",
    )
    site.set_defaults(do=_site)


def _site(options):
    """Write a site and tell what was written."""
    from formulate.site.building import build_site
    from formulate.site.front_page import told_apart

    made = build_site(
        options.folder,
        pyodide=options.pyodide,
        wheels=options.wheels,
        notebooks=options.notebooks,
        say=lambda line: print(line, file=sys.stderr, flush=True),
    )
    print(f"written: {made.folder}, {made.size / MB:.0f} MB, Pyodide {made.pyodide}")
    print("\n".join(f"- {lesson.name}: {lesson.title}" for lesson in made.lessons))
    print(
        f"to see it: python3 -m http.server --bind 127.0.0.1 -d {made.folder}\n"
        "then open the address that it prints; other machines need https\n"
        f"{told_apart()}"
    )
    return DONE
