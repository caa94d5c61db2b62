"""Files: whatever an editor or a spreadsheet wrote is read, or refused in words."""

import os

import pytest

from formulate.errors import InputError
from formulate.files import read_text, write_bytes, write_text

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


def test_bytes_are_written_as_they_are(tmp_path):
    data = bytes(range(256))
    write_bytes(tmp_path / "picture.png", data)
    assert (tmp_path / "picture.png").read_bytes() == data


def test_bytes_that_cannot_be_written_leave_the_old_file_whole(tmp_path, monkeypatch):
    path = tmp_path / "picture.png"
    path.write_bytes(b"old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        write_bytes(path, b"new")
    assert path.read_bytes() == b"old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["picture.png"]


@pytest.mark.skipif(os.name != "posix", reason="permission bits are those of POSIX")
def test_who_may_read_a_picture_stays_the_same(tmp_path):
    path = tmp_path / "picture.png"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_bytes(path, b"new")
    assert path.stat().st_mode & 0o777 == 0o640
