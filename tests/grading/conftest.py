"""The real nbgrader is asked only where it is installed (extra `grading`)."""

import importlib.util
import os
import sys
from pathlib import Path

import pytest

MISSING = importlib.util.find_spec("nbgrader") is None
if MISSING and os.environ.get("FORMULATE_GRADING") == "required":
    raise pytest.UsageError("tests/grading needs nbgrader: extra 'grading'")
collect_ignore_glob = ["test_*.py"] if MISSING else []


def pytest_terminal_summary(terminalreporter):
    if MISSING:
        terminalreporter.write_line(
            "tests/grading left out: no nbgrader (pip install -e '.[grading]')"
        )


@pytest.fixture(scope="session", autouse=True)
def beside_python():
    """Let nbgrader find the programs that were installed with it (alembic)."""
    before = os.environ["PATH"]
    os.environ["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{before}"
    yield
    os.environ["PATH"] = before
