"""The floors hold: who may import whom, and what the lower floors do without."""

import ast
import re
import subprocess
import sys
from fnmatch import fnmatch
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "formulate"
LINT = "from importlinter.cli import lint_imports_command; lint_imports_command()"
LOWER_FLOORS = (
    "errors",
    "notices",
    "tables",
    "working",
    "stoichiometry.solution",
    "stoichiometry.slips",
    "ingredients.dissolve",
)
PANDAS_FILES = ("sheets/", "claims/feed_chart.py", "recipes/uncertainty.py")


def lint_imports(config):
    return subprocess.run(
        [sys.executable, "-c", LINT, "--config", str(config), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_every_contract_is_kept():
    done = lint_imports(ROOT / "pyproject.toml")
    assert done.returncode == 0, done.stdout
    assert "0 broken" in done.stdout


def test_a_broken_contract_is_noticed(tmp_path):
    """The check bites: a rule that the recipes break is reported."""
    config = tmp_path / "broken.toml"
    config.write_text(
        '[tool.importlinter]\nroot_package = "formulate"\n'
        "include_external_packages = true\n"
        '[[tool.importlinter.contracts]]\nname = "recipes without numpy"\n'
        'type = "forbidden"\nsource_modules = ["formulate.recipes"]\n'
        'forbidden_modules = ["numpy"]\n',
        encoding="utf-8",
    )
    done = lint_imports(config)
    assert done.returncode != 0
    assert "recipes without numpy" in done.stdout


def run_without(barred, code):
    """Run code in a process in which some packages cannot be imported."""
    bar = (
        "import sys\n"
        "class Bar:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.split('.')[0] in {barred!r}:\n"
        "            raise ImportError(f'{name} is barred here')\n"
        "sys.meta_path.insert(0, Bar())\n"
    )
    return subprocess.run(
        [sys.executable, "-c", bar + code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_lower_floors_run_where_numpy_scipy_and_pandas_are_barred():
    imports = "".join(f"import formulate.{name}\n" for name in LOWER_FLOORS)
    done = run_without(
        ("numpy", "scipy", "pandas"),
        imports + "import formulate as fm\n"
        "feed = fm.dissolve({'KNO3': 101.1023}, volume=1, water='hard')\n"
        "print(round(feed.mmol_l('NO3'), 2))\n"
        "print(fm.explain_difference(336, 112, subject='S').candidates[0].slips[0].key)\n",
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == ["1000.26", "so4-as-s"]  # 1000 + 16.4 / 62.004


def test_the_bar_bars():
    done = run_without(("numpy",), "import formulate.recipes.solve")
    assert done.returncode != 0
    assert "numpy is barred here" in done.stderr


def test_importing_the_package_loads_nothing_heavy():
    code = "import sys, formulate; print([m for m in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    loaded = set(ast.literal_eval(done.stdout))
    assert not loaded & {"numpy", "scipy", "pandas", "matplotlib", "periodictable"}


def pandas_imports(path):
    """Yield (line, enclosing function) of each import of pandas in a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    inside = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            inside.update({id(child): node.name for child in ast.walk(node)})
    for node in ast.walk(tree):
        names = [alias.name for alias in getattr(node, "names", [])]
        if isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
        if isinstance(node, ast.Import | ast.ImportFrom) and any(
            name.split(".")[0] == "pandas" for name in names
        ):
            yield node.lineno, inside.get(id(node), "")


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: p.name)
def test_pandas_is_imported_only_where_the_design_says(path):
    place = path.relative_to(PACKAGE).as_posix()
    for _, function in pandas_imports(path):
        assert function == "to_frame" or place.startswith(PANDAS_FILES)


def test_files_are_short_enough_to_read():
    """Past 500 lines a file is split by subject."""
    lengths = {
        path.name: len(path.read_text(encoding="utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
    }
    assert {name: n for name, n in lengths.items() if n > 500} == {}


def floors_told():
    """Return folder to the names, with * for any, that the table in DEVELOPERS.md lists of it."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").replace("\\*", "*")
    told = {}
    for cell in re.findall(r"^\| \d+ \| (.+?) \|", text, re.MULTILINE):
        folder = re.match(r"`(\w+)/`", cell)
        names = told.setdefault(folder[1] if folder else "", [])
        names += re.findall(r"[\w*]+", cell)
    return told


def test_each_file_stands_in_the_table_of_floors():
    """Figures, the one folder inside a folder, stand there as a whole."""
    told, missing = floors_told(), []
    for path in PACKAGE.rglob("[!_]*.py"):
        folder, _, inside = path.relative_to(PACKAGE).parent.as_posix().partition("/")
        name = inside or path.stem
        names = told.get("" if folder == "." else folder, [])
        if not any(fnmatch(name, pattern) for pattern in names):
            missing.append(path.relative_to(PACKAGE).as_posix())
    assert missing == []
    assert "figures" in told["sheets"]
