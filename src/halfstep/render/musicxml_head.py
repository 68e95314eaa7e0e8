"""What stands before the music in MusicXML? Title, page, player, and the sound of the player.

The player's name is printed at the top left, as parts have it: programs that show one part
leave the name before the staff out.

Sources: MusicXML 4.0 (W3C), with its list of sounds; General MIDI for programs, which
MusicXML counts from 1.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement

from halfstep.render.musicxml_elements import text_child
from halfstep.score import Score

_SOUNDS = {
    0: "keyboard.piano",
    26: "pluck.guitar.electric",
    32: "strings.contrabass",
    40: "strings.violin",
    53: "voice.vocals",
    56: "brass.trumpet.bflat",
    57: "brass.trombone",
    60: "brass.french-horn",
    64: "wind.reed.saxophone.soprano",
    65: "wind.reed.saxophone.alto",
    66: "wind.reed.saxophone.tenor",
    67: "wind.reed.saxophone.baritone",
    71: "wind.reed.clarinet.bflat",
    73: "wind.flutes.flute",
}
"""Sounds of MusicXML by General MIDI program; one that is not listed goes without."""

_STAFF_MM, _STAFF_TENTHS = 7, 40
_PAGE_MM = (297, 210)
_MARGIN_MM = 15
_TITLE_POINTS, _NAME_POINTS = "20", "12"
_NAME_BELOW_MM = 8


def head_elements(root: Element, score: Score) -> None:
    """Everything before the part itself."""
    text_child(SubElement(root, "work"), "work-title", score.title)
    encoding = SubElement(SubElement(root, "identification"), "encoding")
    text_child(encoding, "software", "Halfstep")
    for element in ("print", "accidental", "beam"):
        SubElement(encoding, "supports", element=element, type="yes")
    encoding[1].attrib |= {"attribute": "new-system", "value": "yes"}
    _page(root)
    _credits(root, score)
    _part_list(root, score)


def _tenths(millimetres: float) -> int:
    return round(millimetres * _STAFF_TENTHS / _STAFF_MM)


def _page(root: Element) -> None:
    """The page that the places of title and name are counted on."""
    defaults = SubElement(root, "defaults")
    scaling = SubElement(defaults, "scaling")
    text_child(scaling, "millimeters", _STAFF_MM)
    text_child(scaling, "tenths", _STAFF_TENTHS)
    layout = SubElement(defaults, "page-layout")
    for tag, size_mm in zip(("page-height", "page-width"), _PAGE_MM, strict=True):
        text_child(layout, tag, _tenths(size_mm))
    margins = SubElement(layout, "page-margins", type="both")
    for side in ("left", "right", "top", "bottom"):
        text_child(margins, f"{side}-margin", _tenths(_MARGIN_MM))


def _credits(root: Element, score: Score) -> None:
    high_mm, wide_mm = _PAGE_MM
    top_mm = high_mm - _MARGIN_MM
    if score.title:
        place = {"default-x": _tenths(wide_mm / 2), "default-y": _tenths(top_mm)}
        _credit(root, "title", score.title, place, justify="center", size=_TITLE_POINTS)
    if score.label:
        place = {"default-x": _tenths(_MARGIN_MM), "default-y": _tenths(top_mm - _NAME_BELOW_MM)}
        _credit(root, "part name", score.label, place, justify="left", size=_NAME_POINTS)


def _credit(
    root: Element, kind: str, words: str, place: dict[str, int], *, justify: str, size: str
) -> None:
    credit = SubElement(root, "credit", page="1")
    text_child(credit, "credit-type", kind)
    attributes = {name: str(tenths) for name, tenths in place.items()}
    attributes |= {"font-size": size, "justify": justify, "valign": "top"}
    text_child(credit, "credit-words", words, **attributes)


def _part_list(root: Element, score: Score) -> None:
    part = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    text_child(part, "part-name", score.label)
    instrument = SubElement(part, "score-instrument", id="P1-I1")
    text_child(instrument, "instrument-name", score.label)
    if sound := _SOUNDS.get(score.program):
        text_child(instrument, "instrument-sound", sound)
    midi = SubElement(part, "midi-instrument", id="P1-I1")
    text_child(midi, "midi-channel", 1)
    text_child(midi, "midi-program", score.program + 1)
