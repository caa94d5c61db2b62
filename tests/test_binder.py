"""The hosted notebooks: every package that is needed is pinned, and the pins are allowed."""

import json
import os
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BINDER = ROOT / "binder"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
PIN = re.compile(r"([A-Za-z0-9_-]+)==(\d+(?:\.\d+)+)")
LOWER_BOUND = re.compile(r"([A-Za-z0-9_-]+)>=(\d+(?:\.\d+)*)")


def plain(name):
    return name.replace("_", "-").casefold()


def parts(version):
    return tuple(int(part) for part in version.split("."))


def lines():
    text = (BINDER / "requirements.txt").read_text("utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def pins():
    found = [PIN.fullmatch(line) for line in lines() if line != "-e ."]
    return {plain(match[1]): match[2] for match in found}


def bounds():
    wanted = PROJECT["dependencies"] + PROJECT["optional-dependencies"]["workbench"]
    return {plain(m[1]): m[2] for m in map(LOWER_BOUND.fullmatch, wanted)}


def test_each_line_is_one_exact_pin_and_the_last_is_the_project():
    assert lines()[-1] == "-e ."
    for line in lines()[:-1]:
        assert PIN.fullmatch(line), line
    assert len(pins()) == len(lines()) - 1


@pytest.mark.parametrize("name", sorted(bounds()))
def test_what_the_workbench_needs_is_pinned_above_its_lower_bound(name):
    assert name in pins()
    assert parts(pins()[name]) >= parts(bounds()[name])


def test_nothing_is_pinned_that_is_not_needed():
    assert set(pins()) == set(bounds())


def test_the_python_is_one_that_the_project_allows():
    stated = (BINDER / "runtime.txt").read_text("utf-8").strip()
    python = re.fullmatch(r"python-(\d+\.\d+)", stated)[1]
    allowed = re.fullmatch(r">=(\d+\.\d+)", PROJECT["requires-python"])[1]
    assert parts(python) >= parts(allowed)


def test_the_hosted_page_takes_the_template_that_asks_no_other_machine():
    settings = json.loads((BINDER / "voila.json").read_text("utf-8"))
    name = settings["VoilaConfiguration"]["template"]
    shown = ROOT / "formulate/data/jupyter/voila/templates" / name / "index.html.j2"
    assert shown.is_file()
    assert settings["VoilaConfiguration"]["file_allowlist"] == []
    assert os.access(BINDER / "start", os.X_OK)
    start = (BINDER / "start").read_text("utf-8")
    assert start.startswith("#!/bin/bash\n")
    assert start.endswith('exec "$@"\n')
    for folder in ("formulate/data/jupyter", "binder"):
        assert f"$project/{folder}" in start
