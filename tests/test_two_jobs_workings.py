"""What is behind the numbers of two jobs side by side: costs and meters, and what differs."""

from dataclasses import replace

import pytest

from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.outcome import run_job
from formulate.sheets.two_jobs import two_jobs_part

K = 39.0983  # g/mol, standard atomic masses, as those of N and O below
KNO3 = K + 14.007 + 3 * 15.999


def potash(**facts):
    """Return a job of 100 mg/L K from one salt, in pure water."""
    job = Job(
        title="potash",
        volume="10 L",
        target=(("wanted", (("K", 100),)),),
        shelf=(ShelfLine("KNO3", step="0.0001 g", price_per_kg=2.0),),
    )
    return replace(job, **facts)


def behind(name, *pair):
    """Return (row, column) in words to the working of each number of a part."""
    table = two_jobs_part(name, *pair).table
    return {
        (table.rows[row][0], table.columns[column]): one.worked()
        for (row, column), one in table.workings.items()
    }


@pytest.fixture(scope="module")
def pair():
    """Return the demo, whose shelf has prices, whole and at half its strength."""
    demo = read_job(DEMO)
    shelf = tuple(
        replace(line, price_per_kg=line.price_per_kg or 3.0) for line in demo.shelf
    )
    whole = replace(demo, shelf=shelf)
    return run_job(whole), run_job(replace(whole, strength_percent=50.0))


# --- cost -------------------------------------------------------------------------------


def test_a_cost_is_grams_times_the_price_of_a_kilogram():
    """By hand: 1 g K in 10 L is 101.102 / 39.0983 = 2.5858 g KNO3, at 2 a kilogram."""
    both = run_job(potash()), run_job(potash(volume="20 L"))
    found, grams = behind("cost", *both), KNO3 / K
    assert found["KNO3", "first"].value == pytest.approx(2 * grams / 1000, rel=1e-4)
    assert found["KNO3", "second"].value == pytest.approx(4 * grams / 1000, rel=1e-4)
    assert found["the batch", "second"].value == found["KNO3", "second"].value
    each = 10 * 2 * grams / 1000  # 100 L are ten times 10 L, five times 20 L
    assert found["100 L", "first"].value == pytest.approx(each, rel=1e-4)
    assert found["100 L", "second"].value == pytest.approx(each, rel=1e-4)
    more = found["the batch", "difference"]
    assert more.value == pytest.approx(2 * grams / 1000, rel=1e-4)
    assert found["the batch", "%"].value == pytest.approx(100.0, abs=0.01)


def test_costs_of_ingredients_add_up_to_that_of_the_batch(pair):
    """A law; traces that go through a stock cost what of them reaches the batch."""
    found = behind("cost", *pair)
    for which, side in zip(("first", "second"), pair, strict=True):
        whole = found["the batch", which].value
        of_each = [
            made.value
            for (name, column), made in found.items()
            if column == which and name not in ("the batch", "100 L")
        ]
        assert len(of_each) >= 8
        assert sum(of_each) == pytest.approx(whole, rel=1e-9)
        assert found["100 L", which].value == pytest.approx(
            100 / side.volume * whole, rel=1e-9
        )


def test_what_is_not_there_costs_nothing_and_what_has_no_price_is_not_told():
    line = ShelfLine("K2SO4", step="0.0001 g")
    other = potash(shelf=(line,))
    found = behind("cost", run_job(potash()), run_job(other))
    assert set(found) == {("KNO3", "first"), ("KNO3", "difference"), ("KNO3", "%")} | {
        (name, "first") for name in ("the batch", "100 L")
    }
    assert found["KNO3", "%"].value == pytest.approx(-100.0)


def test_a_job_without_a_recipe_leaves_the_other_its_workings():
    limits = (("K", "at least 100 mg/L"), ("NO3-N", "at most 20 mg/L"))
    none = potash(target=(("wanted", (("K", 100),)), ("limits", limits)))
    for both, which in (((potash(), none), "first"), ((none, potash()), "second")):
        found = behind("cost", *map(run_job, both))
        assert set(found) == {(n, which) for n in ("KNO3", "the batch", "100 L")}
        readings = {column for _, column in behind("meters", *map(run_job, both))}
        assert readings == {which}


# --- meters -----------------------------------------------------------------------------


def test_every_reading_of_both_opens_the_working_of_its_own_job(pair):
    found = behind("meters", *pair)
    for which, side in zip(("first", "second"), pair, strict=True):
        ec = found["EC at 25 °C", which]
        assert ec.value == pytest.approx(side.expected.conductivity.ec, rel=1e-6)
        for name, _ in side.expected.rows():
            assert (name, which) in found


def test_what_differs_is_the_second_less_the_first(pair):
    """EC 1.46 and 0.960 mS/cm, as two printed readings: 0.50 less, 34 % of the first."""
    table = two_jobs_part("meters", *pair).table
    cells = {row[0]: row[1:] for row in table.rows}["EC at 25 °C"]
    one, other = (float(cell.split()[0]) for cell in cells[:2])
    found = behind("meters", *pair)
    apart = found["EC at 25 °C", "difference"]
    assert apart.value == pytest.approx(other - one, abs=0.01)
    assert apart.unit == "mS/cm"
    share = found["EC at 25 °C", "%"]
    assert share.value == pytest.approx(100 * (other - one) / one, abs=0.5)
    assert ("pH once aerated", "%") not in found  # a pH has no percent


def test_alkalinity_left_is_the_charge_that_carbonate_must_balance():
    """1 mmol/L CaCO3 takes up 2 mmol/L of acid, and KNO3 none."""
    water = (("Ca", "40.078"), ("alkalinity", "2 meq/L"))
    both = run_job(potash(water=water)), run_job(potash())
    found = behind("meters", *both)
    assert found["alkalinity left", "first"].value == pytest.approx(2.0, abs=1e-6)
    assert found["alkalinity left", "second"].value == pytest.approx(0.0, abs=1e-6)


def test_every_number_of_costs_and_meters_opens_but_shares_of_nothing(pair):
    """A cell with a digit has a working; what may fall out stands there in words."""
    for name in ("cost", "meters"):
        table = two_jobs_part(name, *pair).table
        cells = {
            (row, column)
            for row, line in enumerate(table.rows)
            for column, cell in enumerate(line)
            if column and any(sign.isdigit() for sign in cell)
        }
        assert cells == set(table.workings)
