"""Is the screen as wide as Python's own library says? It is the outside source."""

from __future__ import annotations

import shutil
import sys

import pytest

from halfstep.app.terminal.columns import screen_columns


@pytest.mark.parametrize("columns", ["40", "133", " 60 ", "0", "-5", "wide", "", "9" * 5000, None])
@pytest.mark.parametrize("output", [sys.__stdout__, None])
def test_the_screen_is_as_wide_as_the_library_says(
    monkeypatch: pytest.MonkeyPatch, columns: str | None, output: object
) -> None:
    monkeypatch.setattr(sys, "__stdout__", output)
    if columns is None:
        monkeypatch.delenv("COLUMNS", raising=False)
    else:
        monkeypatch.setenv("COLUMNS", columns)
    assert screen_columns() == shutil.get_terminal_size().columns
