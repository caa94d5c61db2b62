"""Headings of tables in water reports."""

import pytest

from formulate.ingredients.report_headings import (
    glued_heading,
    heading_in,
    split_cells,
    unit_heading,
)


@pytest.mark.parametrize(
    ("line", "delimiter", "roles"),
    [
        (
            "Parameter;Einheit;Messwert;Grenzwert TrinkwV",
            ";",
            "parameter unit value limit",
        ),
        (
            "Parameter Dimension Bestimmungsgrenze Ergebnisse Grenzwert",
            " ",
            "parameter unit limit value limit",
        ),
        (
            "Lfd. Nr. Parameter Einheit Grenzwert Messwert",
            " ",
            "rest parameter unit limit value",
        ),
        (
            "Analyte,Result,Qualifier,Units,RL,Method",
            ",",
            "parameter value sign unit limit method",
        ),
        ("Kationen;mg/l;mmol/l", ";", "parameter value also"),
        ("| Parameter | Unité | Résultat |", "|", "parameter unit value"),
        ("Determinación;Resultado;Unidad", ";", "parameter value unit"),
        (
            "Substance   Units   MCL   Average   Range",
            "  ",
            "parameter unit limit mean range",
        ),
        ("Parameter;Einheit;Brunnen 1", ";", "parameter unit value"),
        ("Parameter;Einheit;Probe 1;Probe 2", ";", "parameter unit sample sample"),
        ("Parameter;Einheit;12.06.2025", ";", "parameter unit value"),
    ],
)
def test_headings_tell_the_columns(line, delimiter, roles):
    heading = heading_in(line)
    assert heading.delimiter == delimiter
    assert heading.roles == tuple(roles.split())


@pytest.mark.parametrize(
    "line",
    [
        "Calcium;mg/l;94,4",
        "Nitrit;mg/l;n.n.",
        "Calcium mg/l 94,4 400",
        "Messdatum;16.11.2004;29.11.2006",
        "Calcium (Ca) ... mg/l",
        "",
    ],
)
def test_data_are_no_heading(line):
    assert heading_in(line) is None


def test_headings_that_run_together_and_headings_that_tell_a_unit():
    assert glued_heading("ParameterGrenzwerteMesswerte") != ""
    assert glued_heading("Parameter Grenzwerte Messwerte") == ""
    assert unit_heading("Mineral Analysis ppm").name == "mg/L"
    assert unit_heading("Calcium mg/l") is None
    assert split_cells('a,"b, c"', ",") == ["a", "b, c"]
