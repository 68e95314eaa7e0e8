"""Which sound bank plays: the program's own unless another is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.errors import ReadError
from halfstep.render.known_banks import BANK_VARIABLE, SHIPPED_BANK, find_bank


def test_the_program_plays_its_own_bank() -> None:
    assert find_bank() == SHIPPED_BANK
    assert SHIPPED_BANK.is_file()


def test_a_named_bank_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    bank, other = tmp_path / "a.sf2", tmp_path / "b.sf2"
    bank.touch()
    other.touch()
    monkeypatch.setenv(BANK_VARIABLE, str(bank))
    assert find_bank() == bank
    assert find_bank(other) == other


def test_a_named_bank_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="no sound bank at"):
        find_bank(tmp_path / "none.sf2")
