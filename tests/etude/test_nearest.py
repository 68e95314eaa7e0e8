"""A brief that cannot be met says which rule blocks, and what would work."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from etude_charts import analysis_named

from halfstep.errors import BriefError
from halfstep.etude import offers as nearest_module
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.offers import Impossible, nearest_brief, nearest_offer, nearest_step
from halfstep.etude.steps import find_step, parse_steps
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from halfstep.progression.symbol import parse_symbol
from typed_charts import read_chart_text

FIVE = frozenset(parse_pitch(note).midi for note in ("C4", "D4", "E4", "F4", "G4"))
ALTERED = "| Cmaj7 | G7alt | F#maj7 | E7alt | Amaj7 | D7 | Dm7 G7b9 | Bmaj7 |"


def brief(**more: object) -> Brief:
    made = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.slow
@pytest.mark.parametrize(
    "step", ["arpeggio", "broken-arpeggio", "scale", "one-line", "approach-notes"]
)
def test_five_notes_over_altered_chords_are_too_few_and_more_are_offered(step: str) -> None:
    """What is offered knows all that the player knew, and works."""
    analysis = analyse(read_chart_text(ALTERED), level=Level.INTERMEDIATE)
    asked = brief(known=FIVE)
    try:
        write_etude(find_step(step), analysis, asked)
    except BriefError as error:
        said = str(error)
    else:
        pytest.fail("five notes were enough")
    nearest = nearest_brief(find_step(step), analysis, asked)
    assert nearest
    assert nearest.known
    assert nearest.known > FIVE
    assert replace(nearest, known=None) == replace(asked, known=None)
    assert write_etude(find_step(step), analysis, nearest).notes
    added = len(nearest.known - FIVE)
    listed = re.search(r"; it works with written (.+) added$", said)
    assert listed
    assert len(re.split(", | and ", listed[1])) == added


def test_the_nearest_note_that_is_enough_is_offered() -> None:
    """No other single note nearer to the five would do."""
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Bbmaj7 |"))
    asked = brief(known=FIVE, level=Level.BEGINNER)
    nearest = nearest_brief(find_step("one-line"), analysis, asked)
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
            write_etude(find_step("one-line"), analysis, replace(asked, known=FIVE | {note}))


def test_the_message_names_the_rule_and_the_bar() -> None:
    """Of five notes D flat major has one, and a line does not stand still on it."""
    analysis = analyse(read_chart_text("| Cmaj7 | Cmaj7 | Dbmaj7 | Cmaj7 |"))
    known = frozenset(parse_pitch(f"{letter}4").midi for letter in "CDEAB")
    rule = "“every note is in range and in the scale of the moment” leaves no note there"
    with pytest.raises(BriefError, match=f"into D♭maj7 in bar 3: the rule {rule}; it works with"):
        write_etude(find_step("one-line"), analysis, brief(known=known))


@pytest.mark.slow
def test_a_range_too_small_is_widened_by_the_fewest_semitones() -> None:
    analysis = analysis_named("evening class", Level.INTERMEDIATE)
    low = parse_pitch("G4").midi
    asked = brief(limits=(low, low + 2))
    nearest = nearest_brief(find_step("one-line"), analysis, asked)
    assert nearest
    wider = (asked.limits[0] - nearest.limits[0], nearest.limits[1] - asked.limits[1])
    assert 0 < max(wider) <= 7
    narrower = range(max(wider))
    for down in narrower:
        for up in {0, down}:
            limits = (asked.limits[0] - down, asked.limits[1] + up)
            with pytest.raises(BriefError):
                write_etude(find_step("one-line"), analysis, replace(asked, limits=limits))
    with pytest.raises(BriefError, match=r"it works with the range from written \S+ to \S+$"):
        write_etude(find_step("one-line"), analysis, asked)


def test_where_nothing_near_works_an_easier_step_is_named() -> None:
    """On two notes an arpeggio can go to and fro, but a broken one cannot."""
    analysis = analyse(read_chart_text("| Cmaj7 | % | % | % |"))
    asked = brief(known=frozenset({60, 64}))
    assert nearest_step(find_step("rhythm"), analysis, asked) is None
    assert nearest_step(find_step("arpeggio"), analysis, asked) is find_step(
        "root-third"
    )  # root and third are these two
    assert nearest_step(find_step("broken-arpeggio"), analysis, asked) in parse_steps("1-2")


@pytest.mark.slow
def test_a_note_that_nobody_knows_is_told_from_one_out_of_range() -> None:
    """Two notes hold no tone of D flat major, though the trumpet does."""
    analysis = analyse(read_chart_text("| Cmaj7 | Cmaj7 | Dbmaj7 | Cmaj7 |"))
    known = frozenset(parse_pitch(note).midi for note in ("E4", "G4"))
    with pytest.raises(BriefError, match=r"^none of the notes known .* a tone of D♭maj7 \(bar 3\)"):
        write_etude(find_step("arpeggio"), analysis, brief(known=known))
    low = parse_pitch("G4").midi
    with pytest.raises(BriefError, match=r"^no note of D♭maj7 lies in .*\(bar 3\); it "):
        write_etude(find_step("arpeggio"), analysis, brief(limits=(low, low)))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("step", "place"), [("arpeggio", 0), ("arpeggio", 40), ("one-line", 40), ("chorus", 0)]
)
def test_a_long_chart_is_offered_what_works_over_all_of_it(step: str, place: int) -> None:
    """The chord that needs another note stands in the last of 41 bars, or in the first."""
    bars = ["Cmaj7", "Dm7"] * 20
    bars.insert(place, "Bmaj7")
    analysis = analyse(read_chart_text("| " + " | ".join(bars) + " |"))
    asked = brief(known=FIVE)
    nearest = nearest_brief(find_step(step), analysis, asked)
    assert nearest
    assert write_etude(find_step(step), analysis, nearest).notes


@pytest.mark.slow
def test_the_search_for_an_offer_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no bars left to try there is no offer, and the message has none."""
    analysis = analyse(read_chart_text(ALTERED))
    asked = brief(known=FIVE)
    assert nearest_brief(find_step("one-line"), analysis, asked)
    monkeypatch.setattr(nearest_module, "MOST_BARS", 0)
    assert nearest_brief(find_step("one-line"), analysis, asked) is None
    with pytest.raises(BriefError, match=r"; nothing near it works; try other notes, "):
        write_etude(find_step("one-line"), analysis, asked)


@pytest.mark.slow
def test_a_player_reads_notes_and_chords_in_written_pitch() -> None:
    """An alto saxophone reads A major for C; source of the sixth: music21's instrument."""
    music21 = pytest.importorskip("music21")
    analysis = analyse(read_chart_text(ALTERED))
    alto = INSTRUMENTS["alto-sax"]
    written = {parse_pitch(note) for note in ("G4", "A4", "B4", "C5", "D5")}
    asked = brief(instrument=alto, known=frozenset(alto.concert(note).midi for note in written))
    with pytest.raises(Impossible) as caught:
        write_etude(find_step("one-line"), analysis, asked)
    said = caught.value.sentence(part_for(analysis, alto))
    found = re.search(r"a tone of (\S+) \(bar (\d)\); it works with written (.*) added$", said)
    assert found
    rise = -music21.instrument.AltoSaxophone().transposition.semitones
    sounding = analysis.chords[int(found[2]) - 1].span.symbol.root.pitch_class
    assert parse_symbol(found[1]).root.pitch_class == (sounding + rise) % 12
    new = {parse_pitch(each).midi - rise for each in re.split(", | and ", found[3])}
    assert write_etude(
        find_step("one-line"), analysis, replace(asked, known=(asked.known or frozenset()) | new)
    ).notes


def test_a_level_is_offered_with_the_scales_of_that_level() -> None:
    """What is offered works over the chart as it is explained there."""
    analysis = analyse(read_chart_text("| Cmaj7 | A7 | Dm7 | G7 |"), level=Level.BEGINNER)
    asked = brief(level=Level.BEGINNER, limits=(0, 61))
    offer = nearest_offer(find_step("cells"), analysis, asked)
    assert offer
    over = analyse(analysis.chart, level=offer.brief.level)
    assert write_etude(offer.step, over, offer.brief).notes


@pytest.mark.slow
def test_all_notes_are_offered_where_a_few_more_would_not_do() -> None:
    analysis = analyse(read_chart_text(ALTERED))
    offer = nearest_offer(find_step("arpeggio"), analysis, brief(known=frozenset({67})))
    assert offer
    assert offer.brief.known is None or offer.brief.known > {67}
    assert write_etude(offer.step, analysis, offer.brief).notes
