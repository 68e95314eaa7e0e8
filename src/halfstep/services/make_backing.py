"""Backings made and written into a folder: a file for each key and tempo, all or none."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from halfstep.errors import BriefError, ReadError
from halfstep.files import whole_folder
from halfstep.lesson.backing_brief import (
    DRONES,
    BackingBrief,
    BackingPiece,
    backing_pieces,
)
from halfstep.lesson.backings import write_backing
from halfstep.lesson.brief import LessonBrief
from halfstep.lesson.manner import TEMPO_BPM
from halfstep.lesson.sound import chords_of
from halfstep.lesson.tempo_ladder import tempo_ladder
from halfstep.level import Level
from halfstep.part.transposition import in_key
from halfstep.progression.chart import Chart
from halfstep.render.sound_facts import sound_facts
from halfstep.render.sound_file import SoundFormat, sound_format
from halfstep.services.band_fields import (
    count_in_of,
    demand_choruses,
    demand_ladder,
    intro_of,
    keys_of,
    left_out,
    named_bank,
    style_of,
)
from halfstep.services.earlier_lesson import LESSON_FILE
from halfstep.services.notebook import files_html, notices_html
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    chart_of,
    choice_of,
    demand_seed,
    no_progress,
    placed_in,
    reading_notices,
    sheet_of,
)


@dataclass(frozen=True, slots=True)
class MakeBacking:
    """A request for something to play over.

    Attributes
    ----------
    chart : str, Path or LeadSheet
    folder : Path
        Where its files go. Made if need be; backings of the same chart are made again.
    tempi : str or None
        Pulses a minute: ``120``; ``80..160+5``, a file for each; ``60%,80%,100%`` of the
        chart's tempo. None takes the chart's.
    rising : bool
        One file instead of several tempi, in which each chorus takes the next one.
    choruses : int or None
        1 to `halfstep.services.band_fields.MOST_CHORUSES`; None takes as many as last a minute.
    style : str or None
        The name of a style of `halfstep.backing.STYLES`; None takes the chart's, or the one
        of the feel.
    feel : str or None
    keys : str or None
        A concert key, several with commas, or ``cycle``: all of them by fourths.
    without : str
        Who is left out, with commas: ``bass``, ``drums,chords``.
    count_in_bars : int or None
        1 or 2; None as many as the tempo and the pickup need.
    intro_bars : int
        0, 2 or 4 bars of the band before the first chorus: the form's last ones.
    ending : bool
        The band ends at home behind the last chorus, where the form leads there.
    click : bool
        A click in the place of the band.
    drone : str or None
        ``roots`` holds the root of each chord, ``home`` the tonic, in the place of the band.
    exact_time : bool
        All play on one clock, as a beginner may need it.
    bank : Path or None
        A sound bank to play instead of the program's own.
    sound_format : str
        One of `halfstep.render.sound_file.SOUND_FORMATS`.
    seed : int
    reading : str or None
    tune : int or None
    replace : bool
        Put them in the place of backings of another chart.
    """

    chart: ChartSource
    folder: Path
    tempi: str | None = None
    rising: bool = False
    choruses: int | None = None
    style: str | None = None
    feel: str | None = None
    keys: str | None = None
    without: str = ""
    count_in_bars: int | None = None
    intro_bars: int = 0
    ending: bool = False
    click: bool = False
    drone: str | None = None
    exact_time: bool = False
    bank: Path | None = None
    sound_format: str = "m4a"
    seed: int = 1
    reading: str | None = None
    tune: int | None = None
    replace: bool = False


@dataclass(frozen=True, slots=True)
class BackingReply:
    """Backings in their folder.

    Attributes
    ----------
    brief : BackingBrief
    folder : Path
    files : tuple of Path
        In the order of playing.
    notices : tuple of str
    """

    brief: BackingBrief
    folder: Path
    files: tuple[Path, ...]
    notices: tuple[str, ...]

    def _repr_html_(self) -> str:
        names = [path.name for path in self.files]
        return files_html(str(self.folder), names) + notices_html(self.notices)


def make_backing(request: MakeBacking, *, progress: Progress = no_progress) -> BackingReply:
    """Make backings and write their files, or none.

    Raises
    ------
    ReadError
        When the chart cannot be read.
    BriefError
        When a field makes no sense, or the folder holds other backings, a lesson, or cannot be
        written to.
    """
    form = sound_format(request.sound_format)
    try:
        sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
        chart = chart_of(request.chart, sheet)
        brief = backing_brief(request, chart)
    except ReadError as error:
        raise placed_in(request.chart, error) from None
    pieces = tuple(backing_pieces(brief))
    _demand_free(request, pieces, form)
    notices: dict[str, None] = dict.fromkeys(reading_notices(sheet, chart))
    with whole_folder(request.folder) as work:
        for number, piece in enumerate(pieces, 1):
            path = work / f"{piece.name}{form.suffix}"
            notices |= dict.fromkeys(write_backing(brief, piece, path))
            progress(number / len(pieces), path.name)
    files = tuple(request.folder / f"{piece.name}{form.suffix}" for piece in pieces)
    return BackingReply(brief, request.folder, files, tuple(notices))


def backing_brief(request: MakeBacking, chart: Chart) -> BackingBrief:
    """What the request asks for, its fields judged.

    Raises
    ------
    ReadError, BriefError
    """
    demand_seed(request.seed)
    demand_choruses(request.choruses)
    style = style_of(request.style, request.feel, chart)
    lesson = LessonBrief(chart, style=style, feel=style.feel if style else None)
    tempo_bpm = chart.tempo_bpm or TEMPO_BPM[Level.INTERMEDIATE]
    tempi = (tempo_bpm,) if request.tempi is None else tempo_ladder(request.tempi, tempo_bpm)
    demand_ladder(tempi, rising=request.rising)
    keys = keys_of(request.keys, chart)
    return BackingBrief(
        chart=in_key(chart, keys[0]) if len(keys) == 1 else chart,
        style=lesson.band_style,
        tempi=tempi,
        rising=request.rising,
        keys=keys,
        choruses=request.choruses,
        without=left_out(request.without),
        seed=request.seed,
        count_in_bars=count_in_of(request.count_in_bars),
        intro_bars=intro_of(request.intro_bars),
        ending=request.ending,
        click=request.click,
        drone=None if request.drone is None else choice_of("drone", request.drone, DRONES),
        exact_time=request.exact_time,
        bank=named_bank(request.bank),
    )


def _demand_free(request: MakeBacking, pieces: Iterable[BackingPiece], form: SoundFormat) -> None:
    """Refuse a folder in which something else would be overwritten.

    Raises
    ------
    BriefError
    """
    folder = request.folder
    if not str(folder).strip():
        raise BriefError("`folder` is empty; give it a value or leave it out")
    if (folder / LESSON_FILE).is_file():
        raise BriefError(f"{folder} holds a lesson; choose another `folder`")
    if request.replace:
        return
    for piece in pieces:
        path = folder / f"{piece.name}{form.suffix}"
        if not path.is_file():
            continue
        facts = sound_facts(path)
        if facts and (facts.title, facts.chords) == (piece.chart.title, chords_of(piece.chart)):
            continue
        held = f"a backing of other chords, {facts.title!r}" if facts else "no backing of ours"
        raise BriefError(
            f"{path} is {held}; choose another `folder`, or put the new one in its place with "
            "`replace`"
        )
