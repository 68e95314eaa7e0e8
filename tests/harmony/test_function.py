"""What a chord does where it stands. Invented charts; common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import assume, given

from halfstep.harmony.analysis import Analysis, analyse
from halfstep.harmony.function import (
    SENTENCES,
    SOUNDS_AS,
    ChordPlace,
    Role,
    function_of,
    moves_a_voice,
)
from halfstep.harmony.scales import scale_over
from halfstep.harmony.tones import chord_tones
from halfstep.instruments import INSTRUMENTS
from halfstep.part.transposed_part import part_for
from halfstep.pitch import Interval, Name, name_at, parse_name
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import parse_key
from halfstep.progression.symbol import ChordSymbol, Family, parse_symbol
from name_intervals import ascending
from strategies import charts
from typed_charts import read_chart_text


def analysed(text: str) -> Analysis:
    return analyse(read_chart_text(text))


def roles(text: str) -> list[str]:
    return [here.function.role.value for here in analysed(text).chords]


@pytest.mark.parametrize(
    ("chart", "place", "role", "numeral", "said"),
    [
        ("| Cmaj7 | Am7 | Dm7 | G7 |", 0, Role.TONIC, "Imaj7", "the tonic of C major"),
        ("| Cmaj7 | Am7 | Dm7 | G7 |", 1, Role.DIATONIC, "vi7", "vi7 of C major"),
        ("| Cmaj7 | Am7 | Dm7 | G7 |", 3, Role.DOMINANT, "V7", "the dominant of C major"),
        (
            "| C | A7 | Dm7 | G7 |",
            1,
            Role.SECONDARY_DOMINANT,
            "V7/ii",
            "the dominant of D, in C major",
        ),
        ("| C | D7 | G7 | C |", 1, Role.SECONDARY_DOMINANT, "V7/V",
         "the dominant of G, in C major"),
        ("| C | E7 | F | G7 |", 1, Role.SECONDARY_DOMINANT, "V7/vi",
         "the dominant of A, in C major"),
        (
            "| Dm7 | Db7 | Cmaj7 | % |",
            1,
            Role.TRITONE_SUBSTITUTE,
            "subV7/I",
            "it stands in for G7 and falls a half step to Cmaj7",
        ),
        (
            "| Cmaj7 | Fm7 | Bb7 | Cmaj7 |",
            2,
            Role.BACKDOOR,
            "♭VII7",
            "the backdoor: ♭VII7 of C major, up a step to Cmaj7",
        ),
        ("| Cmaj7 | Fm7 | Bb7 | Cmaj7 |", 1, Role.BORROWED, "iv7", "borrowed from C minor"),
        ("| C | Ab | Bb | C |", 1, Role.BORROWED, "♭VI", "borrowed from C minor"),
        (
            "key: C\n| C6 | Gm7 C7 | F | G7 |",
            1,
            Role.SECONDARY_TWO,
            "ii7/IV",
            "ii of C7, which leads to F",
        ),
        (
            "| Cmaj7 | C#dim7 | Dm7 | G7 |",
            1,
            Role.PASSING_DIMINISHED,
            "♯i°7",
            "it passes from Cmaj7 to Dm7",
        ),
        ("| Em7 | Ebdim7 | Dm7 | G7 | C |", 1, Role.PASSING_DIMINISHED, "♭iii°7", None),
        ("| F | Bdim7 | C | G7 |", 1, Role.LEADING_DIMINISHED, "vii°7/I",
         "it leads up a half step to C"),
        ("| C | Cdim7 | C | G7 |", 1, Role.COMMON_TONE_DIMINISHED, "i°7", "it embellishes C"),
        ("| F7 | Bb7 | F7 | C7 |", 1, Role.BLUES, "IV7", "IV7 of a blues in F"),
        ("key: F\n| Bb7 | B°7 | F7/C | F7 |", 1, Role.PASSING_DIMINISHED, "♯iv°7", None),
        ("| Cm | Cm(maj7) | Cm7 | Cm6 |", 1, Role.LINE_CLICHE, "imaj7",
         "one voice moves while C stays"),
        ("| Em | Em/D# | Em/D | B7 |", 2, Role.LINE_CLICHE, "i", "one voice moves while E stays"),
        ("| C | C+ | C6 | C |", 1, Role.LINE_CLICHE, "I+", "one voice moves while C stays"),
        ("| Cm | Fm/C | G7/C | Cm |", 2, Role.PEDAL, "V7", "over a bass that stays on C"),
        ("| C | N.C. | F | G7 |", 1, Role.SILENCE, "N.C.", "no chord"),
    ],
)  # fmt: skip
def test_a_chord_has_the_role_a_teacher_would_name(
    chart: str, place: int, role: Role, numeral: str, said: str | None
) -> None:
    function = analysed(chart).chords[place].function
    assert (function.role, function.numeral) == (role, numeral)
    assert said is None or function.sentence() == said


def test_chords_that_move_by_major_thirds_are_visits_by_their_dominants() -> None:
    """♭VI, never ♯V: the circle of thirds is named from home."""
    analysis = analysed("| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 |")
    assert [chord.numeral for chord in analysis.chords] == [
        *("Imaj7", "V7/♭VI", "♭VImaj7", "V7/III", "IIImaj7", "V7", "Imaj7"),
    ]


@pytest.mark.parametrize(
    ("chart", "numerals"),
    [
        ("key: C\n| Cmaj7 | Emaj7 | G#maj7 | Cmaj7 |", ["Imaj7", "IIImaj7", "♭VImaj7", "Imaj7"]),
        ("key: Cb\n| Cbmaj7 | Gmaj7 | Ebmaj7 | Cbmaj7 |", ["Imaj7", "♭VImaj7", "IIImaj7", "Imaj7"]),
        ("key: E\n| Emaj7 | Cmaj7 | Abmaj7 | % |", ["Imaj7", "♭VImaj7", "IIImaj7"]),
        ("key: C\n| C | G#dim7 | Am | G7 |", ["I", "vii°7/vi", "vi", "V7"]),
    ],
)
def test_a_third_below_is_flat_six_however_spelled(chart: str, numerals: list[str]) -> None:
    assert [chord.numeral for chord in analysed(chart).chords] == numerals


def test_dominants_round_the_cycle_each_lead_to_the_next() -> None:
    assert roles("key: Bb\n| D7 | G7 | C7 | F7 |") == [*["secondary dominant"] * 3, "dominant"]


@pytest.mark.parametrize(
    ("chart", "place", "role", "numeral", "sentence"),
    [
        ("| C | Dm7 G7 | C | F |", 2, Role.CADENCE, "V7",
         "the dominant of C major: a cadence to C"),
        ("| Cm6 | Dm7b5 G7 | Cm6 | Fm7 |", 2, Role.CADENCE, "V7",
         "the dominant of C minor: a cadence to Cm6"),
        ("key: C\n| C | G7 | C7 | F |", 1, Role.CADENCE, "V7",
         "the dominant of C major: a cadence to C7"),
        ("| C | Am7 | Dm7 | G7 |", 3, Role.DOMINANT, "V7", "the dominant of C major"),
        ("| C | G7 | Am7 | Dm7 G7 | C | % |", 1, Role.DECEPTIVE, "V7",
         "the dominant of C major: a deceptive cadence, Am7 comes for the tonic"),
        ("key: Cm\n| Cm | G7 | Abmaj7 | G7 | Cm | % |", 1, Role.DECEPTIVE, "V7",
         "the dominant of C minor: a deceptive cadence, A♭maj7 comes for the tonic"),
        ("key: C\n| C | G7 Cdim7 | C | Dm7 G7 | C | % |", 1, Role.DOMINANT, "V7",
         "the dominant of C major"),
        ("key: C\n| C | Dm7 F/G | C | % |", 2, Role.CADENCE, "V9sus4",
         "the dominant of C major: a cadence to C"),
        ("key: F\n| F | Bb/C | F | Gm7 C7 |", 1, Role.CADENCE, "V9sus4",
         "the dominant of F major: a cadence to F"),
        ("key: C\n| C | Dm7/G | C | % |", 1, Role.CADENCE, "V9sus4", None),
        ("key: C\n| C | G/A | Dm7 | G7 | C | % |", 1, Role.SECONDARY_DOMINANT, "V9sus4/ii",
         "the dominant of D, in C major"),
        ("key: C\n| C | Bb/C | C | Bb/C | C | G7 |", 1, Role.PEDAL, "♭VII", None),
    ],
)  # fmt: skip
def test_a_dominant_is_told_by_how_it_closes(
    chart: str, place: int, role: Role, numeral: str, sentence: str | None
) -> None:
    """Cadence, deceptive cadence, V9sus. Common practice, no source."""
    function = analysed(chart).chords[place].function
    assert (function.role, function.numeral) == (role, numeral)
    assert sentence is None or function.sentence() == sentence


@pytest.mark.parametrize("fifths", range(-5, 7))
@pytest.mark.parametrize(
    "chart",
    ["| C6 | Am7 | Dm7 G7 | Cmaj7 |", "| Cm(maj7) | Fm7 | Dm7b5 G7 | Cm7 |",
     "| C+ | F | Dm7 G7 | C |", "| F/C | G7 | C | % |", "| C | F | Bdim7 | F#dim7 |"],
)  # fmt: skip
def test_a_first_chord_does_not_come_from_the_last_one(chart: str, fifths: int) -> None:
    """No voice moves into it, no bass stays into it, and nothing leads or passes to it."""
    moved = read_chart_text(chart).moved(ascending(Name(0), name_at(fifths)))
    first = analyse(moved).chords[0]
    assert first.function.role is not Role.LINE_CLICHE
    assert not any(
        words in sentence
        for sentence in (first.function.sentence(), first.choices[0].reason.sentence())
        for words in ("moves", "stays", "passes", "has led", "has just led")
    )


BRIDGED = (
    "key: Bb\n| Bb6 | Gm7 | Cm7 | F7 | Bb7 | Eb7 | Bb6 | F7 | Bb7 | % | Eb | % | C7 | % | F7 | % |"
)


@pytest.mark.parametrize("fifths", range(-5, 7))
@pytest.mark.parametrize(
    ("chart", "numerals"),
    [
        (BRIDGED, ["V7/IV", "V7/IV"]),
        ("key: Bb\n| Bb7 | Eb7 | Bb7 | % | Eb7 | % | Bb7 | % | F7 | Eb7 | Bb7 | F7 |", ["I7"] * 4),
    ],
)
def test_one_with_a_seventh_before_four_is_its_dominant_unless_it_is_a_blues(
    chart: str, numerals: list[str], fifths: int
) -> None:
    """Common practice, no source."""
    moved = read_chart_text(chart).moved(ascending(parse_name("Bb"), name_at(fifths)))
    one = name_at(fifths)
    chords = analyse(moved).chords
    assert [
        chord.numeral
        for chord in chords
        if chord.span.symbol.root == one and chord.span.symbol.seventh
    ] == numerals


def test_a_pivot_is_named_in_both_keys() -> None:
    """Vi of E♭ is ii of B♭. Common practice, no source."""
    e_flat, b_flat = parse_key("Eb"), parse_key("Bb")
    first, chord, dominant = map(parse_symbol, ("Ebmaj7", "Cm7", "F7"))
    into = function_of(ChordPlace(chord, first, dominant, b_flat, key_before=e_flat))
    assert into.sentence() == "ii7 of B♭ major; the pivot: also vi7 of E♭ major"
    out = function_of(ChordPlace(chord, first, dominant, e_flat, key_after=b_flat))
    assert out.sentence() == "vi7 of E♭ major; the pivot: also ii7 of B♭ major"


@pytest.mark.parametrize(
    ("chord", "following"),
    [("Fmaj7", "F7"), ("Cm7", "Bb6"), ("Gbmaj7", "F7"), ("Ebmaj7", "F7")],
)
def test_what_is_in_one_key_or_leads_nowhere_is_no_pivot(chord: str, following: str) -> None:
    """A chord of one key alone, one that no V of the new key follows, and the tonic."""
    before, symbol, after = map(parse_symbol, ("Ebmaj7", chord, following))
    place = ChordPlace(symbol, before, after, parse_key("Eb"), key_after=parse_key("Bb"))
    assert "pivot" not in function_of(place).sentence()


@pytest.mark.parametrize(
    ("chart", "chords"),
    [
        ("| C | F | G7 | C | F | G7 | C A7 | Dm7 G7 |", "C A7 Dm7 G7"),
        ("| F7 | Bb7 | F7 | % | Bb7 | % | F7 | % | Gm7 | C7 | F7 D7 | Gm7 C7 |", "F7 D7 Gm7 C7"),
        ("| C | F | G7 | C | F | G7 | C Eb7 | D7 Db7 |", "C Eb7 D7 Db7"),
        ("| C | F | G7 | C | F | G7 | C | % |", None),
        ("| C | Am7 | Dm7 | G7 |", None),
    ],
)
def test_the_last_two_bars_are_a_turnaround_where_they_lead_back(
    chart: str, chords: str | None
) -> None:
    analysis = analysed(chart)
    region = analysis.turnaround
    places = range(region.first, region.last + 1) if region else ()
    assert " ".join(analysis.chords[n].span.symbol.ascii for n in places) == (chords or "")


def test_the_sentence_of_a_part_names_the_written_chords() -> None:
    part = part_for(analysed("| Dm7 | Db7 | Cmaj7 | % |"), INSTRUMENTS["alto-sax"])
    assert part.role_in_words(1) == "it stands in for E7 and falls a half step to Amaj7"


def test_every_role_has_its_sentence() -> None:
    assert set(SENTENCES) == set(Role)


@pytest.mark.slow
@given(charts())
def test_any_chord_has_a_role_that_can_be_said(chart: Chart) -> None:
    assume(not all(span.symbol.silent for span in spans(chart)))
    for here in analyse(chart).chords:
        assert here.function.sentence()
        assert "{" not in here.function.sentence()
        assert here.numeral


def test_regions_cover_the_chart_without_a_gap() -> None:
    analysis = analysed("| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 |")
    ends = [-1, *(region.last for region in analysis.regions)]
    assert [region.first for region in analysis.regions] == [end + 1 for end in ends[:-1]]
    assert ends[-1] == len(analysis.chords) - 1


def test_guide_tones_go_to_the_nearest_of_the_next_chord() -> None:
    """Third to seventh and seventh to third over a falling fifth."""
    analysis = analysed("| Dm7 | G7 | Cmaj7 | % |")
    said = [" ".join(f"{m.old}-{m.new}" for m in motions) for motions in analysis.guide_tones]
    assert said == ["F-F C-B", "B-B F-E", "E-F B-C"]


def test_a_blues_has_a_second_layer_of_style() -> None:
    analysis = analysed("| F7 | Bb7 | F7 | C7 |")
    assert list(map(str, analysis.blues_scales)) == ["F minor blues", "F major blues"]
    assert analysis.chords[0].scale.names[2] == parse_name("A")  # the chord tones come first
    assert analysed("| Dm7 | G7 | Cmaj7 | % |").blues_scales == ()


@pytest.mark.parametrize(
    ("chart", "place", "interval", "sentence"),
    [
        ("key: C\n| C6 | Gm7 C7 | F | G7 |", 1, Interval(1, 2), "ii of D7, which leads to G"),
        ("key: C\n| C6 | Gm7 C7 | F | G7 |", 2, Interval(1, 2), "the dominant of G, in D major"),
        ("| Cmaj7 | C#dim7 | Dm7 | G7 |", 1, Interval(1, 2), "it passes from Dmaj7 to Em7"),
        ("| C | Fm | C | G7 |", 1, Interval(1, 2), "borrowed from D minor"),
        ("| F7 | Bb7 | F7 | C7 |", 1, Interval(1, 2), "IV7 of a blues in G"),
        ("| Cm | Cm(maj7) | Cm7 | Cm6 |", 1, Interval(2, 3), "one voice moves while E♭ stays"),
        ("| Cm | Fm/C | G7/C | Cm |", 2, Interval(2, 3), "over a bass that stays on E♭"),
        (
            "| C | Bb7 | C | G7 |",
            1,
            Interval(1, 2),
            "the backdoor: ♭VII7 of D major, up a step to D",
        ),
    ],
)
def test_a_sentence_moves_all_that_it_names(
    chart: str, place: int, interval: Interval, sentence: str
) -> None:
    reader = INSTRUMENTS["concert"]._replace(rise=interval)
    assert part_for(analysed(chart), reader).role_in_words(place) == sentence


@pytest.mark.parametrize(
    ("before", "symbol", "moves"),
    [
        ("C", "C+", True),
        ("C+", "C", True),
        ("Cmaj7", "C6", True),
        ("C", "C/B", True),
        ("Cm", "Cm(maj7)", True),
        ("C", "C/G", False),  # its own fifth in the bass
        ("C", "C7", False),  # I becomes a dominant
        ("Cm", "C7", False),
        ("Cm", "C", False),
        ("Cm", "Cdim7", False),
        ("C6/9", "Cmaj7", False),  # three notes move
        ("C", "D", False),
        ("N.C.", "C", False),
        ("C", "C", False),
    ],
)
def test_a_voice_moves_while_the_root_stays(before: str, symbol: str, moves: bool) -> None:
    first, second = parse_symbol(before), parse_symbol(symbol)
    assert moves_a_voice(ChordPlace(second, first, second, parse_key("C"))) is moves


@pytest.mark.parametrize(
    ("family", "above"),
    [(family, above) for family, chords in SOUNDS_AS.items() for above in chords],
)
def test_a_chord_over_a_foreign_bass_is_part_of_what_it_sounds_as(
    family: Family, above: int
) -> None:
    """All tones but a thirteenth are in the chord on the bass, and all in its scale."""
    suffix, scale = SOUNDS_AS[family][above]
    triad = ChordSymbol("", parse_name("C"), family)
    bass = next(n for n in map(name_at, range(-6, 6)) if n.pitch_class == above)
    sounding = {tone.name.pitch_class for tone in chord_tones(triad)} | {above}
    on_bass = parse_symbol(f"{bass}{suffix}")
    thirteenths = {(above + 8) % 12, (above + 9) % 12}
    assert sounding - thirteenths <= {tone.name.pitch_class for tone in chord_tones(on_bass)}
    assert sounding <= scale_over(bass, scale).pitch_classes


def test_no_bass_within_a_chord_sounds_as_another() -> None:
    assert set(SOUNDS_AS[Family.MAJOR]) == set(range(1, 12)) - {4, 7}
    assert set(SOUNDS_AS[Family.MINOR]) == {1, 2, 5, 8, 9}
