"""Halfstep makes lessons in improvising over chord changes: this is its door.

A chart goes in, as a line of chords or a file (`read_chart`). It is explained, chord by
chord and change by change (`explain`). One step of the thirteen, or of the four before
them, is written over it for a player (`write_etude`), or a whole folder is made for a class:
handouts, parts, sound (`make_lesson`), or something to play over (`make_backing`), or a film of
a line (`make_film`). A
recording is written down note by note (`hear`), or held against the chords and the line that
were meant (`give_feedback`), and any line is held against the changes it was played over
(`outline`). Each call makes one of the frozen requests of
`halfstep.services` and gives back its typed reply, which shows itself
in a notebook; what cannot be done raises a `HalfstepError` in one line. Nothing heavy is
loaded before it is needed.

Conventions
-----------
- ``chart`` is chords in bars as text, the name of a file, a `pathlib.Path`, or the ``sheet``
  of a chart that was read. ``tempo_bpm`` is pulses a minute, places and lengths are quarter
  notes as `fractions.Fraction`, names of notes are those the player reads.

>>> import halfstep
>>> reply = halfstep.explain("| Dm7 | G7 | Cmaj7 |")
>>> [str(chord.scale) for chord in reply.part.analysis.chords]
['D Dorian', 'G Mixolydian', 'C Ionian']
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from halfstep.errors import (
    BriefError,
    HalfstepError,
    MissingExtra,
    ReadError,
    StoreError,
    TakeError,
)
from halfstep.version import VERSION

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.practice.evidence import Evidence
    from halfstep.practice.practice_plan import PracticePlan
    from halfstep.progression.sheet import LeadSheet
    from halfstep.services.etude_reply import EtudeReply
    from halfstep.services.explain_chart import ChangesReply
    from halfstep.services.feedback_reply import FeedbackReply
    from halfstep.services.make_backing import BackingReply
    from halfstep.services.make_film import FilmReply
    from halfstep.services.make_lesson import LessonReply
    from halfstep.services.make_plan import PlanReply
    from halfstep.services.outline_line import OutlineReply
    from halfstep.services.read_chart import ChartReply
    from halfstep.services.show_course import CourseReply
    from halfstep.services.take_reply import TakeReply

    ChartLike = str | Path | LeadSheet

__version__ = VERSION

__all__ = [
    "BriefError",
    "HalfstepError",
    "MissingExtra",
    "ReadError",
    "StoreError",
    "TakeError",
    "__version__",
    "explain",
    "give_feedback",
    "hear",
    "make_backing",
    "make_film",
    "make_lesson",
    "make_plan",
    "outline",
    "read_chart",
    "show_course",
    "write_etude",
]


def _source(chart: ChartLike) -> ChartLike:
    """A chart as a request takes it: the name of a file becomes its path."""
    if not isinstance(chart, str):
        return chart
    from halfstep.progression.load import chart_source

    return chart_source(chart)


def read_chart(
    chart: ChartLike,
    *,
    key: str | None = None,
    instrument: str | None = None,
    reading: str | None = None,
    tune: int | None = None,
) -> ChartReply:
    """Read a chart, and move it to another key or into a player's written pitch.

    Parameters
    ----------
    chart : str, Path or LeadSheet
    key : str, optional
        Concert key to move it to: ``Eb``, ``F#m``.
    instrument : str, optional
        Who reads it, such as ``alto-sax``; concert pitch without.
    reading : str, optional
        What doubtful signs mean: ``C2=Csus2, B=Bb``.
    tune : int, optional
        Which tune of an ABC file of several.

    Raises
    ------
    ReadError, BriefError

    >>> read_chart("| Gm7 C7 | F6 |", key="Eb").written("text").text.splitlines()[-1]
    '| Fm7 Bb7 | Eb6 |]'
    """
    from halfstep.services.read_chart import ReadChart
    from halfstep.services.read_chart import read_chart as reply_to

    return reply_to(
        ReadChart(_source(chart), key=key, instrument=instrument, reading=reading, tune=tune)
    )


def explain(
    chart: ChartLike,
    *,
    instrument: str | None = None,
    level: str = "intermediate",
    strict_spelling: bool = False,
    reading: str | None = None,
    tune: int | None = None,
) -> ChangesReply:
    """Explain a chart: its keys, each chord's tones and scale, and what changes.

    Parameters
    ----------
    chart : str, Path or LeadSheet
    instrument : str, optional
        Who reads it; concert pitch without.
    level : {'beginner', 'intermediate', 'advanced'}
        Which scales come first.
    strict_spelling : bool
        A letter for each degree of a scale, with double signs; else names read at sight.
    reading : str, optional
    tune : int, optional

    Raises
    ------
    ReadError, BriefError
    """
    from halfstep.services.explain_chart import ExplainChart, explain_chart

    return explain_chart(
        ExplainChart(
            _source(chart),
            instrument=instrument,
            level=level,
            strict_spelling=strict_spelling,
            reading=reading,
            tune=tune,
        )
    )


def write_etude(
    chart: ChartLike,
    step: str | int,
    *,
    instrument: str | None = None,
    level: str = "intermediate",
    tempo_bpm: float | None = None,
    feel: str | None = None,
    known_notes: str | None = None,
    low: str | None = None,
    high: str | None = None,
    seed: int = 1,
    kept_bars: str | None = None,
    kept_from: str | Path | None = None,
    ending: bool | None = None,
    degrees: bool = False,
    plain: bool = False,
    all_keys: bool = False,
    midi_band: bool = False,
    bank: str | Path | None = None,
    reading: str | None = None,
    tune: int | None = None,
    print_setting: str = "",
) -> EtudeReply:
    """Write one step over a chart for one player.

    Parameters
    ----------
    chart : str, Path or LeadSheet
    step : str or int
        The name of a step, such as ``guide-tones``, or the number of one of the thirteen.
    instrument : str, optional
        Who plays it; concert pitch without.
    level : {'beginner', 'intermediate', 'advanced'}
    tempo_bpm : float, optional
        Pulses a minute, 40 to 300; the chart's, or the level's, without.
    feel : {'swing', 'straight'}, optional
    known_notes : str, optional
        The only written notes to use: ``G4 A4 Bb4``.
    low, high : str, optional
        Written notes that the line stays between.
    seed : int
        Another number writes another line, the same one the same line.
    kept_bars : str, optional
        Bars to keep of ``kept_from``: ``3,5-6``.
    kept_from : str or Path, optional
        An etude stored as data: its text, or a file of it.
    ending : bool, optional
        End at home, in a bar played the last time only, where the form leads back there; a
        chorus does so by itself.
    degrees : bool
        Degrees under the notes.
    plain : bool
        No slurs, accents or signs of loudness.
    all_keys : bool
        Sheets of it are in all twelve keys.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI.
    bank : str or Path, optional
        A sound bank to play instead of the program's own, where the file is a sound.
    reading : str, optional
    tune : int, optional
    print_setting : str, optional
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``.

    Raises
    ------
    ReadError, BriefError
        `halfstep.services.write_etude.NoEtude` where no line keeps the rules; it may offer
        a request that works.
    """
    from pathlib import Path

    from halfstep.services.write_etude import WriteEtude, write_one_etude

    return write_one_etude(
        WriteEtude(
            _source(chart),
            str(step),
            instrument=instrument,
            level=level,
            tempo_bpm=tempo_bpm,
            feel=feel,
            known_notes=known_notes,
            low=low,
            high=high,
            seed=seed,
            kept_bars=kept_bars,
            kept_from=kept_from,
            ending=ending,
            degrees=degrees,
            plain=plain,
            all_keys=all_keys,
            midi_band=midi_band,
            bank=None if bank is None else Path(bank),
            reading=reading,
            tune=tune,
            print_setting=print_setting,
        )
    )


def make_lesson(
    chart: ChartLike,
    folder: str | Path,
    *,
    instruments: Sequence[str] = ("concert",),
    steps: str = "1-6",
    key: str | None = None,
    tempo_bpm: float | None = None,
    tempi: str | None = None,
    rising: bool = False,
    choruses: int | None = None,
    without: str = "",
    count_in_bars: int | None = None,
    intro_bars: int = 0,
    exact_time: bool = False,
    bank: str | Path | None = None,
    feel: str | None = None,
    style: str | None = None,
    level: str = "intermediate",
    seed: int = 1,
    ending: bool | None = None,
    paper: str = "a4",
    short: bool = False,
    plain: bool = False,
    midi_band: bool = False,
    sound_format: str = "m4a",
    stems: bool = False,
    reading: str | None = None,
    tune: int | None = None,
    replace: bool = False,
    line: str | Path | None = None,
    line_start_s: float | None = None,
    known_notes: str = "",
    pictures: bool = False,
    print_setting: str = "",
    progress: Callable[[float, str], None] | None = None,
) -> LessonReply:
    """Make a lesson and write all its files into a folder, or none.

    Parameters
    ----------
    chart : str, Path or LeadSheet
    folder : str or Path
        Made if need be; a lesson of the same chart, players and steps is made again.
    instruments : sequence of str
        One part each: ``("alto-sax", "flute")``, with levels and names
        ``("alto-sax:beginner:Ada", "flute::Bo")``.
    steps : str
        Names or numbers of steps, and spans of them: ``1-6``, ``rhythm, cells``.
    key : str, optional
        Concert key to move the chart to; ``cycle`` adds a backing in every key instead.
    tempo_bpm : float, optional
        Pulses a minute, 40 to 300.
    tempi : str, optional
        Tempi of more backings: ``80..160+5``, or ``60%,80%,100%`` of the chart's.
    rising : bool
        One more backing instead, in which each chorus takes the next tempo.
    choruses : int, optional
        Of the backing; as many as last a minute without.
    without : str
        Who of the band is left out: ``bass``, ``drums,chords``.
    count_in_bars : {1, 2}, optional
        As many as the tempo and the pickup need without.
    intro_bars : {0, 2, 4}
        Bars of the band before the first chorus.
    exact_time : bool
        All play on one clock, as a beginner may need it.
    bank : str or Path, optional
        A sound bank to play instead of the program's own.
    feel : {'swing', 'straight'}, optional
    style : str, optional
        How the band plays: a name of `halfstep.backing.STYLES`, such as ``swing``.
    level : {'beginner', 'intermediate', 'advanced'}
    seed : int
    ending : bool, optional
        End every step at home, in a bar played the last time only, where the form leads back
        there; a chorus does so by itself.
    paper : {'a4', 'letter'}
    short : bool
        Short handouts.
    plain : bool
        No slurs, accents or signs of loudness in the lines.
    midi_band : bool
        Chords, bass and drums on tracks of their own in the MIDI of each step.
    sound_format : {'m4a', 'mp3', 'ogg', 'flac', 'wav'}
    stems : bool
        Line, drums, bass and chords alone as sound, too.
    reading : str, optional
    tune : int, optional
    replace : bool
        Put the lesson in the place of another one in the folder.
    line : str or Path, optional
        The teacher's own line over the chart, as an example before the steps: MusicXML, ABC or
        MIDI, or a recording of it.
    line_start_s : float, optional
        Where in that recording bar 1 begins.
    known_notes : str, optional
        The only written notes that each player plays: ``G4 A4 Bb4``.
    pictures : bool
        A picture of each step beside its notation, narrow enough for a phone.
    print_setting : str, optional
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``.
    progress : callable, optional
        Told the share of the work that is done, 0 to 1, and what was done last.

    Raises
    ------
    ReadError, BriefError, MissingExtra
    """
    from pathlib import Path

    from halfstep.services.make_lesson import MakeLesson
    from halfstep.services.make_lesson import make_lesson as reply_to
    from halfstep.services.request_fields import no_progress

    request = MakeLesson(
        _source(chart),
        Path(folder),
        instruments=tuple(instruments),
        steps=steps,
        key=key,
        tempo_bpm=tempo_bpm,
        tempi=tempi,
        rising=rising,
        choruses=choruses,
        without=without,
        count_in_bars=count_in_bars,
        intro_bars=intro_bars,
        exact_time=exact_time,
        bank=None if bank is None else Path(bank),
        feel=feel,
        style=style,
        level=level,
        seed=seed,
        ending=ending,
        paper=paper,
        short=short,
        plain=plain,
        midi_band=midi_band,
        sound_format=sound_format,
        stems=stems,
        reading=reading,
        tune=tune,
        replace=replace,
        line=None if line is None else Path(line),
        line_start_s=line_start_s,
        known_notes=known_notes,
        pictures=pictures,
        print_setting=print_setting,
    )
    return reply_to(request, progress=progress or no_progress)


def make_backing(
    chart: ChartLike,
    folder: str | Path,
    *,
    tempi: str | None = None,
    rising: bool = False,
    choruses: int | None = None,
    style: str | None = None,
    feel: str | None = None,
    keys: str | None = None,
    without: str = "",
    count_in_bars: int | None = None,
    intro_bars: int = 0,
    ending: bool = False,
    click: bool = False,
    drone: str | None = None,
    exact_time: bool = False,
    bank: str | Path | None = None,
    sound_format: str = "m4a",
    seed: int = 1,
    reading: str | None = None,
    tune: int | None = None,
    replace: bool = False,
    progress: Callable[[float, str], None] | None = None,
) -> BackingReply:
    """Make something to play over: a file for each key and tempo, or none.

    Parameters
    ----------
    chart : str, Path or LeadSheet
    folder : str or Path
        Made if need be; backings of the same chart are made again.
    tempi : str, optional
        Pulses a minute: ``120``, or ``80..160+5``, or ``60%,80%,100%`` of the chart's.
    rising : bool
        One file instead of several tempi, in which each chorus takes the next one.
    choruses : int, optional
        As many as last a minute without.
    style : str, optional
        How the band plays: a name of `halfstep.backing.STYLES`, such as ``swing``.
    feel : {'swing', 'straight'}, optional
    keys : str, optional
        Concert keys with commas, or ``cycle``: all of them by fourths.
    without : str
        Who is left out: ``bass``, ``drums,chords``.
    count_in_bars : {1, 2}, optional
        As many as the tempo and the pickup need without.
    intro_bars : {0, 2, 4}
        Bars of the band before the first chorus.
    ending : bool
        End at home behind the last chorus, where the form leads there.
    click : bool
        A click in the place of the band.
    drone : {'roots', 'home'}, optional
        A drone in the place of the band.
    exact_time : bool
        All play on one clock, as a beginner may need it.
    bank : str or Path, optional
        A sound bank to play instead of the program's own.
    sound_format : {'m4a', 'mp3', 'ogg', 'flac', 'wav'}
    seed : int
        Another number plays other choruses.
    reading : str, optional
    tune : int, optional
    replace : bool
        Put them in the place of backings of another chart.
    progress : callable, optional
        Told the share of the work that is done, 0 to 1, and what was done last.

    Raises
    ------
    ReadError, BriefError, MissingExtra
    """
    from pathlib import Path

    from halfstep.services.make_backing import MakeBacking
    from halfstep.services.make_backing import make_backing as reply_to
    from halfstep.services.request_fields import no_progress

    request = MakeBacking(
        _source(chart),
        Path(folder),
        tempi=tempi,
        rising=rising,
        choruses=choruses,
        style=style,
        feel=feel,
        keys=keys,
        without=without,
        count_in_bars=count_in_bars,
        intro_bars=intro_bars,
        ending=ending,
        click=click,
        drone=drone,
        exact_time=exact_time,
        bank=None if bank is None else Path(bank),
        sound_format=sound_format,
        seed=seed,
        reading=reading,
        tune=tune,
        replace=replace,
    )
    return reply_to(request, progress=progress or no_progress)


def make_film(
    chart: ChartLike,
    *,
    step: str | int | None = None,
    instrument: str | None = None,
    level: str | None = None,
    size: str = "720p",
    choruses: int | None = None,
    tempi: str | None = None,
    style: str | None = None,
    feel: str | None = None,
    known_notes: str | None = None,
    seed: int = 1,
    ending: bool | None = None,
    overlay: bool = False,
    captions: bool = False,
    take: str | Path | None = None,
    backing: str | Path | None = None,
    headphones: bool = False,
    start_s: float | None = None,
    called: str = "",
    reading: str | None = None,
    tune: int | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> FilmReply:
    """Work out a film of a line, or of a take; its reply writes it.

    Parameters
    ----------
    chart : str, Path or LeadSheet
        Chords, or the folder of a lesson.
    step : str or int, optional
        The name of a step, or the number of one of the thirteen; of a lesson ``example`` is the
        teacher's own line. Left out for a take that is improvised.
    instrument : str, optional
        Who reads it.
    level : {'beginner', 'intermediate', 'advanced'}, optional
    size : {'720p', '1080p', 'square', 'portrait'}
    choruses : int, optional
        As many as last half a minute without.
    tempi : str, optional
        Pulses a minute: ``120``, or ``80..160+5``, in which each chorus takes the next one.
    style : str, optional
        How the band plays: a name of `halfstep.backing.STYLES`, such as ``swing``.
    feel : {'swing', 'straight'}, optional
    known_notes : str, optional
        The only written notes to use: ``G4 A4 Bb4``.
    seed : int
    ending : bool, optional
        End at home, where the form leads back there.
    overlay : bool
        Without a background, to be laid over another film.
    captions : bool
        Chords and what changes in words beside it.
    take : str or Path, optional
        A recording to film in the place of the line, with what is found in it.
    backing : str or Path, optional
        What the take was played to.
    headphones : bool
        No backing is in the take.
    start_s : float, optional
        Where in the take bar 1 begins.
    called : str
        A nickname for who plays the take; nobody is named without.
    reading : str, optional
    tune : int, optional
    progress : callable, optional
        Told the share of the work that is done, 0 to 1, and what was done last.

    Raises
    ------
    ReadError, TakeError, BriefError
    """
    from pathlib import Path

    from halfstep.services.make_film import MakeFilm
    from halfstep.services.make_film import make_film as reply_to
    from halfstep.services.request_fields import no_progress

    source = Path(chart) if isinstance(chart, str) and Path(chart).is_dir() else _source(chart)
    request = MakeFilm(
        source,
        step=None if step is None else str(step),
        instrument=instrument,
        level=level,
        size=size,
        choruses=choruses,
        tempi=tempi,
        style=style,
        feel=feel,
        known_notes=known_notes,
        seed=seed,
        ending=ending,
        overlay=overlay,
        captions=captions,
        take=None if take is None else Path(take),
        backing=None if backing is None else Path(backing),
        headphones=headphones,
        start_s=start_s,
        called=called,
        reading=reading,
        tune=tune,
    )
    return reply_to(request, progress=progress or no_progress)


def hear(
    take: str | Path,
    *,
    backing: str | Path | None = None,
    instrument: str | None = None,
    tempo_bpm: float | None = None,
    lesson: str | Path | None = None,
    step: str | None = None,
    etude: str | Path | None = None,
    own_line: bool = False,
    chart: ChartLike | None = None,
    start_s: float | None = None,
    headphones: bool = False,
    called: str | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> TakeReply:
    """Write down the notes of a recording of one instrument alone.

    A recording of a person is private, a minor's most of all: ask first, keep it no longer
    than needed. Nothing is sent anywhere.

    Parameters
    ----------
    take : str or Path
        WAV, FLAC, MP3, M4A, OGG.
    backing : str or Path, optional
        The backing it was played to; that of the lesson, or one beside the take, without.
    instrument : str, optional
        Who plays; any range without.
    tempo_bpm : float, optional
        Pulses a minute, quarter notes where no chart is known; the backing's, the lesson's or the
        chart's without.
    lesson : str or Path, optional
        The ``lesson.json`` it belongs to, or its folder; looked for beside the take without.
    step : str, optional
        The name or number of the step of it that is played; its line is then listened for.
    etude : str or Path, optional
        The etude that is played, as data; its line is then listened for.
    own_line : bool
        Over the chords of the etude a line of the player's own is played.
    chart : str, Path or LeadSheet, optional
        What was played over: its bars and chords stand on the staff.
    start_s : float, optional
        Where in the recording bar 1 begins; found without, where that can be done.
    headphones : bool
        No backing is in the take; none is looked for.
    called : str, optional
        What the take is called, as printed; the name of its file without.
    progress : callable, optional

    Raises
    ------
    TakeError, ReadError, BriefError
    """
    from pathlib import Path

    from halfstep.services.hear_take import HearTake, hear_take
    from halfstep.services.request_fields import no_progress

    request = HearTake(
        Path(take),
        backing=None if backing is None else Path(backing),
        instrument=instrument,
        tempo_bpm=tempo_bpm,
        lesson=None if lesson is None else Path(lesson),
        step=step,
        etude=None if etude is None else Path(etude),
        own_line=own_line,
        start_s=start_s,
        chart=None if chart is None else _source(chart),
        headphones=headphones,
        called=called,
    )
    return hear_take(request, progress=progress or no_progress)


def give_feedback(
    take: str | Path,
    *,
    chart: ChartLike | None = None,
    backing: str | Path | None = None,
    tempo_bpm: float | None = None,
    etude: str | Path | None = None,
    own_line: bool = False,
    lesson: str | Path | None = None,
    step: str | None = None,
    instrument: str | None = None,
    level: str | None = None,
    start_s: float | None = None,
    headphones: bool = False,
    words: str | Path | None = None,
    paper: str = "a4",
    called: str | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> FeedbackReply:
    """Say where a recording makes the changes, where it misses them, and what else is in it.

    A recording of a person is private, a minor's most of all: ask first, keep it no longer
    than needed. Nothing is sent anywhere.

    Parameters
    ----------
    take : str or Path
        WAV, FLAC, MP3, M4A, OGG; one instrument alone.
    chart : str, Path or LeadSheet, optional
        What was played over; the backing's, the lesson's or the etude's without.
    backing : str or Path, optional
        The backing it was played to; that of the lesson, or one beside the take, without.
    tempo_bpm : float, optional
        The backing's, the lesson's, the chart's or the etude's without.
    etude : str or Path, optional
        The etude that was played, as data.
    own_line : bool
        Over the chords of the etude a line of the player's own was played.
    lesson : str or Path, optional
        The ``lesson.json`` it belongs to, or its folder; looked for beside the take without.
    step : str, optional
        The name or number of the step of it that was played. Without it and an etude the take
        is improvised.
    instrument : str, optional
        Who plays; the etude's player, or concert pitch, without.
    level : {'beginner', 'intermediate', 'advanced'}, optional
        The etude's, or intermediate, without.
    start_s : float, optional
        Where in the recording bar 1 begins; found without, where that can be done.
    headphones : bool
        No backing is in the take; none is looked for.
    words : str or Path, optional
        A text of the teacher's own words for the student, in the place of ours.
    paper : {'a4', 'letter'}
    called : str, optional
        What the take is called, as printed; the name of its file without.
    progress : callable, optional

    Raises
    ------
    TakeError, ReadError, BriefError
    """
    from pathlib import Path

    from halfstep.services.give_feedback import GiveFeedback
    from halfstep.services.give_feedback import give_feedback as reply_to
    from halfstep.services.request_fields import no_progress

    request = GiveFeedback(
        Path(take),
        chart=None if chart is None else _source(chart),
        backing=None if backing is None else Path(backing),
        tempo_bpm=tempo_bpm,
        etude=None if etude is None else Path(etude),
        own_line=own_line,
        lesson=None if lesson is None else Path(lesson),
        step=step,
        instrument=instrument,
        level=level,
        start_s=start_s,
        headphones=headphones,
        words=None if words is None else Path(words),
        paper=paper,
        called=called,
    )
    return reply_to(request, progress=progress or no_progress)


def outline(
    line: str | Path,
    *,
    chart: ChartLike | None = None,
    reading: str | None = None,
    tune: int | None = None,
) -> OutlineReply:
    """Measure how well a line spells the changes.

    Parameters
    ----------
    line : str or Path
        A file of notes: MusicXML or ABC with its own chords, or any of these or MIDI over a
        chart.
    chart : str, Path or LeadSheet, optional
        The chords; those in the file without.
    reading : str, optional
    tune : int, optional

    Raises
    ------
    ReadError, BriefError
    """
    from pathlib import Path

    from halfstep.services.outline_line import OutlineLine, outline_line

    source = None if chart is None else _source(chart)
    return outline_line(OutlineLine(Path(line), chart=source, reading=reading, tune=tune))


def show_course(
    folder: str | Path | None = None,
    *,
    instrument: str | None = None,
    level: str | None = None,
    chart: ChartLike | None = None,
    keys: str = "",
) -> CourseReply:
    """A course as one player meets it: units in order, their keys, what leads to what.

    Parameters
    ----------
    folder : str or Path, optional
        Of another course, or of units that are added to the program's own.
    instrument : str, optional
        Who meets its keys; concert pitch without.
    level : str, optional
        How far the student has come; the level of each unit without.
    chart : str, Path or LeadSheet, optional
        Whose unit is wanted.
    keys : str
        The only written keys to use, ``C G F``; those of the course without.

    Raises
    ------
    ReadError, BriefError

    >>> reply = show_course(chart="| Ebm7 | Ab7 | Dbmaj7 | Dbmaj7 |")
    >>> reply.kind.unit.title
    'Two, five, one'
    """
    from pathlib import Path

    from halfstep.services.show_course import ShowCourse
    from halfstep.services.show_course import show_course as reply_to

    return reply_to(
        ShowCourse(
            None if folder is None else Path(folder),
            instrument=instrument,
            level=level,
            chart=None if chart is None else _source(chart),
            keys=keys,
        )
    )


def make_plan(
    instrument: str,
    *,
    level: str = "beginner",
    evidence: Sequence[Evidence] = (),
    day: str = "",
    minutes: float = 30.0,
    name: str = "",
    known_notes: str = "",
    keys: str = "",
    course: Path | None = None,
    plan: PracticePlan | None = None,
    paper: str = "a4",
    print_setting: str = "",
) -> PlanReply:
    """Plan a day's practice from what was played so far.

    Parameters
    ----------
    instrument : str
    level : str, optional
    evidence : sequence of Evidence, optional
        All that was played, in any order; see `halfstep.practice.evidence`.
    day : str, optional
        Such as ``2026-03-02``; today without.
    minutes : float, optional
        10 to 180.
    name : str, optional
        Who practises, as printed.
    known_notes, keys : str, optional
        The only written notes, ``G4 A4 Bb4``, and written keys, ``C G F``, to use.
    course : Path, optional
        A folder of another course.
    plan : PracticePlan, optional
        One that stands already, instead of a new one.
    paper : str, optional
        ``a4`` or ``letter``.
    print_setting : str, optional
        How large, how many bars on a line, on which tint: ``large``, ``9mm 3 bars cream``.

    Raises
    ------
    ReadError, BriefError

    >>> reply = make_plan("alto-sax", day="2026-03-02")
    >>> str(reply.plan.items[-1].role)
    'chorus'
    """
    from halfstep.services.make_plan import MakePlan
    from halfstep.services.make_plan import make_plan as reply_to

    return reply_to(
        MakePlan(
            instrument,
            level=level,
            evidence=tuple(evidence),
            day=day,
            minutes=minutes,
            name=name,
            known_notes=known_notes,
            keys=keys,
            course=course,
            plan=plan,
            paper=paper,
            print_setting=print_setting,
        )
    )
