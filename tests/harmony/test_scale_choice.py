"""Which scale over this chord, here? The table of the trade, in twelve keys.

Every chart is written in C and moved. Common practice, no source, where a group names
no other.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.function import ChordPlace, Role, function_of
from halfstep.harmony.scale_choice import says_minor_sixth, scale_choices
from halfstep.harmony.scales import MODES
from halfstep.harmony.tones import chord_degrees, chord_tones
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.pitch import Interval, Name, name_at, parse_name
from halfstep.progression.key import Key, parse_key
from halfstep.progression.symbol import parse_symbol
from name_intervals import ascending
from strategies import COMMON, keys, names, symbols
from typed_charts import read_chart_text

C = Name(0)
TO_TWELVE_KEYS = tuple(ascending(C, name_at(fifths)) for fifths in range(-5, 7))
FROM_C_MINOR = tuple(ascending(C, name_at(fifths)) for fifths in range(-2, 10))
"""From C to the tonics of twelve signatures, six flats to six sharps."""


def analysed(text: str, interval: Interval) -> Analysis:
    return analyse(read_chart_text(text).moved(interval))


def labels(analysis: Analysis, index: int) -> list[str]:
    return [choice.scale.mode.label for choice in analysis.chords[index].choices]


def first_labels(analysis: Analysis) -> list[str]:
    return [labels(analysis, index)[0] for index in range(len(analysis.chords))]


# chart in C major, place of the chord in it, first choice, some of the others
MAJOR_ROWS = {
    "I": ("| Cmaj7 | Dm7 | G7 | Cmaj7 |", 0, "Ionian", "Lydian|bebop major"),
    "I triad": ("| C | F | G | C |", 0, "Ionian", "Lydian|major pentatonic|bebop major"),
    "I6": ("| C6 | Dm7 | G7 | C6 |", 0, "Ionian", "Lydian|major pentatonic|bebop major"),
    "V7 to major": (
        *("| Dm7 | G7 | Cmaj7 | % |", 1, "Mixolydian"),
        "bebop dominant|Lydian dominant|half-whole diminished|altered",
    ),
    "applied V7 to minor": (*("| Cmaj7 | E7 | Am7 | Dm7 G7 |", 1, "Phrygian dominant", "altered"),),
    "applied V triad to minor": ("| C | E | Am | F G |", 1, "Phrygian dominant", "Mixolydian"),
    "applied V7 to dominant": (
        *("| Cmaj7 | D7 | G7 | Cmaj7 |", 1, "Mixolydian", "Lydian dominant|altered"),
    ),
    "flat VII7": ("| Cmaj7 | Fm7 | Bb7 | Cmaj7 |", 2, "Lydian dominant", "Mixolydian"),
    "II7 that stays": ("| Cmaj7 | D7 | Dm7 G7 | Cmaj7 |", 1, "Lydian dominant", "Mixolydian"),
    "tritone substitute": ("| Dm7 | Db7 | Cmaj7 | % |", 1, "Lydian dominant", "Mixolydian"),
    "minor IV": ("| Cmaj7 | Fm7 | Bb7 | Cmaj7 |", 1, "Dorian", ""),
    "minor IV6": ("| C | Fm6 | C | G7 |", 1, "melodic minor", "Dorian"),
    "7b9 to major": (
        *("| Dm7 | G7b9 | Cmaj7 | % |", 1, "half-whole diminished", "Phrygian dominant"),
    ),
    "13b9": ("| Dm7 | G13b9 | Cmaj7 | % |", 1, "half-whole diminished", ""),
    "7b9 applied to minor": (
        *("| Cmaj7 | A7b9 | Dm7 | G7 |", 1, "Phrygian dominant"),
        "half-whole diminished|altered",
    ),
    "7alt": ("| Dm7 | G7alt | Cmaj7 | % |", 1, "altered", ""),
    "7#9": ("| Dm7 | G7#9 | Cmaj7 | % |", 1, "altered", ""),
    "7#9#5": ("| Dm7 | G7#5#9 | Cmaj7 | % |", 1, "altered", ""),
    "7#5": ("| Dm7 | G7#5 | Cmaj7 | % |", 1, "whole-tone", ""),
    "7#11": ("| Dm7 | G7#11 | Cmaj7 | % |", 1, "Lydian dominant", ""),
    "7sus": ("| Dm7 | G7sus4 | Cmaj7 | % |", 1, "Mixolydian", ""),
    "9sus": ("| Dm7 | G9sus4 | Cmaj7 | % |", 1, "Mixolydian", ""),
    "half-diminished": ("| Cmaj7 | Bm7b5 | E7 | Am7 |", 1, "Locrian", "Locrian ♮2"),
    "passing diminished": ("| Cmaj7 | C#dim7 | Dm7 | G7 |", 1, "whole-half diminished", ""),
    "vii diminished": ("| Cmaj7 | Bdim7 | Cmaj7 | % |", 1, "whole-half diminished", ""),
    "maj7#5": ("| Cmaj7 | Cmaj7#5 | Fmaj7 | G7 |", 1, "Lydian augmented", ""),
    "maj7#11": ("| Dm7 | G7 | Cmaj7#11 | % |", 2, "Lydian", ""),
    "flat VI": ("| C | Ab | Bb | C |", 1, "Lydian", "Ionian"),
}

# chart in C minor
MINOR_ROWS = {
    "V7 to minor": ("| Dm7b5 | G7 | Cm7 | % |", 1, "Phrygian dominant", "altered"),
    "V triad to minor": ("| Cm | Fm | G | Cm |", 2, "Phrygian dominant", "Mixolydian"),
    "V7 of minor that goes elsewhere": ("| Cm | G7 | Ab | G7 |", 1, "Phrygian dominant", ""),
    "7b9 to minor": (
        *("| Dm7b5 | G7b9 | Cm6 | % |", 1, "Phrygian dominant"),
        "half-whole diminished|altered",
    ),
    "V7 to a major last chord": ("| Cm7 | Fm7 | G7 | C |", 2, "Mixolydian", ""),
    "half-diminished": ("| Dm7b5 | G7 | Cm7 | % |", 0, "Locrian", "Locrian ♮2"),
    "flat VI7": ("| Cm7 | Ab7 | G7 | Cm7 |", 1, "Lydian dominant", "Mixolydian"),
    "tonic triad": ("| Cm | Dm7b5 G7 | Cm | % |", 0, "Dorian", "melodic minor|harmonic minor"),
    "tonic m7": ("| Dm7b5 | G7 | Cm7 | % |", 2, "Dorian", "Aeolian"),
    "tonic m6": ("| Cm6 | Dm7b5 G7 | Cm6 | % |", 0, "melodic minor", "Dorian"),
    "tonic mMaj7": ("| Cm(maj7) | Dm7b5 G7 | Cm6 | % |", 0, "melodic minor", "harmonic minor"),
    "tonic beside iv": ("| Cm7 | Fm7 | Cm7 | G7 |", 0, "Aeolian", "Dorian|"),
    "tonic beside flat VI and VII": ("| Cm | Ab | Bb | Cm |", 0, "Aeolian", "harmonic minor"),
    "vii diminished": ("| Cm | Bdim7 | Cm | G7 |", 1, "Locrian ♭4 𝄫7", "whole-half diminished"),
}


def expect(row: tuple[str, int, str, str], intervals: tuple[Interval, ...]) -> None:
    text, index, first, others = row
    for interval in intervals:
        found = labels(analysed(text, interval), index)
        assert found[0] == first, interval
        assert {label for label in others.split("|") if label} <= set(found[1:]), interval


@pytest.mark.sampled
@pytest.mark.parametrize("row", MAJOR_ROWS.values(), ids=MAJOR_ROWS)
def test_a_chord_of_a_major_key_gets_the_scale_a_teacher_hands_out(
    row: tuple[str, int, str, str],
) -> None:
    expect(row, TO_TWELVE_KEYS)


@pytest.mark.sampled
@pytest.mark.parametrize("row", MINOR_ROWS.values(), ids=MINOR_ROWS)
def test_a_chord_of_a_minor_key_gets_the_scale_a_teacher_hands_out(
    row: tuple[str, int, str, str],
) -> None:
    expect(row, FROM_C_MINOR)


@pytest.mark.parametrize("interval", TO_TWELVE_KEYS, ids=str)
def test_diatonic_chords_of_a_major_key_get_its_modes(interval: Interval) -> None:
    chart = "| Cmaj7 | Fmaj7 | Bm7b5 | Em7 | Am7 | Dm7 | G7 | Cmaj7 |"
    assert first_labels(analysed(chart, interval)) == [
        *("Ionian", "Lydian", "Locrian", "Phrygian", "Aeolian", "Dorian", "Mixolydian", "Ionian"),
    ]


@pytest.mark.parametrize("interval", FROM_C_MINOR, ids=str)
def test_diatonic_chords_of_a_minor_key_get_its_modes(interval: Interval) -> None:
    chart = "| Cm7 | Fm7 | Bb7 | Ebmaj7 | Abmaj7 | Dm7b5 | Gm7 | Cm7 |"
    assert first_labels(analysed(chart, interval)) == [
        *("Aeolian", "Dorian", "Mixolydian", "Ionian", "Lydian", "Locrian", "Phrygian", "Aeolian"),
    ]


@pytest.mark.parametrize("interval", TO_TWELVE_KEYS, ids=str)
def test_one_and_four_of_a_blues_are_each_mixolydian(interval: Interval) -> None:
    chart = "| C7 | F7 | C7 | % | F7 | % | C7 | % | G7 | F7 | C7 | G7 |"
    analysis = analysed(chart, interval)
    assert set(first_labels(analysis)) == {"Mixolydian"}
    own = [here.scale.root == here.span.symbol.root for here in analysis.chords]
    assert all(own)


# an open jazz improvisation primer, excerpt read: the scales it lists for each symbol
PRIMER = {
    "maj7": "Ionian|Lydian",
    "m7": "Dorian",
    "m6": "Dorian|melodic minor",
    "m(maj7)": "melodic minor",
    "7": "Mixolydian|Lydian dominant",
    "7sus4": "Mixolydian",
    "7#11": "Lydian dominant",
    "7alt": "altered",
    "7#9": "altered",
    "7b9": "half-whole diminished",
    "7#5": "whole-tone",
    "m7b5": "Locrian|Locrian ♮2",
    "dim7": "whole-half diminished",
}


@pytest.mark.sampled
@pytest.mark.parametrize("suffix", PRIMER)
@pytest.mark.parametrize("interval", TO_TWELVE_KEYS, ids=str)
def test_a_chord_by_itself_is_offered_the_scales_of_the_primer(
    suffix: str, interval: Interval
) -> None:
    found = labels(analysed(f"| C{suffix} |", interval), 0)
    listed = PRIMER[suffix].split("|")
    assert set(listed) <= set(found)
    assert found[0] in listed


# --- spelled over the chord ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("chart", "index", "names"),
    [
        ("| Fm7 | C7#5 | Fmaj7 | % |", 1, "C D E F# G# Bb"),
        ("| Dm7 | Cdim7 | Dm7 | % |", 1, "C D Eb F Gb Ab Bbb B"),
        ("| Dm7 | G7alt | Cmaj7 | % |", 1, "G Ab Bb B Db Eb F"),
        ("| Dm7 | Galt | Cmaj7 | % |", 1, "G Ab Bb B Db Eb F"),
    ],
)
def test_the_first_choice_is_spelled_for_its_chord(chart: str, index: int, names: str) -> None:
    scale = analyse(read_chart_text(chart)).chords[index].scale
    assert " ".join(name.ascii for name in scale.names) == names


def test_no_scale_over_an_altered_dominant_has_the_natural_ninth() -> None:
    here = analyse(read_chart_text("| Dm7 | G7alt | Cmaj7 | % |")).chords[1]
    assert all(parse_name("D").pitch_class not in c.scale.pitch_classes for c in here.choices)
    assert str(here.span.symbol) == "G7alt"


@pytest.mark.parametrize("chart", ["| E7sus4(b9) | Am7 |", "| E7sus4(b9) | Amaj7 |"])
def test_a_suspended_flat_nine_keeps_its_fourth_and_its_f_natural(chart: str) -> None:
    here = analyse(read_chart_text(chart)).chords[0]
    assert " ".join(tone.name.ascii for tone in here.tones) == "E A B D F"
    for choice in here.choices:
        assert {parse_name(name) for name in ("E", "A", "B", "D", "F")} <= set(choice.scale.names)


def test_flats_and_sharps_stand_side_by_side_in_one_key() -> None:
    analysis = analyse(read_chart_text("| G | Eb | F#7 | G |"))
    assert analysis.home == parse_key("G")
    said = [(str(here.span.symbol), here.numeral, str(here.scale.root)) for here in analysis.chords]
    assert said == [
        ("G", "I", "G"),
        ("E♭", "♭VI", "E♭"),
        ("F♯7", "V7/iii", "F♯"),
        ("G", "I", "G"),
    ]


# --- levels and reasons -------------------------------------------------------------------


@pytest.mark.parametrize("level", [Level.INTERMEDIATE, Level.ADVANCED])
def test_a_beginner_gets_the_plainer_scale_first_where_two_would_do(level: Level) -> None:
    chart = read_chart_text("| Cmaj7 | Bb7 | Cmaj7 | % |")
    first = {each: analyse(chart, level=each).chords[1].scale.mode.label for each in Level}
    assert first[Level.BEGINNER] == "Mixolydian"
    assert first[level] == "Lydian dominant"


def test_a_beginner_gets_the_raised_eleventh_where_it_is_written() -> None:
    chart = read_chart_text("| Dm7 | G7#11 | Cmaj7 | % |")
    assert analyse(chart, level=Level.BEGINNER).chords[1].scale.mode.label == "Lydian dominant"


@pytest.mark.parametrize(
    ("chart", "index", "reason"),
    [
        ("| Dm7 | G7 | Cmaj7 | % |", 0, "it is the scale of C major from D"),
        ("| Dm7 | G7 | Cmaj7 | % |", 1, "it falls a fifth to Cmaj7"),
        ("| Dm7b5 | G7 | Cm7 | % |", 1, "it falls a fifth to a minor chord: C harmonic minor"),
        ("| Cmaj7 | D7 | % | Fmaj7 |", 1, "a dominant that does not fall a fifth takes the ♯11"),
        (
            "| Cmaj7 | Bb7 | % | Cmaj7 |",
            1,
            "♭VII7 goes up a step to Cmaj7: its ♯11 is the third of C major",
        ),
        ("| Dm7 | Db7 | Cmaj7 | % |", 1, "its ♯11 is the root of G7"),
        ("| Cmaj7 | F/G | % | Cmaj7 |", 1, "over G it sounds as G9sus4"),
        ("| Em | Em/D# | Em/D | C |", 1, "the bass falls through D♯ while E minor stays"),
        ("| Cm | Bdim7 | Cm | G7 |", 1, "vii° of C minor: its harmonic minor"),
    ],
)
def test_the_reason_names_the_chords_and_the_key(chart: str, index: int, reason: str) -> None:
    assert analyse(read_chart_text(chart)).chords[index].choices[0].reason.sentence() == reason


def test_the_reason_on_a_transposed_part_names_its_own_chords() -> None:
    analysis = analyse(read_chart_text("| Dm7 | G7 | Cmaj7 | % |"))
    part = part_for(analysis, INSTRUMENTS["trumpet"])
    reason = part.in_words(analysis.chords[0].choices[0].reason, 0)
    assert reason == "it is the scale of D major from E"


def test_no_reason_calls_a_chord_of_the_key_one_from_outside() -> None:
    for text in ("| Dm7 | G7 | Cmaj7 | Fmaj7 Am7 |", "| Cm7 | Fm7 | Abmaj7 | Bb7 |"):
        for here in analyse(read_chart_text(text)).chords:
            assert all("outside" not in choice.reason.sentence() for choice in here.choices)


def test_silence_before_a_chord_does_not_lead_to_it() -> None:
    place = ChordPlace(parse_symbol("F"), parse_symbol("N.C."), parse_symbol("B"), parse_key("B"))
    assert all("N.C." not in choice.reason.sentence() for choice in scale_choices(place))


# --- for any chord anywhere ----------------------------------------------------------------


def places() -> st.SearchStrategy[ChordPlace]:
    flags = ("blues", "opens", "closes", "natural_minor")
    return st.builds(
        ChordPlace,
        *(symbols(), symbols(), symbols(), keys()),
        **{flag: st.booleans() for flag in flags},
        **dict.fromkeys(("key_before", "key_after"), st.none()),
    )


@given(places(), st.sampled_from(list(Level)))
def test_there_are_one_to_five_different_scales_each_with_a_reason(
    place: ChordPlace, level: Level
) -> None:
    choices = scale_choices(place, level=level)
    found = [choice.scale.mode.label for choice in choices]
    assert 1 <= len(found) == len(set(found)) <= 5
    assert set(found) <= set(MODES)
    sentences = [choice.reason.sentence() for choice in choices]
    assert all(sentences)
    assert len(set(sentences)) == len(sentences)


@pytest.mark.parametrize(
    ("three", "key", "sentences"),
    [
        ("Dm7 G7 Cmaj7", "C", {
            "Mixolydian": "it falls a fifth to Cmaj7",
            "bebop dominant": "with F♯: eight notes keep the chord tones on the beat",
            "Lydian dominant": "C♯ for C: its ♯4 does not rub against the third",
            "half-whole diminished": "A♭, B♭ and C♯ for A and C: ♭9 and ♯9 with a natural 13",
        }),
        ("G7 C Am7", "C", {
            "Lydian": "F♯ for F: its ♯4 does not rub against the third",
            "major pentatonic": "without F and B: five notes that do not rub",
        }),
        ("C Bm7b5 E7", "C", {"Locrian ♮2": "C♯ for C: its second does not rub against the root"}),
    ],
)  # fmt: skip
def test_another_scale_says_which_notes_it_has_instead_and_what_they_do(
    three: str, key: str, sentences: dict[str, str]
) -> None:
    """Common practice, no source."""
    before, symbol, after = map(parse_symbol, three.split())
    choices = scale_choices(ChordPlace(symbol, before, after, parse_key(key)))
    reasons = {choice.scale.mode.label: choice.reason.sentence() for choice in choices}
    assert {label: reasons.get(label) for label in sentences} == sentences


@given(places(), st.sampled_from(list(Level)))
def test_what_a_chord_does_and_why_its_scale_are_two_sentences(
    place: ChordPlace, level: Level
) -> None:
    reasons = [choice.reason.sentence() for choice in scale_choices(place, level=level)]
    assert function_of(place).sentence() not in reasons


@given(places(), st.sampled_from(list(Level)))
def test_the_notes_that_tell_another_scale_apart_are_its_own(
    place: ChordPlace, level: Level
) -> None:
    first, *others = scale_choices(place, level=level)
    for choice in others:
        came, gone = [], []
        for degree in choice.reason.degrees:
            name = place.symbol.root + degree.interval
            (came if name in choice.scale.names else gone).append(name.pitch_class)
        assert set(came) == choice.scale.pitch_classes - first.scale.pitch_classes
        assert set(gone) == first.scale.pitch_classes - choice.scale.pitch_classes


@given(places(), st.sampled_from(list(Level)))
def test_every_scale_starts_on_the_root_and_holds_the_chord(
    place: ChordPlace, level: Level
) -> None:
    tones = {tone.name for tone in chord_tones(place.symbol)}
    fifth = place.symbol.root + ascending(parse_name("C"), parse_name("G"))
    for choice in scale_choices(place, level=level):
        assert choice.scale.root == place.symbol.root
        missing = tones - set(choice.scale.names)
        # players leave the natural fifth out of an altered dominant
        assert missing <= ({fifth} if choice.scale.mode.label == "altered" else set())


@pytest.mark.parametrize("suffix", COMMON)
def test_chord_and_scale_agree_by_sound_for_every_common_chord(suffix: str) -> None:
    symbol = parse_symbol("Eb" + suffix)
    first = scale_choices(ChordPlace(symbol, symbol, symbol, parse_key("Ab")))[0].scale
    semitones = {degree.semitones for degree in chord_degrees(symbol)}
    held = {degree.semitones for degree in first.mode.degrees}
    assert semitones - held <= ({7} if first.mode.label == "altered" else set())


def test_silence_has_no_scale() -> None:
    silent = parse_symbol("N.C.")
    assert scale_choices(ChordPlace(silent, silent, silent, parse_key("C"))) == ()


@given(places(), names(), names())
def test_choices_move_with_the_place(place: ChordPlace, low: Name, high: Name) -> None:
    up = ascending(low, high)
    moved = place._replace(
        symbol=place.symbol.moved(up),
        before=place.before.moved(up),
        after=place.after.moved(up),
        key=Key(place.key.tonic + up, place.key.minor),
    )
    here, there = scale_choices(place), scale_choices(moved)
    assert [choice.scale.mode for choice in there] == [choice.scale.mode for choice in here]
    assert there[0].scale.names == tuple(name + up for name in here[0].scale.names)


@pytest.mark.parametrize(
    "text",
    [
        "| C7#5b9 | F |", "| E7b9b13 | A |", "| C13#9 | F |", "| Csus2 | G7 |", "| C7#9 | F7 |",
        "| C/Bb | F |", "| G7 | Cm7 |", "| B7 | C |", "| Csus4 C | F G | C |", "| G13b9 | C |",
    ],
)  # fmt: skip
def test_a_scale_named_in_a_reason_is_the_scale_that_is_given(text: str) -> None:
    """A reason may only speak of the scale beside it, and never of a tone it lacks."""
    said_of = {
        "half-whole": "half-whole diminished",
        "harmonic minor": "Phrygian dominant",
        "whole-tone": "whole-tone",
        "altered scale": "altered",
    }
    for here in analyse(read_chart_text(text)).chords:
        for choice in here.choices:
            for words, label in said_of.items():
                if words in choice.reason.sentence():
                    assert choice.scale.mode.label == label
            if "the fourth is a chord tone" in choice.reason.sentence():
                assert any(tone.degree.number == 4 for tone in here.tones)


def test_a_scale_holds_the_bass_where_one_does() -> None:
    """C/B♭ is not given B natural."""
    here = analyse(read_chart_text("| C/Bb | F |")).chords[0]
    assert parse_name("Bb") in here.scale.names


def test_a_suspended_tonic_keeps_the_key() -> None:
    """Csus4 in C major has B natural."""
    here = analyse(read_chart_text("| Csus4 C | F G | C | C |")).chords[0]
    assert here.scale.mode.label == "Ionian"


def test_a_borrowed_minor_four_does_not_move_the_key() -> None:
    """Cmaj7 is no V of F minor."""
    for text in ("| Cmaj7 | Fm7 Bb7 | Cmaj7 | Db7 |", "| Cmaj7 | Fm6 | Cmaj7 | Fm6 |"):
        assert analyse(read_chart_text(text)).home == parse_key("C")


@pytest.mark.parametrize(
    ("chords", "key", "scale", "reason"),
    [
        # three chords, the scale of the middle one and why: a row for each rule of the table
        ("Dm7 C/Bb Am7", "F", "C Mixolydian", "over B♭ it sounds as B♭maj9♯11"),
        ("Cm Cm/B Cm/Bb", "Cm", "C melodic minor", "the bass falls through B while C minor stays"),
        ("Cm/B Cm/Bb Cm/A", "Cm", "C Dorian", "the bass falls through B♭ while C minor stays"),
        ("Dm7 C7alt F", "F", "C altered",
         "“alt” asks for ♭9, ♯9, ♭5, ♯5: melodic minor a half step up"),
        ("Gm7 C7#9 Fm7", "Fm", "C altered",
         "♯9 belongs to the altered scale, melodic minor a half step up"),
        ("Gm7 C13b9 F", "F", "C half-whole diminished",
         "♭9 with a natural 13 is the half-whole scale"),
        ("Gm7b5 C7b9 Fm7", "Fm", "C Phrygian dominant",
         "it falls a fifth to a minor chord: F harmonic minor"),
        ("Gm7 C7b9 F", "F", "C half-whole diminished",
         "♭9 without a minor chord to fall to: the half-whole scale"),
        ("Gm7 C7#5 F", "F", "C whole-tone", "an altered fifth alone: the whole-tone scale"),
        ("Gm7 C7b13 F", "F", "C Mixolydian ♭6", "♭13 with a natural 9"),
        ("Gm7 C7#11 F", "F", "C Lydian dominant", "♯11 is written"),
        ("Gm7 Csus4 C", "F", "C Mixolydian", "it is the scale of F major from C"),
        ("Gm7 C7sus4 C7", "F", "C Mixolydian",
         "the fourth is a chord tone and the third only passes"),
        ("Fm Csus2 Fm", "Fm", "C Mixolydian",
         "the second is a chord tone and the third only passes"),
        ("Fm Bdim7 Cm", "Cm", "B Locrian ♭4 𝄫7", "vii° of C minor: its harmonic minor"),
        ("C Cdim7 C#m7", "E", "C whole-half diminished",
         "a whole step lies over each chord tone"),
        ("C Cdim7 C", "C", "C whole-half diminished",
         "a whole step lies over each chord tone"),
        ("Gm7 C7 Fm7", "Eb", "C Phrygian dominant",
         "it falls a fifth to a minor chord: F harmonic minor"),
        ("Gm7 C7 Fmaj7", "F", "C Mixolydian", "it falls a fifth to Fmaj7"),
        # V of a minor key: not where it falls to a major chord
        ("Cm G Cm", "Cm", "G Phrygian dominant", "it is V of C minor: its harmonic minor"),
        ("Cm G7 Fm", "Cm", "G Phrygian dominant", "it is V of C minor: its harmonic minor"),
        ("Cm G7 C", "Cm", "G Mixolydian", "it falls a fifth to C"),
        ("Cm G C", "Cm", "G Mixolydian", "it falls a fifth to C, like a dominant"),
        ("Cm D7 Fm", "Cm", "D Lydian dominant",
         "a dominant that does not fall a fifth takes the ♯11"),
        ("Fm Db7 Cmaj7", "C", "D♭ Lydian dominant",
         "its ♯11 is the root of G7"),
        ("Fm7 Bb7 Cmaj7", "C", "B♭ Lydian dominant",
         "♭VII7 goes up a step to Cmaj7: its ♯11 is the third of C major"),
        ("Dm7 G7 Fmaj7", "C", "G Mixolydian", "a dominant at home in C major"),
        ("Cmaj7 C7 Am7", "C", "C Mixolydian", "a dominant at home in C major"),
        ("Cmaj7 E7 Fmaj7", "C", "E Phrygian dominant",
         "a deceptive cadence: a minor chord of C major was due, and Fmaj7 comes"),
        ("Cmaj7 Ab7 F", "C", "A♭ Lydian dominant",
         "a dominant that does not fall a fifth takes the ♯11"),
        ("C C+maj7 Am", "C", "C Lydian augmented", "a major seventh with ♯5"),
        ("C Dbmaj7#11 C", "C", "D♭ Lydian", "the raised fourth is written"),
        ("C Am(maj7) Am7", "C", "A melodic minor", "a minor chord with a major seventh"),
        ("G7 Cm6 G7", "Cm", "C melodic minor", "a minor tonic with its major sixth"),
        ("Fm Cm7 Ab", "Cm", "C Aeolian",
         "natural minor: the chords around it hold its minor sixth or seventh"),
        ("G7 Cm7 Bb7", "Cm", "C Aeolian",
         "natural minor: the chords around it hold its minor sixth or seventh"),
        ("G7 Cm7 F", "Cm", "C Dorian",
         "a minor tonic: its major sixth does not rub against the fifth"),
        ("C Bm7b5 E7", "C", "B Locrian", "it has ♭3, ♭5 and ♭7"),
        ("G7 Cmaj7 Am7", "C", "C Ionian", "it is the scale of C major; the 4th is a passing note"),
        ("G7 Fmaj7 Em7", "C", "F Lydian", "it is the scale of C major from F"),
        ("F D Gm7", "F", "D Phrygian dominant",
         "it falls a fifth to a minor chord: G harmonic minor"),
        ("C D G", "C", "D Mixolydian", "it falls a fifth to G, like a dominant"),
        ("Bb7 Ebmaj7 Dm7", "C", "E♭ Ionian", "a tonic for a moment takes the plain major scale"),
        ("Cmaj7 Abmaj7 Cmaj7", "C", "A♭ Lydian",
         "from outside the key: its ♯4 does not rub against its third"),
        ("C Fm6 C", "C", "F melodic minor", "a minor chord with its major sixth"),
        ("C Ebm7 Dm7", "C", "E♭ Dorian",
         "from outside the key: its major sixth does not rub against its fifth"),
        ("C E+ Am", "C", "E whole-tone", "it holds the raised fifth"),
        ("C F#dim C", "C", "F♯ whole-half diminished", "a whole step lies over each chord tone"),
    ],
)  # fmt: skip
def test_each_rule_of_the_table_has_its_chord(
    chords: str, key: str, scale: str, reason: str
) -> None:
    before, symbol, after = map(parse_symbol, chords.split())
    place = ChordPlace(symbol, before, after, parse_key(key))
    first = scale_choices(place._replace(natural_minor=says_minor_sixth(place) > 0))[0]
    assert (str(first.scale), first.reason.sentence()) == (scale, reason)


@pytest.mark.parametrize("interval", FROM_C_MINOR)
@pytest.mark.parametrize(
    ("chart", "scale"),
    [
        ("key: Cm\n| Cm7 | Fm7 | Cm7 | % | Fm7 | % | Cm7 | % | Ab7 | G7 | Cm7 | G7 |", "Aeolian"),
        ("key: Cm\n| Cm7 | Fm7 | Cm7 | C7 | Fm7 | % | Cm7 | % | Dm7b5 | G7 | Cm7 | G7 |",
         "Aeolian"),
        ("key: Cm\n| Cm7 | F7 | Cm7 | % | F7 | % | Cm7 | % | Dm7b5 | G7 | Cm7 | % |", "Dorian"),
        ("key: Cm\n| Cm7 | F7 | Cm7 | F7 | Cm7 | Dm7 | Cm7 | Abmaj7 |", "Dorian"),
    ],
)  # fmt: skip
def test_a_minor_tonic_has_one_scale(chart: str, scale: str, interval: Interval) -> None:
    """Not one beside iv and another beside V. Common practice, no source."""
    analysis = analysed(chart, interval)
    tonics = [chord for chord in analysis.chords if chord.function.role is Role.TONIC]
    assert len(tonics) >= 3
    assert {chord.scale.mode.label for chord in tonics} == {scale}


@pytest.mark.parametrize(
    ("symbol", "scale", "reason"),
    [
        ("C7", "C Mixolydian",
         "I7 and IV7 of a blues are at rest, each in its own Mixolydian"),
        ("C7#9", "C half-whole diminished",
         "♯9 on I or IV of a blues: half-whole keeps the natural 5"),
    ],
)  # fmt: skip
def test_a_blues_has_rules_of_its_own(symbol: str, scale: str, reason: str) -> None:
    chord, f = parse_symbol(symbol), parse_symbol("F7")
    first = scale_choices(ChordPlace(chord, f, f, parse_key("C"), blues=True))[0]
    assert (str(first.scale), first.reason.sentence()) == (scale, reason)
