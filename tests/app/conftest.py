"""Commands run in an empty folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.app_command import Command, Ran, without_sound_and_pages
from halfstep.app.terminal.command_line import main


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder the command runs in."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.delenv("HALFSTEP_DEBUG", raising=False)
    return folder


@pytest.fixture
def command(home: Path, capsys: pytest.CaptureFixture[str]) -> Command:
    """``halfstep`` with these arguments."""
    assert home.is_dir()

    def run(*arguments: str) -> Ran:
        status = main(arguments)
        said = capsys.readouterr()
        return Ran(status, said.out, said.err)

    return run


@pytest.fixture
def quick(command: Command, monkeypatch: pytest.MonkeyPatch) -> Command:
    """``halfstep lesson`` without sound and pages."""
    without_sound_and_pages(monkeypatch)
    return lambda *arguments: command("lesson", *arguments)
