"""What does a student take home on paper, and what does the teacher keep?

The page is `handout.typ`, a template; this module says what stands on it and hands it
over as data. From top to bottom: the chords as a grid of bars, each chord with its
notes and scale, what changes from chord to chord, the steps as engraved music. A teacher's
sheet has reasons in the place of staves, and what to watch for in the place of music.

A step stays on one page wherever it fits on one; a longer one begins on a left page, so
that it lies open. Music is set in the open way, or closer where that saves a page.

Conventions
-----------
- All pitches and names are *written*: what the player reads.
- Lengths on the page are millimetres, places in a bar quarter-note beats.
- The same handout gives the same bytes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import KW_ONLY, asdict, dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import zip_longest
from pathlib import Path
from typing import Any

from halfstep.instruments import Clef
from halfstep.pitch import Pitch
from halfstep.render.picture_words import line_alts
from halfstep.render.print_setting import USUAL, PrintSetting, setting_data
from halfstep.render.score_pictures import (
    STAFF_MM,
    Picture,
    draw_scale,
    draw_signature,
    draw_systems,
    fewest_lines,
)
from halfstep.render.typesetting import (
    PAPERS,
    Paper,
    PaperName,
    page_count,
    picture_data,
    typeset,
)
from halfstep.score import Barline, ChordText, Score


class Detail(StrEnum):
    """What is said about a chord and a change."""

    NAMES = "names"
    """Notes, and the name of the scale."""
    STAVES = "staves"
    """That, with the scale on a staff."""
    REASONS = "reasons"
    """Everything in words: for the teacher."""


OPEN_STAFF_MM, CLOSE_STAFF_MM = STAFF_MM, 6.0
"""Heights of a staff; the smaller one only where it saves a page. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class HandoutBar:
    """One bar of the grid.

    Attributes
    ----------
    number : int
        The form's bar number; 0 for a pickup, which stands alone before bar 1.
    beats : Fraction
        The bar's length in quarter notes.
    chords : tuple of ChordText
        Each with its place in ``at``. None at all means that the chord before holds on.
    section : str
        A rehearsal letter or word; it starts a new line of the grid.
    note : str
        A few words beside the bar number, such as a new meter.
    barline : Barline
        At the end of the bar.
    places : tuple of str
        Where each chord begins, in words (``beat 3``); empty prints none.
    functions : tuple of str
        What each chord does, as a numeral; empty prints none.
    """

    number: int
    beats: Fraction
    chords: tuple[ChordText, ...]
    _: KW_ONLY
    section: str = ""
    note: str = ""
    barline: Barline = Barline.SINGLE
    places: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NamedTone:
    """A note of a chord in words: its name (``E♭``) and its degree (``♭7``)."""

    name: str
    degree: str


@dataclass(frozen=True, slots=True)
class ScaleTone:
    """A note of a scale on the staff, with its degree and whether the chord has it."""

    pitch: Pitch
    degree: str
    in_chord: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ChordEntry:
    """One distinct chord with what to play on it.

    Attributes
    ----------
    chord : ChordText
    tones : tuple of NamedTone
        The chord's notes, lowest first.
    scale : str
        The scale's name (``D Mixolydian``).
    scale_tones : tuple of ScaleTone
        In rising order; empty draws no staff.
    parent : str
        Its parent key in words (``parent key G major, one sharp``).
    parent_fifths : int or None
        The signature drawn beside it; None draws none.
    reason : str
        Why this scale, in one sentence.
    others : tuple of str
        Names of other scales that serve.
    bars : tuple of str
        Where the chord begins, as printed (``5 beat 3``).
    """

    chord: ChordText
    tones: tuple[NamedTone, ...]
    scale: str
    scale_tones: tuple[ScaleTone, ...]
    parent: str
    parent_fifths: int | None
    reason: str
    others: tuple[str, ...] = ()
    bars: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ColourEntry:
    """A scale that colours the whole chart: its name and its notes in rising order."""

    scale: str
    tones: tuple[ScaleTone, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeEntry:
    """What happens between two neighbouring chords, wherever they meet.

    Attributes
    ----------
    bars : tuple of str
        Where the second chord begins, as printed (``5 beat 3``).
    before, after : ChordText
    instruction : str
        The change in one line: ``only the C♯ becomes C``.
    stays, half_steps, whole_steps, new, renamed : tuple of str
        Notes as printed (``G``), moves as printed (``C♯ → C``).
    keeps : bool
        True where every note stays; such changes are named together.
    """

    bars: tuple[str, ...]
    before: ChordText
    after: ChordText
    instruction: str
    stays: tuple[str, ...] = ()
    half_steps: tuple[str, ...] = ()
    whole_steps: tuple[str, ...] = ()
    new: tuple[str, ...] = ()
    renamed: tuple[str, ...] = ()
    keeps: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntry:
    """One exercise: what to do, and the music.

    Attributes
    ----------
    number : int
        Printed where it is 1 or more.
    title, task : str
        Its name, and one or two sentences of what to do.
    score : Score
    manner : str
        Tempo and feel (``♩ = 112 · swing``).
    notices : tuple of str
        What the player should know about this version of it.
    explained : tuple of str
        Sentences on what is in the music, the most telling first; a student's sheet has
        that one.
    """

    number: int
    title: str
    task: str
    score: Score
    manner: str = ""
    notices: tuple[str, ...] = ()
    explained: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remark:
    """What to watch for in one player: who, and sentences in the names that they read."""

    player: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WatchEntry:
    """A step on the teacher's sheet: its heading, the task, and remarks on players."""

    heading: str
    task: str
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class LegendEntry:
    """A mark and its meaning; the mark as a text sign, a picture, or inside the words."""

    text: str
    sign: str = ""
    picture: Picture | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Handout:
    """Everything on the pages, in the order it stands there.

    Attributes
    ----------
    title, player : str
        The piece, and who plays it (``Alto saxophone``).
    facts : str
        One line (``E major · 4/4 · ♩ = 120 · swing · intermediate``).
    clef : Clef
        Of the scale pictures and signatures.
    grid : tuple of HandoutBar
    chords : tuple of ChordEntry
    colours : tuple of ColourEntry
        Scales that lie over all the chords.
    changes : tuple of ChangeEntry
    steps : tuple of StepEntry
    legend : tuple of LegendEntry
    care : tuple of str
        Cautions, a line each.
    watch : tuple of WatchEntry
        What to watch for, step by step.
    readers : tuple of str
        Who reads what, a line each.
    bars_a_line : int
        Bars on a line of the grid; eight show a long form section by section.
    detail : Detail
    may_close : bool
        Music may be set closer where that saves a page.
    has_example : bool
        The first of the steps is a line to hear before them.
    setting : PrintSetting
        How large, and on which tint; a staff that it names is kept on all pages.
    """

    title: str
    player: str
    facts: str
    clef: Clef
    grid: tuple[HandoutBar, ...]
    chords: tuple[ChordEntry, ...] = ()
    colours: tuple[ColourEntry, ...] = ()
    changes: tuple[ChangeEntry, ...] = ()
    steps: tuple[StepEntry, ...] = ()
    legend: tuple[LegendEntry, ...] = ()
    care: tuple[str, ...] = ()
    watch: tuple[WatchEntry, ...] = ()
    readers: tuple[str, ...] = ()
    bars_a_line: int = 4
    detail: Detail = Detail.STAVES
    may_close: bool = True
    has_example: bool = False
    setting: PrintSetting = USUAL


def write_handout(path: Path, handout: Handout, *, paper: PaperName = "a4") -> None:
    """Write the handout as a PDF file."""
    path.write_bytes(handout_pdf(handout, paper=paper))


def handout_pdf(handout: Handout, *, paper: PaperName = "a4") -> bytes:
    """The handout as a tagged PDF (PDF/UA-1); equal handouts give equal bytes.

    Parameters
    ----------
    handout : Handout
    paper : {'a4', 'letter'}
    """
    named_mm = handout.setting.staff_mm
    page = _page_data(handout, PAPERS[paper], named_mm or OPEN_STAFF_MM)
    pdf = typeset(_TEMPLATE, page)
    pages = page_count(pdf)
    if pages == 1 or named_mm or not (handout.steps and handout.may_close):
        return pdf
    if not _may_be_shorter(page, pages, handout, PAPERS[paper]):
        return pdf
    close = typeset(_TEMPLATE, _page_data(handout, PAPERS[paper], CLOSE_STAFF_MM))
    return close if page_count(close) < pages else pdf


_TEMPLATE = "handout.typ"
_SURELY = 0.97  # smaller than smaller staves are, so that no page that they save is missed


def _may_be_shorter(page: dict[str, Any], pages: int, handout: Handout, paper: Paper) -> bool:
    """Whether smaller staves may save a page, found without engraving the music anew.

    They may where they put more bars on a line, or where the pictures that are there would save
    one if they were printed smaller.
    """
    fewer = (
        fewest_lines(entry.score, width_mm=paper.text_width_mm, staff_mm=CLOSE_STAFF_MM)
        < len(step["systems"])
        for entry, step in zip(_set_as_wished(handout).steps, page["steps"], strict=True)
    )
    return any(fewer) or page_count(typeset(_TEMPLATE, _printed_smaller(page))) < pages


def _printed_smaller(page: dict[str, Any]) -> dict[str, Any]:
    """The same page with smaller pictures of the music."""
    return page | {"steps": [_step_smaller(step) for step in page["steps"]]}


def _step_smaller(step: dict[str, Any]) -> dict[str, Any]:
    scale = _SURELY * CLOSE_STAFF_MM / OPEN_STAFF_MM
    systems = [{**system, "width_mm": scale * system["width_mm"]} for system in step["systems"]]
    return {**step, "systems": systems}


# ---------------------------------------------------------------------- data for the page

_PLACES_NAMED = 6
_LEAST_GRID = 2  # bars on a line of chords


def _page_data(handout: Handout, paper: Paper, staff_mm: float = OPEN_STAFF_MM) -> dict[str, Any]:
    handout = _set_as_wished(handout)
    paper = handout.setting.on(paper)
    return {
        "title": handout.title.strip() or handout.player or "Lesson",
        "player": handout.player,
        "facts": handout.facts,
        "paper": asdict(paper),
        "grid": [[_bar_data(cell) for cell in line] for line in _grid_lines(handout)],
        "chords": [_chord_data(entry, handout) for entry in handout.chords],
        "colours": [_colour_data(entry, handout) for entry in handout.colours],
        "twice": _with_two_scales(handout),
        "changes": [_change_data(entry) for entry in handout.changes if not entry.keeps],
        "keeps": [_change_data(entry) for entry in handout.changes if entry.keeps],
        "steps": [_step_data(entry, handout, paper, staff_mm) for entry in handout.steps],
        "has_example": handout.has_example,
        "legend": [legend_data(entry) for entry in handout.legend],
        "care": list(handout.care),
        "watch": [_watch_data(entry) for entry in handout.watch],
        "readers": list(handout.readers),
        "detail": handout.detail.value,
        "print": setting_data(handout.setting),
    }


def _set_as_wished(handout: Handout) -> Handout:
    """The handout with as many bars on its lines as its setting wants."""
    setting, bars = handout.setting, handout.setting.bars_a_line
    if bars is None:
        return handout
    return replace(
        handout,
        bars_a_line=min(handout.bars_a_line, max(_LEAST_GRID, bars)),
        steps=tuple(replace(entry, score=setting.on_lines(entry.score)) for entry in handout.steps),
    )


@dataclass(frozen=True, slots=True)
class _GridCell:
    """A bar in its place on a line: what it prints, which may be a repeat sign."""

    bar: HandoutBar
    chords: tuple[ChordText, ...]
    simile: bool


_Line = list["_GridCell | None"]


def _grid_lines(handout: Handout) -> Iterator[_Line]:
    """The grid in lines of equal length, blank cells as None."""
    across = handout.bars_a_line
    before: tuple[ChordText, ...] = ()
    for line in _broken(handout.grid, across):
        cells: _Line = []
        for bar in line:
            chords = bar.chords or _holding(before)
            cells.append(_GridCell(bar, chords, bool(cells) and _repeats(before, chords)))
            before = chords
        blank: _Line = [None] * (across - len(cells))
        yield blank + cells if line[0].number == 0 else cells + blank


def _broken(bars: Iterable[HandoutBar], across: int) -> Iterator[list[HandoutBar]]:
    """Bars broken into lines: after ``across`` bars, a pickup, or before a section."""
    line: list[HandoutBar] = []
    for bar in bars:
        full = len(line) == across or (line and line[0].number == 0)
        if full or (line and bar.section):
            yield line
            line = []
        line.append(bar)
    if line:
        yield line


def _holding(chords: tuple[ChordText, ...]) -> tuple[ChordText, ...]:
    """What sounds at the end of a bar, as it stands in a bar of its own."""
    return tuple(replace(chord, at=Fraction(0)) for chord in chords[-1:])


def _repeats(before: tuple[ChordText, ...], chords: tuple[ChordText, ...]) -> bool:
    """True where a bar of one chord says again what the bar before it said."""
    return len(chords) == 1 and before == chords


def _bar_data(cell: _GridCell | None) -> dict[str, Any] | None:
    if cell is None:
        return None
    bar = cell.bar
    return {
        "number": bar.number,
        "section": bar.section,
        "note": bar.note,
        "end": bar.barline.value,
        "simile": cell.simile,
        "chords": [
            {**_symbol(chord), "at": float(chord.at / bar.beats), "place": place, "does": numeral}
            for chord, place, numeral in _placed_chords(cell)
        ],
    }


def _with_two_scales(handout: Handout) -> list[str]:
    """Chords that have a card for each of their scales: only these must say where."""
    counts = Counter(_spoken(entry.chord) for entry in handout.chords)
    return [name for name, count in counts.items() if count > 1]


def _placed_chords(cell: _GridCell) -> list[tuple[ChordText, str, str]]:
    """The chords of a cell in order, each with its place in words and its numeral."""
    bar = cell.bar
    rows = zip_longest(cell.chords, bar.places, bar.functions, fillvalue="")
    chords = [(c, str(p), str(f)) for c, p, f in rows if isinstance(c, ChordText)]
    return sorted(chords, key=lambda row: row[0].at)


def _symbol(chord: ChordText) -> dict[str, str]:
    return {
        "root": chord.root,
        "quality": chord.quality,
        "extension": chord.extension,
        "bass": chord.bass,
        "plain": chord.plain,
    }


def _spoken(chord: ChordText) -> str:
    """A symbol as one plain text."""
    if not chord.root:
        return chord.plain
    bass = f"/{chord.bass}" if chord.bass else ""
    return f"{chord.root}{chord.quality}{chord.extension}{bass}"


def _chord_data(entry: ChordEntry, handout: Handout) -> dict[str, Any]:
    staves, reasons = (handout.detail is level for level in (Detail.STAVES, Detail.REASONS))
    return {
        "chord": _symbol(entry.chord),
        "name": _spoken(entry.chord),
        "tones": [_named(tone.name, tone.degree, strong=True) for tone in entry.tones],
        "scale": entry.scale,
        "scale_tones": _scale_names(entry.scale_tones),
        "staff": _scale_picture(entry, handout.clef) if staves else None,
        "parent": entry.parent,
        "signature": _signature(entry, handout.clef) if reasons else None,
        "reason": entry.reason,
        "others": list(entry.others),
        "bars": _places(entry.bars),
    }


def _colour_data(entry: ColourEntry, handout: Handout) -> dict[str, Any]:
    alt = f"{entry.scale} on the staff"
    has_staff = handout.detail is Detail.STAVES
    return {
        "scale": entry.scale,
        "scale_tones": _scale_names(entry.tones),
        "staff": _staff_of(entry.tones, handout.clef, alt) if has_staff else None,
    }


def _scale_names(tones: Iterable[ScaleTone]) -> list[dict[str, Any]]:
    return [_named(str(tone.pitch.name), tone.degree, strong=tone.in_chord) for tone in tones]


def _places(bars: tuple[str, ...]) -> str:
    """Places in the form in one line; a chord that is everywhere names the first few."""
    named = ", ".join(bars[:_PLACES_NAMED])
    return f"{named} …" if len(bars) > _PLACES_NAMED else named


def _named(name: str, degree: str, *, strong: bool) -> dict[str, Any]:
    return {"name": name, "degree": degree, "strong": strong}


def _scale_picture(entry: ChordEntry, clef: Clef) -> dict[str, Any] | None:
    alt = f"{entry.scale} on the staff, for {_spoken(entry.chord)}"
    return _staff_of(entry.scale_tones, clef, alt) if entry.scale_tones else None


def _staff_of(tones: Sequence[ScaleTone], clef: Clef, alt: str) -> dict[str, Any]:
    """A scale on a staff without a signature, so that every accidental is seen."""
    pitches = tuple(tone.pitch for tone in tones)
    picture = draw_scale(pitches, clef, 0, open_heads=tuple(tone.in_chord for tone in tones))
    return {**picture_data(picture, alt), "heads_mm": list(picture.heads_mm)}


def _signature(entry: ChordEntry, clef: Clef) -> dict[str, Any] | None:
    if entry.parent_fifths is None:
        return None
    return picture_data(draw_signature(entry.parent_fifths, clef), f"key signature: {entry.parent}")


def _change_data(entry: ChangeEntry) -> dict[str, Any]:
    return {
        "bars": _places(entry.bars),
        "before": _symbol(entry.before),
        "after": _symbol(entry.after),
        "instruction": entry.instruction,
        "stays": list(entry.stays),
        "half_steps": list(entry.half_steps),
        "whole_steps": list(entry.whole_steps),
        "new": list(entry.new),
        "renamed": list(entry.renamed),
    }


def _step_data(entry: StepEntry, handout: Handout, paper: Paper, staff_mm: float) -> dict[str, Any]:
    pictures = draw_systems(entry.score, width_mm=paper.text_width_mm, staff_mm=staff_mm)
    alts = _system_alts(entry, pictures)
    sentences = entry.explained if handout.detail is Detail.REASONS else entry.explained[:1]
    return {
        "number": str(entry.number) if entry.number > 0 else "",
        "title": entry.title,
        "task": entry.task,
        "manner": entry.manner,
        "explained": " ".join(sentences),
        "notices": list(entry.notices),
        "systems": [
            picture_data(picture, alt) for picture, alt in zip(pictures, alts, strict=True)
        ],
    }


def _watch_data(entry: WatchEntry) -> dict[str, Any]:
    remarks = [{"player": r.player, "text": " ".join(r.sentences)} for r in entry.remarks]
    return {"heading": entry.heading, "task": entry.task, "remarks": remarks}


def _system_alts(entry: StepEntry, pictures: Sequence[Picture]) -> list[str]:
    """What a screen reader says for each line of music of a step: its notes, bar by bar."""
    name = f"Step {entry.number}" if entry.number > 0 else entry.title
    return line_alts(entry.score, pictures, name)


def legend_data(entry: LegendEntry) -> dict[str, Any]:
    """A mark with its meaning, as a template prints it."""
    picture = entry.picture and picture_data(entry.picture, entry.text)
    return {"sign": entry.sign, "text": entry.text, "picture": picture}
