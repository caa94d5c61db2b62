"""Text files: whatever an editor or a spreadsheet wrote is read, or refused in words."""

import pytest

from formulate.errors import InputError
from formulate.files import read_text, write_text

TEXT = "Härte 15 °dH; 65 €\n"


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_what_programs_save_is_read_as_it_was_written(coding, tmp_path):
    path = tmp_path / "report.txt"
    path.write_bytes(TEXT.encode(coding))
    assert read_text(path) == TEXT


@pytest.mark.parametrize("coding", ["utf-16", "cp1252"])
def test_a_file_that_must_be_utf8_is_refused_otherwise(coding, tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(TEXT.encode(coding))
    with pytest.raises(InputError, match="save it as text in UTF-8"):
        read_text(path, utf8_only=True)


def test_what_is_no_text_is_refused_and_nothing_replaced(tmp_path):
    path = tmp_path / "photo.txt"
    path.write_bytes(b"Calcium 80 mg/L \x81\x8d\xff")
    with pytest.raises(InputError, match="no UTF-8 text"):
        read_text(path)


def test_a_missing_file_a_folder_and_a_huge_file_say_why(tmp_path):
    huge = tmp_path / "huge.txt"
    huge.write_bytes(b"x" * 1_000_001)
    for path, word in (
        (tmp_path / "none.txt", "No such file"),
        (tmp_path, "cannot be read"),
        ("a\0b", "cannot be read"),
        (huge, "larger than 1000000 bytes"),
    ):
        with pytest.raises(InputError, match=word):
            read_text(path)


def test_what_was_written_is_read_back(tmp_path):
    write_text(tmp_path / "note.txt", TEXT)
    assert read_text(tmp_path / "note.txt") == TEXT
