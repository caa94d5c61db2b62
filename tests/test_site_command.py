"""The site: all that is missing is told at once, the list of packages, copies of lessons, one step at the end."""

import ast
import hashlib
import importlib.util
import io
import json
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from formulate.cli import main
from formulate.errors import FormulateError, InputError
from formulate.site import building
from formulate.site.building import MARKER, build_site, site_faults
from formulate.site.core import CORE, LOCK, core_faults, unpacked_core
from formulate.site.front_page import front_page
from formulate.site.lessons import (
    LEFT_OUT,
    SiteLesson,
    site_copy,
    site_lessons,
)
from formulate.site.lock import needed_packages, site_lock
from formulate.site.wheels import own_wheel
from formulate.tables import read_table

ROOT = Path(__file__).parent.parent
BARRED = ("numpy", "scipy", "pandas", "matplotlib", "jinja2", "markupsafe", "tomlkit")
FLOORS = (  # 1 to 4, and the exercises
    *("checks", "classroom", "errors", "files", "ingredients", "notices"),
    *("stoichiometry", "tables", "working"),
)
EMPTY = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"  # FIPS 180-4
PURE = (
    *("asttokens", "ipython", "jedi", "lazy-loader", "micropip", "numpy", "parso"),
    *("pyparsing", "traitlets"),
)


def cell(kind, text, **more):
    return {"cell_type": kind, "id": "one", "metadata": {}, "source": text, **more}


def code(text):
    shown = [{"output_type": "stream", "name": "stdout", "text": "39.1\n"}]
    return cell("code", text, execution_count=3, outputs=shown)


def write_notebook(path, *cells):
    notebook = {
        "cells": list(cells),
        "metadata": {},
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    path.write_text(json.dumps(notebook), encoding="utf-8")
    return path


@pytest.fixture
def notebooks(tmp_path):
    """Return a folder with a stand-in for every lesson of the table."""
    folder = tmp_path / "notebooks"
    (folder / "data").mkdir(parents=True)
    (folder / "data" / "tap.csv").write_text("Ca,62", encoding="utf-8")
    for row in read_table("site_lessons"):
        words = cell(
            "markdown", f"# {row['lesson']} Stand-in\n\n**The question.** Why?"
        )
        write_notebook(folder / f"{row['lesson']}_stand_in.ipynb", words, code("1"))
    return folder


@pytest.fixture
def pyodide(tmp_path):
    """Return a folder that looks like Pyodide: five files, a lock of pure packages."""
    folder = tmp_path / "pyodide"
    folder.mkdir()
    for name in CORE:
        (folder / name).write_text('"9.8.7"', encoding="utf-8")
    depends = {"ipython": ["traitlets"], "jedi": ["parso"]}
    packages = {
        name: {"name": name, "version": "1.0", "depends": depends.get(name, [])}
        for name in PURE
    }
    lock = {"info": {"python": "3.14.2"}, "packages": packages}
    (folder / LOCK).write_text(json.dumps(lock), encoding="utf-8")
    return folder


@pytest.fixture
def programs(monkeypatch):
    """Put stand-ins in the place of every program and package that a site is made with."""
    asked = []

    def downloaded(requirements, folder, *, python, wheels=()):
        asked.append((tuple(requirements), python, wheels))
        names = [
            text.replace("==", "-").replace("lazy-", "lazy_") for text in requirements
        ]
        paths = [Path(folder) / f"{name}-py3-none-any.whl" for name in names]
        for path in paths:
            path.write_bytes(b"")
        return tuple(paths)

    def run_lite(source, made):
        shutil.copytree(source / "content", made / "files")
        shutil.copytree(source / "static", made / "static")
        (made / "lab").mkdir()

    monkeypatch.setattr(building, "NEEDED", ("json",))
    monkeypatch.setattr(building, "downloaded", downloaded)
    monkeypatch.setattr(building, "_run_lite", run_lite)
    monkeypatch.setattr(building, "_kernel_extension", lambda: Path("extension"))
    monkeypatch.setattr(building, "_pyodide_of_kernel", lambda: "9.8.7")
    monkeypatch.setattr(
        building.metadata,
        "version",
        {"comm": "0.2.3", "lazy-loader": "0.6", "periodictable": "2.1.0"}.get,
    )
    return asked


def test_everything_that_is_missing_is_told_at_once(tmp_path, monkeypatch, capsys):
    kept = importlib.util.find_spec
    absent = (*building.NEEDED, "pip")
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda n: None if n in absent else kept(n)
    )
    monkeypatch.setattr(shutil, "which", lambda name: None)
    target = tmp_path / "site"
    target.mkdir()
    (target / "diary.txt").write_text("mine", encoding="utf-8")
    lessons = tmp_path / "lessons"
    lessons.mkdir()
    assert main(["site", str(target), "--notebooks", str(lessons)]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    rows = len(read_table("site_lessons"))
    assert f"{rows + 4} faults" in shown.err  # lessons, folder, packages, npm, pip
    for piece in (
        "formulate-salts[site]",
        "jupyterlite_core",
        "jupyterlite_pyodide_kernel",
        "--pyodide",
        "install npm",
        "ensurepip",
        "is not empty",
        "0 notebooks are called 02_",
    ):
        assert piece in shown.err
    assert [path.name for path in target.iterdir()] == ["diary.txt"]


def test_a_part_of_pyodide_is_not_enough(pyodide):
    (pyodide / "pyodide.asm.wasm").unlink()
    (fault,) = core_faults(pyodide)
    assert "pyodide.asm.wasm" in fault
    assert core_faults(__file__)[0].startswith(f"--pyodide {__file__}: no archive")


def test_an_archive_serves_like_a_folder(pyodide, tmp_path):
    archive, folder = tmp_path / "pyodide.tgz", tmp_path / "unpacked"
    folder.mkdir()
    with tarfile.open(archive, "w:gz") as packed:
        for name in CORE:
            packed.add(pyodide / name, f"package/{name}")
        strange = tarfile.TarInfo("../../pyodide-lock.json/../evil.py")
        packed.addfile(strange, io.BytesIO(b""))
    assert core_faults(archive) == ()
    unpacked_core(archive, folder)
    assert sorted(path.name for path in folder.iterdir()) == sorted(CORE)
    assert not list(tmp_path.rglob("evil.py"))
    assert (folder / LOCK).read_bytes() == (pyodide / LOCK).read_bytes()


def test_a_file_is_no_place_for_a_site(tmp_path):
    target = tmp_path / "site"
    target.write_text("mine", encoding="utf-8")
    assert f"{target}: is a file" in "".join(site_faults(target))
    assert "no such folder" in "".join(site_faults(tmp_path / "far" / "site"))


def test_a_site_holds_its_lessons_its_packages_and_nothing_to_fetch(
    tmp_path, notebooks, pyodide, programs
):
    told, target = [], tmp_path / "site"
    made = build_site(target, pyodide=pyodide, notebooks=notebooks, say=told.append)
    assert [line[:6] for line in told] == [f"{n} of 5" for n in range(1, 6)]
    assert made.size == sum(p.stat().st_size for p in target.rglob("*") if p.is_file())
    names = [lesson.name for lesson in made.lessons]
    assert json.loads((target / MARKER).read_text("utf-8"))["lessons"] == names
    page = (target / "index.html").read_text("utf-8")
    assert all(f"lab/index.html?path={name}" in page for name in names)
    assert (target / "files" / "data" / "tap.csv").read_text("utf-8") == "Ca,62"
    core = target / "static" / "pyodide"
    packages = json.loads((core / LOCK).read_text("utf-8"))["packages"]
    assert set(packages) == {*PURE, *programs_own()} - {"numpy", "asttokens"}
    for package in packages.values():
        data = (core / package["file_name"]).read_bytes()
        assert hashlib.sha256(data).hexdigest() == package["sha256"]
    ((requirements, python, wheels),) = programs
    assert (python, wheels) == ("3.14", ())
    assert {"comm==0.2.3", "lazy-loader==0.6", "jedi==1.0"} < set(requirements)
    assert list(tmp_path.glob(".site.*")) == []


def programs_own():
    return ("comm", "formulate-salts", "lazy-loader", "periodictable")


def test_a_site_is_made_anew_where_one_was_and_a_fault_leaves_it(
    tmp_path, notebooks, pyodide, programs, monkeypatch
):
    target = tmp_path / "site"
    given = {"pyodide": pyodide, "notebooks": notebooks, "say": lambda _: None}
    build_site(target, **given)
    (target / "old.txt").write_text("of the first", encoding="utf-8")
    build_site(target, **given)
    assert not (target / "old.txt").exists()
    (target / "old.txt").write_text("of the second", encoding="utf-8")

    def fails(source, made):
        raise FormulateError("out of paper")

    monkeypatch.setattr(building, "_run_lite", fails)
    with pytest.raises(FormulateError, match="out of paper"):
        build_site(target, **given)
    assert (target / "old.txt").read_text("utf-8") == "of the second"
    assert list(tmp_path.glob(".site.*")) == []


def test_another_version_of_pyodide_is_told(tmp_path, notebooks, pyodide, programs):
    (pyodide / "pyodide.mjs").write_text('"9.9.0"', encoding="utf-8")
    told = []
    build_site(tmp_path / "site", pyodide=pyodide, notebooks=notebooks, say=told.append)
    assert "caution: Pyodide 9.9.0; the kernel was made for 9.8.7" in told


def test_needed_packages_are_followed_and_those_not_there_all_told():
    lock = {
        "packages": {
            "ipython": {"depends": ["prompt_toolkit", "traitlets"]},
            "prompt-toolkit": {"depends": ["wcwidth"]},
            "traitlets": {"depends": []},
            "numpy": {"depends": []},
        }
    }
    with pytest.raises(InputError) as raised:
        needed_packages(lock, ["ipython", "jedi"])
    assert [f.split("'")[1] for f in raised.value.faults] == ["jedi", "wcwidth"]
    lock["packages"] |= {"wcwidth": {"depends": []}, "jedi": {"depends": ["ipython"]}}
    assert needed_packages(lock, ["jedi"]) == (
        *("ipython", "jedi", "prompt-toolkit", "traitlets", "wcwidth"),
    )


def test_a_lock_takes_the_files_that_are_there_and_leaves_out_all_others(tmp_path):
    wheel = tmp_path / "six-1.17.0-py3-none-any.whl"
    wheel.write_bytes(b"")
    old = {"version": "1.17.0", "depends": [], "sha256": "of another file"}
    lock = {"info": {"arch": "wasm32"}, "packages": {"six": old, "numpy": old}}
    own = {"comm": (tmp_path / "comm-0.2.3-py3-none-any.whl", ("comm",), ("six",))}
    own["comm"][0].write_bytes(b"")
    made = site_lock(lock, {"six": wheel}, own)
    assert made["info"] == {"arch": "wasm32"}
    assert set(made["packages"]) == {"six", "comm"}
    assert made["packages"]["six"]["sha256"] == EMPTY
    assert made["packages"]["six"]["file_name"] == wheel.name
    assert made["packages"]["comm"]["version"] == "0.2.3"
    assert lock["packages"]["six"]["sha256"] == "of another file"
    with pytest.raises(FormulateError, match="comm needs six"):
        site_lock(lock, {}, own)


def test_a_copy_leaves_the_notebook_as_it_is(tmp_path):
    path = write_notebook(
        tmp_path / "02_salts.ipynb",
        cell("markdown", "# 02 Salts"),
        cell("markdown", "[03](03_labels.ipynb#top), [01](01_bag.ipynb), [a](#b)"),
        code("import formulate as fm\nfrom formulate.verify import verify\nverify()"),
        code("print(39.1)"),
    )
    before = path.read_bytes()
    lesson = SiteLesson(path, "02 Salts", "", "formulate.verify")
    cells = json.loads(site_copy(lesson, [path.name, "03_labels.ipynb"]))["cells"]
    assert path.read_bytes() == before
    texts = [cell["source"] for cell in cells]
    assert texts[0] == "# 02 Salts"
    assert "in your browser" in texts[1]
    assert texts[2] == "[03](03_labels.ipynb#top), 01 (not in this folder), [a](#b)"
    assert texts[3:] == [LEFT_OUT, "import formulate as fm", "print(39.1)"]
    codes = [cell for cell in cells if cell["cell_type"] == "code"]
    assert all(c["outputs"] == [] and c["execution_count"] is None for c in codes)
    assert len({cell["id"] for cell in cells if cell["id"] != "one"}) == 2


def test_two_notebooks_of_one_number_and_no_notebook_are_told(notebooks):
    first, second = read_table("site_lessons")[:2]
    write_notebook(notebooks / f"{first['lesson']}_again.ipynb", code("1"))
    broken = notebooks / f"{second['lesson']}_stand_in.ipynb"
    broken.write_text("{}", encoding="utf-8")
    with pytest.raises(InputError) as raised:
        site_lessons(notebooks)
    assert len(raised.value.faults) == 2
    assert f"2 notebooks are called {first['lesson']}_" in raised.value.faults[0]
    assert raised.value.faults[1].startswith(f"{broken.name}: no notebook")


def test_the_first_page_escapes_what_lessons_say():
    page = front_page([SiteLesson(Path("02_a b.ipynb"), "<b>02</b>", "1 < 2")])
    assert "&lt;b&gt;02" in page
    assert "path=02_a%20b.ipynb" in page
    assert 'id="jupyter-config-data"' in page  # without it no lesson starts
    assert "http://" not in page
    assert "https://" not in page


def test_the_wheel_tells_the_truth_of_its_files_and_runs_without_numpy(tmp_path):
    wheel = own_wheel(tmp_path)
    assert wheel.read_bytes() == own_wheel(tmp_path).read_bytes()
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        (record,) = [name for name in names if name.endswith(".dist-info/RECORD")]
        told = [line.split(",") for line in archive.read(record).decode().split()]
        assert {name for name, _, _ in told} == names
        for name, _, size in told:
            assert size in ("", str(len(archive.read(name))))
        archive.extractall(tmp_path / "unpacked")
    words = "import formulate as fm; print(fm.__file__, fm.parse_formula('KNO3'))"
    done = barred(words, tmp_path / "unpacked")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(str(tmp_path / "unpacked"))


def barred(words, folder):
    """Run code in a process where what a site does not hold cannot be imported."""
    bar = (
        "import sys\n"
        "class Bar:\n"
        "    def find_spec(self, name, path=None, target=None):\n"
        f"        if name.split('.')[0] in {BARRED!r}:\n"
        "            raise ImportError(f'{name} is barred here')\n"
        "sys.meta_path.insert(0, Bar())\n"
        f"sys.path.insert(0, {str(folder)!r})\n"
    )
    return subprocess.run(
        [sys.executable, "-c", bar + words],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_table_names_notebooks_that_are_there():
    assert [lesson.name[:2] for lesson in site_lessons(ROOT / "notebooks")] == [
        row["lesson"] for row in read_table("site_lessons")
    ]


def codes_of(lesson):
    """Return the code of a lesson as it stands in the site, cell by cell."""
    cells = json.loads(site_copy(lesson, ()))["cells"]
    return [cell["source"] for cell in cells if cell["cell_type"] == "code"]


@pytest.mark.parametrize(
    "row", read_table("site_lessons"), ids=lambda row: row["lesson"]
)
def test_a_lesson_imports_only_floors_one_to_four_and_the_classroom(row):
    (lesson,) = (
        lesson
        for lesson in site_lessons(ROOT / "notebooks")
        if lesson.name.startswith(row["lesson"])
    )
    imports, names = [], set()
    for text in codes_of(lesson):
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import | ast.ImportFrom):
                imports.append(ast.unparse(node))
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "fm":
                names.add(f"fm.{node.attr}")
    assert imports
    told = "print(*(n for n in sys.modules if n.startswith('formulate.')))"
    done = barred("\n".join([*imports, *sorted(names), told]), ROOT)
    assert done.returncode == 0, done.stderr
    loaded = {name.split(".")[1] for name in done.stdout.split()}
    assert loaded <= set(FLOORS)
    assert loaded
