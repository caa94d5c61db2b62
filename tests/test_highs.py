"""HiGHS kept quiet: what is written below Python is lost inside, and kept before and after."""

import ctypes
import os

import pytest

from formulate.recipes import programme
from formulate.recipes.few_bags import few_bags
from formulate.recipes.highs import quiet
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.whole_steps import whole_steps

SHELF = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "MgSO4·7H2O", "K2SO4", "KCl"]


def printf(text):
    """Write as C does, through a buffer of its own."""
    ctypes.CDLL(None).printf(b"%s", text)


@pytest.fixture
def recipe():
    feed = target({"NO3-N": 150, "P": 31, "K": 200, "Ca": 120, "Mg": 30, "S": 60})
    return solve(feed, SHELF, volume=100)


def test_what_is_written_inside_is_lost_and_the_rest_stays_in_order(capfd):
    print("before")
    printf(b"C before\n")
    with quiet():
        os.write(1, b"raw inside\n")
        printf(b"C inside\n")
    print("after")
    printf(b"C after\n")
    ctypes.CDLL(None).fflush(None)
    lines = capfd.readouterr().out.split("\n")
    assert not any("inside" in line for line in lines)
    assert lines.index("before") < lines.index("after")
    assert lines.index("C before") < lines.index("C after")
    assert lines.index("before") < lines.index("C after")


def test_what_stands_in_buffers_before_comes_out_before_what_follows(capfd):
    printf(b"first\n")  # no newline flushes a buffer that is no terminal's
    with quiet():
        pass
    os.write(1, b"second\n")
    assert capfd.readouterr().out == "first\nsecond\n"


def test_errors_pass_and_output_comes_back(capfd):
    with pytest.raises(ZeroDivisionError), quiet():
        raise ZeroDivisionError
    os.write(1, b"back\n")
    assert capfd.readouterr().out == "back\n"


def test_standard_error_is_left_alone(capfd):
    with quiet():
        os.write(2, b"fault\n")
    assert capfd.readouterr() == ("", "fault\n")


def test_no_descriptor_is_left_open():
    before = len(os.listdir("/proc/self/fd"))
    for _ in range(5):
        with quiet():
            pass
    assert len(os.listdir("/proc/self/fd")) == before


def test_one_quiet_inside_another(capfd):
    with quiet():
        with quiet():
            os.write(1, b"inner\n")
        os.write(1, b"outer\n")
    os.write(1, b"out\n")
    assert capfd.readouterr().out == "out\n"


@pytest.mark.parametrize("find", [few_bags, whole_steps])
def test_a_search_writes_nothing_even_where_highs_does(
    find, recipe, capfd, monkeypatch
):
    said, milp = [], programme.milp

    def noisy(*given, **facts):
        said.append(printf(b"WARNING: stray line of the solver\n"))
        os.write(1, b"another\n")
        return milp(*given, **facts)

    monkeypatch.setattr(programme, "milp", noisy)
    find(recipe, most=4)
    ctypes.CDLL(None).fflush(None)
    assert said
    assert capfd.readouterr() == ("", "")
