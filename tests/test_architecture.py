"""Does the code keep to its own page? Every import under src/halfstep is read and judged.

The listing of the package is the flow of data, from the top of `PAGE` to its end. A part
imports what stands above it only, and some see less than that. Libraries that are slow
to start are imported where they are used.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from run_together import APART, TOGETHER

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "halfstep"
TESTS = ROOT / "tests"

PAGE = (
    "errors", "files", "workers", "ogg_page", "version", "wording", "road_words", "pitch", "meter",
    "tempo_map", "level", "instruments", "played", "random_stream", "search", "loop_search",
    "edge_search", "sparse_search",
    "progression", "harmony", "score", "notation", "score_words", "etude", "backing", "listen",
    "part", "feedback", "course", "practice", "render", "lesson", "data", "services", "school",
    "app",
)  # fmt: skip
"""The parts of the program in the order of the data."""

SEES_ONLY = {
    "pitch": {"errors"},
    "meter": {"errors"},
    "tempo_map": {"meter"},
    "level": set(),
    "instruments": {"errors", "pitch", "level"},
    "files": {"errors"},
    "workers": {"errors"},
    "ogg_page": set(),
    "road_words": set(),
    "played": set(),
    "random_stream": set(),
    "search": {"errors", "random_stream"},
    "loop_search": set(),
    "edge_search": {"random_stream", "search"},
    "sparse_search": {"random_stream", "search", "edge_search"},
    "progression": {"errors", "files", "pitch", "meter", "tempo_map", "played"},
    "notation": {"pitch", "meter", "score"},
    "score": {"pitch", "meter", "instruments"},
    "score_words": {"road_words", "meter", "score", "notation"},
    "render": {
        "errors",
        "files",
        "road_words",
        "ogg_page",
        "pitch",
        "meter",
        "instruments",
        "played",
        "score",
        "notation",
        "score_words",
    },
    "listen": {"errors", "ogg_page", "pitch", "meter"},
    "feedback": {
        "errors",
        "pitch",
        "meter",
        "tempo_map",
        "level",
        "instruments",
        "progression",
        "harmony",
        "score",
        "notation",
        "etude",
        "listen",
        "part",
    },
    "course": {
        "errors",
        "files",
        "pitch",
        "meter",
        "level",
        "instruments",
        "progression",
        "harmony",
        "etude",
        "backing",
    },
    "practice": {"errors", "meter", "level", "instruments", "etude", "feedback", "course"},
    "school": {"errors", "files", "level", "instruments", "practice", "data"},
}
"""Parts that see less than all above them."""

STRANGERS = ({"etude", "backing"},)
"""Parts that stand side by side and do not see each other."""

DOOR_SEES = {"errors", "version", "progression", "practice", "services"}
"""What the root module shows and takes, and what tells a file from a line of chords."""

HEAVY = {
    "alembic",
    "av",
    "babel",
    "cryptography",
    "fsrs",
    "jinja2",
    "numpy",
    "onnxruntime",
    "pikepdf",
    "rich",
    "soundfile",
    "sqlalchemy",
    "starlette",
    "typst",
    "uvicorn",
    "verovio",
}
"""Libraries that the command line must not load before it has work for them."""

LOADED_ON_USE = {
    "av",
    "babel",
    "cryptography",
    "onnxruntime",
    "pikepdf",
    "rich",
    "segno",
    "soundfile",
    "typst",
    "uvicorn",
    "verovio",
}
"""Libraries that no module imports at its top."""

ONLY_IN = {
    "alembic": {"school"},
    "av": {"listen", "render"},
    "babel": {"app"},
    "cryptography": {"app"},
    "defusedxml": {"progression"},
    "fsrs": {"practice"},
    "jinja2": {"app"},
    "mido": {"progression", "render"},
    "onnxruntime": {"listen"},
    "pikepdf": {"render"},
    "platformdirs": {"school"},
    "rich": {"app"},
    "segno": {"app"},
    "soundfile": {"render"},
    "sqlalchemy": {"school"},
    "starlette": {"app"},
    "typst": {"render"},
    "uvicorn": {"app"},
    "verovio": {"render"},
}
"""Libraries that one part alone knows of."""


@dataclass(frozen=True, slots=True)
class Import:
    """One import as written.

    Attributes
    ----------
    module : str
        Where it stands: ``etude.rules``; ``""`` is the root package itself.
    target : str
        What is imported: ``halfstep.pitch``, ``numpy.typing``.
    line : int
    at_top : bool
        Carried out when the module is imported.
    """

    module: str
    target: str
    line: int
    at_top: bool

    def __str__(self) -> str:
        """The place and the target."""
        return f"{self.module or 'halfstep'}:{self.line} imports {self.target}"

    @property
    def part(self) -> str:
        """The part of the program it stands in."""
        return self.module.split(".")[0]

    @property
    def library(self) -> str:
        """The outermost package that is imported."""
        return self.target.split(".")[0]

    @property
    def seen(self) -> str | None:
        """The part of the program that is imported: ``""`` for the root, None for a library."""
        inside = self.target.split(".")
        return None if inside[0] != "halfstep" else (inside[1] if len(inside) > 1 else "")


def module_name(path: Path) -> str:
    """``etude.rules`` for ``src/halfstep/etude/rules.py``, ``etude`` for its ``__init__``."""
    parts = path.relative_to(SOURCE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


MODULES = {module_name(path): path for path in sorted(SOURCE.rglob("*.py"))}


def is_type_checking(node: ast.AST) -> bool:
    """True for the test of ``if TYPE_CHECKING:``."""
    return isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING")


def imports_below(node: ast.AST, module: str, *, at_top: bool = True) -> Iterator[Import]:
    """All imports in a piece of code."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            for target in targets(child):
                yield Import(module, target, child.lineno, at_top)
        else:
            later = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            later = later or is_type_checking(child)
            yield from imports_below(child, module, at_top=at_top and not later)


def targets(node: ast.Import | ast.ImportFrom) -> list[str]:
    """What a statement imports, in full: a module, or a module of the package it names."""
    names = [alias.name for alias in node.names]
    if isinstance(node, ast.Import):
        return names
    assert node.level == 0, f"line {node.lineno}: a relative import"
    assert node.module
    inside = node.module.removeprefix("halfstep").removeprefix(".")
    found = [f"{inside}.{name}".removeprefix(".") for name in names]
    if node.module.split(".")[0] != "halfstep":
        return [node.module]
    return [f"halfstep.{each}" if each in MODULES else node.module for each in found]


def imports_of(code: str, module: str) -> list[Import]:
    """All imports in the text of a module."""
    return list(imports_below(ast.parse(code), module))


@cache
def every_import() -> list[Import]:
    """All imports of the program, read once."""
    return [
        line for name, path in MODULES.items() for line in imports_of(path.read_text("utf-8"), name)
    ]


def is_allowed(part: str, seen: str) -> bool:
    """May this part of the program import that one?"""
    if part in {"", "__main__"}:
        return seen in {"": DOOR_SEES, "__main__": {"app"}}[part]
    if seen == "":
        return False
    if part == seen:
        return True
    if {part, seen} in STRANGERS or PAGE.index(seen) > PAGE.index(part):
        return False
    return seen in SEES_ONLY.get(part, PAGE)


@pytest.mark.parametrize(
    ("part", "seen"),
    [
        ("pitch", "meter"), ("progression", "harmony"), ("etude", "backing"),
        ("backing", "etude"), ("render", "harmony"), ("render", "progression"),
        ("score", "harmony"), ("lesson", "app"), ("harmony", ""), ("", "pitch"),
    ],
)  # fmt: skip
def test_the_table_forbids(part: str, seen: str) -> None:
    """Imports that would turn the page around are known as such."""
    assert not is_allowed(part, seen)


def test_imports_are_found_wherever_they_stand() -> None:
    code = (
        "import numpy as np\n"
        "from halfstep import pitch\n"
        "from halfstep.etude.rules import palette\n"
        "if TYPE_CHECKING:\n    import typst\n"
        "def f():\n    import verovio, halfstep\n"
    )
    found = [(each.target, each.at_top, each.seen) for each in imports_of(code, "render.x")]
    assert found == [
        ("numpy", True, None),
        ("halfstep.pitch", True, "pitch"),
        ("halfstep.etude.rules", True, "etude"),
        ("typst", False, None),
        ("verovio", False, None),
        ("halfstep", False, ""),
    ]


def test_every_part_has_its_place_on_the_page() -> None:
    parts = {name.split(".")[0] for name in MODULES} - {"", "__main__"}
    assert parts == set(PAGE)


def test_imports_point_up_the_page_only() -> None:
    inside = [each for each in every_import() if each.seen is not None]
    assert len(inside) > 100
    assert [str(each) for each in inside if not is_allowed(each.part, each.seen or "")] == []


def test_nothing_inside_imports_the_root_package() -> None:
    """It is the door: whatever stands behind it would go round in a circle."""
    assert [str(each) for each in every_import() if each.seen == "" and each.module] == []


def test_modules_import_each_other_in_one_direction() -> None:
    """Asked of the modules one by one, so within a part as well."""
    below = {
        name: {
            each.target.removeprefix("halfstep").removeprefix(".")
            for each in every_import()
            if each.module == name and each.seen
        }
        for name in MODULES
    }
    settled: set[str] = set()
    while ready := {name for name in below.keys() - settled if below[name] - {name} <= settled}:
        settled |= ready
    assert sorted(below.keys() - settled) == []


PACKAGES = sorted(path.parent for path in SOURCE.rglob("__init__.py") if path.parent != SOURCE)


@pytest.mark.parametrize("package", PACKAGES, ids=lambda path: path.name)
def test_no_package_is_empty(package: Path) -> None:
    assert {path.name for path in package.glob("*.py")} > {"__init__.py"}


def test_every_module_says_what_it_is_for_and_defines_something() -> None:
    """A package's ``__init__`` and ``__main__`` may define nothing."""
    hollow = []
    for name, path in MODULES.items():
        tree = ast.parse(path.read_text("utf-8"))
        bare = path.name in {"__init__.py", "__main__.py"}
        if ast.get_docstring(tree) is None or not (bare or any(map(is_definition, tree.body))):
            hollow.append(name)
    assert hollow == []


def is_definition(node: ast.stmt) -> bool:
    """A function, a class or a named value."""
    return isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign)


def test_every_folder_of_code_is_a_package() -> None:
    assert {path.parent for path in SOURCE.rglob("*.py")} == {*PACKAGES, SOURCE}


def libraries(imports: Iterable[Import]) -> set[str]:
    """Packages from outside that are imported."""
    found = {each.library for each in imports}
    return found - set(sys.stdlib_module_names) - {"halfstep"}


def test_slow_libraries_are_imported_where_they_are_used() -> None:
    early = [each for each in every_import() if each.at_top and each.library in LOADED_ON_USE]
    assert [str(each) for each in early] == []


def test_each_library_is_known_to_one_part() -> None:
    placed = [(each, ONLY_IN.get(each.library)) for each in every_import()]
    assert [str(each) for each, parts in placed if parts and each.part not in parts] == []


def asked_for(requirements: Iterable[str]) -> set[str]:
    """Names of packages as they are imported: ``pytest-xdist>=3`` is ``xdist``."""
    names = (re.split(r"[<>=!~\[; ]", line)[0] for line in requirements)
    return {name.removeprefix("pytest-").removesuffix("-cffi").replace("-", "_") for name in names}


PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


FOR_PAGES = asked_for(PROJECT["optional-dependencies"]["web"])
FOR_SERVERS = asked_for(PROJECT["optional-dependencies"]["district"])


def test_the_dependencies_are_what_the_program_imports() -> None:
    """What reads a form's files is imported by the library of the pages, not by us; names of time
    zones by the standard library, where the system has none.
    """
    imported = libraries(every_import())
    asked = asked_for(PROJECT["dependencies"]) - {"tzdata"}
    assert asked == imported - FOR_PAGES - FOR_SERVERS
    assert imported >= FOR_PAGES - {"python_multipart"}


def test_only_the_pages_know_what_serves_them() -> None:
    placed = [each for each in every_import() if each.library in FOR_PAGES]
    assert [str(each) for each in placed if not each.module.startswith("app.web")] == []


def test_only_calls_know_who_brings_them_only_numbers_how_and_only_one_module_the_store() -> None:
    placed = {each.module for each in every_import() if each.library in FOR_SERVERS}
    assert placed == {
        "app.called_work", "app.metrics", "school.job_calls", "school.object_files"
    }  # fmt: skip


def test_what_the_tests_import_is_installed_with_them() -> None:
    own = {path.stem for path in TESTS.rglob("*") if path.is_dir() or path.suffix == ".py"}
    used = libraries(
        each for path in TESTS.rglob("*.py") for each in imports_of(path.read_text("utf-8"), "")
    )
    extra = asked_for(PROJECT["optional-dependencies"]["test"])
    assert used - own <= extra | FOR_PAGES | FOR_SERVERS | asked_for(PROJECT["dependencies"])


FETCHING = r"urllib\.request|http\.client|ftplib|smtplib|telnetlib|httpx2?|requests|aiohttp|urllib3"


def test_nothing_fetches_or_sends_anything() -> None:
    """Pages are served, and that is all; a database and a store are where their owner says.

    Where a school has set up mail, one module sends it.
    """
    found = re.compile(rf"^\s*(?:import|from)\s+(?:{FETCHING})\b", re.MULTILINE)
    texts = {path.name: path.read_text("utf-8") for path in SOURCE.rglob("*.py")}
    assert [name for name, text in texts.items() if found.search(text)] == ["mail.py"]
    assert found.search("    from urllib.request import urlopen")


def test_no_two_files_of_tests_are_one_module() -> None:
    """A folder that is no package gives its files no name of their own."""
    paths = [path.relative_to(TESTS) for path in TESTS.rglob("test_*.py")]
    packages = {path.parent.relative_to(TESTS) for path in TESTS.rglob("__init__.py")}
    names = Counter(path if path.parent in packages else path.name for path in paths)
    assert [str(name) for name, files in names.items() if files > 1] == []


def test_files_that_run_in_one_process_are_there_and_in_one_row() -> None:
    names = [name for row in TOGETHER for name in row]
    paths = [*(f"tests/{name}" for name in names), *APART]
    assert [path for path in paths if not (ROOT / path).is_file()] == []
    assert len(paths) == len(set(paths))


def test_every_dependency_is_pinned_with_a_hash_and_without_an_address() -> None:
    pins = (ROOT / "constraints.txt").read_text("utf-8")
    hashes = r"(?: {4}--hash=sha256:[0-9a-f]{64}(?: \\)?\n)+"
    blocks = re.findall(rf"^([a-z0-9.-]+)==[^\n]*\\\n{hashes}", pins, re.MULTILINE)
    pinned = asked_for(blocks)
    assert len(blocks) == len(re.findall(r"^\w.*==", pins, re.MULTILINE))
    assert asked_for(PROJECT["dependencies"]) | FOR_PAGES <= pinned
    assert asked_for(PROJECT["optional-dependencies"]["test"]) <= pinned
    assert "/" not in re.sub(r"^#.*", "", pins, flags=re.M)


LOADED = "import sys\n{}\nprint(*sorted({{name.split('.')[0] for name in sys.modules}}))"
HELP = (
    "from halfstep.app.terminal.command_line import main\n"
    "try:\n    main([{}])\nexcept SystemExit:\n    pass"
)


@pytest.mark.parametrize(
    "code",
    [
        "import halfstep.app.terminal.command_line",
        HELP.format("'--help'"),
        HELP.format("'lesson', '--help'"),
        HELP.format("'lesson', '--for', 'list'"),
    ],
    ids=["import", "help", "lesson help", "instruments"],
)
def test_the_command_line_answers_without_slow_libraries(code: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", LOADED.format(code)], capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "halfstep" in loaded
    assert loaded & HEAVY == set()
