"""A brief that cannot be met says which rule blocks, and what would work."""

from __future__ import annotations

from dataclasses import replace

import pytest
from etude_charts import analysis_named

from halfstep.errors import BriefError
from halfstep.etude import nearest as nearest_module
from halfstep.etude.nearest import nearest_brief, nearest_step
from halfstep.etude.parts import Brief
from halfstep.etude.write import write_etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Level
from halfstep.pitch import parse_pitch
from halfstep.progression.text import read_chart_text

FIVE = frozenset(parse_pitch(note).midi for note in ("C4", "D4", "E4", "F4", "G4"))
ALTERED = "| Cmaj7 | G7alt | F#maj7 | E7alt | Amaj7 | D7 | Dm7 G7b9 | Bmaj7 |"


def brief(**more: object) -> Brief:
    made = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("step", [1, 3, 4, 6, 9])
def test_five_notes_over_altered_chords_are_too_few_and_more_are_offered(step: int) -> None:
    """What is offered knows all that the player knew, and works."""
    analysis = analyse(read_chart_text(ALTERED), level=Level.INTERMEDIATE)
    asked = brief(known=FIVE)
    try:
        write_etude(step, analysis, asked)
    except BriefError as error:
        said = str(error)
    else:
        pytest.fail("five notes were enough")
    nearest = nearest_brief(step, analysis, asked)
    assert nearest
    assert nearest.known
    assert nearest.known > FIVE
    assert replace(nearest, known=None) == replace(asked, known=None)
    assert write_etude(step, analysis, nearest).notes
    added = len(nearest.known - FIVE)
    assert "; it works with written " in said
    assert said.count(" and ", said.index("works with")) == added - 1


def test_the_nearest_note_that_is_enough_is_offered() -> None:
    """No other single note nearer to the five would do."""
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Bbmaj7 |"))
    asked = brief(known=FIVE, level=Level.BEGINNER)
    nearest = nearest_brief(6, analysis, asked)
    assert nearest
    assert nearest.known
    (added,) = nearest.known - FIVE
    distance = min(abs(added - note) for note in FIVE)
    closer = [
        note
        for note in range(asked.concert_low, asked.concert_high + 1)
        if note not in FIVE and min(abs(note - known) for known in FIVE) < distance
    ]
    for note in closer:
        with pytest.raises(BriefError):
            write_etude(6, analysis, replace(asked, known=FIVE | {note}))


def test_the_message_names_the_rule_and_the_bar() -> None:
    """Of five notes D flat major has one, and a line does not stand still on it."""
    analysis = analyse(read_chart_text("| Cmaj7 | Cmaj7 | Dbmaj7 | Cmaj7 |"))
    known = frozenset(parse_pitch(f"{letter}4").midi for letter in "CDEAB")
    rule = "“every note is in range and in the scale of the moment” leaves no note there"
    with pytest.raises(BriefError, match=f"into D♭maj7 in bar 3: the rule {rule}; it works with"):
        write_etude(6, analysis, brief(known=known))


def test_a_range_too_small_is_widened_by_the_fewest_semitones() -> None:
    analysis = analysis_named("evening class", Level.INTERMEDIATE)
    low = parse_pitch("G4").midi
    asked = brief(limits=(low, low + 2))
    nearest = nearest_brief(6, analysis, asked)
    assert nearest
    wider = (asked.limits[0] - nearest.limits[0], nearest.limits[1] - asked.limits[1])
    assert 0 < max(wider) <= 7
    narrower = range(max(wider))
    for down in narrower:
        for up in {0, down}:
            limits = (asked.limits[0] - down, asked.limits[1] + up)
            with pytest.raises(BriefError):
                write_etude(6, analysis, replace(asked, limits=limits))
    with pytest.raises(BriefError, match=r"it works with the range from written \S+ to \S+$"):
        write_etude(6, analysis, asked)


def test_where_nothing_near_works_an_easier_step_is_named() -> None:
    """On two notes an arpeggio can go to and fro, but a broken one cannot."""
    analysis = analyse(read_chart_text("| Cmaj7 | % | % | % |"))
    asked = brief(known=frozenset({60, 64}))
    assert nearest_step(1, analysis, asked) is None
    assert nearest_step(3, analysis, asked) in {1, 2}


def test_a_note_that_nobody_knows_is_told_from_one_out_of_range() -> None:
    """Two notes hold no tone of D flat major, though the trumpet does."""
    analysis = analyse(read_chart_text("| Cmaj7 | Cmaj7 | Dbmaj7 | Cmaj7 |"))
    known = frozenset(parse_pitch(note).midi for note in ("E4", "G4"))
    with pytest.raises(BriefError, match=r"^no note of D♭maj7 in bar 3 is among the notes known"):
        write_etude(1, analysis, brief(known=known))
    low = parse_pitch("G4").midi
    with pytest.raises(BriefError, match=r"^no note of D♭maj7 lies in the range .*\(bar 3\); it "):
        write_etude(1, analysis, brief(limits=(low, low)))


@pytest.mark.parametrize("step", [1, 6, 13])
def test_a_long_chart_is_offered_what_works_over_all_of_it(step: int) -> None:
    """The chord that needs another note stands in the last of 81 bars, or in the first."""
    for bars in (["Cmaj7", "Dm7"] * 40 + ["Bmaj7"], ["Bmaj7"] + ["Cmaj7", "Dm7"] * 40):
        analysis = analyse(read_chart_text("| " + " | ".join(bars) + " |"))
        asked = brief(known=FIVE)
        nearest = nearest_brief(step, analysis, asked)
        assert nearest
        assert write_etude(step, analysis, nearest).notes


def test_the_search_for_an_offer_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no bars left to try there is no offer, and the message has none."""
    analysis = analyse(read_chart_text(ALTERED))
    asked = brief(known=FIVE)
    assert nearest_brief(6, analysis, asked)
    monkeypatch.setattr(nearest_module, "MOST_BARS", 0)
    assert nearest_brief(6, analysis, asked) is None
    with pytest.raises(BriefError, match=r"; leave it out$"):
        write_etude(6, analysis, asked)
