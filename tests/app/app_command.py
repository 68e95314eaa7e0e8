"""The command line called in the process, with what it leaves behind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

import halfstep.lesson.write as writing

CHART = "| Dm7 | G7 |"


@dataclass(frozen=True, slots=True)
class Ran:
    """What a command answered."""

    status: int
    out: str
    err: str


Command = Callable[..., Ran]


def contents(folder: Path) -> dict[str, bytes]:
    """Every file under a folder with its bytes; folders end in a slash."""
    return {
        str(path.relative_to(folder)) + ("/" if path.is_dir() else ""): (
            path.read_bytes() if path.is_file() else b""
        )
        for path in folder.rglob("*")
    }


def without_sound_and_pages(patch: pytest.MonkeyPatch) -> None:
    """Leave out what takes long and is tested elsewhere: sound files and the PDF."""
    patch.setattr(writing, "write_handout", lambda *_, **__: None)
    without_sound(patch)


def without_sound(patch: pytest.MonkeyPatch) -> None:
    """Leave out the sound files of lessons."""
    patch.setattr(writing.SoundWriter, "write", lambda _: ((), {}))
