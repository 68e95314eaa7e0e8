"""Each cost ranks as a listener would: orderings, not numbers."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from typed_lines import typed

from halfstep.etude import costs
from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.etude.costs import Cost, awkward, contour, crossing
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote
from halfstep.etude.steps import STEPS, broken_arpeggio
from halfstep.instruments import INSTRUMENTS
from halfstep.pitch import parse_pitch

FALLING = "key: F\n| C7 | F7 |"
LINE_COSTS = {
    step.name: step.writing.costs for step in STEPS if isinstance(step.writing, NoteByNote)
}
_, SLOTS = typed("one-line", FALLING, "C5 Bb4 A4 G4 E4 D4 F4 E4 | Eb4 F4 G4 A4 F4--,")
INSIDE = SLOTS[1:4]
AT_CHANGE = SLOTS[7:9]
FIRST_OF_F7, LAST = SLOTS[8], SLOTS[-1]


def price(cost: object, slots: list[Slot], notes: str) -> float:
    """What a cost asks for notes such as ``C5 D5``."""
    midis = [np.asarray(parse_pitch(word).midi) for word in notes.split()]
    return float(np.squeeze(cost(slots, midis)))  # type: ignore[operator]


def test_stepwise_prefers_steps_to_thirds_to_skips() -> None:
    steps = [price(costs.stepwise, INSIDE, f"C4 {top}") for top in ("D4", "E4", "F4", "A4", "C5")]
    assert steps == sorted(steps)
    assert steps[0] == price(costs.stepwise, INSIDE, "D4 C4") == 0
    assert price(costs.stepwise, INSIDE, "C4 C4") > steps[2]
    assert price(costs.stepwise, INSIDE, "C4 C6") > steps[-1]


def test_skipping_lets_fourths_and_fifths_through_more_often() -> None:
    for top in ("F4", "G4"):
        assert price(costs.skipping, INSIDE, f"C4 {top}") < price(
            costs.stepwise, INSIDE, f"C4 {top}"
        )
    assert price(costs.skipping, INSIDE, "C4 D4") < price(costs.skipping, INSIDE, "C4 F4")


def test_a_broken_arpeggio_prefers_skips_to_steps_and_to_octaves() -> None:
    skip = price(broken_arpeggio.broken, INSIDE, "C4 F4")
    assert skip < price(broken_arpeggio.broken, INSIDE, "C4 D4")
    assert skip < price(broken_arpeggio.broken, INSIDE, "C4 C5")
    assert skip < price(broken_arpeggio.broken, INSIDE, "C4 C4")


def test_a_tritone_costs_more_than_the_fourth_and_the_fifth() -> None:
    for cost in (costs.stepwise, costs.skipping):
        tritone = price(cost, INSIDE, "C4 F#4")
        assert tritone > max(price(cost, INSIDE, "C4 F4"), price(cost, INSIDE, "C4 G4"))


def test_a_third_into_a_change_costs_and_elsewhere_does_not() -> None:
    (cost,) = (cost for cost in LINE_COSTS["one-line"] if cost.amount is costs.beyond_step)
    assert price(cost.amount, AT_CHANGE, "G4 Eb4") > 0
    assert price(cost.amount, AT_CHANGE, "E4 Eb4") == 0
    assert cost.applies(AT_CHANGE)
    assert not cost.applies(INSIDE[:2])


def test_a_new_chord_shows_first_its_new_note_then_its_guide_tones() -> None:
    """E♭ is new with F7 and A is its third; C says nothing."""
    new, guide, other = (
        price(costs.new_note_first, [FIRST_OF_F7], note) for note in ("Eb4", "A4", "C4")
    )
    assert new < guide < other
    assert price(costs.new_note_first, [SLOTS[9]], "C4") == 0


def test_a_strong_beat_prefers_the_arpeggio_then_the_chord_then_the_scale() -> None:
    _, slots = typed("turning-scale", "key: F\n| C9 |", "C5 Bb4 A4 G4 E4 D4 C4-,")
    core, chord, scale = (price(costs.rooted, slots[:1], note) for note in ("E4", "D4", "A4"))
    assert core < chord < scale
    assert price(costs.rooted, slots[1:2], "A4") == 0


def test_the_last_note_prefers_the_root_then_the_third_then_the_fifth() -> None:
    prices = [price(costs.comes_to_rest, [LAST], note) for note in ("F4", "A4", "C5", "G4")]
    assert prices == sorted(set(prices))
    assert price(costs.comes_to_rest, [SLOTS[3]], "G4") == 0


def test_a_phrase_ends_rather_on_a_chord_tone_and_least_on_the_fourth() -> None:
    closing = SLOTS[7]._replace(closes=True)
    tone, scale, fourth = (price(costs.pauses, [closing], note) for note in ("E4", "A4", "F4"))
    assert tone < scale < fourth
    assert price(costs.pauses, [SLOTS[7]], "F4") == 0


def test_a_turn_costs_and_going_on_does_not() -> None:
    assert price(costs.turning, INSIDE, "C4 E4 D4") > price(costs.turning, INSIDE, "C4 D4 E4") == 0


def test_there_and_back_costs_more_than_any_other_turn() -> None:
    assert price(costs.returning, INSIDE, "C4 D4 C4") > price(costs.returning, INSIDE, "C4 E4 D4")
    assert price(costs.returning, INSIDE, "C4 C4 C4") == 0


def test_two_skips_one_way_cost_and_a_skip_with_a_step_does_not() -> None:
    assert price(costs.leaping_twice, INSIDE, "C4 F4 Bb4") > 0
    assert price(costs.leaping_twice, INSIDE, "C4 F4 C4") == 0
    assert price(costs.leaping_twice, INSIDE, "C4 F4 G4") == 0


def test_after_a_leap_a_step_back_is_best_and_going_on_is_worst() -> None:
    """In solos the line turns back after 68 % of the leaps of a fourth or more."""
    back, skip_back, on = (
        price(costs.recovering, INSIDE, f"C4 G4 {then}") for then in ("F4", "D4", "A4")
    )
    assert 0 == back < skip_back < on
    assert price(costs.recovering, INSIDE, "C4 E4 F4") == 0
    assert price(costs.recovering, INSIDE, "G4 C4 D4") == back


def test_equal_skips_up_and_down_rock_and_others_climb() -> None:
    assert price(costs.rocking, INSIDE, "C4 E4 C4") > 0
    assert price(costs.rocking, INSIDE, "C4 G4 D4") > 0
    assert price(costs.rocking, INSIDE, "C4 G4 E4") == 0
    assert price(costs.rocking, INSIDE, "C4 E4 G4") == 0
    assert price(costs.rocking, INSIDE, "C4 D4 C4") == 0


def test_a_note_costs_what_it_does_not_tell() -> None:
    """Over C7 the third tells more than the sixth, in every place of the bar."""
    for slot in INSIDE:
        third, sixth = (price(costs.tells, [slot], note) for note in ("E4", "A4"))
        assert 0 <= third < sixth


def test_crossing_the_break_costs_both_ways_and_only_then() -> None:
    """The break lies above MIDI 73."""
    cost = crossing(73, 1.5)
    assert cost.weight == 1.5
    over, back = price(cost.amount, INSIDE, "C5 D5"), price(cost.amount, INSIDE, "D5 C#5")
    assert over == back > 0
    assert price(cost.amount, INSIDE, "B4 C#5") == price(cost.amount, INSIDE, "D5 E5") == 0


def test_a_trill_costs_where_one_finger_works_both_keys_and_nowhere_else() -> None:
    """Written low C♯ and B on the alto are sounding E3 and D3; D and E trill freely.

    Source: the left little finger works low C♯, B and B♭, common practice, no source.
    """
    slides, alternates = awkward(awkward_pairs(INSTRUMENTS["alto-sax"]), 0.4)
    assert (
        price(slides.amount, INSIDE[:2], "E3 D3") == price(slides.amount, INSIDE[:2], "D3 E3") > 0
    )
    assert price(alternates.amount, INSIDE, "E3 D3 E3") > 0
    assert price(alternates.amount, INSIDE, "E3 D3 C#3") == 0
    assert (
        price(alternates.amount, INSIDE, "F3 G3 F3") == price(slides.amount, INSIDE, "F3 G3") == 0
    )
    assert alternates.weight > slides.weight


def test_a_slow_alternation_costs_no_trill() -> None:
    _, alternates = awkward(awkward_pairs(INSTRUMENTS["alto-sax"]), 0.4)
    slow = [slot._replace(beats=Fraction(1)) for slot in INSIDE]
    assert alternates.applies(INSIDE)
    assert not alternates.applies(slow)


@pytest.mark.parametrize(
    ("player", "low", "high"),
    [("clarinet", "A4", "B4"), ("alto-sax", "C#5", "D5"), ("trombone", "Bb2", "B2")],
)
def test_the_break_and_the_long_slide_are_among_what_lies_badly(
    player: str, low: str, high: str
) -> None:
    """Written notes; over the break all fingers move, B♭ to B takes the slide from 1 to 7."""
    down = INSTRUMENTS[player].rise.semitones
    pair = parse_pitch(low).midi - down, parse_pitch(high).midi - down
    assert pair in awkward_pairs(INSTRUMENTS[player])


def test_strings_and_keys_have_no_pairs_that_lie_badly() -> None:
    assert all(not awkward_pairs(INSTRUMENTS[player]) for player in ("piano", "guitar"))


def test_the_contour_costs_more_the_further_away() -> None:
    away = contour(np.arange(60, 72), np.full(12, 60.0), 0.5)
    assert away[0] == 0
    assert (np.diff(away) > 0).all()
    assert contour(np.array([55, 65]), np.full(2, 60.0), 0.5).tolist() == [0.5, 0.5]


@pytest.mark.parametrize("step", LINE_COSTS)
def test_costs_are_never_negative_and_fit_any_shape(step: str) -> None:
    grid = np.arange(57, 78)
    for cost in LINE_COSTS[step]:
        window = SLOTS[-cost.width :]
        amounts = cost.amount(window, np.ix_(*[grid] * cost.width))
        assert (np.broadcast_to(amounts, (len(grid),) * cost.width) >= 0).all()
        assert cost.weight > 0


def test_every_cost_function_is_used_by_some_step() -> None:
    every = [each for row in LINE_COSTS.values() for each in row]
    used = {asked.__name__ for each in every for asked in (each.amount, each.applies)}
    public = {
        name
        for name, value in vars(costs).items()
        if callable(value) and getattr(value, "__module__", "") == costs.__name__
        if not name.startswith("_") and value is not Cost
    }
    by_instrument = {"awkward", "crossing", "hurried_crossing", "out_of_hand"}
    assert public - used == {"by_size", "contour", "of_notes"} | by_instrument
