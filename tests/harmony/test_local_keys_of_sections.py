"""Home and local keys held against the keys that experts gave charts which move by section.

The charts and their keys: `keyed_charts`. What the keys of a half would be held constant, at
the experts' own home, is the baseline.
"""

from __future__ import annotations

import pytest

from keyed_charts import agreements, needs_keyed_charts, shares

pytestmark = [needs_keyed_charts, pytest.mark.slow]


@pytest.mark.parametrize("half", [0, 1], ids=["even places", "odd places"])
def test_most_beats_are_in_the_key_of_the_experts(half: int) -> None:
    _, local, constant = shares(chart for chart in agreements() if chart.place % 2 == half)
    assert local > 0.85
    assert local > constant + 0.2


@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
def test_most_home_keys_are_those_of_the_experts(minor: bool) -> None:
    homes, local, constant = shares(chart for chart in agreements() if chart.named.minor is minor)
    assert homes > 0.94
    assert local > constant
