"""How is a note marked on the staff? Words and arrows under it, told apart without colour.

Players have their own meanings for lozenges, circles, crosses, wedges, dashes, ticks and
figures at a note (harmonics, open and stopped notes, bowing, accents, fingers), so none of
these is used. A changing note has the word *new* under it. From a note that leads to
another an arrow goes to that note: whole inside the scale, broken where the note is from
outside. The arrow of an enclosure has a foot under each of its two notes.

Conventions
-----------
- All signs stand under the staff, the words on one line, the arrows on the next.
- Places are picture units, y pointing down; an arrow lies around its height.

Sizes: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.render.drawn_line import SPACE, Box, DrawnLine
from halfstep.render.glyphs import text_run, text_width
from halfstep.score import LEADING, Mark, Score, ScoreNote

NEW = "new"
"""The word under a changing note."""

_WORD_EM = 1.65 * SPACE
_STROKE = 0.17 * SPACE
_FOOT = 0.55 * SPACE
_HEAD_LONG, _HEAD_HIGH = 0.75 * SPACE, 0.34 * SPACE
_DASH, _PAUSE = 0.5 * SPACE, 0.34 * SPACE
_ASIDE = 0.3 * SPACE  # between an arrow and the next, which begins under the same head
_SAMPLE = 3.4 * SPACE  # an arrow of a legend


@dataclass(frozen=True, slots=True)
class LeadArrow:
    """An arrow under the staff.

    Attributes
    ----------
    feet : tuple of float
        Where the notes that lead stand, from left to right.
    tip : float
        Where it ends.
    broken : bool
        The note that leads is from outside the scale.
    headed : bool
        False where it goes on on the next line of music.
    """

    feet: tuple[float, ...]
    tip: float
    broken: bool = False
    headed: bool = True

    def box(self, y: float) -> Box:
        """What it covers at a height."""
        return Box(self.feet[0] - _STROKE / 2, y - _FOOT, self.tip, y + _HEAD_HIGH)

    def svg(self, y: float) -> str:
        """The arrow at a height."""
        feet = "".join(f"M{x:.1f} {y - _FOOT:.1f}V{y:.1f}" for x in self.feet)
        end = self.tip - (_HEAD_LONG if self.headed else 0.0)
        strokes = "".join(f"M{a:.1f} {y:.1f}H{b:.1f}" for a, b in self._strokes(end))
        head = self._head(y) if self.headed else ""
        return (
            f'<path d="{feet}{strokes}" fill="none" stroke="#000" '
            f'stroke-width="{_STROKE:g}"/>{head}'
        )

    def _strokes(self, end: float) -> Iterator[tuple[float, float]]:
        left = self.feet[0] - _STROKE / 2
        if not self.broken:
            yield left, end
            return
        while left < end:
            yield left, min(end, left + _DASH)
            left += _DASH + _PAUSE

    def _head(self, y: float) -> str:
        back = self.tip - _HEAD_LONG
        corners = ((back, y - _HEAD_HIGH), (self.tip, y), (back, y + _HEAD_HIGH))
        points = " ".join(f"{across:.1f},{down:.1f}" for across, down in corners)
        return f'<polygon points="{points}" fill="#000"/>'


def sample_line(mark: Mark) -> DrawnLine:
    """The sign of a changing or leading note, by itself."""
    line = DrawnLine()
    if mark is Mark.CHANGING:
        _add_word(line, 0.0, 0.0)
    else:
        feet = (0.0, 0.42 * _SAMPLE) if mark is Mark.ENCLOSES else (0.0,)
        arrow = LeadArrow(feet, _SAMPLE, broken=mark is Mark.LEADS_CHROMATIC)
        line.add(arrow.svg(0.0), arrow.box(0.0), "leading")
    return line


def draw_note_signs(line: DrawnLine, score: Score, bars: range) -> None:
    """The signs of a line of music."""
    notes = [
        (f"n-{place}-{number}", note)
        for place in bars
        for number, note in enumerate(score.bars[place].notes)
    ]
    _draw_words(line, [name for name, note in notes if Mark.CHANGING in note.marks])
    _draw_arrows(line, list(_arrows(line, notes)))


# Words


def _draw_words(line: DrawnLine, names: Sequence[str]) -> None:
    """The word under each head, on one line; where two would touch, one stands lower."""
    wide, right = text_width(NEW, _WORD_EM), line.staff.right
    lefts = [min(middle - wide / 2, right - wide) for middle in _middles(line, names)]
    boxes = [_word_box(left, line.staff.bottom + 0.7 * SPACE) for left in lefts]
    way = line.way_out(boxes, down=True, gap=0.3 * SPACE)
    for box in boxes:
        box = line.cleared(box.lower(way), down=True, gap=0.2 * SPACE)
        _add_word(line, box.left, box.top)


def _word_box(left: float, top: float) -> Box:
    return Box(left, top, left + text_width(NEW, _WORD_EM), top + 0.5 * _WORD_EM)


def _add_word(line: DrawnLine, left: float, top: float) -> None:
    box = _word_box(left, top)
    run = text_run(NEW, _WORD_EM, x=left, y=box.bottom)
    line.add(run.svg, box, "changing")


def _middles(line: DrawnLine, names: Sequence[str]) -> Iterator[float]:
    heads = (line.of(name, "notehead") for name in names)
    yield from ((head.left + head.right) / 2 for head in heads if head)


# Arrows


def _arrows(line: DrawnLine, notes: Sequence[tuple[str, ScoreNote]]) -> Iterator[LeadArrow]:
    """An arrow for each note that leads, and one for the two of an enclosure."""
    struck = [(name, note) for name, note in _struck(notes)]
    place = 0
    while place < len(struck):
        marks = struck[place][1].marks & LEADING
        pair = struck[place : place + 2]
        encloses = all(Mark.ENCLOSES in note.marks for _, note in pair)
        count = 2 if encloses and len(pair) == 2 else 1
        if marks:
            feet = _middles(line, [name for name, _ in struck[place : place + count]])
            goals = list(_middles(line, [name for name, _ in struck[place + count :][:1]]))
            yield LeadArrow(
                tuple(foot + _ASIDE for foot in feet),
                goals[0] - _ASIDE if goals else line.staff.right,
                broken=Mark.LEADS_CHROMATIC in marks,
                headed=bool(goals),
            )
        place += count if marks else 1


def _struck(notes: Sequence[tuple[str, ScoreNote]]) -> Iterator[tuple[str, ScoreNote]]:
    """The notes that are played anew, without rests and what is tied to."""
    tied = False
    for name, note in notes:
        if note.pitch and not tied:
            yield name, note
        tied = Mark.TIE in note.marks


def _draw_arrows(line: DrawnLine, arrows: Sequence[LeadArrow]) -> None:
    """The arrows at one height."""
    y = line.staff.bottom + 0.7 * SPACE + _FOOT
    y += line.way_out([arrow.box(y) for arrow in arrows], down=True, gap=0.3 * SPACE)
    for arrow in arrows:
        line.add(arrow.svg(y), arrow.box(y), "leading")
