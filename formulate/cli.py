"""The same job from a shell: `formulate lab`, `page`, `solve`, `mix`, `compare`,
`side-by-side`, `check`, `read`, `shelf new`, `class`, `site`, `doctor`, `verify`.

Whatever loads numpy is imported where it is used, so that `lab` and `page` start at once.
Exit codes: 0 done; 1 done, but something serious is to be known; 2 the input is at fault
and nothing was written, or a package is missing; 3 the calculation failed its own check.
"""

import argparse
import importlib.metadata
import importlib.util
import json
import os
import platform
import sys
from dataclasses import replace
from pathlib import Path

import formulate
from formulate.check_command import add_check
from formulate.class_command import add_class
from formulate.errors import FormulateError, InputError, NoConvergence
from formulate.files import write_text
from formulate.ingredients.shelf import shelf_example
from formulate.jobs import DEMO, UNITS, read_job
from formulate.serving import (
    lab_way,
    open_lab,
    open_page,
    page_way,
    starting_notebook,
)
from formulate.sheets.readings import READERS, explain_file
from formulate.side_command import add_side_by_side
from formulate.site_command import add_site
from formulate.tables import checksum
from formulate.working import printed

__all__ = ["main"]

DONE, SERIOUS, AT_FAULT, FAILED = 0, 1, 2, 3
TOLD = ("weights", "plan", "stock", "contents", "along", "limits", "solids", "water")
NEEDED = (
    "jinja2",
    "lazy_loader",
    "matplotlib",
    "numpy",
    "pandas",
    "periodictable",
    "scipy",
    "tomlkit",
)
OPTIONAL = {
    "workbench": ("anywidget", "ipywidgets", "jupyterlab", "voila"),
    "test": ("pytest", "hypothesis"),
    "browser": ("playwright", "axe-playwright-python"),
}


def main(arguments=None):
    """
    Run the command line.

    Parameters
    ----------
    arguments : list of str or None
        Words after `formulate`; those of the shell if None.

    Returns
    -------
    int
        Exit code: 0, 1, 2 or 3 as at the top of this file. [-]

    Examples
    --------
    >>> main(["solve", "no-such-file.toml"])
    2
    """
    options = _parser().parse_args(arguments)
    try:
        return options.do(options)
    except BrokenPipeError:  # whoever reads has seen enough, as with `| head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except NoConvergence as error:
        print(
            f"formulate: the calculation failed its own check: {error}", file=sys.stderr
        )
        return FAILED
    except FormulateError as error:
        print(f"formulate: {error}", file=sys.stderr)
        for words, amounts in getattr(error, "ways", ()):
            told = ", ".join(f"{name} {printed(a)}" for name, a in amounts.items())
            print(f"with {words}, in g (mL of a stock): {told}", file=sys.stderr)
        return AT_FAULT


def _parser():
    parser = argparse.ArgumentParser(
        prog="formulate",
        description="Nutrient solutions from dissolved salts: what to weigh, what a litre holds.",
    )
    parser.add_argument(
        "--version", action="version", version=f"formulate {formulate.__version__}"
    )
    commands = parser.add_subparsers(required=True, metavar="command")
    _add_ways_in(commands)
    solve = commands.add_parser(
        "solve", help="do a job: recipe, ions, notices, bench sheet"
    )
    solve.add_argument(
        "job", nargs="?", help="a job file (TOML); without one, the demo"
    )
    solve.add_argument(
        "--json", action="store_true", help="print one JSON object instead"
    )
    solve.add_argument("--out", default=".", metavar="DIR", help="where the sheet goes")
    solve.add_argument(
        "--units", choices=UNITS, help="show weights so, whatever the job says"
    )
    solve.set_defaults(do=_solve)
    compare = commands.add_parser(
        "compare",
        help="what coming nearer, fewer bags and prices exchange for; how sure it is",
        description="Tell what the recipe of a job could be exchanged for: what coming nearer costs, what one bag "
        "less costs, which price would change the cheapest recipe, what a kilogram of usable nutrient costs from each "
        "bag, and how sure the weighed batch is. It takes a few seconds.",
    )
    compare.add_argument(
        "job", nargs="?", help="a job file (TOML); without one, the demo"
    )
    compare.add_argument(
        "--json", action="store_true", help="print one JSON object instead"
    )
    compare.add_argument("--out", metavar="DIR", help="write it as HTML and CSV, too")
    compare.set_defaults(do=_compare)
    add_side_by_side(commands)
    add_class(commands)
    _add_mix(commands)
    add_check(commands)
    read = commands.add_parser("read", help="what is understood of a report or label")
    read.add_argument("file", help="a water report, a label or a shelf")
    read.add_argument("--as", dest="kind", choices=tuple(READERS), help="what it is")
    read.set_defaults(do=_read)
    shelf = commands.add_parser("shelf", help="a shelf to fill in")
    shelf.add_argument("what", choices=("new",), help="write a commented example")
    shelf.add_argument("file", nargs="?", default="shelf.csv", help="where to")
    shelf.set_defaults(do=_new_shelf)
    add_site(commands)
    doctor = commands.add_parser("doctor", help="versions, and what is missing")
    doctor.set_defaults(do=_doctor)
    checking = commands.add_parser(
        "verify", help="work out published values here, and tell which agree"
    )
    checking.add_argument(
        "--all", dest="every", action="store_true", help="print every check"
    )
    checking.set_defaults(do=_verify)
    return parser


def _add_mix(commands):
    """Add the command that tells how a batch is mixed."""
    mix = commands.add_parser(
        "mix",
        help="in which order, in which tank, what falls out, what went wrong",
        description="Tell how the weighed batch of a job is mixed: the plan with what meters show after each step, why "
        "this order is the best and by how much, what each step is near to, stock tanks with labels, where "
        "concentrates meet, and what readings tell of a mistake. The options go before what the job says.",
    )
    mix.add_argument("job", nargs="?", help="a job file (TOML); without one, the demo")
    mix.add_argument(
        "--order", metavar="NAMES", help="another order: names with semicolons between"
    )
    mix.add_argument(
        "--water-first",
        type=float,
        metavar="PERCENT",
        help="share of the water in first",
    )
    mix.add_argument("--strength", help="of the stocks, such as 1:100, 1+99 or 1 %%")
    mix.add_argument(
        "--tanks", type=int, help="number of stock tanks, the acid's apart"
    )
    mix.add_argument("--coldest", type=float, metavar="C", help="coldest store, °C")
    mix.add_argument("--stock-water", metavar="WATER", help='such as "pure"')
    mix.add_argument("--tank-volume", metavar="VOLUME", help='such as "20 L"')
    mix.add_argument("--ec", help='EC that was measured, such as "1.8 mS/cm"')
    mix.add_argument("--ph", type=float, help="pH that was measured")
    mix.add_argument(
        "--at", type=float, metavar="C", help="°C at which it was measured"
    )
    mix.add_argument(
        "--aired",
        action=argparse.BooleanOptionalAction,
        help="whether it had been aerated; pH and EC of hard water move",
    )
    mix.add_argument("--units", choices=UNITS, help="show weights so")
    mix.add_argument(
        "--json", action="store_true", help="print one JSON object instead"
    )
    mix.add_argument("--out", metavar="DIR", help="write it as HTML and CSV, too")
    mix.set_defaults(do=_mix)


def _add_ways_in(commands):
    """Add the two commands that open the workbench."""
    lab = commands.add_parser(
        "lab",
        help="open the workbench in JupyterLab, beside its code",
        description="Open the workbench in JupyterLab. Run it with Run > Run All Cells. Nothing is asked of any "
        "other machine; ctrl-C ends it with its kernels.",
    )
    lab.set_defaults(do=_lab)
    page = commands.add_parser(
        "page",
        help="open the workbench as one page, no code in sight",
        description="Open the workbench as one page. It listens on this machine only and lets in whoever has the "
        "address that is printed; each visitor works apart, about 150 MB of memory each. Nothing is asked of any "
        "other machine; ctrl-C ends it for every visitor.",
    )
    page.set_defaults(do=_page)
    for command in (lab, page):
        command.add_argument(
            "notebook",
            nargs="?",
            help="a notebook of your own; without one, workbench.ipynb (a copy is put "
            "into this folder if none is there)",
        )
        command.add_argument(
            "--port", type=int, metavar="N", help="listen on this port and no other"
        )
        command.add_argument(
            "--no-browser",
            dest="open_browser",
            action="store_false",
            help="print the address, open no browser",
        )


def _lab(options):
    """Run JupyterLab on the workbench."""
    open_lab(
        lab_way(
            options.notebook or starting_notebook(),
            port=options.port,
            open_browser=options.open_browser,
            as_root=hasattr(os, "geteuid") and os.geteuid() == 0,
        )
    )
    return DONE


def _page(options):
    """Serve the workbench as a page."""
    open_page(
        page_way(
            options.notebook or starting_notebook(),
            port=options.port,
            open_browser=options.open_browser,
        )
    )
    return DONE


def _solve(options):
    """Do a job, print it, write its sheet."""
    from formulate.outcome import run_job
    from formulate.sheets.bench_sheet import write_sheets
    from formulate.sheets.tables import as_data, sheet_tables, stamp, table_text

    job = read_job(options.job or DEMO)
    outcome = run_job(replace(job, units=options.units or job.units))
    data = as_data(outcome)
    files = [str(path) for path in write_sheets(outcome, options.out)]
    if options.json:
        print(json.dumps({**data, "files": files}, ensure_ascii=False, indent=1))
    else:
        if not options.job:
            print(f"the demo that comes with the package ({DEMO})\n")
        tables = {table.key: table for table in sheet_tables(outcome)}
        print("\n".join(filter(None, (job.title, outcome.target.name))))
        print("\n".join(outcome.chosen.lines), end="\n" * bool(outcome.chosen.lines))
        for key in (k for k in tables if k.split()[0] in TOLD and tables[k].rows):
            print(f"\n{table_text(tables[key])}")
        print(f"\n{outcome.expected.line}\n{outcome.correction}")
        print("\n".join(["", *map(str, outcome.notices)]))
        print("(what was missed is told as it is before rounding to steps)")
        if outcome.to_buy:
            print("\nwhat would bring it nearer, each by itself:")
            print("\n".join(f"- {addition.summary}" for addition in outcome.to_buy))
        print(f"\n{stamp(outcome)}")
        print(f"\n{tables['cautions'].title}:")
        print("\n".join(f"- {row[0]}" for row in tables["cautions"].rows))
        print("\n".join(f"- {what}" for _, what in tables["apart"].rows))
        print("\n".join(f"written: {name}" for name in files))
    return SERIOUS if any(n.severity == "serious" for n in outcome.notices) else DONE


def _compare(options):
    """Tell what the recipe of a job could be exchanged for."""
    from formulate.outcome import run_job
    from formulate.sheets.comparison import (
        comparison_data,
        comparison_text,
        write_comparison,
    )

    outcome = run_job(read_job(options.job or DEMO))
    print("comparing; this takes a few seconds", file=sys.stderr)
    files = write_comparison(outcome, options.out) if options.out else ()
    if options.json:
        data = {**comparison_data(outcome), "files": [str(path) for path in files]}
        print(json.dumps(data, ensure_ascii=False, indent=1))
        return DONE
    if not options.job:
        print(f"the demo that comes with the package ({DEMO})\n")
    print("\n".join([*outcome.chosen.lines, "", comparison_text(outcome)]).lstrip())
    print("\n".join(f"written: {path}" for path in files))
    return DONE


MIXING = {
    "water_first": "water_first_percent",
    "strength": "strength",
    "tanks": "tanks",
    "coldest": "coldest",
    "stock_water": "stock_water",
    "tank_volume": "tank_volume",
    "ec": "measured_ec",
    "ph": "measured_ph",
    "at": "measured_at",
    "aired": "measured_aired",
}


def _mixed_job(options):
    """Return the job with what the options say of its mixing."""
    job = read_job(options.job or DEMO)
    given = dict(job.mixing)
    given |= {
        key: getattr(options, name)
        for name, key in MIXING.items()
        if getattr(options, name) is not None
    }
    if options.order:
        given["order"] = tuple(name.strip() for name in options.order.split(";"))
    return replace(job, mixing=tuple(given.items()), units=options.units or job.units)


def _mix(options):
    """Tell how the batch of a job is mixed."""
    from formulate.outcome import run_job
    from formulate.sheets.mixing_page import mixing_text, write_mixing
    from formulate.sheets.mixing_tables import mixing_data

    outcome = run_job(_mixed_job(options))
    files = write_mixing(outcome, options.out) if options.out else ()
    if options.json:
        data = {**mixing_data(outcome.mixing), "files": [str(path) for path in files]}
        print(json.dumps(data, ensure_ascii=False, indent=1))
    else:
        if not options.job:
            print(f"the demo that comes with the package ({DEMO})\n")
        print(mixing_text(outcome))
        print("\n".join(f"written: {path}" for path in files))
    serious = any(n.severity == "serious" for n in outcome.mixing.notices)
    return SERIOUS if serious else DONE


def _read(options):
    """Print what was understood of a file, what was assumed, and what is wrong."""
    made, lines = explain_file(options.file, kind=options.kind)
    print("\n".join(lines))
    notices = getattr(made, "notices", ())
    return SERIOUS if any(n.severity == "serious" for n in notices) else DONE


def _new_shelf(options):
    """Write an example shelf where no file is yet."""
    path = Path(options.file)
    if path.exists():
        raise InputError(f"{path}: is there already; name another file")
    write_text(path, shelf_example())
    print(f"written: {path}\nchange it in a spreadsheet, then: formulate read {path}")
    return DONE


def _doctor(options):
    """Print versions, missing packages and anything else that claims our name."""
    print(f"formulate {formulate.__version__}, tables {checksum()}")
    print(f"Python {platform.python_version()} on {platform.system()}")
    missing = [name for name in NEEDED if not _version(name)]
    for name in NEEDED:
        print(f"{name:<21} {_version(name) or 'MISSING'}")
    for extra, names in OPTIONAL.items():
        for name in names:
            hint = f"not installed (extra {extra!r})"
            print(f"{name:<21} {_version(name) or hint}")
    owners = importlib.metadata.packages_distributions().get("formulate", [])
    others = sorted({owner for owner in owners if owner != "formulate-salts"})
    if others:
        print(
            f"another package also provides 'formulate': {', '.join(others)}; use a venv each"
        )
    home = Path(formulate.__file__).parent
    if not (home / "data" / "forms.csv").is_file():
        missing.append("the tables in formulate/data")
    print(f"missing: {', '.join(missing)}" if missing else "everything needed is there")
    return AT_FAULT if missing or others else DONE


def _verify(options):
    """Print which published values this machine works out alike."""
    from formulate.verify import report, verify

    checks = verify()
    print(report(checks, every=options.every))
    return DONE if checks and all(check.agrees for check in checks) else FAILED


def _version(name):
    """Return the version of an installed package, or an empty text."""
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return "there, version not told" if importlib.util.find_spec(name) else ""


if __name__ == "__main__":
    sys.exit(main())
