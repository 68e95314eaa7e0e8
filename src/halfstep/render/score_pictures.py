"""How does a part look? A score as pictures, one for each line of music.

The engraver library places notes, stems, beams and ties. Its drawing is then read back
as shapes with their boxes, and what concerns this project is set around them, in the
order of nearness to the notes: scoops and falls, loudness, the breath, degrees and the
signs of changing and leading notes below, chord symbols and the order of playing above.
Everything is moved outwards until it touches nothing.

Conventions
-----------
- Sizes inside a picture are tenths of the engraver's unit: a staff space is `SPACE`.
- Chord symbols of a line share one baseline.
- A line that cannot hold its bars is split evenly: four bars into two and two.

Sources: MEI 5.0, SMuFL 1.4, SVG 1.1. Sizes and distances: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from halfstep.instruments import Clef
from halfstep.notation import Accidental, printed_accidentals
from halfstep.pitch import Pitch
from halfstep.render.bar_widths import width_bounds
from halfstep.render.chord_lettering import chord_run
from halfstep.render.drawn_line import SPACE, Box, DrawnLine, DrawnShape, hull
from halfstep.render.engraved_systems import (
    Key,
    drawn_systems,
    finished_lines,
    line_key,
    natural_widths,
)
from halfstep.render.engraver import STAFF_LINE, engraved, read_line
from halfstep.render.glyphs import (
    BREATH,
    glyph_path,
    music_box,
    music_glyph,
    printable,
    settable,
    text_run,
    text_width,
)
from halfstep.render.mei import MeiBars, courtesy_mei, mei_bars, pitch_mei, staff_mei
from halfstep.render.note_signs import draw_note_signs, sample_line
from halfstep.render.place_signs import draw_place_signs, sign_sample
from halfstep.render.road_signs import draw_road, ending_brackets
from halfstep.render.touch_signs import bend_sample, draw_touch_signs
from halfstep.score import ChordText, Mark, Score, ScoreBar, SignShape

STAFF_MM = 6.6
"""Height of a five-line staff, in millimetres."""

MM = STAFF_MM / (4 * SPACE)
"""Millimetres in a unit of the picture."""

EDGE = 0.15 * SPACE
"""White around a picture."""

_CHORD_EM = 2.55 * SPACE
_DEGREE_EM = 1.75 * SPACE
_NUMBER_EM = 1.7 * SPACE
_CHORD_GAP = 0.7 * SPACE
_SCALE_MM = 70.0
_TITLE_EM = 3.2 * SPACE
_LINE_GAP = 3 * SPACE
_LONG_LINE = 4  # bars of a line that one more bar at the end may join
_NARROWEST = 0.72  # of a chord symbol's natural width, before the line takes fewer bars
_SMALLER = 0.94  # a staff on which a bar has no room on a line of its own, step by step
_SMALLEST = 0.4


NO_NAMES: Mapping[str, str] = MappingProxyType({})
_NAME_OF = {"b": "data-bar", "n": "data-note", "c": "data-chord"}
"""What a page calls a thing, by the first letter of its id."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing: SVG text without fonts, and its size in millimetres.

    ``heads_mm`` are the middles of the note heads, from the picture's left edge, ``bars`` the
    places in the score of the bars that it has, ``bars_mm`` where what is played in each of them
    begins, and where the last one ends.
    """

    svg: str
    width_mm: float
    height_mm: float
    heads_mm: tuple[float, ...] = ()
    bars: tuple[int, ...] = ()
    bars_mm: tuple[float, ...] = ()


def draw_systems(
    score: Score,
    *,
    width_mm: float,
    staff_mm: float = STAFF_MM,
    names: Mapping[str, str] = NO_NAMES,
) -> tuple[Picture, ...]:
    """The part, one picture for each line of music.

    Parameters
    ----------
    score : Score
    width_mm : float
        Room for a line; the last picture is narrower where its bars are fewer.
    staff_mm : float
        Height of a staff; all are lower where a bar would find no room on a line of its own.
    names : mapping of str to str
        What a page calls bars, notes and chords, by their ids (`halfstep.render.mei`): what is
        drawn of each is then a group with that name as its ``data-bar``, ``data-note`` or
        ``data-chord``.

    Raises
    ------
    ValueError
        Names the bar, when a note has a length that no single note lasts.
    """
    lines, scale = fitted_lines(score, width_mm, staff_mm / STAFF_MM)
    return tuple(_picture(line, mm=MM * scale, names=names) for line in lines)


def score_svg(score: Score, *, width_mm: float, staff_mm: float | None = None) -> str:
    """The part as one picture: its title, and the lines of music under each other.

    Parameters
    ----------
    score : Score
        Characters of its title that no font here has are printed as ``?``.
    width_mm : float
        Room for a line.
    staff_mm : float, optional
        Height of a staff, if another than usual.
    """
    heading = text_run(settable(score.title), _TITLE_EM, y=_TITLE_EM)
    pieces, wide, low = [heading.svg], heading.width, 1.9 * _TITLE_EM
    lines, scale = fitted_lines(score, width_mm, (staff_mm or STAFF_MM) / STAFF_MM)
    mm = MM * scale
    for line in lines:
        box = hull(shape.box for shape in line.shapes)
        shapes = "".join(shape.svg for shape in line.shapes)
        pieces.append(f'<g transform="translate(0 {low - box.top:.1f})">{shapes}</g>')
        wide, low = max(wide, box.right), low + box.bottom - box.top + _LINE_GAP
    edge = 2 * SPACE
    wide, high = wide + 2 * edge, low - _LINE_GAP + 2 * edge
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" '
        f'width="{wide * mm:.3f}mm" height="{high * mm:.3f}mm" '
        f'viewBox="{-edge:.1f} {-edge:.1f} {wide:.1f} {high:.1f}" role="img">'
        f"<title>{escape(printable(score.title))}</title>"
        f'<rect x="{-edge:.1f}" y="{-edge:.1f}" width="100%" height="100%" fill="#fff"/>'
        f"{''.join(pieces)}</svg>\n"
    )


def set_lines(score: Score, *, width_mm: float) -> tuple[DrawnLine, ...]:
    """What `draw_systems` draws at its usual size, as shapes with their boxes."""
    return fitted_lines(score, width_mm, 1.0, least=1.0)[0]


def fitted_lines(
    score: Score, width_mm: float, scale: float, *, least: float = _SMALLEST
) -> tuple[tuple[DrawnLine, ...], float]:
    """The lines of a part as shapes, at a scale, or a smaller one where a bar has no room.

    Parameters
    ----------
    width_mm : float
        Room for a line.
    scale : float
        Against the usual size, whose staff is `STAFF_MM` high.
    least : float
        The scale that is not gone below.

    Returns
    -------
    (tuple of DrawnLine, float)
        The lines, and their scale.
    """
    if not score.bars:
        return (), scale
    bars = mei_bars(score, kept_width)
    least = min(scale, least)
    scale = max(least, min(scale, width_mm / MM / _widest_line(bars, width_mm / MM / scale)))
    while True:
        width = _line_width(width_mm / scale)
        systems, lines, crowded = _uncrowded(score, bars, width)
        if not crowded or scale <= least:
            break
        scale = max(least, _SMALLER * scale)
    keys = [_finished_key(bars, system, width) for system in systems]
    whole = finished_lines.every(
        keys, lambda missing: (_finished(score, lines[n], systems[n][0]) for n in missing)
    )
    return tuple(line.copied() for line in whole), scale


def _uncrowded(
    score: Score, bars: MeiBars, width: float
) -> tuple[list[tuple[range, int]], list[DrawnLine], bool]:
    """The lines with as many bars as leave room for the chord symbols, and whether none do."""
    for bars_a_line in range(max(1, score.bars_a_system), 0, -1):
        systems = _broken_lines(bars, width, bars_a_line)
        lines = drawn_systems(bars, systems, width)
        crowded = any(_crowded(score, line) for line in lines)
        if not crowded:
            break
    return systems, lines, crowded


def _finished_key(bars: MeiBars, system: tuple[range, int], width: float) -> Key:
    """What a line with its marks is drawn from: it, its bars, and endings that reach into it."""
    score, places = bars.score, system[0]
    endings = (b for b in ending_brackets(score) if b.first in places or b.last in places)
    inside = tuple(score.bars[place] for place in places)
    return *line_key(bars, system, width), inside, *endings


def fewest_lines(score: Score, *, width_mm: float, staff_mm: float = STAFF_MM) -> int:
    """How many pictures `draw_systems` gives at least; more where chord symbols are crowded."""
    if not score.bars:
        return 0
    width = _line_width(width_mm * STAFF_MM / staff_mm)
    return len(_broken_lines(mei_bars(score, kept_width), width, max(1, score.bars_a_system)))


def _line_width(width_mm: float) -> float:
    """What a line may take, in units of the picture."""
    return width_mm / MM - 3 * EDGE


def draw_signature(fifths: int, clef: Clef) -> Picture:
    """A short piece of staff with clef and key signature.

    Parameters
    ----------
    fifths : int
        Sharps positive, flats negative, -7 to 7.
    """
    line = read_line(engraved(staff_mei(clef, fifths, '<space dur="4"/>'), 20000.0)[0])
    end = max(shape.box.right for shape in line.shapes if shape.kind != "line") + 0.8 * SPACE
    return _picture(_cut(line, end))


def draw_sign(mark: Mark) -> Picture:
    """The sign of a changing or leading note, a scoop or a fall, for a legend."""
    bend = mark in Mark.SCOOP | Mark.FALL
    return _picture(bend_sample(mark) if bend else sample_line(mark))


def draw_place_sign(shape: SignShape) -> Picture:
    """The sign of a place, for a legend."""
    return _picture(sign_sample(shape))


def draw_scale(
    pitches: Sequence[Pitch], clef: Clef, fifths: int, *, open_heads: Sequence[bool]
) -> Picture:
    """A scale on a staff without bars or stems.

    Parameters
    ----------
    pitches : sequence of Pitch
        Written, in order.
    fifths : int
        Key signature, -7 to 7.
    open_heads : sequence of bool
        True for chord tones, drawn as open heads; the others are small and black.
    """
    accidentals = printed_accidentals(pitches, fifths)
    notes = [
        _scale_note(pitch, accidental, is_open)
        for pitch, accidental, is_open in zip(pitches, accidentals, open_heads, strict=True)
    ]
    line = read_line(
        engraved(staff_mei(clef, fifths, "".join(notes)), _SCALE_MM / MM, even=True)[0]
    )
    end = max(shape.box.right for shape in line.shapes if shape.kind != "line") + 1.2 * SPACE
    return _picture(_cut(line, end))


def _scale_note(pitch: Pitch, accidental: Accidental | None, is_open: bool) -> str:
    head = 'dur="1"' if is_open else 'dur="4" stem.visible="false" cue="true"'
    return f"<note {head} {pitch_mei(pitch, accidental)}>{courtesy_mei(accidental)}</note>"


# Lines


def _widest_line(bars: MeiBars, room: float) -> float:
    """How wide a line of the widest bar is at least; measured where it may have no room."""
    head, widths = width_bounds(bars)
    most = head.most + max(bounds.most for bounds in widths) + 3 * EDGE
    if most <= room:
        return most
    first, measured = natural_widths(bars)
    return first + max(measured) + 3 * EDGE


def _broken_lines(bars: MeiBars, width: float, most: int) -> list[tuple[range, int]]:
    """The bars of each line, measured where their bounds leave it open."""
    head, widths = width_bounds(bars)
    narrow, wide = (
        _systems(bars.score, (head[which], tuple(bounds[which] for bounds in widths)), width, most)
        for which in range(2)
    )
    return narrow if narrow == wide else _systems(bars.score, natural_widths(bars), width, most)


def _systems(
    score: Score, natural: tuple[float, tuple[float, ...]], width: float, most: int
) -> list[tuple[range, int]]:
    """The bars of each line; a group that does not fit is split evenly."""
    head, widths = natural
    lines: list[range] = []
    for group in _groups(score, most):
        for parts in range(1, len(group) + 1):
            pieces = _split(group, parts)
            if all(sum(widths[n] for n in piece) + head <= width for piece in pieces):
                break
        lines += pieces
    full = len(lines) == 1 or len(lines[0]) >= most
    ends = {section.stop for section in _sections(score, most)}
    systems = []
    for line in lines:
        natural_width = sum(widths[n] for n in line)
        room = (width - head - natural_width) // (natural_width / len(line))
        missing = most - len(line) if full and line.stop in ends else 0
        systems.append((line, max(0, min(missing, int(room)))))
    return systems


def _groups(score: Score, most: int) -> list[range]:
    """Lines as wished: ``most`` bars each, a pickup not counted, nor a lone bar after long lines.

    Sections begin anew.
    """
    lone = 1 if most >= _LONG_LINE else 0
    pickup = 1 if score.bars[0].number == 0 else 0
    groups = []
    for section in _sections(score, most):
        first = most + (pickup if section.start == 0 else 0)
        ends = range(section.start + first, section.stop - lone, most)
        edges = [section.start, *ends, section.stop]
        groups += [range(begin, end) for begin, end in pairwise(edges)]
    return groups


def _sections(score: Score, most: int) -> list[range]:
    """The stretches that begin on a line of their own; short ones go on with the one before."""
    starts = [0]
    for place, bar in enumerate(score.bars):
        if bar.road.section and place - starts[-1] >= most:
            starts.append(place)
    return [range(begin, end) for begin, end in pairwise([*starts, len(score.bars)])]


def _split(group: range, parts: int) -> list[range]:
    """A run of bars in ``parts`` runs as even as can be, the longer ones first."""
    size, longer = divmod(len(group), parts)
    lines = []
    begin = group.start
    for part in range(parts):
        end = begin + size + (part < longer)
        lines.append(range(begin, end))
        begin = end
    return lines


def kept_width(chord: ChordText) -> float:
    """What is kept free over the staff for a chord symbol, in units of the picture."""
    return chord_run(chord, _CHORD_EM).width + _CHORD_GAP


# Chord symbols


def _chord_names(score: Score, line: DrawnLine) -> list[tuple[str, ChordText]]:
    """The chords on a line with their ids, in order."""
    names = []
    for name in line.bars:
        place = int(name[2:])
        for number, chord in enumerate(score.bars[place].chords):
            if f"c-{place}-{number}" in line.chord_lefts:
                names.append((f"c-{place}-{number}", chord))
    return names


class _ChordRoom(NamedTuple):
    """A chord symbol with its id, its left edge and the width it may take."""

    name: str
    chord: ChordText
    left: float
    width: float


def _chord_rooms(score: Score, line: DrawnLine) -> list[_ChordRoom]:
    """Each chord of a line with its room, in order."""
    chords = _chord_names(score, line)
    lefts = [line.chord_lefts[name] for name, _ in chords]
    ends = [*(left - _CHORD_GAP for left in lefts[1:]), line.staff.right]
    return [
        _ChordRoom(name, chord, left, end - left)
        for (name, chord), left, end in zip(chords, lefts, ends, strict=False)
    ]


def _crowded(score: Score, line: DrawnLine) -> bool:
    """True when a chord symbol would have to be made too narrow."""
    rooms = _chord_rooms(score, line)
    return any(room.width < _NARROWEST * chord_run(room.chord, _CHORD_EM).width for room in rooms)


# Marks


def _finished(score: Score, line: DrawnLine, bars: range) -> DrawnLine:
    """The line with everything around its notes, the nearest first."""
    draw_touch_signs(line, score, bars)
    for place in bars:
        _mark_breaths(line, score.bars[place], place)
    _write_degrees(line, score, bars)
    draw_note_signs(line, score, bars)
    draw_place_signs(line, score, bars)
    if bars[0] > 0:
        _write_bar_number(line, score.bars[bars[0]].number)
    _write_chords(line, score)
    draw_road(line, score, bars)
    return line


def _mark_breaths(line: DrawnLine, bar: ScoreBar, place: int) -> None:
    for number, note in enumerate(bar.notes):
        if Mark.BREATH in note.marks:
            _draw_breath(line, place, number)


def _draw_breath(line: DrawnLine, place: int, number: int) -> None:
    scale = 1.05
    left, low, wide, high = (size * scale for size in music_box(BREATH))
    end = line.bars[f"b-{place}"].right
    following = [
        shape.box.left for shape in line.shapes if shape.owner == f"n-{place}-{number + 1}"
    ]
    right = min([end, *following]) - 0.3 * SPACE
    bottom = line.staff.top - 0.35 * SPACE
    box = Box(right - wide, bottom - high, right, bottom)
    box = line.cleared(box, down=False, gap=0.2 * SPACE)
    svg = glyph_path(music_glyph(BREATH), box.left - left, box.bottom + low, scale)
    line.add(svg, box, "breath", f"n-{place}-{number}")


def _write_degrees(line: DrawnLine, score: Score, bars: range) -> None:
    """Degrees under their heads, on one baseline."""
    texts = []
    for place in bars:
        for number, note in enumerate(score.bars[place].notes):
            head = line.of(f"n-{place}-{number}", "notehead")
            if note.degree and head:
                wide = text_width(note.degree, _DEGREE_EM)
                texts.append((note.degree, (head.left + head.right - wide) / 2, wide))
    if not texts:
        return
    top = line.staff.bottom + 0.7 * SPACE
    boxes = [Box(left, top, left + wide, top + 0.75 * _DEGREE_EM) for _, left, wide in texts]
    way = line.way_out(boxes, down=True, gap=0.35 * SPACE)
    for (text, left, _), box in zip(texts, boxes, strict=True):
        box = line.cleared(box.lower(way), down=True, gap=0.1 * SPACE)
        line.add(text_run(text, _DEGREE_EM, x=left, y=box.bottom).svg, box, "degree")


def _write_bar_number(line: DrawnLine, number: int) -> None:
    run = text_run(str(number), _NUMBER_EM)
    bottom = line.staff.top - 0.5 * SPACE
    box = Box(0, bottom - 0.7 * _NUMBER_EM, run.width, bottom)
    box = line.cleared(box, down=False, gap=0.3 * SPACE)
    line.add(text_run(str(number), _NUMBER_EM, y=box.bottom).svg, box, "number")


def _write_chords(line: DrawnLine, score: Score) -> None:
    """Chord symbols on one baseline, made narrower where two would touch."""
    up, down = 0.95 * _CHORD_EM, 0.22 * _CHORD_EM
    baseline = line.staff.top - 1.5 * SPACE
    symbols = []
    for name, chord, left, room in _chord_rooms(score, line):
        run = chord_run(chord, _CHORD_EM)
        squeeze = min(1.0, room / run.width)
        box = Box(left, baseline - up, left + run.width * squeeze, baseline + down)
        symbols.append((name, run, squeeze, box))
    boxes = [box for *_, box in symbols]
    baseline += line.way_out(boxes, down=False, gap=0.3 * SPACE)
    for name, run, squeeze, box in symbols:
        across = f" scale({squeeze:.3f} 1)" if squeeze < 1 else ""
        move = f"translate({box.left:.1f} {baseline:.1f}){across}"
        box = box.lower(baseline + down - box.bottom)
        line.add(f'<g transform="{move}">{run.svg}</g>', box, "chord", name)


# The picture


def _cut(line: DrawnLine, end: float) -> DrawnLine:
    """The line with its staff ending at ``end``."""
    shapes = []
    for shape in line.shapes:
        if shape.kind == "barLine":
            continue
        if shape.kind == "line":
            top = shape.box.top
            drawing = f"M0 {top:g} L{end:.1f} {top:g}"
            svg = f'<path d="{drawing}" stroke="#000" stroke-width="{STAFF_LINE:g}"/>'
            shape = DrawnShape(svg, Box(0, top, end, top), "line")
        shapes.append(shape)
    return DrawnLine(shapes, {}, Box(0, line.staff.top, end, line.staff.bottom), line.bars)


def _picture(line: DrawnLine, *, mm: float = MM, names: Mapping[str, str] = NO_NAMES) -> Picture:
    """The line as SVG, cut to what is drawn, ``mm`` millimetres to a unit."""
    box = hull(shape.box for shape in line.shapes)
    left, top = min(0.0, box.left) - EDGE, box.top - EDGE
    wide, high = box.right - left + EDGE, box.bottom - top + EDGE
    paths = "".join(_named(line, names) if names else (shape.svg for shape in line.shapes))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide * mm:.3f}mm" '
        f'height="{high * mm:.3f}mm" viewBox="{left:.1f} {top:.1f} {wide:.1f} {high:.1f}">'
        f"{paths}</svg>"
    )
    heads = [shape.box for shape in line.shapes if shape.kind == "notehead"]
    middles = tuple(((head.left + head.right) / 2 - left) * mm for head in heads)
    edges = [*bar_begins(line).values(), line.staff.right]
    return Picture(
        svg,
        wide * mm,
        high * mm,
        middles,
        tuple(int(name.removeprefix("b-")) for name in line.bars),
        tuple((edge - left) * mm for edge in edges),
    )


def bar_begins(line: DrawnLine) -> dict[str, float]:
    """Where the first note or rest of each bar stands; behind the clef, where one opens the line.

    By the bars' ids; where a bar has neither, it is where the bar begins.
    """
    lefts: dict[str, float] = {}
    for shape in line.shapes:
        if shape.owner.startswith("n-"):
            bar = f"b-{shape.owner.split('-')[1]}"
            lefts[bar] = min(shape.box.left, lefts.get(bar, shape.box.left))
    return {name: lefts.get(name, bar.left) for name, bar in line.bars.items()}


def _named(line: DrawnLine, names: Mapping[str, str]) -> Iterator[str]:
    """The shapes of each thing that has a name as one group, and the others as they are."""
    things: dict[str, list[str]] = {}
    for shape in line.shapes:
        is_named = shape.owner in names and shape.kind != "breath"
        things.setdefault(shape.owner if is_named else "", []).append(shape.svg)
    for owner, shapes in things.items():
        drawing = "".join(shapes)
        name = f" {_NAME_OF[owner[0]]}={quoteattr(names[owner])}" if owner else ""
        yield f"<g{name}>{drawing}</g>" if name else drawing
