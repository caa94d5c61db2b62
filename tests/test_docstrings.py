"""Every public name says what it takes, in which unit, and shows an example that runs."""

import importlib
import inspect
import pkgutil
import re
from pathlib import Path

import pytest
from numpydoc.docscrape import FunctionDoc, NumpyDocString
from numpydoc.validate import validate

import formulate

GLOSSARY = Path(__file__).parent.parent / "reference" / "glossary.md"
NOT_ASKED = {
    "ES01",  # an extended summary where one line says it all
    "SA01",  # see also
    "EX01",  # examples: asked by our own check, for functions
    "GL01",  # docstrings of properties and errors stand on one line
    "RT01",  # properties tell their unit in the line itself
    "YD01",
    "PR01",  # classes tell their fields under Attributes
    "RT02",
    "PR09",  # descriptions end with the unit in brackets
    "RT05",
}
NUMERIC = re.compile(r"\b(float|int|array|ndarray|number)\b")
UNIT = re.compile(r"\[[^\[\]]+\]$")


def public_modules():
    for info in pkgutil.walk_packages(formulate.__path__, "formulate."):
        module = importlib.import_module(info.name)
        if hasattr(module, "__all__"):
            yield module


def public_objects():
    """Yield (dotted name, object) of every public function, class and method."""
    for module in public_modules():
        if module.__name__ == "formulate":
            continue
        for name in module.__all__:
            thing = getattr(module, name)
            if not (
                inspect.isfunction(inspect.unwrap(thing)) or inspect.isclass(thing)
            ):
                continue
            dotted = f"{module.__name__}.{name}"
            yield dotted, thing
            if inspect.isclass(thing):
                for member, value in vars(thing).items():
                    if not member.startswith("_") and callable(value):
                        yield f"{dotted}.{member}", value


OBJECTS = dict(public_objects())
FUNCTIONS = {n: o for n, o in OBJECTS.items() if not inspect.isclass(o)}
CLASSES = {n: o for n, o in OBJECTS.items() if inspect.isclass(o)}


def test_there_is_something_to_look_at():
    assert len(FUNCTIONS) > 60
    assert len(CLASSES) > 20


@pytest.mark.parametrize("name", OBJECTS)
@pytest.mark.filterwarnings("ignore:Widget[.]:DeprecationWarning")  # of ipywidgets
def test_docstring_is_valid_numpydoc(name):
    faults = [
        f"{code} {text}"
        for code, text in validate(name)["errors"]
        if code not in NOT_ASKED
    ]
    assert faults == []


def without_unit(entries):
    """Return the names of numeric entries whose description ends without [unit]."""
    return [
        entry.name
        for entry in entries
        if NUMERIC.search(entry.type)
        and not UNIT.search(" ".join(entry.desc).strip().rstrip("."))
    ]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_function_gives_units_and_an_example(name):
    function = inspect.unwrap(FUNCTIONS[name])
    doc = FunctionDoc(function)
    assert without_unit(doc["Parameters"]) == []
    assert without_unit(doc["Returns"]) == []
    if "raise_if_any" not in name and "collecting" not in name and ".add" not in name:
        assert ">>>" in inspect.getdoc(function), "no example that runs"


@pytest.mark.parametrize("name", FUNCTIONS)
def test_parameters_are_those_of_the_signature(name):
    function = inspect.unwrap(FUNCTIONS[name])
    signature = [
        {"VAR_POSITIONAL": "*", "VAR_KEYWORD": "**"}.get(p.kind.name, "") + p.name
        for p in inspect.signature(function).parameters.values()
        if p.name != "self"
    ]
    assert [entry.name for entry in FunctionDoc(function)["Parameters"]] == signature


@pytest.mark.parametrize("name", CLASSES)
def test_class_gives_units_of_its_fields(name):
    doc = NumpyDocString(inspect.getdoc(CLASSES[name]))
    assert without_unit(doc["Attributes"]) == []
    if hasattr(CLASSES[name], "__dataclass_fields__"):
        fields = [
            f for f in CLASSES[name].__dataclass_fields__ if not f.startswith("_")
        ]
        assert [entry.name for entry in doc["Attributes"]] == fields


def glossary_terms():
    """Return the words that the glossary explains as parameter names."""
    text = GLOSSARY.read_text(encoding="utf-8")
    return set(re.findall(r"`(\w+)`", text))


def test_every_public_parameter_is_in_the_glossary():
    missing = {}
    for name, function in FUNCTIONS.items():
        for parameter in inspect.signature(inspect.unwrap(function)).parameters:
            if parameter != "self" and parameter not in glossary_terms():
                missing.setdefault(parameter, name)
    assert missing == {}


def test_the_unit_check_bites():
    doc = NumpyDocString(
        "Return it.\n\nParameters\n----------\nmass : float\n    How much.\n"
    )
    assert without_unit(doc["Parameters"]) == ["mass"]
