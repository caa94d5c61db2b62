"""Guarantees of an assay given as the text of a label, or as text of guarantees."""

import pytest

from formulate.claims.assay import check_assay
from formulate.errors import InputError
from formulate.ingredients.labels import read_label

TAG = """20-20-20
Total Nitrogen (N) 20%
  3.9% Ammoniacal Nitrogen
  6.1% Nitrate Nitrogen
  10% Urea Nitrogen
Available Phosphate (P2O5) 20%
Soluble Potash (K2O) 20%
Iron (Fe) 0.1%"""


def test_the_text_of_a_label_is_its_guarantees():
    # fl-576-061, last rows: 20 % N 0.73, P2O5 0.72, K2O 1.08 allowed; agr-1105-04, Fe 0.015
    found = {"N": 19.2, "P2O5": 19.29, "K2O": 18.93, "Fe": 0.09}
    report = check_assay(TAG, found)
    assert {f.subject: f.verdict for f in report.findings} == {
        **dict.fromkeys(found, "right"),
        **dict.fromkeys(("NH4-N", "NO3-N", "urea-N"), "cannot tell"),  # not analysed
        "N": "wrong",
    }
    assert check_assay(read_label(TAG), found).findings == report.findings


@pytest.mark.parametrize(
    "text", ["N 10 %, Zn 0.05 %", "N 10 %\nZn 0.05 %", "Zn: 500 mg/kg"]
)
def test_a_text_of_guarantees_is_one_too(text):
    report = check_assay(text, {"Zn": 0.041})
    (zinc,) = (line for line in report.lines if line.key == "Zn")
    assert zinc.guarantee == pytest.approx(0.05)


def test_a_label_that_cannot_be_read_makes_no_further_faults():
    with pytest.raises(InputError) as caught:
        check_assay("nothing of use", {"N": 19.2, "Fe": 0.09, "Zn": "-1"})
    text = str(caught.value)
    assert "is not guaranteed" not in text
    assert "'-1.0' is not" in text  # a fault of its own
    assert len(caught.value.faults) == 2
    with pytest.raises(InputError) as caught:
        check_assay({}, {"N": 19.2, "Fe": 0.09})
    assert len(caught.value.faults) == 1
