"""A person at the page who walks a task of reference/tasks.md: each press and field is counted."""

import re
from pathlib import Path

__all__ = ["Hand", "told"]

TASKS = Path(__file__).parent.parent.parent / "reference" / "tasks.md"


class Hand:
    """A person at the page: whatever is pressed or typed is counted."""

    def __init__(self, page):
        self.page, self.presses, self.fields = page, 0, 0

    def press(self, where):
        """Press a button, tick a box, open a part."""
        self.presses += 1
        where.click()

    def choose(self, where, value):
        """Choose from a list."""
        self.presses += 1
        where.select_option(value)

    def go(self, part):
        """Go to a part by its button in the head; return the part."""
        self.press(self.page.locator(f".fm-parts button[data-go={part}]"))
        return self.page.locator(f".fm-{part}")

    def type(self, where, text):
        """Type or paste a text and leave the field."""
        self.fields += 1
        where.fill(text)
        where.press("Tab")

    def counted(self):
        """Return presses and fields."""
        return self.presses, self.fields


def told(number):
    """Return presses and fields that the document tells of a task."""
    row = rf"^\| {number} .*?\| (\d+) \| (\d+) \| (\d+) \|"
    presses, fields, total = map(
        int, re.search(row, TASKS.read_text(encoding="utf-8"), re.MULTILINE).groups()
    )
    assert presses + fields == total
    return presses, fields
