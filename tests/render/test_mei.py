"""What the engraver reads: MEI that is well-formed, adds up, and says what the score says.

Source: MEI 5.0 guidelines, module CMN (from memory) for elements and attributes.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
from hypothesis import given, settings

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.notation import Accidental, beam_groups, score_accidentals, tuplet_groups
from halfstep.pitch import parse_pitch
from halfstep.render.mei import courtesy_mei, mei_bars, pitch_mei, score_mei, signature, staff_mei
from halfstep.score import Barline, Mark, Score, ScoreBar
from written_scores import COMMON, EIGHTH, line, part, rhythm, symbol, whole_scores

MEI = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"
LETTERS = "cdefgab"


def tree(score: Score, *, padding: int = 0, width: float = 100.0) -> Element:
    """The score as MEI, all its bars in one system."""
    systems = [(range(len(score.bars)), padding)]
    return ElementTree.fromstring(score_mei(mei_bars(score, lambda _: width), systems))


def test_slurs_heads_and_articulations_are_the_engravers_own():
    """Slurs go from the first note to the last, over a bar line too; a ghost note has brackets."""
    first = line("C5 D5 E5 F5", 1)
    marks = (Mark.ACCENT | Mark.STACCATO, Mark.GHOST, Mark.SLUR, Mark.SLUR)
    noted = tuple(replace(n, marks=m) for n, m in zip(first, marks, strict=True))
    bars = (ScoreBar(1, COMMON, noted), ScoreBar(2, COMMON, line("G5 r", 2)))
    root = tree(part(*bars))
    (slur,) = root.iter(f"{MEI}slur")
    assert (slur.get("startid"), slur.get("endid")) == ("#n-0-2", "#n-1-0")
    first, second = list(root.iter(f"{MEI}note"))[:2]
    assert (first.get("artic"), second.get("head.mod")) == ("acc stacc", "paren")


def measures(root: Element) -> list[Element]:
    return list(root.iter(f"{MEI}measure"))


def layer(measure: Element, staff: int = 1) -> Element:
    """The contents of one staff of a bar."""
    (place,) = [s for s in measure.iter(f"{MEI}staff") if s.get("n") == str(staff)]
    return place[0]


def events(measure: Element, staff: int = 1) -> list[Element]:
    """Notes and rests in order."""
    names = {f"{MEI}note", f"{MEI}rest", f"{MEI}mRest"}
    return [element for element in layer(measure, staff).iter() if element.tag in names]


def lasting(element: Element) -> Fraction:
    """What ``dur`` and ``dots`` come to, in quarters."""
    plain = Fraction(4, int(element.get("dur", "")))
    return plain * (2 - Fraction(1, 2 ** int(element.get("dots", "0"))))


def in_tuplets(measure: Element) -> dict[Element, Fraction]:
    """How much shorter a note of a tuplet is, by the element."""
    return {
        note: Fraction(int(group.get("numbase", "")), int(group.get("num", "")))
        for group in layer(measure).iter(f"{MEI}tuplet")
        for note in group.iter()
    }


def places_in(group: Element) -> tuple[int, ...]:
    """The places of the notes in a beam or tuplet, by their ids."""
    names = [element.get(ID, "") for element in group.iter()]
    return tuple(int(name.rsplit("-", 1)[1]) for name in names if name)


# Any score


@pytest.mark.slow
@settings(max_examples=15)
@given(whole_scores())
def test_every_bar_adds_up_on_both_staves(score: Score) -> None:
    for bar, measure in zip(score.bars, measures(tree(score)), strict=True):
        shorter = in_tuplets(measure)
        notes = [e for e in events(measure) if e.tag != f"{MEI}mRest"]
        if notes:
            beats = [lasting(note) * shorter.get(note, Fraction(1)) for note in notes]
            assert beats == [note.beats for note in bar.notes]
        assert sum(map(lasting, events(measure, 2))) == bar.meter.bar_beats


@pytest.mark.slow
@settings(max_examples=15)
@given(whole_scores())
def test_every_note_is_named_by_its_place_and_has_its_pitch(score: Score) -> None:
    """An accidental is printed (``accid``) or only heard (``accid.ges``), never both."""
    signs = {"f": -1, "ff": -2, "tf": -3, "n": 0, "s": 1, "x": 2, "ts": 3}
    printed = score_accidentals(score)
    for place, (bar, measure) in enumerate(zip(score.bars, measures(tree(score)), strict=True)):
        assert measure.get(ID) == f"b-{place}"
        for n, (note, element) in enumerate(zip(bar.notes, events(measure), strict=True)):
            if element.tag == f"{MEI}mRest":
                continue
            assert element.get(ID) == f"n-{place}-{n}"
            assert (note.pitch is None) == (element.tag == f"{MEI}rest")
            if note.pitch:
                name = LETTERS[note.pitch.name.letter], str(note.pitch.octave)
                assert (element.get("pname"), element.get("oct")) == name
                inside = element.find(f"{MEI}accid")
                shown = element.get("accid") if inside is None else inside.get("accid")
                gestural, (sign,) = element.get("accid.ges"), printed[place][n]
                assert (None if shown is None else signs[shown]) == (sign and sign.alteration)
                assert (inside is not None) == bool(sign and sign.courtesy)
                sounding = shown or gestural or "n"
                assert signs[sounding] == note.pitch.name.alteration
                assert not (shown and gestural)


@pytest.mark.slow
@settings(max_examples=15)
@given(whole_scores())
def test_beams_and_tuplets_hold_their_notes(score: Score) -> None:
    for place, (bar, measure) in enumerate(zip(score.bars, measures(tree(score)), strict=True)):
        for tag, groups in (("beam", beam_groups(bar)), ("tuplet", tuplet_groups(bar))):
            held = [places_in(group) for group in layer(measure).iter(f"{MEI}{tag}")]
            assert held == list(groups), (place, tag)


@pytest.mark.slow
@settings(max_examples=15)
@given(whole_scores())
def test_a_tie_goes_from_its_note_to_the_next(score: Score) -> None:
    """To the next bar's first over a bar line; a tie out of the last bar has no end."""
    root = tree(score)
    ties = {(tie.get("startid"), tie.get("endid")) for tie in root.iter(f"{MEI}tie")}
    places = [(b, n) for b, bar in enumerate(score.bars) for n in range(len(bar.notes))]
    expected = {
        (f"#n-{b}-{n}", f"#n-{following[0]}-{following[1]}")
        for (b, n), following in pairwise(places)
        if Mark.TIE in score.bars[b].notes[n].marks
    }
    assert ties == expected


@pytest.mark.slow
@settings(max_examples=15)
@given(whole_scores())
def test_every_chord_inside_its_bar_has_a_place_on_the_silent_staff(score: Score) -> None:
    for place, (bar, measure) in enumerate(zip(score.bars, measures(tree(score)), strict=True)):
        now, starts = Fraction(0), {}
        for note in events(measure, 2):
            assert note.get("visible") == "false"
            if note.get(ID):
                starts[note.get(ID)] = now
            now += lasting(note)
        assert starts == {f"c-{place}-{n}": chord.at for n, chord in enumerate(bar.chords)}


# One thing at a time


def test_the_opening_states_metre_key_and_clef() -> None:
    score = part(rhythm("3/2 3/2", Meter(6, 8)), fifths=-3, clef=Clef.BASS)
    (opening,) = tree(score).iter(f"{MEI}scoreDef")
    assert (opening.get("meter.count"), opening.get("meter.unit")) == ("6", "8")
    assert opening.get("keysig") == "3f"
    staves = list(opening.iter(f"{MEI}staffDef"))
    assert [(s.get("n"), s.get("lines")) for s in staves] == [("1", "5"), ("2", "0")]
    assert {(s.get("clef.shape"), s.get("clef.line")) for s in staves} == {("F", "4")}


@pytest.mark.parametrize(
    ("fifths", "text"), [(0, "0"), (1, "1s"), (7, "7s"), (-1, "1f"), (-7, "7f")]
)
def test_a_signature_is_a_number_and_a_letter(fifths: int, text: str) -> None:
    assert signature(fifths) == text


@pytest.mark.parametrize(
    ("name", "accidental", "text"),
    [
        ("C4", None, 'pname="c" oct="4"'),
        ("C4", 0, 'pname="c" oct="4" accid="n"'),
        ("F#5", 1, 'pname="f" oct="5" accid="s"'),
        ("F#5", None, 'pname="f" oct="5" accid.ges="s"'),
        ("Bb3", -1, 'pname="b" oct="3" accid="f"'),
        ("Bbb3", -2, 'pname="b" oct="3" accid="ff"'),
        ("G##4", 2, 'pname="g" oct="4" accid="x"'),
    ],
)
def test_a_pitch_has_letter_octave_and_accidental(
    name: str, accidental: int | None, text: str
) -> None:
    sign = None if accidental is None else Accidental(accidental)
    assert pitch_mei(parse_pitch(name), sign) == text
    assert courtesy_mei(sign) == ""


def test_a_courtesy_stands_in_parentheses_within_its_note() -> None:
    """MEI 5.0: `func` and `enclose` of `accid`."""
    sign = Accidental(0, courtesy=True)
    assert pitch_mei(parse_pitch("F4"), sign) == 'pname="f" oct="4"'
    assert courtesy_mei(sign) == '<accid accid="n" func="caution" enclose="paren"/>'


def test_a_change_of_metre_stands_before_its_bar() -> None:
    bars = (rhythm("4"), rhythm("3", Meter(3, 4), 2), rhythm("3", Meter(3, 4), 3))
    section = next(tree(part(*bars)).iter(f"{MEI}section"))
    tags = [child.tag.removeprefix(MEI) for child in section]
    assert tags == ["sb", "measure", "scoreDef", "measure", "measure"]
    assert section[2].get("meter.count") == "3"


def test_barlines_have_their_form() -> None:
    bars = [replace(rhythm("4", number=n), barline=b) for n, b in enumerate(Barline, 1)]
    assert [m.get("right") for m in measures(tree(part(*bars)))] == ["single", "dbl", "end"]


def test_a_pickup_does_not_count_its_metre() -> None:
    pickup, bar = measures(tree(part(ScoreBar(0, COMMON, line("G4")), rhythm("4"))))
    assert (pickup.get("metcon"), bar.get("metcon")) == ("false", None)
    assert (pickup.get("n"), bar.get("n")) == ("0", "1")


def test_a_bar_of_rest_is_one_rest_in_any_metre() -> None:
    (measure,) = measures(tree(part(rhythm("(5)", Meter(5, 4)))))
    assert [element.tag for element in events(measure)] == [f"{MEI}mRest"]


def test_systems_begin_on_lines_of_their_own() -> None:
    score = part(*(rhythm("4", number=n) for n in range(1, 6)))
    systems = [(range(0, 2), 0), (range(2, 4), 0), (range(4, 5), 2)]
    section = next(
        ElementTree.fromstring(score_mei(mei_bars(score, lambda _: 0.0), systems)).iter(
            f"{MEI}section"
        )
    )
    tags = "".join("|" if child.tag == f"{MEI}sb" else "m" for child in section)
    assert tags == "|mm|mm|mmm"


def test_a_line_is_filled_up_with_bars_that_are_not_named() -> None:
    """As wide as the last one, and without a bar line."""
    score = part(ScoreBar(1, COMMON, line("F#4 G4", 2)))
    _, *padding = measures(tree(score, padding=2))
    assert [(m.get(ID), m.get("right")) for m in padding] == [(None, "invis")] * 2
    assert [len(events(m)) for m in padding] == [2, 2]
    assert not any(note.get(ID) for m in padding for note in events(m))


@pytest.mark.parametrize(("width", "letters"), [(0.0, 0), (112.5, 1), (113.0, 2), (1000.0, 9)])
def test_a_chord_keeps_room_with_a_word_of_its_width(width: float, letters: int) -> None:
    """A letter of the engraver's lyrics is 112.5 wide; it must not be less."""
    bar = ScoreBar(1, COMMON, line("C5", 4), chords=(symbol("C"),))
    (measure,) = measures(tree(part(bar), width=width))
    word = layer(measure, 2).findtext(f".//{MEI}syl")
    assert (word or "") == "l" * letters


def test_a_chord_between_two_grid_lines_goes_to_the_nearest() -> None:
    """Places are rounded to a 32nd for spacing: a third of a beat to three of them."""
    bar = ScoreBar(1, COMMON, line("C5", 4), chords=(symbol("C"), symbol("D", at="1/3")))
    (measure,) = measures(tree(part(bar)))
    first = events(measure, 2)[0]
    assert lasting(first) + lasting(events(measure, 2)[1]) == Fraction(3, 8)
    assert [note.get(ID) for note in events(measure, 2) if note.get(ID)] == ["c-0-0", "c-0-1"]


def test_a_chord_after_the_end_of_a_pickup_has_no_place() -> None:
    pickup = ScoreBar(0, COMMON, line("G4"), chords=(symbol("C"), symbol("D", at=2)))
    (measure,) = measures(tree(part(pickup)))
    assert [note.get(ID) for note in events(measure, 2) if note.get(ID)] == ["c-0-0"]


def test_degrees_keep_room_below_their_notes() -> None:
    notes = (replace(line("C5", 4)[0], degree="♯11"),)
    (measure,) = measures(tree(part(ScoreBar(1, COMMON, notes))))
    assert layer(measure).findtext(f".//{MEI}syl") == "l" * 6


def test_three_eighths_in_the_time_of_two_stand_under_one_beam() -> None:
    (measure,) = measures(tree(part(rhythm("1/3 1/3 1/3 3"))))
    tuplet = layer(measure)[0]
    assert (tuplet.tag, tuplet.get("num"), tuplet.get("numbase")) == (f"{MEI}tuplet", "3", "2")
    assert [child.tag for child in tuplet] == [f"{MEI}beam"]
    assert len(tuplet[0]) == 3


def test_a_staff_by_itself_has_clef_signature_and_contents() -> None:
    root = ElementTree.fromstring(staff_mei(Clef.TREBLE, 2, '<space dur="4"/>'))
    (opening,) = root.iter(f"{MEI}scoreDef")
    assert opening.get("keysig") == "2s"
    assert opening.get("meter.count") is None
    (measure,) = measures(root)
    assert [child.tag for child in layer(measure)] == [f"{MEI}space"]


def test_a_length_that_no_note_has_names_its_bar() -> None:
    with pytest.raises(ValueError, match="bar 9: no single note lasts 5/2 beats"):
        tree(part(rhythm("5/2 3/2", number=9)))


def test_eighths_of_one_beam_are_written_in_it() -> None:
    (measure,) = measures(
        tree(part(ScoreBar(1, COMMON, line("C5 D5 E5 F5 r r", [EIGHTH] * 4 + [1, 1]))))
    )
    assert [child.tag.removeprefix(MEI) for child in layer(measure)] == ["beam", "rest", "rest"]


@pytest.mark.parametrize(
    ("beats", "bracket"),
    [("1/3 1/3 1/3 3", "false"), ("2/3 2/3 2/3 2", "true"), ("2/3 1/3 3", "true")],
)
def test_a_bracket_stands_where_no_beam_holds_a_tuplet_together(beats: str, bracket: str) -> None:
    """Common practice."""
    (measure,) = measures(tree(part(rhythm(beats))))
    assert layer(measure)[0].get("bracket.visible") == bracket
