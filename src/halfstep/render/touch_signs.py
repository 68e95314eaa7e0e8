"""How are loudness, a scoop and a fall drawn? Around the heads that the engraver has placed.

Slurs, accents and parentheses are the engraver's own. A scoop is a curve that rises into its head
from the left, a fall one that leaves it to the right and downwards; letters of loudness stand
under the staff.

Conventions
-----------
- A curve begins a little way from its head, before its accidental or behind its dots. It stays at
  its head: where it would touch a neighbour it is made narrower, or stands a little lower.
- Places are picture units, y pointing down.

Sources: SMuFL 1.4 for the letters. Sizes: common practice, no source.
"""

from __future__ import annotations

from halfstep.render.drawn_line import SPACE, Box, DrawnLine, hull
from halfstep.render.engraver import HEAD_BRACKET
from halfstep.render.glyphs import glyph_path, music_box, music_glyph
from halfstep.score import Dynamic, Mark, Score

_DYNAMICS = {
    Dynamic.PIANO: 0xE520, Dynamic.MEZZO_PIANO: 0xE52C, Dynamic.MEZZO_FORTE: 0xE52D,
    Dynamic.FORTE: 0xE522,
}  # fmt: skip
_SCALE = 0.72  # of a music font whose staff space is 250 units
_STROKE = 0.16 * SPACE
_GAP = 0.2 * SPACE
_WIDTHS = tuple(tenths * 0.1 * SPACE for tenths in range(11, 1, -1))
_DROPS = tuple(thirds * 0.3 * SPACE for thirds in range(9))
_HIGH = 1.1 * SPACE
_AT_HEAD = frozenset({"notehead", "accid", "dots", HEAD_BRACKET})
_LEDGERS = frozenset({"ledgerLines above", "ledgerLines below"})


def draw_touch_signs(line: DrawnLine, score: Score, bars: range) -> None:
    """The scoops and falls of a line of music, and how loud it is."""
    for place in bars:
        for number, note in enumerate(score.bars[place].notes):
            name = f"n-{place}-{number}"
            if Mark.SCOOP in note.marks:
                _draw_bend(line, name, rises=True)
            if Mark.FALL in note.marks:
                _draw_bend(line, name, rises=False)
    for place in bars:
        for number, note in enumerate(score.bars[place].notes):
            if note.dynamic:
                _draw_dynamic(line, f"n-{place}-{number}", note.dynamic)


def bend_sample(mark: Mark) -> DrawnLine:
    """A scoop or a fall by itself."""
    line = DrawnLine()
    box = Box(0.0, 0.0, _WIDTHS[0], _HIGH)
    line.add(_curve(box, rises=mark is Mark.SCOOP), box, "bend")
    return line


def _draw_bend(line: DrawnLine, name: str, *, rises: bool) -> None:
    head = line.of(name, "notehead")
    if head is None:
        return
    own = [s.box for s in line.shapes if s.owner == name and s.kind in _AT_HEAD]
    ledgers = [s.box for s in line.shapes if s.kind in _LEDGERS and s.box.meets(head, gap=_GAP)]
    around = hull([*own, *ledgers])
    top = (head.top + head.bottom) / 2 + 0.1 * SPACE
    boxes = [_beside(around, top + drop, wide, rises=rises) for drop in _DROPS for wide in _WIDTHS]
    free = (box for box in boxes if not line.touched(box, gap=0.0))
    box = next(free, None) or line.cleared(boxes[-1], down=True, gap=0.0)
    line.add(_curve(box, rises=rises), box, "bend", name)


def _beside(around: Box, top: float, wide: float, *, rises: bool) -> Box:
    """The room of a curve before a head, or behind it."""
    left = around.left - _GAP - wide if rises else around.right + _GAP
    return Box(left, top, left + wide, top + _HIGH)


def _curve(box: Box, *, rises: bool) -> str:
    """Steep far from the head, level at it."""
    far, near = (box.left, box.right) if rises else (box.right, box.left)
    return (
        f'<path d="M{far:.1f} {box.bottom:.1f}Q{far:.1f} {box.top:.1f} {near:.1f} {box.top:.1f}" '
        f'fill="none" stroke="#000" stroke-width="{_STROKE:g}"/>'
    )


def _draw_dynamic(line: DrawnLine, name: str, dynamic: Dynamic) -> None:
    head = line.of(name, "notehead")
    if head is None:
        return
    left, low, wide, high = (size * _SCALE for size in music_box(_DYNAMICS[dynamic]))
    start = (head.left + head.right - wide) / 2
    top = line.staff.bottom + 0.6 * SPACE
    box = Box(start, top, start + wide, top + high)
    box = line.cleared(box, down=True, gap=_GAP)
    glyph = music_glyph(_DYNAMICS[dynamic])
    line.add(glyph_path(glyph, box.left - left, box.bottom + low, _SCALE), box, "dynamic", name)
