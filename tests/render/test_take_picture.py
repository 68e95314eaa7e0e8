"""The picture of a take: bars where the notes are, nothing lost between rows and pages.

Sources: SVG 1.1 and XML 1.0 for the picture, Portable Network Graphics (W3C) for its
header, ISO 216 for the size of A4.
"""

from __future__ import annotations

import re
import struct
from itertools import combinations
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.pitch import parse_pitch
from halfstep.render import take_picture as module
from halfstep.render.page_file import png_bytes
from halfstep.render.take_picture import (
    PictureNote,
    TakePicture,
    clock_text,
    take_svgs,
)
from halfstep.render.vector_page import VectorPage

SVG = "{http://www.w3.org/2000/svg}"
NAMES = ["C4", "D4", "Eb4", "F#4", "G4", "B4", "C5", "Bb5"]


def note(
    onset_s: float, held_s: float, name: str, cents: float = 0, sure: float = 1
) -> PictureNote:
    return PictureNote(
        onset_s=onset_s,
        offset_s=onset_s + held_s,
        pitch=parse_pitch(name),
        cents=cents,
        certainty=sure,
    )


def picture(*notes: PictureNote, length_s: float = 10.0, title: str = "Made up") -> TakePicture:
    return TakePicture(title, ("Flute · some notes",), length_s, notes)


def bars(svg: str) -> list[dict[str, float]]:
    """The rectangles of notes, with those of the legend left out."""
    rectangles = [
        e.attrib for e in ElementTree.fromstring(svg).iter(f"{SVG}rect") if "rx" in e.attrib
    ]
    keys = ("x", "y", "width", "height", "fill-opacity")
    return [{key: float(rectangle[key]) for key in keys} for rectangle in rectangles][:-3]


def test_a_bar_lies_where_its_note_is_in_time() -> None:
    """Ten seconds fill the row, so half as late is half as far."""
    (svg,) = take_svgs(picture(note(0, 1, "C4"), note(2, 0.5, "C4"), note(4, 2, "C4")))
    first, second, third = bars(svg)
    assert third["x"] - first["x"] == pytest.approx(2 * (second["x"] - first["x"]), abs=2)
    assert third["width"] == pytest.approx(2 * first["width"], abs=2)
    assert first["y"] == second["y"] == third["y"]


def test_a_higher_note_lies_higher_and_a_semitone_is_a_semitone() -> None:
    (svg,) = take_svgs(picture(note(0, 1, "C4"), note(1, 1, "C#4"), note(2, 1, "D4")))
    low, middle, high = (bar["y"] for bar in bars(svg))
    assert low - middle == pytest.approx(middle - high, abs=1.5)
    assert low - middle > 90


def test_cents_move_a_bar_by_their_share_of_a_semitone() -> None:
    (svg,) = take_svgs(picture(note(0, 1, "C4"), note(1, 1, "C4", 50), note(2, 1, "C#4")))
    plain, sharp, above = (bar["y"] for bar in bars(svg))
    assert plain - sharp == pytest.approx((plain - above) / 2, abs=1.5)


def test_the_less_certain_the_fainter() -> None:
    (svg,) = take_svgs(picture(*(note(n, 1, "C4", 0, 1 - n / 10) for n in range(6))))
    shown = [bar["fill-opacity"] for bar in bars(svg)]
    assert shown == sorted(shown, reverse=True)
    assert shown[0] == 1
    assert shown[0] - shown[-1] > 0.5
    assert min(shown) >= 0.1


def test_a_note_over_the_end_of_a_row_goes_on_in_the_next() -> None:
    (svg,) = take_svgs(picture(note(9, 2, "C4"), length_s=20))
    first, rest = bars(svg)
    assert first["width"] == pytest.approx(rest["width"], abs=2)
    assert rest["y"] > first["y"]
    assert rest["x"] < first["x"]


@pytest.mark.parametrize("length_s", [3, 5, 5.2, 60, 179, 200, 900])
def test_every_note_is_drawn_on_one_of_the_pages(length_s: float) -> None:
    notes = [note(n + 0.1, 0.3, NAMES[n % len(NAMES)]) for n in range(int(length_s))]
    svgs = take_svgs(picture(*notes, length_s=length_s))
    assert sum(len(bars(svg)) for svg in svgs) == len(notes)
    for svg in svgs:
        root = ElementTree.fromstring(svg)
        assert root.get("width") == "210mm"
        assert float(root.get("height", "").removesuffix("mm")) <= 297
    times = [re.findall(r"\d+:\d\d\.\d\d ", svg) for svg in svgs]
    assert sum(map(len, times)) == len(notes)


def pages_of(take: TakePicture, patch: pytest.MonkeyPatch) -> list[VectorPage]:
    """The pages as they were set."""
    pages: list[VectorPage] = []

    def kept() -> VectorPage:
        pages.append(VectorPage())
        return pages[-1]

    patch.setattr(module, "VectorPage", kept)
    take_svgs(take)
    return pages


def texts(take: TakePicture, patch: pytest.MonkeyPatch) -> list[list[str]]:
    """What stands on each page."""
    return [[text.text for text in page.texts] for page in pages_of(take, patch)]


def test_several_pages_say_how_much_each_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    notes = [note(n, 0.5, NAMES[n % len(NAMES)]) for n in range(400)]
    pages = texts(picture(*notes, length_s=400), monkeypatch)
    ranges = [
        re.search(r"(\d+:\d\d) to (\d+:\d\d) of 6:40, page (\d)", "\n".join(p)) for p in pages
    ]
    spans = [match.groups() for match in ranges if match]
    assert len(spans) == len(pages) > 1
    assert spans[0][0] == "0:00"
    assert spans[-1][1] == "6:40"
    assert [end for _, end, _ in spans[:-1]] == [start for start, _, _ in spans[1:]]


def test_seconds_and_notes_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    (page,) = texts(
        picture(note(0, 1, "F#4"), note(2, 0.02, "A4"), note(2.05, 1, "B4")), monkeypatch
    )
    assert {"0:00", "0:05", "0:10", "G4", "A4", "F♯4", "B4", "certainty"} <= set(page)


@settings(max_examples=25)
@given(
    st.lists(
        st.tuples(st.floats(0.02, 3), st.sampled_from(NAMES), st.floats(-50, 50)),
        min_size=1,
        max_size=40,
    )
)
def test_no_two_texts_touch_and_all_stay_on_the_page(gaps: list[tuple[float, str, float]]) -> None:
    now, notes = 0.0, []
    for gap_s, name, cents in gaps:
        notes.append(note(now, 0.9 * gap_s, name, cents))
        now += gap_s
    with pytest.MonkeyPatch.context() as patch:
        pages = pages_of(picture(*notes, length_s=now), patch)
    for page in pages:
        for one, other in combinations(page.texts, 2):
            assert not one.box.meets(other.box, gap=-60.0), (one, other)
        assert all(600 < text.box.left < text.box.right < 20600 for text in page.texts)


def test_the_picture_is_well_formed_whatever_the_title() -> None:
    for title in ('a < b & "c"', "bell\u0007", "\U0001f3b7 take", "t" * 300, "", "\u202e"):
        (svg,) = take_svgs(picture(note(0, 1, "C4"), title=title))
        assert ElementTree.fromstring(svg).find(f"{SVG}title") is not None


def test_the_raster_has_the_size_of_the_page_and_the_bars_in_it() -> None:
    (svg,) = take_svgs(picture(note(0, 5, "C4"), length_s=5))
    data = png_bytes(svg)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", data[16:24])
    root = ElementTree.fromstring(svg)
    assert wide == pytest.approx(210 / 25.4 * 200, abs=1)
    assert high == pytest.approx(float(root.get("height", "0mm")[:-2]) / 25.4 * 200, abs=1.5)
    (empty,) = take_svgs(picture(length_s=5))
    assert len(data) != len(png_bytes(empty))


def test_the_same_take_gives_the_same_bytes() -> None:
    take = picture(note(0, 1, "C4"), note(1, 1, "Eb4", -20, 0.6))
    assert take_svgs(take) == take_svgs(take)
    assert png_bytes(take_svgs(take)[0]) == png_bytes(take_svgs(take)[0])


@pytest.mark.parametrize(
    ("time_s", "digits", "text"),
    [(0, 0, "0:00"), (59.6, 0, "1:00"), (59.999, 2, "1:00.00"), (3661.5, 1, "61:01.5")],
)
def test_a_time_is_minutes_and_seconds(time_s: float, digits: int, text: str) -> None:
    assert clock_text(time_s, digits) == text
