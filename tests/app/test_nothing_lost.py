"""Is every acknowledged take there, once, whatever fails? `bench/nothing_lost.py`, small."""

from __future__ import annotations

import sys

import pytest

from outside_scripts import BENCH, script
from postgres_server import postgres_programs

TAKES = 8


@pytest.mark.slow
@pytest.mark.repeat  # it takes both cores for minutes, and browsers beside it miss presses
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="processes are found in /proc")
@pytest.mark.parametrize("kind", ["file", "server"])
def test_every_acknowledged_take_is_there_once_with_a_word_of_it(kind: str) -> None:
    """Processes are killed, the database goes away, the disk is full, a job ends who does it."""
    if kind == "server" and postgres_programs() is None:
        pytest.skip("PostgreSQL is not installed (Debian: postgresql)")
    trial = script(BENCH / "nothing_lost.py").trial_of(kind, TAKES, 1)
    print(trial.story)
    assert (len(trial.sent), trial.faults) == (TAKES, 0), trial.story
