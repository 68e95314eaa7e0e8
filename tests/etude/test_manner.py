"""Ways to take in each place: that seeds differ. Invented cases, no source."""

from __future__ import annotations

from itertools import combinations

import pytest

from halfstep.etude.seed_choices import manner


def ways(seed: int, count: int, places: int) -> list[int]:
    return [manner(seed, place, 0, count) for place in range(places)]


@pytest.mark.parametrize(("seeds", "most"), [(4, 4), (16, 6), (64, 8)])
def test_of_two_ways_no_two_seeds_take_the_same_too_often(seeds: int, most: int) -> None:
    words = [ways(seed, 2, 12) for seed in range(seeds)]
    assert max(sum(map(int.__eq__, *pair)) for pair in combinations(words, 2)) == most


@pytest.mark.parametrize("count", [3, 5])
def test_of_a_prime_number_of_ways_seeds_share_one_place_of_it(count: int) -> None:
    words = [ways(seed, count, count) for seed in range(count**2)]
    assert max(sum(map(int.__eq__, *pair)) for pair in combinations(words, 2)) == 1


def test_what_comes_again_comes_otherwise() -> None:
    for seed in range(20):
        assert {manner(seed, 5, times, 2) for times in range(2)} == {0, 1}
