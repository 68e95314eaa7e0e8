"""Is every acknowledged take there, once, whatever fails? `bench/nothing_lost.py`, small.

All of it takes both cores for a minute, so it stands alone after all other tests. In the short form
the programs that serve and that do jobs, two of each on a server, are told to stop and started
again, one after another, as for a new release; then one of each kind is killed, and a worker in the
midst of a job.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import pytest

from outside_scripts import BENCH, script
from postgres_server import postgres_programs

TAKES, FEW = 8, 7

pytestmark = [
    pytest.mark.slow,
    pytest.mark.alone,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="processes are found in /proc"),
]


def none_lost(kind: str, takes: int, manner: str, pairs: int = 1) -> None:
    """Send so many takes while what can fail does, and look for each."""
    if kind == "server" and postgres_programs() is None:
        pytest.skip("PostgreSQL is not installed (Debian: postgresql)")
    bench = script(BENCH / "nothing_lost.py")
    trial = bench.trial_of(kind, takes, 1, replace(getattr(bench, manner), pairs=pairs))
    print(trial.story)
    assert (len(trial.sent), trial.faults) == (takes, 0), trial.story


@pytest.mark.parametrize(("kind", "pairs"), [("file", 1), ("server", 2)])
def test_no_take_is_lost_where_programs_are_renewed_one_by_one_and_killed(
    kind: str, pairs: int
) -> None:
    """What a sender hears of it, it mends by sending again."""
    none_lost(kind, FEW, "SHORT", pairs)


@pytest.mark.parametrize("kind", ["file", "server"])
def test_every_acknowledged_take_is_there_once_with_a_word_of_it(kind: str) -> None:
    """Processes are killed, the database goes away, the disk is full, a job ends who does it."""
    none_lost(kind, TAKES, "WHOLE")
