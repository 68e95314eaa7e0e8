"""A wheel of the program, installed where the source tree is not, makes the demo lesson.

Source: the binary distribution format (PyPA specifications) for what stands in a wheel.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import venv
from email import message_from_string
from pathlib import Path
from zipfile import ZipFile

import pytest

from halfstep.version import VERSION

ROOT = Path(__file__).resolve().parents[1]
NEEDED = ("pyproject.toml", "README.md", "LICENSE")

pytestmark = pytest.mark.slow


def ran(*command: str | Path, folder: Path) -> str:
    """What a command prints, run in a folder, with nothing of this environment's paths."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(word) for word in command], cwd=folder, env=clean, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def pip(*arguments: str | Path, folder: Path) -> None:
    """The installer, which may ask no other machine."""
    quiet = ("--quiet", "--no-input", "--disable-pip-version-check")
    ran(sys.executable, "-m", "pip", *quiet, *arguments, folder=folder)


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, so that nothing is left in the source tree."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    shutil.copytree(
        ROOT / "src", source / "src", ignore=shutil.ignore_patterns("*.egg-info", "__pycache__")
    )
    for name in NEEDED:
        shutil.copy(ROOT / name, source / name)
    options = ("--no-deps", "--no-index", "--no-build-isolation")
    pip("wheel", *options, "--wheel-dir", folder, source, folder=folder)
    (path,) = folder.glob("*.whl")
    return path


@pytest.fixture(scope="module")
def home(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel, and with this one's libraries but not its own project.

    A path in a ``.pth`` file is searched, but the ``.pth`` files in it are not read, so
    that an editable installation is out of sight.
    """
    folder = tmp_path_factory.mktemp("home")
    venv.create(folder, with_pip=False, symlinks=True)
    pip(
        "--python",
        folder / "bin" / "python",
        "install",
        "--no-deps",
        "--no-index",
        wheel,
        folder=folder,
    )
    (packages,) = folder.glob("lib/python*/site-packages")
    libraries = sysconfig.get_path("purelib")
    (packages / "libraries.pth").write_text(f"{libraries}\n", encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def lesson(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo lesson with its first step alone, made by the command that the wheel installs."""
    folder = tmp_path_factory.mktemp("elsewhere")
    program = home / "bin" / "halfstep"
    ran(program, "lesson", "--steps", "1", "--choruses", "1", "--out", "lesson", folder=folder)
    return folder / "lesson"


def test_the_wheel_holds_every_file_of_the_package_and_no_other(wheel: Path) -> None:
    """Code and data: the network, the page's template, the mark of a typed package."""
    package = ROOT / "src" / "halfstep"
    files = {
        path.relative_to(ROOT / "src").as_posix()
        for path in package.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert {"halfstep/py.typed", "halfstep/render/handout.typ", "halfstep/render/paper.typ"} < files
    with ZipFile(wheel) as archive:
        names = {name for name in archive.namelist() if ".dist-info/" not in name}
    assert names == files


def test_the_wheel_states_its_version_its_licence_and_its_command(wheel: Path) -> None:
    with ZipFile(wheel) as archive:
        texts = {
            name.rsplit("/", 1)[-1]: archive.read(name).decode()
            for name in archive.namelist()
            if ".dist-info/" in name
        }
    metadata = message_from_string(texts["METADATA"])
    assert (metadata["Name"], metadata["Version"]) == ("halfstep", VERSION)
    assert metadata["License-Expression"] == "MIT"
    assert "[console_scripts]\nhalfstep = halfstep." in texts["entry_points.txt"]
    assert "MIT License" in texts["LICENSE"]


def test_the_program_is_loaded_from_the_wheel(home: Path, tmp_path: Path) -> None:
    code = "import halfstep, sys; print(halfstep.__file__); print(*sys.path, sep='\\n')"
    place, *paths = ran(home / "bin" / "python", "-c", code, folder=tmp_path).splitlines()
    assert Path(place).is_relative_to(home)
    assert not [path for path in paths if path and (Path(path) / "halfstep").is_dir()][1:]
    assert str(ROOT / "src") not in paths


def test_the_demo_lesson_has_all_its_files(lesson: Path) -> None:
    """Pages, notes, notation and sound: none can be made without the package's data."""
    data = json.loads((lesson / "lesson.json").read_text("utf-8"))
    names = {path.name for path in lesson.iterdir()}
    assert names == {*data["files"], "lesson.json"}
    kinds = {Path(name).suffix for name in names}
    assert kinds == {".pdf", ".musicxml", ".mid", ".m4a", ".json"}
    assert min(path.stat().st_size for path in lesson.iterdir()) > 100


def test_the_wheel_hears_a_step_of_its_lesson(home: Path, lesson: Path) -> None:
    """The network that hears is a file of the package."""
    sound = next(lesson.glob("step-*.m4a"))
    ran(home / "bin" / "halfstep", "hear", sound, "--out", "take.json", folder=lesson.parent)
    take = json.loads((lesson.parent / "take.json").read_text("utf-8"))
    assert len(take["notes"]) > 10
