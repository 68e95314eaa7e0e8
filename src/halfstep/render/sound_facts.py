"""What does a sound file say of itself? Where it loops, and what is played in it, as its tags.

One comment, which every container has, holds a line of JSON; a title stands beside it for
players that show one. WAVE files hold the loop in a chunk of their own as well.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from halfstep.render.wav_file import is_wav, wav_comment, wav_loop_start_s

FORM, VERSION = "halfstep-sound", 1
"""What stands in the fields ``format`` and ``version`` of the comment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFacts:
    """What is known of a sound file.

    Attributes
    ----------
    title : str
    part : str
        ``band`` for the whole band, ``mix`` for a line over it, or the part that plays alone.
    loop_frames : tuple of (int, int)
        First frame of the first chorus, and the frame after the last chorus.
    frame_rate : int
    choruses : int
    count_in_beats : str
        Length of what precedes the first chorus, as an exact fraction.
    chords : tuple of str
        Those of each bar of the form.
    meter : str
    tempo_bpm : float
        Pulses a minute.
    quarters_a_minute : float
    swing_ratio : float
    style : str
    feel : str
        How eighths are meant: ``swing`` or ``straight``; empty where that is not stated.
    chart : dict or None
        The bars as they are played, as data, so that what is played over the file can be
        held against them; None where they are not stated.
    tempi_bpm : tuple of float
        The tempo of each chorus where it rises; else empty.
    sound_print : str
        What is enough of the sound to know that a recording does not hold it, as text; empty
        where that is not stated.
    """

    title: str
    part: str
    loop_frames: tuple[int, int]
    frame_rate: int
    choruses: int
    count_in_beats: str
    chords: tuple[str, ...]
    meter: str
    tempo_bpm: float
    quarters_a_minute: float
    swing_ratio: float
    style: str
    feel: str = ""
    chart: dict[str, Any] | None = None
    tempi_bpm: tuple[float, ...] = ()
    sound_print: str = ""

    @property
    def comment(self) -> str:
        """All of it in one line."""
        data = {"format": FORM, "version": VERSION, **asdict(self)}
        return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def facts_in(comment: str) -> SoundFacts | None:
    """The facts in a comment; None where it is not one of ours."""
    try:
        data: dict[str, Any] = json.loads(comment)
        if (data["format"], data["version"]) != (FORM, VERSION):
            return None
        values = {
            field.name: data[field.name] for field in fields(SoundFacts) if field.name in data
        }
        first, last = map(int, values["loop_frames"])
        values |= {"loop_frames": (first, last), "chords": tuple(map(str, values["chords"]))}
        values |= {"tempi_bpm": tuple(map(float, values.get("tempi_bpm", ())))}
        return SoundFacts(**values | {"frame_rate": int(values["frame_rate"])})
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def sound_facts(path: Path) -> SoundFacts | None:
    """What a file says of itself; None where it says nothing that is ours.

    Raises
    ------
    OSError
        When it cannot be read.
    """
    comments = [wav_comment(path) or ""] if is_wav(path) else _comments(path)
    return next((facts for text in comments if (facts := facts_in(text))), None)


def _comments(path: Path) -> Iterator[str]:
    """The comments of a file and of its streams."""
    import av
    from av.error import FFmpegError

    try:
        with av.open(str(path)) as container:
            tags = [container.metadata, *(stream.metadata for stream in container.streams)]
    except (FFmpegError, ValueError, UnicodeError) as error:
        if isinstance(error, OSError):
            raise
        return
    yield from (text for tag in tags for name, text in tag.items() if name.lower() == "comment")


def loop_start_s(path: Path) -> float | None:
    """Where a file's loop begins, in seconds; None where it has none.

    In a backing of the program that is where its count-in ends.

    Raises
    ------
    OSError
        When it cannot be read.
    """
    start_s = wav_loop_start_s(path)
    if start_s is not None:
        return start_s
    facts = sound_facts(path)
    return facts.loop_frames[0] / facts.frame_rate if facts and facts.frame_rate > 0 else None
