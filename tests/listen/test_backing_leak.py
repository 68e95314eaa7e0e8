"""A take is freed of its backing, whole or as it comes."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.listen.backing_delay import BackingDelay
from halfstep.listen.backing_leak import FIRST, SHORT, Freeing, laid_under
from halfstep.listen.spectra import RATE

DICE = np.random.default_rng(7)
LENGTH = 20 * SHORT + 1234
BACKING = DICE.normal(0, 0.1, LENGTH).astype(np.float32)
ROOM = (0.5 * DICE.normal(0, 1, 800) * np.exp(-np.arange(800) / 150)).astype(np.float32)
LEAKED = np.asarray(np.convolve(BACKING, ROOM)[:LENGTH], dtype=np.float32)
PLAYER = (0.3 * np.sin(2 * np.pi * 440 * np.arange(LENGTH) / RATE)).astype(np.float32)


def freeing() -> Freeing:
    return Freeing(lambda first, samples: BACKING[first : first + samples])


@pytest.mark.slow
@settings(max_examples=6)
@given(st.sets(st.integers(1, LENGTH - 1), max_size=6))
def test_a_take_is_freed_alike_however_it_comes(cuts: set[int]) -> None:
    take = PLAYER + LEAKED
    whole = [*freeing().parts([take])]
    edges = [0, *sorted(cuts), LENGTH]
    pieces = [*freeing().parts(take[begin:end] for begin, end in pairwise(edges))]
    for field in ("sound", "covering"):
        one, other = (
            np.concatenate([getattr(part, field) for part in parts]) for parts in (whole, pieces)
        )
        assert np.array_equal(one, other)


def test_what_is_left_is_the_player() -> None:
    """The backing of noise, as loud as the player, is brought down by 15 dB and more."""
    sound = np.concatenate([part.sound for part in freeing().parts([PLAYER + LEAKED])])
    left = np.sum(np.square(sound - PLAYER)) / np.sum(np.square(LEAKED))
    assert 10 * np.log10(left) < -15


def test_what_is_freed_before_the_end_of_a_take_is_freed_for_good() -> None:
    take = PLAYER + LEAKED
    early = np.concatenate([part.sound for part in freeing().freed(take[: 18 * SHORT])])
    whole = np.concatenate([part.sound for part in freeing().parts([take])])
    assert len(early) == 18 * SHORT > FIRST * SHORT
    assert np.array_equal(early, whole[: len(early)])


def test_a_place_that_is_found_again_a_little_beside_lays_the_backing_alike() -> None:
    laid = {laid_under(BackingDelay(0.5 + error_s), 16_000) for error_s in (0, 1e-4, -1e-4)}
    assert len(laid) == 1
