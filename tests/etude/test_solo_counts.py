"""The counts of solos that are shipped: made by the script, of odd solos alone."""

from __future__ import annotations

import gzip
import importlib.util
import json
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.etude.beat_kinds import BEAT_KINDS
from halfstep.etude.solo_counts import SHIPPED, interval_class, solo_shares
from master_solos import needs_masters

SCRIPT = Path(__file__).resolve().parents[2] / "training" / "count_solos.py"


@pytest.fixture(scope="module")
def counting() -> ModuleType:
    spec = importlib.util.spec_from_file_location("count_solos", SCRIPT)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    before = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = before
    return module


@pytest.mark.slow
@needs_masters
def test_the_script_makes_the_counts_that_are_shipped(counting: ModuleType) -> None:
    made = counting.text_of(counting.counts(list(counting.odd_phrases())))
    assert made == SHIPPED.read_text("utf-8")


def test_there_are_about_eleven_hundred_counts(counting: ModuleType) -> None:
    counted = json.loads(SHIPPED.read_text("utf-8"))
    assert 1000 <= counting.number_count(list(counted.values())) <= 1200


def test_only_solos_with_odd_numbers_are_read(counting: ModuleType, tmp_path: Path) -> None:
    """Nothing is learnt from the others, which the bench tells ours from."""
    solos = [
        {"solo": number, "notes": [[beat, 0.5, midi, "C7", 1] for beat in (0.0, 0.5, 1.0)]}
        for number, midi in ((1, 60), (2, 61), (3, 62))
    ]
    path = tmp_path / "solos.json.gz"
    path.write_bytes(gzip.compress(json.dumps(solos).encode()))
    read = [phrase[0][2] for phrase in counting.odd_phrases(path)]
    assert read == [60, 62]


def test_phrases_without_a_rest_between_are_one(counting: ModuleType, tmp_path: Path) -> None:
    """A gap of less than a beat is no rest."""
    notes = [[0.0, 0.5, 60, "C7", 1], [0.5, 0.4, 62, "C7", 2], [1.5, 0.5, 64, "C7", 3]]
    path = tmp_path / "solos.json.gz"
    path.write_bytes(gzip.compress(json.dumps([{"solo": 1, "notes": notes}]).encode()))
    assert [len(phrase) for phrase in counting.odd_phrases(path)] == [2, 1]


def test_a_beat_is_of_the_kind_whose_notes_lie_nearest(counting: ModuleType) -> None:
    """A beat cut into five counts as four."""
    for number, kind in enumerate(BEAT_KINDS):
        notes = [[4 + float(at), 0.2, 60, "C7", 1] for at in kind]
        if notes:
            assert counting.beat_kinds(notes) == (4, [number])
    five = [[n / 5, 0.2, 60, "C7", 1] for n in range(5)]
    assert counting.beat_kinds(five) == (0, [len(BEAT_KINDS) - 1])


def test_runs_go_one_way_until_the_line_turns(counting: ModuleType) -> None:
    assert list(counting.runs_one_way([2, 1, 0, -2, -1, -1, 3])) == [(1, 3), (-1, 3), (1, 1)]


def test_shares_add_up() -> None:
    shares = solo_shares()
    for table in (shares.begins, shares.shapes):
        assert table.sum() == pytest.approx(1)
    for table in (
        shares.follows, shares.second, shares.ends, shares.phrase_beats, shares.rest_eighths,
        shares.last_eighths, shares.moves, shares.runs, shares.compasses,
    ):  # fmt: skip
        assert np.allclose(table.sum(axis=-1), 1)
        assert (table >= 0).all()


def test_lines_turn_after_a_leap_more_often_than_after_a_step() -> None:
    """Of transcribed solos 68 % turn after a leap of a fourth or more (jazzodata tables, MIT)."""
    moves = solo_shares().moves
    leap, step = moves[interval_class(9)], moves[interval_class(2)]
    assert leap[:12].sum() > 0.6 > step[:12].sum()


@given(st.integers(-30, 29))
def test_wider_intervals_are_of_the_same_class_or_a_higher_one(semitones: int) -> None:
    assert 0 <= interval_class(semitones) <= interval_class(semitones + 1) <= 12
