"""How is a place of the music marked? A shape under the staff, with a word beside or in it.

The shapes are told apart without colour: a square that is full, half filled or empty, a word
in a frame, a word over dots. Squares stand on one line under the staff, words under that, each
moved down until it touches nothing.

Conventions: places are picture units, y pointing down.

Sizes: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.notation import onsets, sounding_beats
from halfstep.render.drawn_line import SPACE, Box, DrawnLine
from halfstep.render.glyphs import settable, text_run, text_width
from halfstep.score import PlaceSign, Score, ScoreBar, SignShape

SQUARES = frozenset({SignShape.FULL, SignShape.HALF, SignShape.EMPTY})

_EM = 1.65 * SPACE
_SIDE = 1.05 * SPACE
_STROKE = 0.16 * SPACE
_PAD = 0.32 * SPACE
_GAP = 0.35 * SPACE
_HIGH = 0.78 * _EM
_DOTS = f"0.01 {0.42 * SPACE:.1f}"
_SAMPLE_WORD = "word"


def draw_place_signs(line: DrawnLine, score: Score, bars: range) -> None:
    """The signs of a line of music: squares first, so that they stay on one line."""
    signs = [
        (_x(line, score.bars[place], place, sign.at), sign)
        for place in bars
        for sign in score.bars[place].signs
    ]
    squares = [(x, sign) for x, sign in signs if sign.shape in SQUARES]
    top = line.staff.bottom + 0.9 * SPACE
    boxes = [_box(line, sign, x, top) for x, sign in squares]
    way = line.way_out(boxes, down=True, gap=_GAP)
    for (_, sign), box in zip(squares, boxes, strict=True):
        _draw(line, sign, line.cleared(box.lower(way), down=True, gap=0.3 * _GAP))
    for x, sign in signs:
        if sign.shape not in SQUARES:
            _draw(line, sign, line.cleared(_box(line, sign, x, top), down=True, gap=_GAP))


def sign_sample(shape: SignShape) -> DrawnLine:
    """A sign by itself."""
    line = DrawnLine(staff=Box(0.0, 0.0, 100 * SPACE, 0.0))
    sign = PlaceSign(Fraction(0), shape, "" if shape in SQUARES else _SAMPLE_WORD)
    _draw(line, sign, _box(line, sign, 0.0, 0.0))
    return line


def _box(line: DrawnLine, sign: PlaceSign, x: float, top: float) -> Box:
    """What a sign covers at a height, kept inside the line of music."""
    wide = _wide(sign)
    left = max(line.staff.left, min(x, line.staff.right - wide))
    return Box(left, top, left + wide, top + _high(sign))


def _wide(sign: PlaceSign) -> float:
    word = text_width(settable(sign.word), _EM) if sign.word else 0.0
    if sign.shape not in SQUARES:
        return word + 2 * _PAD
    return _SIDE + (word + 1.2 * _PAD if word else 0.0)


def _high(sign: PlaceSign) -> float:
    return _SIDE if sign.shape in SQUARES else _HIGH + 2 * _PAD


def _draw(line: DrawnLine, sign: PlaceSign, box: Box) -> None:
    shape = _square(sign, box) if sign.shape in SQUARES else _around(sign, box)
    line.add(shape, box, "sign", str(sign.shape))


def _square(sign: PlaceSign, box: Box) -> str:
    """A square, and its word to the right."""
    inset, side = _STROKE / 2, _SIDE - _STROKE
    frame = (
        f'<rect x="{box.left + inset:.1f}" y="{box.top + inset:.1f}" width="{side:.1f}" '
        f'height="{side:.1f}" fill="none" stroke="#000" stroke-width="{_STROKE:g}"/>'
    )
    share = {SignShape.FULL: 1.0, SignShape.HALF: 0.5, SignShape.EMPTY: 0.0}[sign.shape]
    inside = (
        f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{_SIDE * share:.1f}" '
        f'height="{_SIDE:.1f}" fill="#000"/>'
    )
    word = _word(sign, box.left + _SIDE + 1.2 * _PAD, box.bottom - 0.1 * SPACE)
    return frame + (inside if share else "") + word


def _around(sign: PlaceSign, box: Box) -> str:
    """A word in a frame, or over dots."""
    word = _word(sign, box.left + _PAD, box.bottom - 1.25 * _PAD)
    if sign.shape is SignShape.FRAMED:
        return (
            f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.right - box.left:.1f}" '
            f'height="{box.bottom - box.top:.1f}" fill="none" stroke="#000" '
            f'stroke-width="{_STROKE:g}"/>{word}'
        )
    y = box.bottom - 0.3 * _PAD
    return (
        f'{word}<path d="M{box.left + _PAD:.1f} {y:.1f}H{box.right - _PAD:.1f}" fill="none" '
        f'stroke="#000" stroke-width="{1.3 * _STROKE:g}" stroke-linecap="round" '
        f'stroke-dasharray="{_DOTS}"/>'
    )


def _word(sign: PlaceSign, x: float, y: float) -> str:
    return text_run(settable(sign.word), _EM, x=x, y=y).svg if sign.word else ""


# Where a place lies


def _x(line: DrawnLine, bar: ScoreBar, place: int, at: Fraction) -> float:
    """Where a place of a bar lies: at what stands there, else between its neighbours."""
    before, after = (0.0, 0.0), (0.0, 0.0)
    points = sorted(_points(line, bar, place))
    for point in points:
        if point[0] <= at:
            before = point
    after = next(point for point in points if point[0] >= at)
    if after[0] == before[0]:
        return before[1]
    share = (float(at) - before[0]) / (after[0] - before[0])
    return before[1] + share * (after[1] - before[1])


def _points(line: DrawnLine, bar: ScoreBar, place: int) -> Iterator[tuple[float, float]]:
    """Places of a bar that are drawn: its notes, its chords, and its edges."""
    box = line.bars[f"b-{place}"]
    yield float(sounding_beats(bar)), box.right
    boxes = [(0.0, box.left + 2 * SPACE)]
    for number, chord in enumerate(bar.chords):
        left = line.chord_lefts.get(f"c-{place}-{number}")
        if left is not None:
            boxes.append((float(chord.at), left))
    for number, onset in enumerate(onsets(bar)):
        head = line.of(f"n-{place}-{number}", "notehead")
        if head:
            boxes.append((float(onset), head.left))
    yield from dict(boxes).items()
