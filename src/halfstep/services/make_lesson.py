"""A lesson made and written into a folder, whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.backing import Style
from halfstep.data.documents import json_text
from halfstep.data.lesson_json import lesson_data, with_files
from halfstep.errors import BriefError, ReadError, did_you_mean
from halfstep.etude.steps import parse_steps
from halfstep.files import whole_folder
from halfstep.instruments import find_instrument
from halfstep.lesson import make
from halfstep.lesson.backing_brief import NO_MORE, BackingBrief, MoreBackings, key_cycle
from halfstep.lesson.backings import write_backing
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.lesson.make import Lesson
from halfstep.lesson.manner import TEMPO_BPM
from halfstep.lesson.sound import SoundWriter
from halfstep.lesson.tempo_ladder import tempo_ladder
from halfstep.lesson.write import PageWriter, pieces_of_work, ready, write_lesson_files
from halfstep.level import Level
from halfstep.part.transposition import in_key, interval_of_fifths
from halfstep.part.written_music import home_key_of
from halfstep.progression.chart import Chart
from halfstep.progression.key import parse_key
from halfstep.render.print_setting import USUAL, PrintSetting, print_setting
from halfstep.render.sound_file import DEFAULT_FORMAT, SoundFormat, sound_format
from halfstep.render.typesetting import PaperName
from halfstep.services.band_fields import (
    count_in_of,
    demand_choruses,
    demand_ladder,
    intro_of,
    is_cycle,
    left_out,
    named_bank,
    style_of,
)
from halfstep.services.earlier_lesson import LESSON_FILE, demand_free, remove_what_is_left
from halfstep.services.known_notes import known_pitches, notes_beyond
from halfstep.services.notebook import files_html, notices_html
from halfstep.services.request_fields import (
    ChartSource,
    Progress,
    chart_of,
    demand_seed,
    demand_start,
    demand_tempo,
    feel_of,
    level_of,
    no_progress,
    paper_of,
    placed_in,
    sheet_of,
)
from halfstep.workers import Workers, cores, workers_for

if TYPE_CHECKING:
    from halfstep.etude.teachers_line import TeachersLine

WORTH_PROCESSES = 12
"""Players times steps from which on to start processes takes less time than it saves."""
MOST_PROCESSES = 8
"""Each takes .4 of a gigabyte."""


@dataclass(frozen=True, slots=True)
class MakeLesson:
    """A request for a lesson.

    Attributes
    ----------
    chart : str, Path or LeadSheet
    folder : Path
        Where its files go. Made if need be; a lesson of the same chart, players and steps
        is made again, others stay.
    instruments : tuple of str
        One part each: an instrument alone (``alto-sax``), with its player's level
        (``alto-sax:beginner``), a name (``alto-sax:beginner:Ada``), or a name at the level of
        the lesson (``alto-sax::Ada``).
    steps : str
        Names or numbers, spans of them: ``1-6``, ``rhythm, arpeggio-cells``; empty for none, where
        there is a line.
    key : str or None
        Concert key to move the chart to; ``cycle`` leaves it where it is, and adds a backing
        in every key, by fourths.
    tempo_bpm : float or None
        Pulses a minute; None takes the chart's, or the level's.
    tempi : str or None
        Tempi of more backings, as in `halfstep.services.make_backing.MakeBacking`; without a
        tempo of its own the lesson is in the last of them.
    rising : bool
        One more backing instead, in which each chorus takes the next tempo.
    choruses : int or None
        Of the backing, 1 to `halfstep.services.band_fields.MOST_CHORUSES`; None takes as
        many as last a minute.
    without : str
        Who of the band is left out, with commas: ``bass``, ``drums,chords``.
    count_in_bars : int or None
        1 or 2; None as many as the tempo and the pickup need.
    intro_bars : int
        0, 2 or 4 bars of the band before the first chorus: the form's last ones.
    exact_time : bool
        All play on one clock, as a beginner may need it.
    bank : Path or None
        A sound bank to play instead of the program's own.
    feel : str or None
        ``swing`` or ``straight``: the plain style of that feel; None takes the chart's, or
        swing.
    style : str or None
        The name of a style of `halfstep.backing.STYLES`; None takes the chart's, or the one
        of the feel.
    level : str
        Of the lesson, and of players who have none of their own.
    seed : int
    ending : bool or None
        True ends every step at home, in a bar that is played the last time only, where the
        form leads back there; None does so for a chorus alone.
    paper : str
        ``a4`` or ``letter``.
    short : bool
        Short handouts: chords with their notes, changes in a line, all the music.
    plain : bool
        No slurs, accents or signs of loudness in the lines.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI of each step.
    sound_format : str
        ``m4a``, ``mp3``, ``ogg``, ``flac`` or ``wav``.
    stems : bool
        Line, drums, bass and chords alone as sound, too.
    reading : str or None
    tune : int or None
    replace : bool
        Put the lesson in the place of another one in the folder.
    line : Path or None
        The teacher's own line over the chart, an example before the steps: MusicXML, ABC or
        MIDI, or a recording of it.
    line_start_s : float or None
        Where in that recording bar 1 begins; None finds it, where that can be done.
    known_notes : str
        The only written notes that each player plays: ``G4 A4 Bb4``; empty for all of the level.
    pictures : bool
        A picture of each step beside its notation, narrow enough for a phone.
    print_setting : str
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``; empty
        for the usual. See `halfstep.render.print_setting`.
    """

    chart: ChartSource
    folder: Path
    instruments: tuple[str, ...] = ("concert",)
    steps: str = "1-6"
    key: str | None = None
    tempo_bpm: float | None = None
    tempi: str | None = None
    rising: bool = False
    choruses: int | None = None
    without: str = ""
    count_in_bars: int | None = None
    intro_bars: int = 0
    exact_time: bool = False
    bank: Path | None = None
    feel: str | None = None
    style: str | None = None
    level: str = "intermediate"
    seed: int = 1
    ending: bool | None = None
    paper: str = "a4"
    short: bool = False
    plain: bool = False
    midi_band: bool = False
    sound_format: str = DEFAULT_FORMAT.name
    stems: bool = False
    reading: str | None = None
    tune: int | None = None
    replace: bool = False
    line: Path | None = None
    line_start_s: float | None = None
    known_notes: str = ""
    pictures: bool = False
    print_setting: str = ""


@dataclass(frozen=True, slots=True)
class LessonReply:
    """A lesson in its folder.

    Attributes
    ----------
    lesson : Lesson
    folder : Path
    files : tuple of Path
        In the order a teacher would open them.
    notices : tuple of str
    """

    lesson: Lesson
    folder: Path
    files: tuple[Path, ...]
    notices: tuple[str, ...]

    def _repr_html_(self) -> str:
        names = [path.name for path in self.files]
        return files_html(str(self.folder), names) + notices_html(self.notices)


def make_lesson(
    request: MakeLesson, *, processes: int | None = None, progress: Progress = no_progress
) -> LessonReply:
    """Make a lesson and write all its files, or none.

    Parameters
    ----------
    request : MakeLesson
    processes : int, optional
        How many write the files: the same files, sooner. As many as there are cores, where that
        pays, unless said.
    progress : callable

    Raises
    ------
    ReadError
        When the chart cannot be read.
    BriefError
        When a step cannot be written for an instrument, a field makes no sense, or the
        folder holds another lesson or cannot be written to.
    """
    brief = lesson_brief(request, progress=progress)
    paper = paper_of(request.paper)
    sound = sound_format(request.sound_format)
    if not str(request.folder).strip():
        raise BriefError("`folder` is empty; give it a value or leave it out")
    earlier = demand_free(request.folder, brief, replace=request.replace)
    more = more_backings(request, brief)
    pieces = pieces_of_work(len(brief.players), brief.exercises) + len(more.pieces)
    work = _Work(progress, pieces)
    with workers_for(processes or processes_for(brief), ready) as workers:
        lesson = make.make_lesson(brief, progress=work.done)
        files = write_lesson(
            lesson,
            request.folder,
            paper=paper,
            short=request.short,
            midi_band=request.midi_band,
            pictures=request.pictures,
            setting=print_setting(request.print_setting),
            sound=sound,
            stems=request.stems,
            more=more,
            workers=workers,
            progress=work.done,
        )
    if earlier:
        remove_what_is_left(request.folder, earlier, [path.name for path in files])
    notices = (*lesson.notices, *_notes_left_out(request, brief))
    return LessonReply(lesson, request.folder, files, notices)


def processes_for(brief: LessonBrief) -> int:
    """How many processes to write the files of a lesson with, that it is done soonest."""
    pieces = len(brief.players) * brief.exercises
    if len(brief.players) == 1 or pieces < WORTH_PROCESSES:
        return 1
    return min(cores(), MOST_PROCESSES, len(brief.players))


class _Work:
    """Pieces of work counted, and told as shares."""

    def __init__(self, progress: Progress, pieces: int) -> None:
        self._progress, self._pieces, self._count = progress, pieces, 0

    def done(self, piece: str) -> None:
        """One more piece is done."""
        self._count += 1
        self._progress(self._count / self._pieces, piece)


def lesson_brief(request: MakeLesson, *, progress: Progress = no_progress) -> LessonBrief:
    """What the request asks for, its fields judged.

    Raises
    ------
    ReadError, TakeError, BriefError
    """
    demand_tempo(request.tempo_bpm)
    demand_start(request.line_start_s, "line_start_s")
    if request.line_start_s is not None and request.line is None:
        raise BriefError("`line_start_s`: there is no `line` whose beginning it could be")
    demand_seed(request.seed)
    demand_choruses(request.choruses)
    print_setting(request.print_setting)
    key = None if request.key is None or is_cycle(request.key) else parse_key(request.key)
    level = level_of(request.level)
    chart = _chart(request)
    brief = LessonBrief(
        chart=chart,
        players=_players(request, level),
        steps=() if not request.steps and request.line else parse_steps(request.steps),
        level=level,
        tempo_bpm=_tempo(request, chart, level),
        feel=feel_of(request.feel),
        style=_style(request, chart),
        seed=request.seed,
        ending=request.ending,
        choruses=request.choruses,
        without=left_out(request.without),
        count_in_bars=count_in_of(request.count_in_bars),
        intro_bars=intro_of(request.intro_bars),
        exact_time=request.exact_time,
        plain=request.plain,
        bank=named_bank(request.bank),
    )
    moved = brief if key is None else replace(brief, chart=in_key(brief.chart, key))
    if request.line is None:
        return moved
    return replace(moved, line=_teachers_line(request, request.line, brief, moved, progress))


def _teachers_line(
    request: MakeLesson, path: Path, brief: LessonBrief, moved: LessonBrief, progress: Progress
) -> TeachersLine:
    """The teacher's line, in the key of the chart as it was given or in that of the lesson."""
    from halfstep.services.line_as_read import KeyedSheet
    from halfstep.services.line_reading import teachers_line  # it loads all that listens

    sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
    sheet = replace(sheet, tempo_bpm=brief.tempo_bpm or sheet.tempo_bpm)
    home, key = home_key_of(brief.chart), home_key_of(moved.chart)
    sheets = [
        KeyedSheet(sheet, brief.chart, interval_of_fifths(key.fifths - home.fifths).semitones)
    ]
    if key != home:
        sheets.append(KeyedSheet(in_key(sheet, key), moved.chart, 0))
    return teachers_line(
        path,
        sheets,
        feel=brief.eighths,
        start_s=request.line_start_s,
        reading=request.reading,
        progress=progress,
    )


def _tempo(request: MakeLesson, chart: Chart, level: Level) -> float | None:
    """The tempo that is asked for: where there are several the last, which the others lead to."""
    if request.tempo_bpm is not None or request.tempi is None:
        return request.tempo_bpm
    return tempo_ladder(request.tempi, chart.tempo_bpm or TEMPO_BPM[level])[-1]


def more_backings(request: MakeLesson, brief: LessonBrief) -> MoreBackings:
    """What else the band plays: the tempi and keys that are asked for beside the lesson's.

    Raises
    ------
    BriefError
    """
    tempo_bpm = brief.chart.tempo_bpm or TEMPO_BPM[brief.level]
    tempi = tempo_ladder(request.tempi, tempo_bpm) if request.tempi else (brief.pulses_a_minute,)
    cycle = request.key is not None and is_cycle(request.key)
    demand_ladder(tempi, rising=request.rising)
    if not cycle and not request.rising:  # the lesson's own backing is in its tempo
        tempi = tuple(tempo for tempo in tempi if tempo != brief.pulses_a_minute)
    if not tempi or (len(tempi) == 1 and not request.tempi and not cycle):
        return NO_MORE
    return MoreBackings(
        BackingBrief(
            chart=brief.chart,
            style=brief.band_style,
            tempi=tempi,
            rising=request.rising,
            keys=key_cycle(brief.chart) if cycle else (),
            choruses=brief.choruses,
            without=brief.without,
            seed=brief.seed,
            count_in_bars=brief.count_in_bars,
            intro_bars=brief.intro_bars,
            exact_time=brief.exact_time,
            bank=brief.bank,
        )
    )


def _players(request: MakeLesson, level: Level) -> tuple[Player, ...]:
    """Who gets a part, each once, with the notes that they know."""
    players = dict.fromkeys(_player(text, level) for text in request.instruments)
    if not request.known_notes.strip():
        return tuple(players)
    return tuple(replace(player, known=_known(request, player)) for player in players)


def _known(request: MakeLesson, player: Player) -> frozenset[int]:
    pitches = known_pitches(request.known_notes, player.instrument)
    notes_beyond(pitches, player.instrument, player.level)
    return frozenset(pitch.midi for pitch in pitches)


def _notes_left_out(request: MakeLesson, brief: LessonBrief) -> Iterator[str]:
    """Which known notes are left out, because the level of a player lacks them."""
    for player in brief.players:
        if player.known is not None:
            pitches = known_pitches(request.known_notes, player.instrument)
            yield from notes_beyond(pitches, player.instrument, player.level)


def _player(text: str, level: Level) -> Player:
    """Who gets a part, as `MakeLesson.instruments` writes it."""
    instrument, _, rest = text.partition(":")
    own_level, _, name = (part.strip() for part in rest.partition(":"))
    known = {str(word): word for word in Level}
    if own_level and own_level.lower() not in known:
        raise BriefError(
            f"`instruments` {text!r}: {own_level!r} is no level{did_you_mean(own_level, known)}; "
            f"choose from {', '.join(known)}, or leave it empty before a name: flute::Ada"
        )
    level = known.get(own_level.lower(), level)
    return Player(find_instrument(instrument), level, " ".join(name.split()))


def _style(request: MakeLesson, chart: Chart) -> Style | None:
    try:
        return style_of(request.style, request.feel, chart)
    except ReadError as error:
        raise placed_in(request.chart, error) from None


def _chart(request: MakeLesson) -> Chart:
    try:
        sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
        return chart_of(request.chart, sheet)
    except ReadError as error:
        raise placed_in(request.chart, error) from None


def write_lesson(
    lesson: Lesson,
    folder: Path,
    *,
    paper: PaperName = "a4",
    short: bool = False,
    midi_band: bool = False,
    pictures: bool = False,
    setting: PrintSetting = USUAL,
    sound: SoundFormat = DEFAULT_FORMAT,
    stems: bool = False,
    more: MoreBackings = NO_MORE,
    workers: Workers | None = None,
    progress: make.Progress = lambda _: None,
) -> tuple[Path, ...]:
    """Write all files of a lesson that is worked out.

    A lesson that fails leaves nothing behind, and an earlier one in the same place stays as
    it was.

    Returns
    -------
    tuple of Path
        The files, in the order a teacher would open them.

    Raises
    ------
    BriefError
        When the folder cannot be made or written to.
    """
    with whole_folder(folder) as work, ThreadPoolExecutor(1) as beside:
        data = beside.submit(lesson_data, lesson)
        files = write_lesson_files(
            PageWriter(lesson, work, paper, short, midi_band, pictures, setting),
            SoundWriter(lesson, work, sound, stems, progress),
            workers=workers,
            progress=progress,
        )
        others = tuple(_write_more(more, work, sound, progress))
        names = (*files.names, *(other["file"] for other in others))
        whole = with_files(
            data.result(), files=names, sound={**files.sound, "others": list(others)}
        )
        (work / LESSON_FILE).write_text(json_text(whole), encoding="utf-8")
    return tuple(folder / name for name in (*names, LESSON_FILE))


def _write_more(
    more: MoreBackings, folder: Path, sound: SoundFormat, progress: make.Progress
) -> Iterator[dict[str, Any]]:
    """Write the other backings, and tell what each is."""
    for piece in more.pieces:
        assert more.brief
        name = f"{piece.name}{sound.suffix}"
        write_backing(more.brief, piece, folder / name)
        progress(name)
        key = home_key_of(piece.chart).ascii
        yield {"file": name, "key": key, "tempi_bpm": list(piece.tempi)}
