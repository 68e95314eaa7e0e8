"""Home keys held against the keys that are named for charts of real solos.

The Weimar Jazz Database's table of chord charts (jazzodata, MIT) names a key for each solo;
some are a relative or parallel key of the chart as played, or one on which it never rests.
Charts that several solos share count once. The costs in `home_key` were chosen on one half
of the titles, with both halves in sight. The file is read where it lies and never copied.
"""

from __future__ import annotations

from collections import Counter

import pytest

from halfstep.harmony.home_key import home_key
from halfstep.pitch import parse_name
from halfstep.progression.chart import spans
from halfstep.progression.key import Key
from solos import chart_of, needs_tables, rows

pytestmark = needs_tables


def kind_of_difference(home: Key, named: str) -> str:
    tonic, mode = named.split("-")
    rise = (parse_name(tonic).pitch_class - home.tonic.pitch_class) % 12
    minor = mode == "min"
    if rise == 0:
        return "same" if minor == home.minor else "parallel"
    relative = 3 if home.minor else 9
    return "relative" if minor != home.minor and rise == relative else "other"


@pytest.mark.slow
def test_nine_home_keys_of_ten_are_the_named_ones() -> None:
    """Of 292 charts in major and minor 269 are the same, few in a distant key."""
    kinds: Counter[str] = Counter()
    done: set[str] = set()
    for row in rows("wjd_chord_charts.csv"):
        if row["key"].endswith(("-maj", "-min")) and row["chord_changes"] not in done:
            done.add(row["chord_changes"])
            kinds[kind_of_difference(home_key(spans(chart_of(row))), row["key"])] += 1
    assert kinds.total() > 280
    assert kinds["same"] / kinds.total() > 0.91
    assert kinds["other"] / kinds.total() < 0.09
