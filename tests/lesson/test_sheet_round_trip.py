"""Is a lead sheet the same after it was written as MusicXML and read again?"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from pathlib import Path

import pytest
from hypothesis import given, settings

from halfstep.errors import ReadError
from halfstep.part.written_music import home_key_of
from halfstep.progression.form import played
from halfstep.progression.notations.musicxml_endings import settled_endings
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.services.read_chart import write_chart
from lesson.lesson_files import W3C, musicxml_faults
from reference_files import DATA
from strategies import sheets
from typed_charts import load_sheet

SUFFIXES = {".xml", ".mxl", ".musicxml", ".abc", ".cho", ".crd", ".lab", ".txt"}


def charts_of_others() -> list[Path]:
    """Every file of the reference data that may hold chords."""
    return sorted(path for path in DATA.rglob("*") if path.suffix in SUFFIXES)


def melody(sheet: LeadSheet) -> list[tuple[Fraction, Fraction, str]]:
    """Where each note sounds and for how long, tied ones as one."""
    sung: list[tuple[Fraction, Fraction, str]] = []
    start, tied = Fraction(0), False
    for bar in sheet.bars:
        for note in bar.notes:
            at, beats, text = start + note.at, note.beats, note.pitch.ascii
            if tied:
                at, before, text = sung.pop()
                beats += before
            sung.append((at, beats, text))
            tied = note.tied
        start += bar.beats or bar.meter.bar_beats
    return sung


def page(bar: WrittenBar) -> list[object]:
    """What a bar says; a chord said twice in a row is one, a pickup need not be whole."""
    marks = bar.marks
    said = [next(same) for _, same in groupby(bar.chords, key=lambda chord: chord.symbol)]
    signs = (marks.segno, marks.coda, marks.to_coda, marks.fine, marks.da_capo, marks.dal_segno)
    return [
        bar.number, bar.section, bar.meter, bar.beats or bar.meter.bar_beats, said, bar.key,
        bar.irregular or bar.number == "0", marks.forward, bool(marks.backward),
        marks.ending, signs,
    ]  # fmt: skip


def times(sheet: LeadSheet) -> list[int]:
    """How often each repeated passage is played; in an ending its number says so."""
    counts = []
    ending: tuple[int, ...] = ()
    for bar in sheet.bars:
        marks = bar.marks
        ending = marks.ending or ending
        several = len(ending) > 1 and 0 < marks.backward <= max(ending) + 1
        counts.append(2 if several else marks.backward)
        ending = () if marks.backward or marks.ending_stops else ending
    return counts


def read_again(sheet: LeadSheet, path: Path) -> LeadSheet:
    """The sheet as it is after writing; the schema has nothing against what was written."""
    written = write_chart(sheet, "musicxml")
    text, losses = written.text, written.losses
    assert losses == (
        () if sheet.key else (f"a sheet without a key; {home_key_of(sheet)} is written",)
    )
    path.write_text(text, encoding="utf-8")
    if W3C.is_dir():  # XSD of MusicXML 4.0 (W3C)
        assert musicxml_faults(path) == []
    return load_sheet(str(path))


def order(sheet: LeadSheet) -> list[str] | str:
    """The bars as played, or why they cannot be."""
    try:
        return [bar.label for bar in played(sheet).bars]
    except ReadError as error:
        return error.message


def hold_alike(before: LeadSheet, after: LeadSheet) -> None:
    assert [page(bar) for bar in after.bars] == [page(bar) for bar in before.bars]
    assert times(after) == times(before)
    assert melody(after) == melody(before)
    assert order(after) == order(before)
    assert after.key == home_key_of(before)
    assert (after.title, after.tempo_bpm, after.feel) == (
        before.title,
        before.tempo_bpm,
        before.feel,
    )


@pytest.mark.slow
@settings(deadline=None)
@given(sheets())
def test_a_sheet_is_the_same_after_musicxml(
    tmp_path_factory: pytest.TempPathFactory, sheet: LeadSheet
) -> None:
    """Bars, metres with grouping, keys, signs, chords, melody, tempo and feel come back.

    Its endings are counted as a player does: a second 1st ending would be read as the 2nd.
    """
    path = tmp_path_factory.getbasetemp() / "again.musicxml"
    marks, _ = settled_endings([bar.marks for bar in sheet.bars])
    bars = (bar._replace(marks=m) for bar, m in zip(sheet.bars, marks, strict=True))
    sheet = replace(sheet, bars=tuple(bars))
    hold_alike(sheet, read_again(sheet, path))


@pytest.mark.slow
@pytest.mark.parametrize("path", charts_of_others(), ids=lambda path: path.name)
def test_a_real_chart_is_the_same_after_musicxml(path: Path, tmp_path: Path) -> None:
    """Or it has no chords, and says so in one line."""
    try:
        sheet: LeadSheet | None = load_sheet(str(path))
    except ReadError as error:
        said, sheet = str(error), None
    if sheet is None:
        assert said.startswith(path.name)
        assert "\n" not in said
        return
    hold_alike(sheet, read_again(sheet, tmp_path / "again.musicxml"))
