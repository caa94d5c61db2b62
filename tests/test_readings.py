"""`formulate read` and `formulate shelf new`: what was understood, told in words."""

import pytest

from formulate.cli import main
from formulate.errors import InputError
from formulate.sheets.readings import explain_file, explain_text

WATER = "Calcium 94 mg/L\nMagnesium 18 mg/L\nHydrogencarbonat 317 mg/L\npH 7.4\n"
LABEL = (
    "GUARANTEED ANALYSIS\nTotal Nitrogen (N) 15%\n  15% Nitrate Nitrogen\n"
    "Available Phosphate (P2O5) 5%\nSoluble Potash (K2O) 30%\n"
    "Derived from: potassium nitrate, monopotassium phosphate, calcium nitrate\n"
)
SHELF = "# ours\ningredient;price;pack\nKNO3;26 EUR;10 kg\n"


@pytest.mark.parametrize(
    ("text", "kind"),
    [(WATER, "a water report"), (LABEL, "a label"), (SHELF, "a shelf")],
)
def test_the_kind_is_found_out_and_may_be_told(text, kind):
    _, lines = explain_text(text)
    assert lines[0].startswith(kind)
    told = {"a water report": "water", "a label": "label", "a shelf": "shelf"}[kind]
    assert explain_text(text, kind=told)[1] == lines


def test_a_label_is_told_entry_by_entry():
    _, lines = explain_text(LABEL)
    shown = "\n".join(lines)
    for piece in ("NO3-N 15 %", "P2O5 5 %", "K2O 30 %"):
        assert piece in shown


def test_a_line_left_out_of_a_label_is_told():
    _, lines = explain_text(LABEL + "Humic acids from leonardite 2%\n")
    assert sum("left out" in line and "umic" in line for line in lines) == 1


def test_a_shelf_tells_what_a_gram_costs():
    _, lines = explain_text(SHELF)
    # 2.60 EUR/kg ÷ 0.38672 g K per g (IUPAC 2021 abridged masses: 39.098/101.102)
    assert any(line.split()[:2] == ["K", "0.00672"] for line in lines)


def test_a_shelf_may_begin_with_any_column():
    _, lines = explain_text("price;ingredient;pack\n26;KNO3;10 kg\n")
    assert lines[0] == "a shelf of 1"


def test_neither_a_report_nor_a_label_tells_both_reasons():
    with pytest.raises(InputError) as raised:
        explain_text("We are open from nine.\n")
    assert "as a water" in str(raised.value)
    assert "as a label" in str(raised.value)
    with pytest.raises(InputError, match="write one of"):
        explain_text(WATER, kind="soup")


def test_files_in_an_old_encoding_are_read(tmp_path):
    path = tmp_path / "wasser.txt"
    path.write_bytes("Härte 15 °dH\nCalcium 80 mg/L\npH 7,4\n".encode("cp1252"))
    made, _ = explain_file(path)
    assert made.solution.mg_l("Ca") == pytest.approx(80)
    large = tmp_path / "large.txt"
    large.write_bytes(b"a" * 1_000_001)
    with pytest.raises(InputError, match="larger than"):
        explain_file(large)


def test_the_command_reads_a_file(tmp_path, capsys):
    path = tmp_path / "bag.txt"
    path.write_text(LABEL, encoding="utf-8")
    assert main(["read", str(path)]) in (0, 1)
    assert capsys.readouterr().out.startswith("a label")
    assert main(["read", str(path), "--as", "water"]) in (1, 2)
    capsys.readouterr()
    assert main(["read", str(tmp_path / "none.txt")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_a_wrong_label_is_refused_by_line(tmp_path, capsys):
    path = tmp_path / "bag.txt"
    path.write_text(LABEL.replace("  15% Nitrate", "  13% Nitrate"), encoding="utf-8")
    assert main(["read", str(path), "--as", "label"]) == 2
    shown = capsys.readouterr()
    assert "line" in shown.err
    assert shown.out == ""


def test_a_new_shelf_is_written_once_and_reads(tmp_path, capsys):
    path = tmp_path / "shelf.csv"
    assert main(["shelf", "new", str(path)]) == 0
    before = path.read_text(encoding="utf-8")
    assert main(["read", str(path)]) == 0
    assert "a shelf of 5" in capsys.readouterr().out
    assert main(["shelf", "new", str(path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == before


def test_what_tells_shares_only_is_refused_as_a_label_alone():
    with pytest.raises(InputError) as raised:
        explain_text("Total nitrogen 12 %\nnitrate nitrogen 13 %\n")
    assert "water" not in str(raised.value)
