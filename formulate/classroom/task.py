"""An exercise with a pupil's own numbers: it asks, checks, hints and shows the working.

What a lesson writes is a `Task`: the question with its numbers, the working whose last line is the answer, the slips
that pupils make, three hints. What a pupil holds is an `Exercise`: the task under its key and seed.
"""

import html
import math
from dataclasses import dataclass, field
from types import MappingProxyType

from formulate.classroom.reply import judged_number, judged_option, written_unit
from formulate.errors import InputError, shortened
from formulate.working import Shown, Working

__all__ = ["Exercise", "Option", "Slip", "Task", "faults_of"]

HINTS = 3
APART = 2.0  # margins between a slip and the right answer, so that neither is taken for the other


@dataclass(frozen=True)
class Slip:
    """
    A wrong number and what leads to it.

    Attributes
    ----------
    value : float
        The number, in the unit asked for. [-]
    says : str
        What is told to whoever answers it; never the right number.
    """

    value: float
    says: str

    def __post_init__(self):
        object.__setattr__(self, "value", float(self.value))


@dataclass(frozen=True)
class Option:
    """
    One of the answers to choose from.

    Attributes
    ----------
    words : str
        The answer.
    says : str
        Of a wrong one: what is told to whoever chooses it.
    """

    words: str
    says: str = ""


@dataclass(frozen=True, eq=False)
class Task:
    """
    What an exercise is made of, with the numbers of one pupil.

    Attributes
    ----------
    given : mapping of str to object
        The numbers drawn, by name: a test works the answer out again from them.
    question : str
        The question with its numbers; an empty line parts paragraphs.
    solution : Working
        The way to the answer; its last line is the answer.
    hints : tuple of str
        Three, the last one nearly the way; none tells the answer.
    unit : str
        The unit asked for; empty for a plain number.
    units : tuple of str
        Other units of the same kind that are taken.
    within_percent : float
        How far an answer may be off. [%]
    within : float or None
        The same in the unit asked for, where per cent mean nothing (pH). [-]
    slips : tuple of Slip
        What pupils usually answer instead.
    options : mapping of str to Option
        Letters with answers to choose from; empty where a number is asked.
    right : str
        The letter of the right option.
    table : tuple of tuple
        A table that belongs to the question: the first row is its head.
    care : tuple of str
        Cautions that belong to the work described.
    remark : str
        What is worth knowing once it is solved.

    Examples
    --------
    >>> from formulate.working import Quantity, Step
    >>> sum_up = Working("salt", (Step("salt", (Quantity(2, "g"), "+", Quantity(3, "g")), "g"),))
    >>> task = Task({"a": 2, "b": 3}, "2 g and 3 g?", sum_up, ("Add.", "2 + 3", "Count."), unit="g")
    >>> task.answer, task.margin
    (5.0, 0.05)
    """

    given: MappingProxyType
    question: str
    solution: Working
    hints: tuple
    unit: str = ""
    units: tuple = ()
    within_percent: float = 1.0
    within: float | None = None
    slips: tuple = ()
    options: MappingProxyType = field(default_factory=lambda: MappingProxyType({}))
    right: str = ""
    table: tuple = ()
    care: tuple = ()
    remark: str = ""

    def __post_init__(self):
        object.__setattr__(self, "given", MappingProxyType(dict(self.given)))
        object.__setattr__(self, "options", MappingProxyType(dict(self.options)))

    @property
    def answer(self):
        """Return the right answer: a number in the unit asked for, or a letter."""
        return self.right if self.options else self.solution.value

    @property
    def margin(self):
        """Return how far a number may be off, in the unit asked for."""
        if self.within is not None:
            return self.within
        return abs(self.solution.value) * self.within_percent / 100


def faults_of(task):
    """
    Return why the numbers drawn do not make a good exercise; nothing if they do.

    Parameters
    ----------
    task : Task
        The exercise as drawn.

    Returns
    -------
    tuple of str
        What is wrong: no finite answer, a slip too near the right answer.

    Examples
    --------
    >>> from formulate.working import Quantity, Step
    >>> same = Working("salt", (Step("salt", (Quantity(2, "g"), "+", Quantity(2, "g")), "g"),))
    >>> task = Task({}, "2 g and 2 g?", same, ("a", "b", "c"), slips=(Slip(4, "times"),))
    >>> faults_of(task)
    ('a slip is the right answer: times',)
    """
    if task.options:
        found = [] if task.right in task.options else ["no option is right"]
        return tuple(found)
    answer = task.solution.value
    if not math.isfinite(answer):
        return ("the answer is no number",)
    near = APART * task.margin
    return tuple(
        f"a slip is the right answer: {slip.says}"
        for slip in task.slips
        if abs(slip.value - answer) <= near
    )


@dataclass(eq=False, repr=False)  # its repr would tell the answer
class Exercise(Shown):
    """
    An exercise of one pupil.

    Attributes
    ----------
    key : str
        Lesson and number, such as "03.2".
    title : str
        Its name.
    seed : str
        The pupil.
    task : Task
        What it is made of.

    Examples
    --------
    >>> from formulate.classroom import exercise
    >>> exercise("03", seed="ada").check("").verdict
    'cannot read'
    """

    key: str
    title: str
    seed: str
    task: Task
    _told: int = 0

    @property
    def question(self):
        """Return the question as text, with its numbers."""
        return self.task.question

    @property
    def asked(self):
        """Return how the answer is to be given."""
        task = self.task
        if task.options:
            return f"Answer with a letter: {', '.join(task.options)}."
        if not task.unit:
            return "Answer with a plain number."
        also = (
            f" (also taken: {', '.join(map(written_unit, task.units))})"
            if task.units
            else ""
        )
        return f"Answer in {written_unit(task.unit)}{also}."

    def check(self, answer):
        """
        Say whether an answer is right, or which slip it looks like.

        Parameters
        ----------
        answer : str, int or float
            The answer; a bare number is in the unit asked for. [-]

        Returns
        -------
        Reply
            It counts as true if the answer is right; it never tells the answer.

        Examples
        --------
        >>> from formulate.classroom import exercise
        >>> print(exercise("03", seed="ada").check("a lot"))
        'a lot' holds no number I can read: write a number and its unit, such as 1.23 %
        """
        task = self.task
        if task.options:
            return judged_option(answer, task.right, task.options)
        return judged_number(
            answer, task.answer, task.margin, task.unit, task.units, task.slips
        )

    def hint(self, step=None):
        """
        Return a hint: the first, then with each call the next of three.

        Parameters
        ----------
        step : int or None
            Which one, 1 to 3; None for the next. [-]

        Returns
        -------
        Hint
            The hint as text that shows itself.

        Raises
        ------
        InputError
            If there is no such step.

        Examples
        --------
        >>> from formulate.classroom import exercise
        >>> str(exercise("03", seed="ada").hint(1)).startswith("Hint 1 of 3: ")
        True
        """
        if step is None:
            step = min(self._told + 1, HINTS)
        if isinstance(step, bool) or step not in range(1, HINTS + 1):
            raise InputError(f"hint {shortened(step)}: there are three, 1 to {HINTS}")
        self._told = max(self._told, step)
        return Hint(f"Hint {step} of {HINTS}: {self.task.hints[step - 1]}")

    def solution(self):
        """
        Return the way to the answer.

        Returns
        -------
        Solution
            The working, line by line, and what is worth knowing.

        Examples
        --------
        >>> from formulate.classroom import exercise
        >>> task = exercise("03", seed="ada")
        >>> task.check(task.solution().answer).right
        True
        """
        return Solution(
            self.task.solution, self.task.answer, self._answer_words(), self.task.remark
        )

    def _answer_words(self):
        """Return the answer in words."""
        task = self.task
        if task.options:
            return f"{task.right}: {task.options[task.right].words}"
        step = task.solution.steps[-1]
        return f"{step.written({}, 4)[1]} {written_unit(task.unit)}".strip()

    def __str__(self):
        lines = [f"{self.key} {self.title} (numbers of {self.seed})", "", self.question]
        lines += _table_lines(self.task.table)
        lines += [f"  {k}  {option.words}" for k, option in self.task.options.items()]
        lines += [f"Care: {text}" for text in self.task.care]
        return "\n".join([*lines, "", self.asked])

    def __repr__(self):
        return str(self)

    def _repr_html_(self):
        text = html.escape
        paragraphs = [f"<p>{text(part)}</p>" for part in self.question.split("\n\n")]
        options = "".join(
            f"<li><b>{text(k)}</b> {text(option.words)}</li>"
            for k, option in self.task.options.items()
        )
        if options:
            options = f'<ul style="list-style:none;padding-left:1em">{options}</ul>'
        care = [f"<p><b>Care:</b> {text(one)}</p>" for one in self.task.care]
        head = f"<h4>{text(self.key)} {text(self.title)} <small>(numbers of {text(self.seed)})</small></h4>"
        return "".join(
            [
                head,
                *paragraphs,
                _table_html(self.task.table),
                options,
                *care,
                f"<p><i>{text(self.asked)}</i></p>",
            ]
        )


@dataclass(frozen=True)
class Hint(Shown):
    """
    A hint.

    Attributes
    ----------
    says : str
        Its text.
    """

    says: str

    def __str__(self):
        return self.says


@dataclass(frozen=True, eq=False)
class Solution(Shown):
    """
    The way to the answer of an exercise.

    Attributes
    ----------
    working : Working
        Line by line.
    answer : float or str
        The answer: a number in the unit asked for, or a letter. [-]
    says : str
        The answer in words.
    remark : str
        What is worth knowing.
    """

    working: Working
    answer: float | str
    says: str
    remark: str = ""

    def __str__(self):
        lines = [str(self.working), f"Answer: {self.says}", self.remark]
        return "\n".join(filter(None, lines))


def _table_lines(table):
    """Return a table as lines of text, its columns under each other."""
    if not table:
        return []
    rows = [[str(cell) for cell in row] for row in table]
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = [
        "  ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) for row in rows
    ]
    return ["", *(f"  {line}".rstrip() for line in lines)]


def _table_html(table):
    """Return a table as HTML; the first row is its head."""
    if not table:
        return ""
    head, *rows = table
    first = "".join(f"<th>{html.escape(str(cell))}</th>" for cell in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in row) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{first}</tr></thead><tbody>{body}</tbody></table>"
