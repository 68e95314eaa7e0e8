"""How much processor time do five minutes of band take, against a compiled player?

Run ``python bench/band_sound.py [minutes]``; 5 unless said. The band plays twelve bars at 140 for
that long, every bar of its own. Three things are timed:

- our sampler: all notes of drums, bass and chords laid out as three stems;
- the whole: the band written, laid out, balanced, rounded and added up;
- the same notes, of the same bank, as one mix by TinySoundFont, a player written in C. It is no
  part of the project: ``pip install --no-deps tinysoundfont`` anywhere on the path. Without it the
  ratio is left out, and why is said.

A first round, in which keys are made that are kept, is called cold; a second one warm. The aim is
the project's own: the whole within three times the compiled player.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from fractions import Fraction
from time import process_time
from typing import Any

import numpy as np

from halfstep.backing import count_in, make_backing
from halfstep.backing.performance import band_performance
from halfstep.backing.styles import style_for
from halfstep.meter import Clock, Feel
from halfstep.played import PlayedPart
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.mixdown import band_sound
from halfstep.render.sampler import FRAME_RATE, SampledNote, Sampler
from halfstep.render.soundbank import read_bank

TWELVE = (
    "| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 "
    "| Dm7 | Bb7 A7 | Dm7 G7 | Cmaj7 A7 "
)
TEMPO_BPM, AIM = 140.0, 3.0


def timed(task: Callable[[], Any]) -> tuple[Any, float]:
    """What a task gives, and the processor time it takes in seconds."""
    before = process_time()
    value = task()
    return value, process_time() - before


def sampled(sampler: Sampler, parts: Sequence[PlayedPart], clock: Clock) -> list[Any]:
    """Each part's notes as sound."""
    return [
        sampler.part(
            sampler.bank.preset(part.program, percussion=part.percussion)[0],
            [
                SampledNote(
                    round(clock.seconds(note.onset) * FRAME_RATE),
                    note.midi,
                    note.velocity,
                    clock.seconds(note.onset + note.beats) - clock.seconds(note.onset),
                )
                for note in part.notes
            ],
            rings=part.percussion,
        )
        for part in parts
    ]


def compiled(parts: Sequence[PlayedPart], clock: Clock) -> float:
    """The processor time of the same notes by the player in C, its bank loaded before.

    Raises
    ------
    ImportError
        Where there is none.
    """
    import tinysoundfont

    player = tinysoundfont.Synth(samplerate=FRAME_RATE)
    bank = player.sfload(str(SHIPPED_BANK))
    events = []
    for channel, part in enumerate(parts):
        player.program_select(channel, bank, 128 if part.percussion else 0, part.program)
        for note in part.notes:
            start, end = clock.seconds(note.onset), clock.seconds(note.onset + note.beats)
            events += [
                (start, 1, channel, note.midi, note.velocity),
                (end, 0, channel, note.midi, 0),
            ]
    events.sort(key=lambda event: event[:2])
    _, seconds = timed(lambda: _played(player, events))
    return seconds


def _played(player: Any, events: Sequence[tuple[float, int, int, int, int]]) -> float:
    done, power = 0, 0.0
    for at_s, on, channel, key, velocity in [*events, (events[-1][0] + 3.0, 0, 0, 0, 0)]:
        frames = round(at_s * FRAME_RATE) - done
        if frames > 0:
            block = np.frombuffer(bytes(player.generate(frames)), dtype=np.float32)
            power += float(np.dot(block, block))
            done += frames
        if on:
            player.noteon(channel, key, velocity)
        else:
            player.noteoff(channel, key)
    return power


def main() -> None:
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 5.0
    bars = round(minutes * TEMPO_BPM / 4 / 12) * 12
    chart = played(read_sheet_text(TWELVE * (bars // 12) + "|"))
    clock = Clock(TEMPO_BPM)
    style = style_for(Feel.SWING, chart.meter)

    def written() -> tuple[PlayedPart, ...]:
        parts = make_backing(chart, style=style, seed=1, choruses=1, tempo_bpm=TEMPO_BPM)
        return band_performance(parts, style=style, clock=clock, meter=chart.meter, seed=1)

    parts, writing_s = timed(written)
    notes = sum(len(part.notes) for part in parts)
    print(f"{bars} bars, {notes} notes, {clock.seconds(chart.beats) / 60:.1f} minutes")
    print(f"band written                {writing_s:7.2f} s")
    sampler = Sampler(read_bank(SHIPPED_BANK))
    for word in ("cold", "warm"):
        _, seconds = timed(lambda: sampled(sampler, parts, clock))
        print(f"three stems sampled, {word}   {seconds:7.2f} s")
    wholes = []
    for word in ("cold", "warm"):
        _, seconds = timed(
            lambda: band_sound(
                parts, count_in=count_in(chart.meter), clock=clock,
                count_in_beats=chart.meter.bar_beats, beats=Fraction(chart.beats),
            )
        )  # fmt: skip
        wholes.append(seconds)
        print(f"stems, mix, {word}            {seconds:7.2f} s")
    try:
        reference_s = compiled(parts, clock)
    except ImportError as error:
        print(f"no compiled player to compare with: {error}")
        return
    print(f"one mix by TinySoundFont    {reference_s:7.2f} s")
    for word, seconds in zip(("cold", "warm"), wholes, strict=True):
        print(f"ratio, {word}: {seconds / reference_s:.2f}; with writing "
              f"{(seconds + writing_s) / reference_s:.2f} (aim: {AIM:g})")  # fmt: skip


if __name__ == "__main__":
    main()
