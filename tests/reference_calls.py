"""What calls what: the functions of the package among each other, and the tests of each.

Read from the text of the files; nothing is imported or run.
"""

import ast
import math
import re
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TESTS = Path(__file__).parent
PACKAGE = TESTS.parent / "formulate"
DEFINITIONS = (ast.FunctionDef, ast.ClassDef)
MANNERS = ("refused", "fault", "told", "named")  # tests of words, not of numbers
STEM = 6  # letters by which words are told apart
STEPS = 9  # from a function to what a test calls, at most
STEP, MIRROR = 0.8, 1.0  # what a step costs; what a test file of the same name is worth


def first_sentence(docstring):
    """Return what a docstring says first, without "Return" and the full stop."""
    first = " ".join(docstring.split("\n\n")[0].split()).split(". ")[0].rstrip(".")
    return re.sub(r"^(Return|Yield)s? ", "", first)


def dotted(path):
    """Return the module of a file of the package."""
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def parsed(path):
    """Return the syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def public_names():
    """Return name of `formulate` to where it is defined, from its lazy table."""
    tree = parsed(PACKAGE / "__init__.py")
    table = next(
        ast.literal_eval(word.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        for word in node.keywords
        if word.arg == "submod_attrs"
    )
    return {n: f"formulate.{place}.{n}" for place, ns in table.items() for n in ns}


@cache
def imported(tree):
    """Return what each imported name of a file stands for, dotted."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            for name in node.names:
                found[name.asname or name.name] = f"{node.module}.{name.name}"
        elif isinstance(node, ast.Import):
            for name in node.names:
                found[name.asname or name.name.split(".")[0]] = (
                    name.name if name.asname else name.name.split(".")[0]
                )
    return found


def used(node, names):
    """Yield, dotted, what a piece of code uses; what hangs on an object as ".name"."""
    for part in ast.walk(node):
        if isinstance(part, ast.Name) and part.id in names:
            yield names[part.id]
        elif isinstance(part, ast.Attribute):
            yield f".{part.attr}"
            if isinstance(part.value, ast.Name) and part.value.id in names:
                whole = f"{names[part.value.id]}.{part.attr}"
                short = whole == f"formulate.{part.attr}"
                yield public_names().get(part.attr, whole) if short else whole


def pieces(tree):
    """Yield (name, node) of every function, and method as "Class.method", of a file."""
    for node in tree.body:
        if isinstance(node, DEFINITIONS):
            yield node.name, node
        if isinstance(node, ast.ClassDef):
            for member in node.body:
                if isinstance(member, ast.FunctionDef):
                    yield f"{node.name}.{member.name}", member


@dataclass(frozen=True)
class Calls:
    """Each function of the package, and by what it is used.

    Attributes
    ----------
    names : frozenset of str
        Functions, classes and methods, dotted.
    used_by : dict of str to set of str
        What is used, to what uses it.
    methods : frozenset of str
        Those of the names that are methods.
    alone : frozenset of str
        Methods whose name no other class has: ".name" can only mean them.
    """

    names: frozenset
    used_by: dict
    methods: frozenset
    alone: frozenset

    def keys(self, name):
        """Return how the use of a function may be written."""
        return (name, f".{name.split('.')[-1]}") if name in self.alone else (name,)

    def defined_in(self, module):
        """Return the functions and methods of a module."""
        return sorted(n for n in self.names if n.startswith(f"{module}."))

    def callers(self, name):
        """Return what uses a function."""
        keys = self.keys(name)
        if name in self.methods:
            keys += (name.rpartition(".")[0],)
        return set().union(*(self.used_by.get(key, set()) for key in keys))


@cache
def calls_of_package():
    """Return what uses what in the package."""
    names, used_by, members = set(), {}, Counter()
    for path in sorted(PACKAGE.rglob("*.py")):
        tree, module = parsed(path), dotted(path)
        known = imported(tree) | {n: f"{module}.{n}" for n, _ in pieces(tree)}
        for name, node in pieces(tree):
            whole = f"{module}.{name}"
            names.add(whole)
            members[name.split(".")[-1]] += 1
            if isinstance(node, ast.FunctionDef):
                for target in used(node, known):
                    used_by.setdefault(target, set()).add(whole)
    methods = frozenset(n for n in names if n.rpartition(".")[0] in names)
    alone = frozenset(n for n in methods if members[n.split(".")[-1]] == 1)
    return Calls(frozenset(names), used_by, methods, alone)


@dataclass(frozen=True)
class Test:
    """A test function.

    Attributes
    ----------
    file : str
        Its file in tests/.
    name : str
        Its name.
    line : int
        Where it begins. [-]
    uses : frozenset of str
        What it uses, dotted, by way of helpers in tests/ too.
    words : frozenset of str
        The words of its name and docstring.
    """

    file: str
    name: str
    line: int
    uses: frozenset
    words: frozenset


@cache
def pieces_of_tests():
    """Return dotted name to (node, names known there) of all that tests/ defines."""
    found = {}
    for path in sorted(TESTS.glob("*.py")):
        tree = parsed(path)
        named = [
            (target.id, node)
            for node in tree.body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        ]
        local = [*pieces(tree), *named]
        known = imported(tree) | {n: f"{path.stem}.{n}" for n, _ in local}
        found |= {f"{path.stem}.{n}": (node, known) for n, node in local}
    return found


@cache
def direct_uses(name):
    """Return what a helper or a test uses itself."""
    node, known = pieces_of_tests()[name]
    return frozenset(used(node, known))


def all_uses(name):
    """Return what a test uses, by way of helpers in tests/ too."""
    found, seen, left = set(), {name}, [name]
    while left:
        targets = direct_uses(left.pop())
        found |= targets
        helpers = {t for t in targets if t in pieces_of_tests()} - seen
        seen |= helpers
        left += helpers
    return frozenset(found - seen)


@cache
def tests():
    """Return every test function."""
    found = []
    for name, (node, _) in pieces_of_tests().items():
        file, _, test = name.partition(".")
        if file.startswith("test_") and test.startswith("test_"):
            told = words_of(f"{test.replace('_', ' ')} {ast.get_docstring(node) or ''}")
            found.append(Test(f"{file}.py", test, node.lineno, all_uses(name), told))
    return tuple(found)


@cache
def tests_by_use():
    """Return what is used, to the tests that use it."""
    found = {}
    for each in tests():
        for target in each.uses:
            found.setdefault(target, []).append(each)
    return found


@cache
def weights():
    """Return how telling each word is: rare ones say more."""
    counts = Counter(word for each in tests() for word in each.words)
    return {word: math.log(len(tests()) / n) for word, n in counts.items()}


def words_of(text):
    """Return the words of a text, each by its first letters: "activ" of activities."""
    plain = text.replace("_", " ").casefold()
    return frozenset(w[:STEM] for w in re.findall(r"[a-zäöü]{2,}", plain))


def telling(test, about, mirrors):
    """Return how much a test is about something, by its words and its file."""
    shared = sum(weights()[word] for word in test.words & about)
    manners = any(word in test.name for word in MANNERS)
    file = MIRROR * (test.file in mirrors)
    return shared / math.sqrt(len(test.words)) + file - MIRROR * manners


@cache
def reached(names):
    """Return (test, name it calls, steps from there) of all that reaches some names.

    What uses a class may use its methods.
    """
    calls, found, seen, names = calls_of_package(), {}, set(), set(names)
    for depth in range(STEPS):
        for name in sorted(names):
            loose = () if depth else (f".{name.split('.')[-1]}",)
            keys = (*calls.keys(name), *(loose if name in calls.methods else ()))
            for key in keys:
                for each in tests_by_use().get(key, ()):
                    found.setdefault((each.file, each.name), (each, name, depth))
        seen |= names
        names = set().union(*(calls.callers(name) for name in names)) - seen
    return found


def tests_of(names, about, module):
    """Return (test, what it was found by), the most telling first.

    Where tests call the names themselves, only these.
    """
    about, found = words_of(about), list(reached(tuple(names)).values())
    mirrors = {f"test_{module.split('.')[-1]}.py"}
    direct = [row for row in found if not row[2]]
    scored = [
        (STEP * depth - telling(each, about, mirrors), each.file, each.line, each, name)
        for each, name, depth in direct or found
    ]
    ranked = sorted(scored, key=lambda row: row[:3])
    return tuple((each, name) for *_, each, name in ranked)
