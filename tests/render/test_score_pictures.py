"""Pictures of parts: complete, readable, the same every time, and free of fonts."""

from __future__ import annotations

import re
import threading
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.steps import find_step
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import part_for
from halfstep.pitch import Interval, Name, Pitch, parse_pitch
from halfstep.render import score_pictures
from halfstep.render.drawn_line import DrawnLine
from halfstep.render.glyphs import letter_glyph, missing_glyphs, text_run
from halfstep.render.score_pictures import (
    MM,
    STAFF_MM,
    Picture,
    draw_scale,
    draw_sign,
    draw_signature,
    draw_systems,
    score_svg,
    set_lines,
)
from halfstep.score import LEADING, Barline, ChordText, Mark, Score, ScoreBar, ScoreNote
from typed_charts import read_chart_text
from written_scores import whole_scores

HALF, EIGHTH, SIXTEENTH = Fraction(2), Fraction(1, 2), Fraction(1, 4)
COMMON = Meter(4, 4)


def chord(root: str, quality: str = "", extension: str = "", *, at: object = 0, bass: str = ""):
    return ChordText(
        Fraction(at),
        root=root,
        quality=quality,
        extension=extension,
        bass=bass,
        plain="",
        kind="other",
    )


def bar(number: int, text: str, beats: object = EIGHTH, *chords: ChordText, meter=COMMON, **more):
    pitches = [None if word == "r" else parse_pitch(word) for word in text.split()]
    lengths = list(beats) if isinstance(beats, list) else [beats] * len(pitches)
    notes = [ScoreNote(p, Fraction(b)) for p, b in zip(pitches, lengths, strict=True)]
    return ScoreBar(number, meter, tuple(notes), chords=tuple(chords), **more)


def score(*bars: ScoreBar, fifths: int = 0, clef: Clef = Clef.TREBLE, a_system: int = 4) -> Score:
    return Score(
        title="Slow bus",
        label="Part",
        key_fifths=fifths,
        mode="major",
        clef=clef,
        rise=Interval(0, 0),
        program=0,
        tempo_bpm=96.0,
        swing=True,
        bars=bars,
        bars_a_system=a_system,
    )


def marked(note: ScoreNote, marks: Mark, degree: str = "") -> ScoreNote:
    return ScoreNote(note.pitch, note.beats, marks, degree)


EIGHTHS = "C5 D5 E5 G5 F5 E5 D5 C5"
TWELVE = score(*(bar(n + 1, EIGHTHS, EIGHTH, chord("C", "", "7")) for n in range(12)))


def collisions(line: DrawnLine) -> list[tuple[str, str]]:
    """What this project adds to a line and what it overlaps."""
    added = {"changing", "leading", "breath", "degree", "number", "chord"}
    overlaps = []
    for n, one in enumerate(line.shapes):
        for m, other in enumerate(line.shapes):
            plain = other.kind in {"line", "barLine"} or n == m
            if one.kind in added and not plain and one.box.meets(other.box, gap=-1.0):
                overlaps.append((one.kind, other.kind))
    return overlaps


# Lines of music


def test_twelve_bars_of_eighths_fill_three_lines_of_four():
    pictures = draw_systems(TWELVE, width_mm=180)
    assert len(pictures) == 3
    assert all(178 < picture.width_mm <= 180 for picture in pictures)


def test_the_size_on_the_svg_is_the_size_of_the_picture():
    for picture in draw_systems(TWELVE, width_mm=180):
        root = ElementTree.fromstring(picture.svg)
        assert root.get("width") == f"{picture.width_mm:.3f}mm"
        assert root.get("height") == f"{picture.height_mm:.3f}mm"
        assert 10 < picture.height_mm < 30


def test_the_staff_has_the_height_it_says():
    line = set_lines(TWELVE, width_mm=180)[0]
    assert (line.staff.bottom - line.staff.top) * MM == pytest.approx(STAFF_MM, rel=0.01)


def test_sixteenths_take_fewer_bars_a_line_split_evenly():
    dense = score(*(bar(n + 1, "C5 D5 E5 F5 " * 4, SIXTEENTH) for n in range(4)), fifths=6)
    assert [len(line.bars) for line in set_lines(dense, width_mm=180)] == [2, 2]


def test_a_pickup_stands_on_the_first_line_beside_four_bars():
    part = score(bar(0, "G4"), *(bar(n, EIGHTHS) for n in range(1, 9)))
    assert [len(line.bars) for line in set_lines(part, width_mm=180)] == [5, 4]


def test_a_short_last_line_keeps_the_bar_width_of_the_others():
    part = score(*(bar(n + 1, EIGHTHS) for n in range(6)))
    first, last = draw_systems(part, width_mm=180)
    assert last.width_mm < 0.6 * first.width_mm


def test_lines_after_the_first_begin_with_their_bar_number():
    lines = set_lines(TWELVE, width_mm=180)
    assert [sum(s.kind == "number" for s in line.shapes) for line in lines] == [0, 1, 1]


def test_an_empty_score_has_no_pictures():
    assert draw_systems(score(), width_mm=180) == ()


def test_a_length_no_note_has_names_its_bar():
    with pytest.raises(ValueError, match="bar 7: no single note lasts 5/2 beats"):
        draw_systems(score(bar(7, "C5 D5", [Fraction(5, 2), Fraction(3, 2)])), width_mm=180)


def test_every_note_and_rest_is_drawn():
    part = score(bar(1, "C5 r E5 r G5", [1, EIGHTH, EIGHTH, 1, 1]), bar(2, "r", 4))
    kinds = [shape.kind for line in set_lines(part, width_mm=180) for shape in line.shapes]
    assert (kinds.count("notehead"), kinds.count("rest"), kinds.count("mRest")) == (3, 2, 1)


def test_a_whole_bar_rests_in_any_metre():
    part = score(bar(1, "r", 5, meter=Meter(5, 4)), bar(2, "r", 3, meter=Meter(6, 8)))
    kinds = [shape.kind for line in set_lines(part, width_mm=180) for shape in line.shapes]
    assert kinds.count("mRest") == 2
    assert kinds.count("meterSig") == 4


def test_a_tie_across_two_lines_is_drawn_on_both():
    tied = bar(1, "E4", 4)
    tied = ScoreBar(1, COMMON, (marked(tied.notes[0], Mark.TIE),))
    plain = [bar(n, "E4", 4) for n in (3, 4)]
    lines = set_lines(score(bar(1, "E4", 4), tied, *plain, a_system=2), width_mm=180)
    assert [sum(s.kind == "tie" for s in line.shapes) for line in lines] == [1, 1]


def test_only_the_last_bar_has_the_thick_line():
    part = score(bar(1, EIGHTHS), bar(2, EIGHTHS, barline=Barline.FINAL))
    plain = score(bar(1, EIGHTHS), bar(2, EIGHTHS))
    lines = [set_lines(score, width_mm=180)[0] for score in (part, plain)]
    thickest = [
        max(s.box.right - s.box.left for s in line.shapes if s.kind == "barLine") for line in lines
    ]
    assert thickest[0] > 2 * thickest[1]


# Readable


LONG = (chord("C♯", "m", "7♭5"), chord("F♯", "", "7♭9", at=2))
FOUR = tuple(
    chord(root, "m", "7♭5", at=n, bass="B𝄫") for n, root in enumerate(("C♯", "F♯", "B♭", "E♭"))
)


@pytest.mark.sampled
@pytest.mark.parametrize("chords", [LONG, FOUR], ids=["two long", "four with bass"])
@pytest.mark.parametrize(("text", "beats"), [("C5 D5", HALF), ("C6", 4), (EIGHTHS, EIGHTH)])
def test_chord_symbols_of_a_bar_touch_nothing_and_keep_their_shape(chords, text, beats):
    part = score(*(bar(n + 1, text, beats, *chords) for n in range(4)))
    for line in set_lines(part, width_mm=180):
        assert collisions(line) == []
    drawn = "".join(picture.svg for picture in draw_systems(part, width_mm=180))
    squeezed = [float(x) for x in re.findall(r"translate\([^)]*\) scale\((0?\.\d+) 1\)", drawn)]
    assert min(squeezed, default=1.0) >= 0.72


def test_a_chord_inside_a_note_stands_between_its_neighbours():
    chords = (chord("C"), chord("D", at=Fraction(3, 2)), chord("E", at=3))
    line = set_lines(score(bar(1, "C5", 4, *chords), bar(2, "C5", 4)), width_mm=180)[0]
    lefts = [shape.box.left for shape in line.shapes if shape.kind == "chord"]
    assert len(lefts) == 3
    assert lefts == sorted(lefts)
    assert lefts[2] < line.bars["b-0"].right


MARKS = st.sampled_from(
    [
        Mark.NONE,
        Mark.CHANGING,
        Mark.BREATH,
        Mark.CHANGING | Mark.BREATH,
        Mark.LEADS,
        Mark.LEADS_CHROMATIC | Mark.CHANGING,
        Mark.ENCLOSES | Mark.BREATH,
    ]
)
PITCHES = st.builds(
    Pitch, st.builds(Name, st.integers(0, 6), st.integers(-2, 2)), st.integers(3, 6)
)
ONE_OCTAVE = st.builds(Pitch, st.builds(Name, st.integers(0, 6), st.integers(-2, 2)), st.just(4))
FIGURES = st.sampled_from(
    [[4], [2, 2], [1, 1, 1, 1], [EIGHTH] * 8, [Fraction(3, 2), EIGHTH, 2], [SIXTEENTH] * 16]
)
SYMBOLS = st.sampled_from([(), LONG, FOUR, (chord("A", "", "7♯5♭9", at=Fraction(7, 2)),)])


@st.composite
def bars(draw: st.DrawFn) -> ScoreBar:
    notes = tuple(
        ScoreNote(draw(PITCHES), Fraction(beats), draw(MARKS), draw(st.sampled_from(["", "♭7"])))
        for beats in draw(FIGURES)
    )
    return ScoreBar(1, COMMON, notes, chords=draw(SYMBOLS))


@pytest.mark.slow
@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(bars(), min_size=1, max_size=5), st.integers(-7, 7))
def test_nothing_added_to_a_line_touches_anything(several, fifths):
    for line in set_lines(score(*several, fifths=fifths), width_mm=180):
        assert collisions(line) == []


@pytest.mark.slow
@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("key", ["trombone", "trumpet", "alto-sax", "guitar", "flute"])
def test_degrees_and_marks_of_an_etude_touch_nothing(key, end):
    """Approaches, enclosures, a chorus with triplets and ties, at both ends of the range."""
    chart = "| Gbmaj7(#11) | Abm7b5 Db7b9 | Gbmaj7/Db | Ebm7b5 Ab7#5 | Abm11 | Db13 | Gb6/9 |"
    analysis, player = analyse(read_chart_text(chart), level=Level.ADVANCED), INSTRUMENTS[key]
    whole = Brief(player, Level.ADVANCED, 90.0, 3)
    low, high = whole.concert_low, whole.concert_high
    limits = (low, low + 17) if end == "low" else (high - 17, high)
    part, kinds = part_for(analysis, player), set()
    for step in ("approach-notes", "enclosures", "chorus"):
        etude = write_etude(find_step(step), analysis, replace(whole, limits=limits))
        music = score_of(etude, part, title="", feel=Feel.SWING, degrees=True)
        for line in set_lines(music, width_mm=178):
            assert collisions(line) == []
            kinds |= {shape.kind for shape in line.shapes}
    assert {"changing", "leading", "degree", "chord", "number", "beam"} <= kinds


def test_a_breath_stands_after_its_note_and_above_the_staff():
    first, *others = bar(1, "E4 F4 G4 A4", 1).notes
    line = set_lines(
        score(ScoreBar(1, COMMON, (marked(first, Mark.BREATH), *others))), width_mm=180
    )[0]
    breath = next(s.box for s in line.shapes if s.kind == "breath")
    heads = [line.of(f"n-0-{n}", "notehead") for n in (0, 1)]
    assert heads[0].right < breath.left
    assert breath.right < heads[1].left
    assert breath.bottom < line.staff.top


def test_everything_is_black_or_hollow_so_that_grey_print_keeps_it():
    notes = tuple(marked(n, Mark.CHANGING | Mark.BREATH, "♭7") for n in bar(1, EIGHTHS).notes)
    (picture,) = draw_systems(score(ScoreBar(1, COMMON, notes, chords=LONG)), width_mm=180)
    assert set(re.findall(r'(?:fill|stroke)="([^"]*)"', picture.svg)) == {"none", "#000"}
    assert "opacity" not in picture.svg


# Text as outlines


def all_pictures() -> list[Picture]:
    notes = tuple(marked(n, Mark.CHANGING, "♯11") for n in bar(1, "Cb5 D##5 E5 G5", 1).notes)
    symbols = (chord("B𝄫", "°", "7"), chord("F𝄪", "ø", "7♭9", at=1), chord("C", "△", at=2))
    silent = ChordText(Fraction(3), plain="N.C.", kind="none")
    part = score(
        ScoreBar(1, COMMON, notes, chords=(*symbols, silent)),
        bar(2, EIGHTHS),
        fifths=-3,
        a_system=1,
    )
    scale = [parse_pitch(word) for word in ["C4", "D4", "Eb4", "F4"]]
    return [
        *draw_systems(part, width_mm=180),
        draw_signature(-7, Clef.BASS),
        draw_sign(Mark.ENCLOSES),
        draw_scale(scale, Clef.TREBLE, 2, open_heads=[True, False, True, False]),
    ]


def test_pictures_hold_no_text_no_fonts_and_no_links():
    for picture in all_pictures():
        tags = {element.tag.split("}")[1] for element in ElementTree.fromstring(picture.svg).iter()}
        assert tags <= {"svg", "g", "path", "polygon", "rect", "ellipse"}
        assert "font" not in picture.svg
        assert "href" not in picture.svg


@pytest.mark.slow
def test_every_sign_of_a_chord_symbol_has_an_outline():
    assert missing_glyphs("ABCDEFGmajsudltno0123456789♭♯𝄫𝄪♮°ø△+−()/,.éüß ") == ()


def test_a_character_without_an_outline_is_refused_and_not_drawn_as_a_box():
    with pytest.raises(ValueError, match=r"no font here has .* \(U\+10FFF1\)"):
        text_run("C\U0010fff1", 100.0)


def test_no_two_letters_share_an_outline_as_missing_glyphs_would():
    letters = "ABCDEFGabdijlmnostu0123456789()+/ø°△"
    assert len({letter_glyph(letter).path for letter in letters}) == len(letters)


# The same everywhere


def test_pictures_are_the_same_every_time_and_in_every_thread():
    expected = draw_systems(TWELVE, width_mm=180)
    results: list[tuple[Picture, ...]] = []
    threads = [
        threading.Thread(target=lambda: results.append(draw_systems(TWELVE, width_mm=180)))
        for _ in range(2)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert results == [expected, expected]


@pytest.mark.sampled
@pytest.mark.parametrize("instrument", INSTRUMENTS.values(), ids=lambda instrument: instrument.key)
def test_both_ends_of_every_instrument_are_drawn_in_every_signature(instrument):
    compass = instrument.compass(Level.ADVANCED)
    notes = tuple(ScoreNote(p, HALF, Mark.CHANGING) for p in (compass.low, compass.high))
    for fifths in range(-7, 8, 2):
        part = score(ScoreBar(1, COMMON, notes, chords=LONG), fifths=fifths, clef=instrument.clef)
        (line,) = set_lines(part, width_mm=180)
        assert sum(shape.kind == "keySig" for shape in line.shapes) == abs(fifths)
        assert collisions(line) == []


@pytest.mark.slow
def test_typst_draws_the_pictures_whole():
    """Reference: typst and PDFium. Ink at the edge would mean something was cut off."""
    typst = pytest.importorskip("typst")
    pdfium = pytest.importorskip("pypdfium2")
    for picture in all_pictures():
        source = (
            f"#set page(width: {picture.width_mm}mm, height: {picture.height_mm}mm, margin: 0pt)\n"
            f'#image(bytes({_quoted(picture.svg)}), format: "svg", width: 100%)'
        )
        page = pdfium.PdfDocument(typst.compile(source.encode()))[0]
        grey = page.render(scale=3, grayscale=True).to_numpy().squeeze()
        border = [*grey[0], *grey[-1], *grey[:, 0], *grey[:, -1]]
        assert min(border) > 200
        assert grey.min() < 60


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


# Small pictures


def test_a_signature_has_as_many_signs_as_its_key_and_stays_small():
    widths = [draw_signature(fifths, Clef.TREBLE).width_mm for fifths in range(8)]
    assert widths == sorted(widths)
    assert 6 < widths[0] < widths[3] < 14
    assert widths[7] < 21


def test_a_scale_tells_chord_tones_by_open_heads():
    pitches = [parse_pitch(word) for word in ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5"]]
    opened = draw_scale(pitches, Clef.TREBLE, 0, open_heads=[True] * 8)
    mixed = draw_scale(pitches, Clef.TREBLE, 0, open_heads=[True, False] * 4)
    assert opened.svg != mixed.svg
    assert 55 < mixed.width_mm < 75


def test_a_scale_takes_one_head_kind_for_each_note():
    with pytest.raises(ValueError, match="zip"):
        draw_scale([parse_pitch("C4")], Clef.TREBLE, 0, open_heads=[])


# Any score


@pytest.mark.slow
@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores(max_bars=3, with_roads=False))
def test_any_score_is_drawn_with_all_that_stands_in_it(part: Score) -> None:
    """Heads, rests, ties, signs, breaths, degrees and chord symbols, as many as written."""
    lines = set_lines(part, width_mm=180)
    kinds = Counter(shape.kind for line in lines for shape in line.shapes)
    notes = [note for bar in part.bars for note in bar.notes]
    pitched = [note for note in notes if note.pitch]
    assert kinds["notehead"] == len(pitched)
    assert kinds["rest"] + kinds["mRest"] == len(notes) - len(pitched)
    assert kinds["changing"] == sum(Mark.CHANGING in note.marks for note in pitched)
    feet = [s.svg.count("V") for line in lines for s in line.shapes if s.kind == "leading"]
    tied = [False, *(Mark.TIE in note.marks for note in notes)]
    struck = [n for n, goes_on in zip(notes, tied, strict=False) if n.pitch and not goes_on]
    assert sum(feet) == sum(bool(note.marks & LEADING) for note in struck)
    assert kinds["breath"] == sum(Mark.BREATH in note.marks for note in pitched)
    assert kinds["degree"] == sum(bool(note.degree) for note in pitched)
    assert kinds["chord"] == sum(len(bar.chords) for bar in part.bars)


@pytest.mark.slow
@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow])
@given(whole_scores(max_bars=3, with_roads=False), st.sampled_from([120.0, 150.0, 180.0]))
def test_any_score_is_as_wide_as_its_room_and_nothing_touches(part: Score, room: float) -> None:
    """One bar may need more than its line; then its symbols are made narrower."""
    for line in set_lines(part, width_mm=room):
        assert collisions(line) == []
        if len(line.bars) > 1:
            assert line.staff.right * MM <= room
    for picture in draw_systems(part, width_mm=room):
        root = ElementTree.fromstring(picture.svg)
        _, _, wide, high = map(float, root.get("viewBox", "").split())
        assert wide * MM == pytest.approx(picture.width_mm, abs=0.01)
        assert high * MM == pytest.approx(picture.height_mm, abs=0.01)


@settings(max_examples=15)
@given(st.integers(1, 30), st.integers(1, 8), st.booleans())
def test_bars_are_shared_out_as_evenly_as_can_be(count: int, parts: int, pickup: bool) -> None:
    """The longer lines first, and every bar on one of them."""
    group = range(int(pickup), int(pickup) + count)
    lines = score_pictures._split(group, min(parts, count))
    assert [bar for line in lines for bar in line] == list(group)
    sizes = [len(line) for line in lines]
    assert sizes == sorted(sizes, reverse=True)
    assert max(sizes) - min(sizes) <= 1


# The part as one picture


def test_one_picture_holds_title_and_lines_under_each_other():
    svg = score_svg(TWELVE, width_mm=180)
    root = ElementTree.fromstring(svg)
    namespace = "{http://www.w3.org/2000/svg}"
    assert root.findtext(f"{namespace}title") == "Slow bus"
    moves = [
        float(re.search(r"translate\(0 ([\d.]+)\)", group.get("transform"))[1])
        for group in root.findall(f"{namespace}g")
    ]
    assert len(moves) == 3
    assert moves == sorted(moves)
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(183, abs=3)


def test_a_wide_title_makes_the_picture_wide():
    long = replace(TWELVE, title="The Long Way Round " * 6)
    wide, plain = (
        float(ElementTree.fromstring(score_svg(part, width_mm=100)).get("width")[:-2])
        for part in (long, TWELVE)
    )
    assert wide > 2 * plain


@pytest.mark.parametrize("title", ["a < b & c", "bell\u0007", "half\ud800", ""])
def test_any_title_makes_a_picture(title):
    svg = score_svg(replace(TWELVE, title=title), width_mm=180)
    assert ElementTree.fromstring(svg.encode()) is not None


def test_a_part_without_bars_is_its_title():
    root = ElementTree.fromstring(score_svg(score(), width_mm=180))
    assert root.findall("{http://www.w3.org/2000/svg}g") == []
