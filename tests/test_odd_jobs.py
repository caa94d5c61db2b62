"""Jobs built in Python with values of odd kinds: every fault told, nothing escapes."""

import random
from dataclasses import fields, replace

import pytest

from formulate.errors import InputError
from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.outcome import Checked, check_job, run_job

ODD = (
    None,
    True,
    -1,
    0,
    1e300,
    float("nan"),
    float("inf"),
    "",
    "x",
    "10 furlongs",
    "≥ 5",
    (),
    [],
    {},
    ("a",),
    (("a", 1),),
    {"wanted": 3},
    object(),
    b"bytes",
    ShelfLine(ingredient="KNO3"),
)


@pytest.mark.parametrize("seed", range(12))
def test_odd_values_are_told_and_never_escape(seed):
    drawn = random.Random(seed)
    demo = read_job(DEMO)
    for _ in range(40):
        job = demo
        for field in drawn.sample(fields(Job), drawn.randint(1, 3)):
            job = replace(job, **{field.name: drawn.choice(ODD)})
        if drawn.random() < 0.5 and isinstance(job.shelf, tuple) and job.shelf:
            line = drawn.choice(fields(ShelfLine)).name
            first = job.shelf[0]
            if isinstance(first, ShelfLine):
                changed = replace(first, **{line: drawn.choice(ODD)})
                job = replace(job, shelf=(changed, *job.shelf[1:]))
        checked = check_job(job)
        assert isinstance(checked, Checked)
        assert all(
            isinstance(text, str) for texts in checked.faults.values() for text in texts
        )
        if checked.faults:
            with pytest.raises(InputError):
                run_job(job)


LABEL = "15-0-0\nTotal Nitrogen (N) 15 %\n15 % Nitrate Nitrogen\n"


def with_water(**entries):
    return replace(read_job(DEMO), water=tuple(entries.items()))


@pytest.mark.parametrize(
    ("entries", "word"),
    [
        ({"preset": "hard", "Ca": "80 mg/L"}, "whole analysis"),
        ({"preset": "hard", "report": "Calcium 80 mg/l"}, "whole analysis"),
        ({"report": "Calcium 80 mg/l", "Mg": "10 mg/L"}, "whole analysis"),
    ],
)
def test_preset_report_and_typed_values_exclude_each_other(entries, word):
    faults = check_job(with_water(**entries)).faults
    assert word in " ".join(faults["water"])
    assert set(faults) == {"water"}


def test_purity_does_not_belong_to_a_label():
    line = ShelfLine(label=LABEL, name="invented base", purity_percent=98.0)
    checked = check_job(replace(read_job(DEMO), shelf=(line,)))
    assert "does not belong to label; leave it out" in " ".join(checked.lines[0])


def test_what_is_no_job_is_refused():
    with pytest.raises(InputError, match="no job"):
        check_job({"volume": "10 L"})
