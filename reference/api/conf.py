"""Settings of the API pages: everything in them is read from the docstrings.

    python -m sphinx -W -n reference/api FOLDER

A page holds a line `.. modules:: formulate.chemistry`; in its place stands every module
of that package, and of it every public name. So no page has to follow a new file.
"""

import inspect
import pkgutil
from importlib import import_module

import formulate

project = "formulate"
author = "the formulate developers"
version = release = formulate.__version__
extensions = ["sphinx.ext.autodoc", "sphinx.ext.autosummary", "numpydoc"]
exclude_patterns = ["_*"]
html_theme = "alabaster"
html_theme_options = {
    "description": "every public name, by floor",
    "fixed_sidebar": True,
}
html_show_sourcelink = False
html_show_sphinx = False
project_copyright = ""
html_show_copyright = False
autodoc_typehints = "none"  # units stand in the docstrings, types beside them
autodoc_member_order = "bysource"
autosummary_generate = False  # tables only; nothing is written into the source
numpydoc_show_class_members = False  # methods follow the class, with their docstrings
toc_object_entries = False

MODULES, START = ".. modules::", ".. start::"


def modules_of(package):
    """Yield the public modules of a package, or the one module that it is."""
    found = import_module(package)
    if hasattr(found, "__path__") and found is not formulate:
        for info in pkgutil.iter_modules(found.__path__, f"{package}."):
            yield from modules_of(info.name)
    elif hasattr(found, "__all__"):
        yield found


def documented(module):
    """Return the public names of a module that its pages can show: what has a docstring."""
    return [
        name
        for name in module.__all__
        if inspect.isclass(thing := getattr(module, name))
        or inspect.isfunction(inspect.unwrap(thing))
    ]


def section(module):
    """Return the lines of one module: heading, its sentence, a table of names, each name."""
    name = module.__name__
    short = name.removeprefix("formulate.")
    names = documented(module)
    lines = [short, "-" * len(short), "", f".. automodule:: {name}", ""]
    if names:
        lines += [f".. currentmodule:: {name}", "", ".. autosummary::", ""]
        lines += [*(f"   {each}" for each in names), ""]
    for each in names:
        kind = "class" if inspect.isclass(getattr(module, each)) else "function"
        lines += [f".. auto{kind}:: {name}.{each}"]
        lines += ["   :members:"] * (kind == "class") + [""]
    return lines


def first_names():
    """Return a table of the names that stand in `formulate` itself, with their sentences."""
    lines = [".. list-table::", "   :widths: 25 75", ""]
    for name in sorted(formulate.__all__):
        thing = inspect.unwrap(getattr(formulate, name))
        if inspect.isfunction(thing):
            whole = f"{thing.__module__}.{thing.__qualname__}"
            summary = inspect.getdoc(thing).partition("\n\n")[0].replace("\n", " ")
            lines += [f"   * - :py:func:`{name} <{whole}>`", f"     - {summary}"]
    return [*lines, ""]


def filled(app, docname, source):
    """Put what the lines for modules and first names stand for into a page."""
    lines = []
    for line in source[0].splitlines():
        if line.startswith(MODULES):
            for module in modules_of(line.removeprefix(MODULES).strip()):
                lines += section(module)
        elif line.strip() == START:
            lines += first_names()
        else:
            lines.append(line)
    source[0] = "\n".join(lines) + "\n"


def setup(app):
    """Let every page be filled as it is read."""
    app.connect("source-read", filled)
    return {"parallel_read_safe": True}
