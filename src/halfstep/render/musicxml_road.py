"""In what order are the bars played, and where do lines begin? Bar lines, signs and breaks.

Conventions
-----------
- Signs that say where to go on stand at the end of their bar, those that are gone to at its
  start; each has a ``sound`` that says the same to a program that plays. The bar of the last
  time needs none: it stands behind a form that is written, and played, once.
- Several segnos have names of their own; D.S. names the last one before it.
- The bracket of an ending turns down where the music goes back or ends, and stays open
  where it goes on.

Source: MusicXML 4.0 (W3C).
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement

from halfstep.render.musicxml_elements import text_child
from halfstep.road_words import LAST_TIME, sign_words
from halfstep.score import Barline, Road, Score, ScoreBar

_BARLINES = {
    Barline.SINGLE: "regular",
    Barline.DOUBLE: "light-light",
    Barline.FINAL: "light-heavy",
}
_GOALS = ("segno", "coda")
_SOUNDS = {
    "segno": ("segno", "segno"),
    "coda": ("coda", "coda"),
    "to coda": ("tocoda", "coda"),
    "fine": ("fine", "yes"),
    "D.C.": ("dacapo", "yes"),
    "D.S.": ("dalsegno", "segno"),
}
"""What a program that plays is told, by the first word of a sign."""


def left_barline(measure: Element, road: Road) -> None:
    """The line before a bar where a repeat or an ending begins."""
    if not (road.forward or road.ending):
        return
    line = SubElement(measure, "barline", location="left")
    text_child(line, "bar-style", "heavy-light" if road.forward else "regular")
    if road.ending:
        SubElement(line, "ending", number=_passes(road.ending), type="start")
    if road.forward:
        SubElement(line, "repeat", direction="forward")


def right_barline(measure: Element, bar: ScoreBar) -> None:
    """The line after a bar where it is no plain one."""
    road = bar.road
    if bar.barline is Barline.SINGLE and not (road.backward or road.ending_stops):
        return
    line = SubElement(measure, "barline", location="right")
    style = "light-heavy" if road.backward else _BARLINES[bar.barline]
    text_child(line, "bar-style", style)
    if road.ending_stops:
        how = "stop" if road.backward or bar.barline is Barline.FINAL else "discontinue"
        SubElement(line, "ending", number=_passes(road.ending_stops), type=how)
    if road.backward:
        repeat = SubElement(line, "repeat", direction="backward")
        if (times := _times(road)) != 2:
            repeat.set("times", str(times))


def _times(road: Road) -> int:
    """How often in all the passage is begun: once more than its ending of several passes."""
    several = max(road.ending_stops) + 1 if len(road.ending_stops) > 1 else 0
    return max(road.backward, several)


def _passes(ending: tuple[int, ...]) -> str:
    return ", ".join(map(str, ending))


def signs_before(measure: Element, score: Score, place: int) -> None:
    """The rehearsal mark of a bar, and the signs that are gone to."""
    road = score.bars[place].road
    if road.section:
        direction = SubElement(measure, "direction", placement="above")
        text_child(SubElement(direction, "direction-type"), "rehearsal", road.section)
    for sign in road.signs:
        if sign in _GOALS:
            direction = SubElement(measure, "direction", placement="above")
            SubElement(SubElement(direction, "direction-type"), sign)
            _sound(direction, score, place, sign)
    if LAST_TIME in road.signs:
        direction = SubElement(measure, "direction", placement="above")
        kind = SubElement(direction, "direction-type")
        text_child(kind, "words", sign_words(LAST_TIME))


def signs_after(measure: Element, score: Score, place: int) -> None:
    """The words at the end of a bar that say where to go on."""
    for sign in score.bars[place].road.signs:
        if sign not in (*_GOALS, LAST_TIME):
            direction = SubElement(measure, "direction", placement="above")
            kind = SubElement(direction, "direction-type")
            text_child(kind, "words", sign_words(sign))
            _sound(direction, score, place, sign)


def _sound(direction: Element, score: Score, place: int, sign: str) -> None:
    attribute, name = _SOUNDS[sign.partition(" al ")[0]]
    segnos = [n for n, bar in enumerate(score.bars[: place + 1]) if "segno" in bar.road.signs]
    if name == "segno" and len(segnos) > 1:
        name = f"segno{len(segnos)}"
    SubElement(direction, "sound", {attribute: name})


def line_starts(score: Score) -> frozenset[int]:
    """The bars, as indices, that begin a new line: after so many, and at every section.

    A pickup does not count. No line is broken before an ending: some programs lose the
    repeat where something stands between two of them, and the bar of the last time is but one.
    """
    starts: set[int] = set()
    filled = 0
    for place, bar in enumerate(score.bars):
        goes_on = bar.road.ending or LAST_TIME in bar.road.signs
        full = filled >= score.bars_a_system and not goes_on
        if filled and (full or bar.road.section):
            starts.add(place)
            filled = 0
        filled += bar.number != 0
    return frozenset(starts)
