"""Tables whose numbers know their working, and the parts of a page that show them."""

import html
import re

import pytest

from formulate.errors import InputError
from formulate.jobs import DEMO, read_job
from formulate.outcome import run_job
from formulate.sheets.parts import Part, finished, followed, parts_markup, parts_text
from formulate.sheets.table import Followed, Table, csv_text, table_text
from formulate.working import Quantity, Step, Working

ROWS = (("KNO3", "5.2", "", "in 5.2 g"), ("KNO3", "7", "", "in 7 g"))
COLUMNS = ("salt", "g", "note", "words")


def never():
    raise AssertionError("worked out before it was asked for")


def grams():
    terms = (Quantity(2.6, "g/L"), "×", Quantity(2.0, "L"))
    return Working("grams", (Step("salt", terms, "g", "definition"),))


@pytest.fixture(scope="module")
def outcome():
    return run_job(read_job(DEMO))


@pytest.fixture
def plain():
    return Table("t", "Test", COLUMNS, ROWS, (1,))


@pytest.fixture
def table(plain):
    cells = [(0, 1), (1, 1), (0, 3), (0, 2), (9, 1)]
    return plain.with_workings(
        (cell, Followed(never, "5.2" if cell == (0, 3) else "")) for cell in cells
    )


def markup(table, outcome, **given):
    return parts_markup([Part("one", table=table)], outcome, heading="asked", **given)


def test_empty_cells_and_cells_beyond_the_table_have_no_working(table):
    assert set(table.workings) == {(0, 1), (1, 1), (0, 3)}


def test_a_column_that_is_left_out_takes_its_workings_along(table):
    left = table.without_empty("note")
    assert left.columns == ("salt", "g", "words")
    assert set(left.workings) == {(0, 1), (1, 1), (0, 2)}
    assert left.workings[0, 2] is table.workings[0, 3]


def test_tables_are_the_same_whatever_is_behind_their_numbers(plain, table):
    assert plain == table
    assert hash(plain) == hash(table)


def test_nothing_can_be_put_behind_a_number_afterwards(table):
    with pytest.raises(TypeError):
        table.workings[0, 0] = Followed(never)


def test_paper_csv_and_terminal_show_the_number_alone(plain, table, outcome):
    assert csv_text([table]) == csv_text([plain])
    assert table_text(table) == table_text(plain)
    assert parts_text([Part("one", table=table)], outcome) == parts_text(
        [Part("one", table=plain)], outcome
    )
    for whole in (True, False):
        given = {"whole": whole}
        assert markup(table, outcome, **given) == markup(plain, outcome, **given)
        assert "<button" not in markup(table, outcome, **given)


def test_each_number_has_a_name_of_its_own_there(table):
    assert list(followed([Part("one", table=table)], "plan")) == [
        "plan t: KNO3, g",
        "plan t: KNO3, g (2)",
        "plan t: KNO3, words",
    ]


def test_a_number_is_a_button_and_the_rest_of_its_cell_is_not(table, outcome):
    made = markup(table, outcome, slot="plan")
    buttons = re.findall(r"<button([^>]*)>([^<]*)</button>", made)
    assert [text for _, text in buttons] == ["5.2", "5.2", "7"]
    assert 'name="working plan t: KNO3, words"' in buttons[1][0]
    assert 'class="fm-number"' in buttons[1][0]
    assert 'aria-label="KNO3, words: 5.2, show the working"' in buttons[1][0]
    assert 'aria-expanded="false"' in buttons[1][0]
    plain = html.unescape(re.sub(r"<[^>]+>", "", made))
    assert "in 5.2 g" in plain


def test_the_pressed_number_has_its_working_in_a_row_beneath(table, outcome):
    key = "plan t: KNO3, g (2)"
    given = {"slot": "plan", "pressed": key, "sources": [("definition", "by <b>")]}
    made = markup(table, outcome, working=grams(), **given)
    first, second, beneath = re.findall(r"<tr.*?</tr>", made, re.DOTALL)[1:]
    assert 'aria-expanded="true"' in second
    assert 'aria-expanded="true"' not in first
    assert f'data-key="working {key}" class="fm-working"' in beneath
    assert 'colspan="4"' in beneath
    assert "<li>salt: 2.6 g/L × 2 L = 5.2000 g  [definition]</li>" in beneath
    assert "<li>[definition] by &lt;b&gt;</li>" in beneath


def test_without_a_working_nothing_stands_beneath(table, outcome):
    assert "fm-working" not in markup(table, outcome, slot="plan", pressed="plan x")


def test_a_number_that_stands_in_no_cell_makes_a_button_of_the_whole():
    assert Followed(grams, "8").split("5.2 g") == ("", "5.2 g", "")


def test_names_that_people_typed_are_text_in_a_button(outcome):
    evil = '"><script>alert(1)</script>'
    table = Table("t", "Test", ("salt", evil), ((evil, evil),))
    made = markup(
        table.with_workings([((0, 1), Followed(grams))]),
        outcome,
        slot="plan",
        pressed=f"plan t: {evil}, {evil}",
        working=Working(evil, (Step(evil, (Quantity(1.0, evil),), evil, evil),)),
        sources=[(evil, evil)],
    )
    assert "<script" not in made
    assert "fm-working" in made


def test_a_finished_part_lets_go_of_what_it_was_drawn_from():
    class Drawing:
        svg, figure = "<svg></svg>", object()

    (part,) = finished([Part("one", picture=Drawing())])
    assert part.picture.svg == "<svg></svg>"
    assert not hasattr(part.picture, "figure")
    assert finished([Part("none")])[0].picture is None


def test_a_fault_of_a_working_is_raised_to_whoever_asked():
    def refused():
        raise InputError("not known")

    with pytest.raises(InputError, match="not known"):
        Followed(refused).worked()
