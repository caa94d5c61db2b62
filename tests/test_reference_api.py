"""The pages of names leave out no public module, and fill themselves from the package."""

import importlib.util
import pkgutil
import re
from collections import Counter
from importlib import import_module
from pathlib import Path

import pytest

import formulate

FOLDER = Path(__file__).parent.parent / "reference" / "api"
PAGES = sorted(FOLDER.glob("floor_*.rst"))
pytestmark = pytest.mark.filterwarnings("ignore:Widget[.]:DeprecationWarning")


@pytest.fixture(scope="module")
def conf():
    spec = importlib.util.spec_from_file_location("api_conf", FOLDER / "conf.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def named_on(page):
    return re.findall(r"^\.\. modules:: (\S+)$", page.read_text(), re.MULTILINE)


def test_every_public_module_stands_on_one_page(conf):
    shown = Counter(
        module.__name__
        for page in PAGES
        for name in named_on(page)
        for module in conf.modules_of(name)
    )
    public = {
        info.name
        for info in pkgutil.walk_packages(formulate.__path__, "formulate.")
        if not info.ispkg and hasattr(import_module(info.name), "__all__")
    }
    assert set(shown) == public
    assert set(shown.values()) == {1}
    assert len(public) > 250


def test_a_page_is_filled_with_every_name_of_its_modules(conf):
    text = ["Floor\n=====\n\n.. modules:: formulate.tables\n"]
    conf.filled(None, "floor", text)
    from formulate import tables

    for name in tables.__all__:
        assert f":: formulate.tables.{name}\n" in text[0]
    assert ".. modules::" not in text[0]


def test_the_first_page_lists_every_name_of_the_package(conf):
    listed = "\n".join(conf.first_names())
    functions = [n for n in formulate.__all__ if callable(getattr(formulate, n))]
    assert len(functions) > 40
    assert [n for n in functions if f"`{n} <formulate." not in listed] == []
