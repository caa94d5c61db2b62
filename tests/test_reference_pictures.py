"""The pictures of the validation page: there, told in words, small, the same when drawn again."""

import re

import pytest
import validation_pictures as pictures

PAGE = pictures.FOLDER.parent / "validation.md"
TEXT = PAGE.read_text(encoding="utf-8")
LARGEST = 150_000  # bytes
SHOWN = dict(re.findall(r"!\[([^\]]+)\]\(pictures/(\w+)\.svg\)", TEXT))


def test_the_page_shows_every_picture_and_no_other():
    assert sorted(SHOWN.values()) == sorted(pictures.PICTURES)
    files = {path.name for path in pictures.FOLDER.iterdir()}
    drawn = {f"{key}.svg" for key in pictures.PICTURES}
    assert files == drawn | {"readme.png"}  # that one is of the README


@pytest.mark.parametrize(("alt", "key"), SHOWN.items(), ids=SHOWN.values())
def test_a_picture_is_told_in_words_and_small(alt, key):
    svg = (pictures.FOLDER / f"{key}.svg").read_text(encoding="utf-8")
    assert f">{alt}</desc>" in svg
    assert "<image" not in svg
    assert len(svg) < LARGEST


def test_drawn_again_it_is_the_same():
    one, two = pictures.gypsum_picture(), pictures.gypsum_picture()
    assert one.svg == two.svg
    assert one.alt in SHOWN, "draw it anew: python tests/make_validation.py --pictures"


def test_a_page_keeps_all_but_its_pictures(monkeypatch):
    monkeypatch.setattr(pictures, "drawn", lambda key: pictures.marked(key, "new"))
    found = pictures.redrawn(TEXT)
    assert found.count("\n\nnew\n\n") == len(pictures.PICTURES)
    assert "![" not in found
    times = [line for line in TEXT.splitlines() if " ms " in line]
    assert len(times) > 10
    assert [line for line in found.splitlines() if " ms " in line] == times


def test_a_page_without_a_place_for_a_picture_is_refused():
    with pytest.raises(SystemExit, match="no place for the picture"):
        pictures.redrawn("# Validation\n")
