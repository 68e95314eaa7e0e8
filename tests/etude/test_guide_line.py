"""The line of guide tones: the rhythms, the tones, and how they may follow one another.

Guide tones go to the nearest of the next chord; common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of

from halfstep.etude.guide_line import (
    HELD,
    LEAP,
    STRANDED,
    THRICE,
    GuideLine,
    _led,
    _moved,
    _nearest,
    is_step_away,
)  # fmt: skip
from halfstep.etude.guide_ways import (
    GuideWay,
    _returns,
    _rhythms,
    _splits,
    _tones,
    class_count,
    followers_of,
    guides_of,
)  # fmt: skip
from halfstep.etude.prior_notes import PriorNotes
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.random_stream import RandomStream

CADENCE = brief_over("key: C\n| Dm7 | G7 | Cmaj7 | Am7 |", low="C4", high="C5")


def line_over(request: BriefOverChart) -> GuideLine:
    return GuideLine(request.analysis, request.brief, request.palettes, request.ends, [])


@pytest.mark.parametrize(
    ("chart", "splits"),
    [
        ("| C7 |", ["2 2", "3 1"]),
        ("meter: 3/4\n| C7 |", ["2 1"]),
        ("| C7 F7 |", ["1 1"]),
        ("| C7 F7 C7 F7 |", []),
        ("meter: 6/8\n| C7 |", ["3/2 3/2"]),
        ("meter: 5/4\n| C7 |", ["3 2", "4 1"]),
    ],
)
def test_two_notes_on_pulses_the_first_no_shorter(chart: str, splits: list[str]) -> None:
    made = list(_splits(brief_over(chart).cut[0]))
    assert made == [tuple(map(Fraction, text.split())) for text in splits]


def test_there_and_back_only_where_a_bar_is_two_dotted_quarters() -> None:
    assert list(_returns(brief_over("meter: 6/8\n| C7 |").cut[0])) == [
        (Fraction(3, 2), Fraction(1), Fraction(1, 2))
    ]
    assert list(_returns(brief_over("| C7 |").cut[0])) == []
    assert list(_returns(brief_over("meter: 9/8\n| C7 |").cut[0])) == []


@pytest.mark.parametrize("level", Level)
@pytest.mark.parametrize("closes", [False, True])
@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "5/4", "6/8", "7/4"])
@pytest.mark.parametrize("feel", Feel)
def test_rhythms_fill_the_piece_and_begin_with_half_of_it_or_more(
    level: Level, closes: bool, meter: str, feel: Feel
) -> None:
    piece = brief_over(f"meter: {meter}\n| C7 |").cut[0]
    rhythms = _rhythms(piece, level, feel, closes=closes)
    assert len(set(rhythms)) == len(rhythms)
    for lengths in rhythms:
        assert sum(lengths) == piece.beats
        assert 2 * lengths[0] >= piece.beats
        assert min(lengths) > 0
        if closes and level is not Level.BEGINNER:
            assert len(lengths) <= 2  # the end of a phrase is not decorated


def test_of_one_tone_each_and_of_two_those_nearer_than_a_fifth() -> None:
    palette = CADENCE.palette(1)  # G7 between two Cs: B and F
    assert list(_tones(palette, count=1)) == [(65,), (71,)]
    assert list(_tones(palette, count=2)) == [(65, 71), (71, 65)]
    assert list(_tones(palette, count=3)) == [(65, 71, 65), (71, 65, 71)]
    wide = brief_over("| Cmaj7 |", low="C4", high="C6").palette(0)
    for old, new in _tones(wide, count=2):
        assert abs(old - new) < 7
        assert old % 12 != new % 12


def test_a_triad_has_one_guide_tone_and_its_other_tones_may_follow() -> None:
    palette = brief_over("| C |", low="C4", high="C5").palette(0)
    assert guides_of(palette).tolist() == midis_of("E4")
    assert followers_of(palette).tolist() == midis_of("C4 E4 G4 C5")
    seventh = brief_over("| C7 |", low="C4", high="C5").palette(0)
    assert followers_of(seventh).tolist() == guides_of(seventh).tolist() == midis_of("E4 Bb4")


def test_octaves_are_one_note() -> None:
    assert class_count(np.array(midis_of("E4 E5"))) == 1
    assert class_count(np.array(midis_of("E4 Bb4 E5"))) == 2


def test_into_a_new_chord_only_the_nearest_and_rather_no_leap() -> None:
    """From every note of an octave and a half, against the words of the rule."""
    guides = np.array(midis_of("F4 B4 F5 E6"))
    left = np.arange(58, 80)[:, None]
    costs = _nearest(left, guides[None], guides)
    for (row, old), (column, new) in product(enumerate(left[:, 0]), enumerate(guides)):
        size = abs(int(new) - int(old))
        nearest = min(abs(int(guide) - int(old)) for guide in guides)
        expected = np.inf if size > nearest else LEAP if size > 7 else 0.0
        assert costs[row, column] == expected


@pytest.mark.parametrize(
    ("old", "new", "guides", "held", "cost"),
    [
        ("E4", "Bb4", "E4 Bb4", False, 0.0),
        ("E4", "E4", "E4 Bb4", False, np.inf),  # never struck again
        ("E4", "E4", "E4 Bb4", True, HELD),
        ("E4", "E4", "E4 E5", False, 0.0),  # there is no other
        ("E4", "B4", "E4 B4", False, LEAP),
        ("E4", "A4", "E4 A4", False, 0.0),
    ],
)
def test_over_one_chord_to_the_other_tone_or_held(
    old: str, new: str, guides: str, held: bool, cost: float
) -> None:
    left, right = np.array([midis_of(old)]), np.array([midis_of(new)])
    table = _moved(left, right, np.array(midis_of(guides)), np.array([held]))
    assert table.tolist() == [[cost]]


def way(tones: str, count: int) -> GuideWay:
    return GuideWay(tuple(midis_of(tones)), (Fraction(1),) * count, 0.0)


def test_where_one_note_leads_it_must_be_another_than_the_long_one() -> None:
    """Over C7 with three notes known: to E4 leads only F4, to G4 leads F4 or A4."""
    few = brief_over("key: F\n| C7 |", known="E4 F4 A4").palette(0)
    goals = np.array(midis_of("E4 G4"))
    assert _led([way("F4", 2)], few, goals).tolist() == [[False, True]]
    assert _led([way("A4", 2)], few, goals).tolist() == [[True, True]]
    assert _led([way("E4", 1)], few, goals).tolist() == [[True, True]]  # none has to lead
    assert _led([way("F4", 3)], few, goals).tolist() == [[True, True]]
    assert STRANDED > LEAP > THRICE


@pytest.mark.parametrize(("moved", "step"), [(0, False), (1, True), (2, True), (3, False)])
def test_a_step_is_one_or_two_semitones_either_way(moved: int, step: bool) -> None:
    assert is_step_away(np.array([moved, -moved])).tolist() == [step, step]


def test_the_notes_of_a_way_follow_one_another() -> None:
    notes = list(way("E4 Bb4", 3).notes(Fraction(4)))
    assert notes == [(4, 1, 64), (5, 1, 70)]  # the third length is for what leads on


@pytest.mark.parametrize("level", ["beginner", "intermediate"])
def test_prior_notes_count_for_the_ways_whose_long_notes_they_have(level: str) -> None:
    """Once for each; for no way of another piece."""
    request = brief_over("key: C\n| Dm7 | G7 | Cmaj7 |", low="C4", high="C5", level=level)
    ways, start = line_over(request)._open, request.cut[1].start
    choices = ways._pieces[1].ways
    first = len(ways._pieces[0].ways)
    for way in choices:
        prior = PriorNotes(way.notes(start))
        counts = ways.times([prior, prior]).tolist()
        has = [2 * prior.has(other.notes(start)) for other in choices]
        assert counts == [0] * first + has + [0] * len(ways._pieces[2].ways)
        assert 0 < sum(has) < 2 * len(choices)
    assert not ways.times([]).any()


@pytest.mark.parametrize("seed", range(6))
def test_a_drawn_line_goes_by_nearest_motion_and_tells_as_much_as_it_counts(seed: int) -> None:
    line = line_over(CADENCE).drawn(RandomStream(seed), 4.0)
    assert len(line.ways) == len(CADENCE.cut)
    routes = [chosen for chosen in line.ways if chosen is not None]
    assert line.telling_nats == pytest.approx(sum(chosen.telling_nats for chosen in routes))
    for chord, (old, new) in enumerate(pairwise(routes), 1):
        guides = guides_of(CADENCE.palette(chord))
        assert abs(new.tones[0] - old.tones[-1]) == np.abs(guides - old.tones[-1]).min()


def test_a_tone_that_is_held_over_tells_once() -> None:
    """A beginner's over one chord of two bars, in one phrase; another tone tells again."""
    request = brief_over("| C7 | % |", low="C4", high="C5", level="beginner")
    ways = line_over(request)._open
    choices = [piece.ways for piece in ways._pieces]
    held, moved = (
        [
            [way.tones for way in ways].index(tones)
            for ways, tones in zip(choices, line, strict=True)
        ]
        for line in ([(64,), (64,)], [(64,), (70,)])
    )
    assert ways.tells(held) == choices[0][held[0]].telling_nats
    assert ways.tells(moved) == sum(choices[n][moved[n]].telling_nats for n in (0, 1))
    assert ways.notes(held) == [(0, 4, 64)]
    assert ways.notes(moved) == [(0, 4, 64), (4, 4, 70)]


def test_where_there_is_no_chord_there_is_no_way() -> None:
    request = brief_over("key: C\n| Dm7 | N.C. | G7 |")
    line = line_over(request).drawn(RandomStream(0), 4.0)
    assert [chosen is None for chosen in line.ways] == [False, True, False]
