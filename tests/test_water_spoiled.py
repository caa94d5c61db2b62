"""Spoiled copies of the corpus: refused, or read with no number lost or summed up wrongly."""

import os
import random
import re
from collections import Counter, defaultdict
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError
from formulate.ingredients.water_report import (
    water_from_text,
)

WATERS = Path(__file__).parent / "waters"
ABOUT = ("expected.csv", "notices.csv", "refused.csv", "sources.csv")
REPORTS = sorted(path for path in WATERS.iterdir() if path.name not in ABOUT)


def everything(read_one):
    return "\n".join([*read_one.assumed, *map(str, read_one.notices)])


COPIES = 10_000 if os.environ.get("FORMULATE_HYPOTHESIS") == "deep" else 400
DIGITS = re.compile(r"\d+")
NUMBER = re.compile(r"[-−+]?(?:\d[\d.,'’]*|[.,]\d+)(?:[eE][+-]?\d+)?")
SCRAP = [*"0123456789.,;:<>-+xµ°/ \t\n|()\"'%äé", "\u00a0", "\u2009", "\x00", "\u202e"]
PIECES = ["nan", "inf", "1e400", "-5", "999999999999", "=1+1", "<script>", "n.n.", "ND"]
EXCHANGES = [(",", "."), (".", ","), (";", "\t"), (",", ";"), ("mg/l", "µg/l")]
EXCHANGES += [
    ("mg/L", "mmol/L"),
    ("°dH", "°f"),
    (" ", "  "),
    ("  ", " "),
    ("\n", "\r\n"),
]


def texts():
    for path in REPORTS:
        data = path.read_bytes()
        try:
            yield data.decode("utf-8-sig")
        except UnicodeDecodeError:
            yield data.decode("cp1252")


TEXTS = list(texts())


def mutate(text, dice):
    """Return a text with one to four random changes."""
    for _ in range(dice.randint(1, 4)):
        start = dice.randrange(len(text) or 1)
        end = start + dice.randint(1, 12)
        lines = text.split("\n")
        at = dice.randrange(len(lines))
        kind = dice.randrange(8)
        if kind == 0:
            text = text[:start] + text[end:]
        elif kind == 1:
            text = text[:end] + text[start:end] + text[end:]
        elif kind == 2:
            text = text[:start] + dice.choice(SCRAP) + text[start + 1 :]
        elif kind == 3:
            text = text.replace(*dice.choice(EXCHANGES))
        elif kind == 4:
            lines.insert(at, dice.choice(lines))
            text = "\n".join(lines)
        elif kind == 5:
            text = "\n".join(lines[:at] + lines[at + 1 :])
        elif kind == 6:
            mark = dice.choice(";,|\t ")
            cells = lines[at].split(mark)
            dice.shuffle(cells)
            text = "\n".join([*lines[:at], mark.join(cells), *lines[at + 1 :]])
        else:
            text = text[:start] + dice.choice(PIECES) + text[start:]
    return text


def lost_numbers(text, found):
    """Return (line, number) of every number that is neither read nor named."""
    named = defaultdict(Counter)
    for entry in found.report.entries:
        words = f"{entry.word} {entry.printed} {entry.beside}"
        named[entry.line].update(DIGITS.findall(words))
    for left in found.report.left_out:
        named[left.line].update(DIGITS.findall(left.text))
    lines = enumerate(re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff")), 1)
    return [
        (number, digits)
        for number, line in lines
        for digits in DIGITS.findall(line)
        if not named[number][digits]
    ]


def misread(found):
    """Return entries whose value is not the number that is printed for them."""
    wrong = []
    for entry in found.report.entries:
        printed = NUMBER.search(entry.printed)
        if entry.sign or any("middle" in s or "read as" in s for s in entry.said):
            continue
        plain = re.sub(r"['’]", "", printed.group()).replace("−", "-").rstrip(".,")
        marks = re.findall(r"[.,]", plain)
        if len(set(marks)) == 2:
            plain = plain.replace(marks[0], "")
        if float(plain.replace(",", ".")) != entry.value:
            wrong.append(entry)
    return wrong


@given(st.randoms(use_true_random=False))
def test_a_spoiled_report_is_refused_or_read_without_loss(dice):
    text = mutate(dice.choice(TEXTS), dice)
    try:
        found = water_from_text(text)
    except FormulateError:
        return
    assert lost_numbers(text, found) == []
    assert misread(found) == []
    told = everything(found)
    unread = [left for left in found.report.left_out if left.why == "not understood"]
    assert all(f"line {left.line}" in told for left in unread[:40])


def test_many_seeded_copies_are_refused_or_read_without_loss():
    dice, outcomes = random.Random(3), Counter()
    for _ in range(COPIES):
        text = mutate(dice.choice(TEXTS), dice)
        try:
            found = water_from_text(text)
        except FormulateError:
            outcomes["refused"] += 1
            continue
        outcomes["read"] += 1
        assert lost_numbers(text, found) == []
        assert misread(found) == []
    assert min(outcomes.values()) > 50  # the test sees both


def test_the_sum_of_what_was_read_is_the_sum_of_the_text():
    """Numbers of the text, taken by a pattern of this test, against the entries."""
    text = TEXTS[[path.name for path in REPORTS].index("fr_controle.txt")]
    pattern = re.compile(r"\.{3,} (<?)([\d,]+)", re.MULTILINE)
    numbers = [
        float(number.replace(",", "."))
        for sign, number in pattern.findall(text)
        if not sign
    ]
    found = water_from_text(text)
    read_sum = sum(entry.value for entry in found.report.entries)
    left = sum(
        float(pattern.search(one.text).group(2).replace(",", "."))
        for one in found.report.left_out
        if pattern.search(one.text)
    )
    assert read_sum + left == pytest.approx(sum(numbers))


def test_the_accounting_bites():
    found = water_from_text("Calcium 94.4 mg/L\nZinc 0.02 mg/L")
    assert lost_numbers("Calcium 94.4 mg/L\nZinc 0.02 mg/L\nFoo 12", found) == [
        (3, "12")
    ]
