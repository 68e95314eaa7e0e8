"""Made-up lines of single-line instruments, with the truth about every note, in JAX.

Nobody's sound is in here: every tone is a sum of sine waves, every breath, room and
backing is noise that was shaped. `batch` makes one batch of lines from a seed; it is
compiled, so a graphics card makes them faster than it learns from them.

A line is a random walk with rests, in a random compass and rhythm. It is played either by
one oscillator that glides from note to note, as a voice or a slurred horn, or by two that
overlap, as recordings of single notes do when they are joined. Around it come a second
player on some lines (another line of the batch), a room, other instruments, noise, hum and
the response of a microphone.

Where a note begins: where its envelope has risen to a fifth; where it is slurred, where the
pitch has come half the way. Where it ends: where the player stops, before the tail of the
release. What it is: the note it is heard as, through scoop, fall and vibrato.

A reed that speaks: its oscillation grows by a constant ratio in equal times until it is as
loud as the breath lets it be, which is the logistic function. Source: any handbook of
self-sustained oscillation; its times from memory.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import jax
import jax.numpy as jnp

RATE, HOP = 16_000, 160
SECONDS = 5
LENGTH = RATE * SECONDS
FRAMES = LENGTH // HOP
LOW, SEMITONES = 36, 61
NOTES = 80
"""The most notes of a line."""
PARTIALS = 26
TOP_HZ = 7600.0
COMPANY_DB = -14.0
"""From here on a second player is told from one who is only in the background."""

Key = Any
Array = Any


def uniform(key: Key, shape: tuple[int, ...], low: float, high: float) -> Array:
    """Uniform between two ends."""
    return jax.random.uniform(key, shape, minval=low, maxval=high)


def log_uniform(key: Key, shape: tuple[int, ...], low: float, high: float) -> Array:
    """Uniform in its logarithm."""
    return jnp.exp(uniform(key, shape, jnp.log(low), jnp.log(high)))


def chance(key: Key, shape: tuple[int, ...], p: Any) -> Array:
    """True with probability p."""
    return jax.random.uniform(key, shape) < p


# --- which notes ----------------------------------------------------------------------


def line(key: Key, lines: int, *, low: float = 36, high: float = 96) -> dict[str, Array]:
    """The notes of each line: onset and end in seconds, pitch, level.

    Arrays of shape (lines, NOTES); notes past the end begin after the sound does.
    """
    k = iter(jax.random.split(key, 40))
    one, all_notes = (lines, 1), (lines, NOTES)
    unit_s = log_uniform(next(k), one, 0.085, 0.42)
    unit_s = jnp.where(chance(next(k), one, 0.18), log_uniform(next(k), one, 0.042, 0.1), unit_s)
    kinds = jnp.array([1.0, 1.0, 1.0, 1.0, 0.5, 0.6667, 1.5, 2.0, 3.0, 4.0, 6.0])
    liking = jax.random.gumbel(next(k), (lines, 1, len(kinds))) * 0.8
    odds = jnp.log(jnp.array([6.0, 4, 3, 2, 1, 1, 1, 2, 1, 0.7, 0.3])) + liking
    which = jax.random.categorical(next(k), odds, axis=-1, shape=all_notes)
    values = kinds[which] * unit_s
    swing = jnp.where(chance(next(k), one, 0.4), uniform(next(k), one, 0.0, 0.3), 0.0)
    alternate = jnp.where(jnp.arange(NOTES) % 2 == 0, 1 + swing, 1 - swing)
    values = values * alternate * jnp.exp(0.06 * jax.random.normal(next(k), all_notes))
    graces = chance(next(k), all_notes, jnp.where(chance(next(k), one, 0.25), 0.15, 0.0))
    values = jnp.where(graces, uniform(next(k), all_notes, 0.04, 0.08), jnp.maximum(values, 0.042))
    rests = chance(next(k), all_notes, uniform(next(k), one, 0.0, 0.2))
    rest_s = jnp.where(rests, log_uniform(next(k), all_notes, 0.08, 2.0), 0.0)
    start = uniform(next(k), one, 0.0, 0.6)
    onset = start + jnp.cumsum(values + rest_s, axis=1) - values - rest_s
    detached = uniform(next(k), one, 0.0, 1.0)
    short = chance(next(k), all_notes, jnp.where(detached < 0.5, 0.06, detached - 0.4))
    share = jnp.where(short, uniform(next(k), all_notes, 0.35, 0.95), 1.0)
    sounding = jnp.maximum(values * share, 0.038)

    middle = uniform(next(k), one, low + 6, high - 6)
    reach = uniform(next(k), one, 5, 16)
    lowest, highest = jnp.maximum(middle - reach, low), jnp.minimum(middle + reach, high)
    often = chance(next(k), one, 0.25)
    again = jnp.where(often, uniform(next(k), one, 0.4, 0.95), uniform(next(k), one, 0.0, 0.5))
    same = chance(next(k), all_notes, again)
    size = jnp.where(
        chance(next(k), all_notes, 0.82),
        jax.random.randint(next(k), all_notes, 1, 4),
        jax.random.randint(next(k), all_notes, 4, 15),
    )
    way = jnp.where(chance(next(k), all_notes, 0.5), 1, -1)
    step = jnp.where(same, 0, size * way)

    def walk(pitch: Array, moved: Array) -> tuple[Array, Array]:
        wanted = pitch + moved
        wanted = jnp.where(
            (wanted > highest[:, 0]) | (wanted < lowest[:, 0]), pitch - moved, wanted
        )
        wanted = jnp.clip(wanted, low, high)
        return wanted, wanted

    first = jnp.round(uniform(next(k), (lines,), 0, 1) * (highest - lowest)[:, 0] + lowest[:, 0])
    _, pitch = jax.lax.scan(walk, first, step.T.astype(jnp.float32))
    spread = uniform(next(k), one, 0.5, 5.0)
    level_db = spread * jax.random.normal(next(k), all_notes)
    ghost = chance(next(k), all_notes, jnp.where(chance(next(k), one, 0.3), 0.15, 0.0))
    level_db -= jnp.where(ghost, uniform(next(k), all_notes, 6, 18), 0.0)
    return {
        "onset": onset,
        "end": onset + sounding,
        "pitch": pitch.T,
        "level": 10 ** (level_db / 20),
        "slurred": (share == 1.0) & ~rests,
    }


# --- how they sound --------------------------------------------------------------------


def _since(onset: Array, time: Array) -> tuple[Array, Array]:
    """Which note has begun last at each moment (0 before the first), and how long ago."""
    places = jnp.clip(jnp.round(onset * RATE).astype(jnp.int32), 0, LENGTH)
    begun = jnp.zeros((onset.shape[0], LENGTH + 1))
    begun = jax.vmap(lambda row, place: row.at[place].add(1.0))(begun, places)
    index = jnp.cumsum(begun, axis=1)[:, :LENGTH].astype(jnp.int32) - 1
    clipped = jnp.clip(index, 0, onset.shape[1] - 1)
    since = time - jnp.take_along_axis(onset, clipped, axis=1)
    return clipped, jnp.where(index >= 0, since, -1.0)


def _before(values: Array) -> Array:
    """Each note's value in the note before it."""
    return jnp.concatenate([values[:, :1], values[:, :-1]], axis=1)


def _after(values: Array) -> Array:
    """Each note's value in the note after it."""
    return jnp.concatenate([values[:, 1:], values[:, -1:]], axis=1)


def risen(since: Array, seconds: Array, speaks: Array) -> Array:
    """How far a note has risen: as a reed that speaks, or as a weight that is let go."""
    return jnp.where(speaks, jax.nn.sigmoid(since / seconds - 4.6), 1 - jnp.exp(-since / seconds))


def fluctuation(key: Key, shape: tuple[int, ...], swift: Array, slow: Array) -> Array:
    """Gains that wander by some decibels, swiftly and slowly, from 20 ms to 20 ms.

    Shape (..., LENGTH // 320 + 1); `between` brings them to samples.
    """
    one, two = jax.random.split(key)
    nodes = LENGTH // 320 + 1
    coarse = jax.random.normal(two, (*shape, nodes // 10 + 2))
    place = jnp.arange(nodes) / 10
    whole = place.astype(jnp.int32)
    part = place - whole
    wandered = coarse[..., whole] * (1 - part) + coarse[..., whole + 1] * part
    decibels = swift * jax.random.normal(one, (*shape, nodes)) + slow * wandered
    return 10 ** (decibels / 20)


def between(nodes: Array) -> Array:
    """Values at every sample from those at every 320th."""
    part = jnp.arange(320) / 320
    filled = nodes[:, :-1, None] * (1 - part) + nodes[:, 1:, None] * part
    return filled.reshape(nodes.shape[0], LENGTH)


def tone(key: Key, notes: dict[str, Array]) -> tuple[Array, Array]:
    """The sound of one oscillator that plays notes in turn.

    Parameters
    ----------
    notes : dict
        As `line` gives them, with what `character` adds.

    Returns
    -------
    sound : array, shape (lines, LENGTH)
    bend : array, shape (lines, LENGTH)
        Semitones from the note's own pitch.
    """
    k = iter(jax.random.split(key, 20))
    time = jnp.arange(LENGTH) / RATE
    index, since = _since(notes["onset"], time)

    def at(name: str) -> Array:
        return jnp.take_along_axis(notes[name], index, axis=1)

    playing = since >= 0
    since = jnp.maximum(since, 0.0)
    left = at("end") - time
    joined = at("joined") > 0
    distance = at("pitch_before") - at("pitch")
    slide = jnp.where(joined, distance, 0.0) * jnp.exp(-since / at("glide_s"))
    scoop = at("scoop") * jnp.exp(-since / at("scoop_s"))
    fall = at("fall") * jnp.clip((at("fall_s") - left) / at("fall_s"), 0, 1.5) ** 1.5
    late = jnp.clip((since - at("vibrato_after_s")) / 0.15, 0, 1)
    turns = notes["vibrato_hz"] * time + notes["vibrato_phase"]
    turns = turns + 0.1 * jnp.sin(2 * jnp.pi * 0.7 * time)
    wave = late * jnp.sin(2 * jnp.pi * turns)
    pulse = late * jnp.sin(2 * jnp.pi * (turns + notes["pulse_phase"]))
    growl = jnp.sin(2 * jnp.pi * notes["growl_hz"] * time)
    drift = notes["drift"] * jnp.sin(2 * jnp.pi * notes["drift_hz"] * time + notes["vibrato_phase"])
    bend = scoop + fall + at("vibrato") * wave + at("off") + drift
    heard = slide + bend
    hertz = 440 * 2 ** ((at("pitch") + heard + notes["tuning"] - 69) / 12)
    hertz = hertz * (1 + 0.02 * notes["growl"] * growl)
    cycles = jnp.cumsum(hertz / RATE, axis=1)
    cycles = jnp.mod(cycles, 1.0)

    attack = risen(since, at("attack_s"), at("speaks") > 0)
    soft = jnp.where(joined, at("floor"), 0.0)
    attack = soft + (1 - soft) * attack
    coming = jnp.maximum(at("following") - time, 0.0)
    dip = 1 - (1 - at("floor_after")) * jnp.exp(-coming / at("dip_s"))
    body = jnp.exp(-since / at("decay_s"))
    release = jnp.exp(-jnp.maximum(-left, 0.0) / at("release_s"))
    dying = jnp.where(at("fall") < 0, jnp.clip(left / at("fall_s"), 0.05, 1.0), 1.0)
    tremble = (1 + 0.85 * notes["growl"] * growl) * (1 + notes["pulse"] * pulse)
    swell = 1 + at("swell") * (jnp.clip(since / 0.4, 0, 1) - 0.5)
    unsteady = 1 + notes["wobble"] * jnp.sin(
        2 * jnp.pi * (notes["wobble_hz"] * time + at("wobble_phase"))
    )
    turning = jnp.where(joined, jnp.exp(-since / at("change_s")), 0.0)
    level = at("level") + (at("level_before") - at("level")) * turning
    envelope = level * attack * dip * body * release * dying * tremble * swell * unsteady * playing

    nominal = 440 * 2 ** ((notes["pitch"] + notes["tuning"] - 69) / 12)
    numbers = jnp.arange(1, PARTIALS + 1)
    amplitudes = spectrum(notes, nominal)  # (lines, NOTES, PARTIALS)
    opening = at("opening_s")
    keys = jax.random.split(next(k), PARTIALS)

    def partial_sound(total: Array, which: tuple[Array, Key]) -> tuple[Array, None]:
        n, own = which
        loud = jnp.take(amplitudes, n - 1, axis=2)
        amplitude = jnp.take_along_axis(loud, index, axis=1)
        earlier = jnp.take_along_axis(_before(loud), index, axis=1)
        amplitude = amplitude + (earlier - amplitude) * turning
        share = n / (n + 2)
        wander = fluctuation(own, (index.shape[0],), share * notes["swift"], share * notes["slow"])
        vibrant = 1 + jnp.take(notes["vibrant"], n - 1, axis=1)[:, None] * wave
        below = hertz * n < TOP_HZ
        lag = 1 - jnp.exp(-since / (1e-3 + opening * (n - 1) / PARTIALS))
        lag = jnp.where(joined, jnp.maximum(lag, 0.7), lag)
        stretched = cycles * n
        wave_n = jnp.sin(
            2 * jnp.pi * (stretched + jnp.take(notes["phases"], n - 1, axis=1)[:, None])
        )
        return total + amplitude * between(wander) * vibrant * below * lag * wave_n, None

    silent = jnp.zeros((index.shape[0], LENGTH))
    sound, _ = jax.lax.scan(partial_sound, silent, (numbers, keys))
    half_turns = jnp.pi * jnp.mod(jnp.cumsum(hertz / RATE, axis=1), 2.0)
    passing = jnp.exp(-((since / at("undertone_s")) ** notes["undertone_edge"]))
    low_partials = jnp.where(
        hertz * (notes["low_partials"] - 0.5) < TOP_HZ, notes["low_partials"], 1.0
    )
    undertone = at("undertone") * passing * odd_sines(half_turns, low_partials)
    undertone = undertone + notes["subtone"] * jnp.sin(half_turns)
    white = jax.random.normal(next(k), sound.shape)
    air = white - jnp.roll(white, 1, axis=1) * notes["air_colour"]
    chiff = at("chiff") * jnp.exp(-since / at("chiff_s"))
    click = at("click") * jnp.exp(-since / 0.004)
    noise = air * (notes["breath"] + chiff * (0.2 + attack) + click * (since < 0.03))
    thump = jnp.sin(2 * jnp.pi * at("key_hz") * since)
    keys_move = at("key") * (0.5 * air + thump) * jnp.exp(-since / at("key_s")) * playing
    breath_in = air * at("ahead") * jnp.exp(-coming / at("ahead_s"))
    return envelope * (sound + undertone + noise) + keys_move + breath_in, bend


def odd_sines(angle: Array, count: Array) -> Array:
    """The sines of the first odd multiples of an angle, added: the closed form of their sum."""
    below = jnp.sin(angle)
    safe = jnp.where(jnp.abs(below) < 1e-4, 1.0, below)
    summed = jnp.where(jnp.abs(below) < 1e-4, 0.0, jnp.sin(count * angle) ** 2 / safe)
    return summed / jnp.sqrt(count)


def spectrum(notes: dict[str, Array], nominal: Array) -> Array:
    """How loud each partial of each note is: a slope, formants, odd ones, chance."""
    numbers = jnp.arange(1, PARTIALS + 1)
    hz = nominal[..., None] * numbers
    octaves = jnp.log2(jnp.maximum(hz, 20.0) / 1000)
    slope_db = -notes["slope_db"][..., None] * jnp.log2(numbers * 1.0)
    centres, widths, peaks = notes["formant"], notes["formant_width"], notes["formant_db"]
    shape = peaks[:, None, None] * jnp.exp(
        -((octaves[..., None] - centres[:, None, None]) ** 2) / widths[:, None, None] ** 2
    )
    even = jnp.where(numbers % 2 == 0, -notes["odd_db"][..., None], 0.0)
    even = even + jnp.where(numbers == 1, notes["first_db"][..., None], 0.0)
    brightness = notes["brightness"][..., None] * jnp.log2(numbers * 1.0)
    decibels = slope_db + shape.sum(-1) + even + brightness + notes["roughness"]
    amplitudes = 10 ** (decibels / 20) * (hz < TOP_HZ)
    power = jnp.sqrt(jnp.sum(amplitudes**2, axis=-1, keepdims=True) / 2)
    return amplitudes / jnp.maximum(power, 1e-6)


def character(key: Key, notes: dict[str, Array], gliding: Array) -> dict[str, Array]:
    """How a line's notes are played and what kind of instrument plays them."""
    lines = notes["onset"].shape[0]
    one, every = (lines, 1), (lines, NOTES)
    k = iter(jax.random.split(key, 120))

    def some(p: float, low: float, high: float, of: float = 1.0) -> Array:
        """A value for some notes of some lines, 0 elsewhere."""
        line_has = chance(next(k), one, of)
        return jnp.where(
            chance(next(k), every, p) & line_has, uniform(next(k), every, low, high), 0.0
        )

    def per_line(p: float, low: float, high: float) -> Array:
        return jnp.where(chance(next(k), one, p), uniform(next(k), one, low, high), 0.0)

    speaks = chance(next(k), one, 0.5)
    attack = jnp.where(
        speaks, log_uniform(next(k), one, 0.0015, 0.018), log_uniform(next(k), one, 0.002, 0.045)
    )
    length = notes["end"] - notes["onset"]
    attack_s = attack * jnp.exp(0.4 * jax.random.normal(next(k), every))
    attack_s = jnp.minimum(attack_s, length * jnp.where(speaks, 0.1, 0.4))
    joined = (_before(notes["slurred"] * 1.0) > 0) & gliding
    legato = jnp.where(
        chance(next(k), one, 0.45), uniform(next(k), one, 0.85, 1.0), uniform(next(k), one, 0, 1)
    )
    floor = jnp.where(chance(next(k), every, 0.82), legato * jnp.ones(every), 0.0)
    floor = floor * uniform(next(k), every, 0.8, 1.0)
    same = _before(notes["pitch"]) == notes["pitch"]
    floor = jnp.where(same, 0.4 * floor, floor)  # or nobody could hear it
    glide_s = log_uniform(next(k), one, 0.002, 0.03)
    glide_s = jnp.where(chance(next(k), one, 0.15), log_uniform(next(k), one, 0.03, 0.09), glide_s)
    glide_s = jnp.minimum(glide_s * jnp.ones(every), 0.35 * length)
    rise_s = attack_s * jnp.where(speaks, 3.21, 0.223)
    vibrato = uniform(next(k), one, 0, 0.45)
    vibrato = jnp.where(chance(next(k), one, 0.2), uniform(next(k), one, 0.4, 1.0), vibrato)
    vibrato = vibrato * chance(next(k), one, 0.55) * chance(next(k), every, 0.85)
    formants = (lines, 4)
    plucked = chance(next(k), one, 0.12)
    long_notes = notes["end"] - notes["onset"] > 0.18
    fall = some(0.12, -9.0, -0.7, of=0.35) * long_notes
    tuned = chance(next(k), one, 0.35)
    return notes | {
        "joined": joined * 1.0,
        "pitch_before": _before(notes["pitch"]),
        "level_before": _before(notes["level"]),
        "following": _after(notes["onset"]),
        "floor": floor,
        "floor_after": jnp.where(_after(joined * 1.0) > 0, _after(floor), 1.0),
        "dip_s": log_uniform(next(k), one, 0.003, 0.02) * jnp.ones(every),
        "change_s": log_uniform(next(k), one, 0.003, 0.025) * jnp.ones(every),
        "glide_s": glide_s,
        "speaks": speaks * jnp.ones(every),
        "late_s": jnp.where(joined, jnp.maximum((1 - floor) * rise_s, 0.69 * glide_s), rise_s),
        "key": jnp.where(
            chance(next(k), one, 0.4), log_uniform(next(k), one, 0.003, 0.2), 0.0
        ) * chance(next(k), every, 0.6),
        "key_hz": log_uniform(next(k), every, 80, 1200),
        "key_s": log_uniform(next(k), every, 0.003, 0.03),
        "ahead": jnp.where(
            chance(next(k), one, 0.35), log_uniform(next(k), one, 0.003, 0.25), 0.0
        ) * chance(next(k), every, 0.6),
        "ahead_s": log_uniform(next(k), every, 0.015, 0.15),
        "swift": log_uniform(next(k), one, 0.1, 3.5),
        "slow": log_uniform(next(k), one, 0.3, 6.0),
        "vibrant": 0.35 * jax.random.normal(next(k), (lines, PARTIALS))
        * (vibrato.max(axis=1, keepdims=True) > 0),
        "pulse": per_line(0.6, 0.0, 0.6) * (vibrato.max(axis=1, keepdims=True) > 0),
        "pulse_phase": uniform(next(k), one, 0, 1),
        "subtone": per_line(0.1, 0.01, 0.2),
        "first_db": per_line(0.35, -25.0, 3.0) * jnp.ones(every),
        "scoop": some(0.25, -2.8, -0.2, of=0.5) * (notes["end"] - notes["onset"] > 0.1),
        "scoop_s": log_uniform(next(k), every, 0.01, 0.06),
        "fall": fall,
        "fall_s": uniform(next(k), every, 0.06, 0.3),
        "vibrato": vibrato,
        "vibrato_after_s": uniform(next(k), one, 0.0, 0.4) * jnp.ones(every),
        "vibrato_hz": uniform(next(k), one, 3.5, 7.5),
        "vibrato_phase": uniform(next(k), one, 0, 1),
        "off": log_uniform(next(k), one, 0.03, 0.16) * jax.random.normal(next(k), every),
        "tuning": jnp.where(tuned, 0.0, uniform(next(k), one, -0.5, 0.5)),
        "drift": per_line(0.5, 0.0, 0.12),
        "drift_hz": uniform(next(k), one, 0.2, 2.0),
        "wobble": per_line(0.4, 0.0, 0.45),
        "wobble_hz": log_uniform(next(k), one, 1.5, 14),
        "wobble_phase": uniform(next(k), every, 0, 1),
        "growl": per_line(0.1, 0.2, 1.0),
        "growl_hz": log_uniform(next(k), one, 14, 90),
        "attack_s": attack_s,
        "decay_s": jnp.where(plucked, log_uniform(next(k), one, 0.15, 2.0), 1e3) * jnp.ones(every),
        "release_s": log_uniform(next(k), one, 0.006, 0.09) * jnp.ones(every),
        "swell": uniform(next(k), one, -0.5, 0.7) * jnp.ones(every),
        "opening_s": log_uniform(next(k), one, 0.002, 0.12) * jnp.ones(every),
        "undertone": some(0.45, 0.0, 1.4, of=0.35),
        "undertone_s": log_uniform(next(k), every, 0.02, 0.13),
        "undertone_edge": jnp.where(chance(next(k), one, 0.5), 1.0, 3.0),
        "low_partials": jnp.where(
            chance(next(k), one, 0.5),
            jax.random.randint(next(k), one, 2, 8).astype(jnp.float32), 1.0
        ),
        "breath": log_uniform(next(k), one, 0.001, 0.09),
        "air_colour": uniform(next(k), one, -0.9, 0.9),
        "chiff": some(0.6, 0.0, 0.6, of=0.6),
        "chiff_s": log_uniform(next(k), every, 0.008, 0.05),
        "click": some(0.3, 0.0, 1.2, of=0.3),
        "slope_db": uniform(next(k), one, 0.0, 15.0),
        "brightness": 1.3 * jax.random.normal(next(k), every),
        "odd_db": jnp.where(chance(next(k), one, 0.22), uniform(next(k), one, 6, 40), 0.0)
        * jnp.ones(every),
        "roughness": uniform(next(k), (lines, 1, 1), 0.5, 5.0)
        * (jax.random.normal(next(k), (lines, 1, PARTIALS)) * 1.2
           + 0.7 * jax.random.normal(next(k), (lines, NOTES, PARTIALS))),
        "phases": uniform(next(k), (lines, PARTIALS), 0, 1),
        "formant": uniform(next(k), formants, -1.8, 2.3),
        "formant_width": uniform(next(k), formants, 0.25, 1.1),
        "formant_db": uniform(next(k), formants, -16, 22),
    }  # fmt: skip


def only(notes: dict[str, Array], parity: int) -> dict[str, Array]:
    """Every other note, the rest moved past the end, in order of time."""
    chosen = dict(notes)
    for name, value in notes.items():
        if value.ndim >= 2 and value.shape[1] == NOTES:
            chosen[name] = value[:, parity::2]
    return chosen


def played(key: Key, lines: int) -> tuple[Array, dict[str, Array], Array]:
    """Lines as a player alone in a dry room: sound, notes, and each moment's bend.

    On a few lines nobody plays: what is left begins no note.
    """
    k = jax.random.split(key, 9)
    gliding = chance(k[6], (lines, 1), 0.55)
    notes = character(k[1], line(k[2], lines), gliding)
    whole, bend = tone(k[7], notes)
    odd = [tone(k[4 - parity], only(notes, parity))[0] for parity in (0, 1)]
    sound = jnp.where(gliding, whole, odd[0] + odd[1])
    plays = ~chance(k[8], (lines, 1), 0.03)
    around = strays(k[0], lines) + stale_air(k[5], lines)
    return sound / rms(sound) * plays + around, notes | {"plays": plays}, bend


def strays(key: Key, lines: int) -> Array:
    """Keys, knocks, tongues and metronomes: short sounds that begin no note."""
    k = iter(jax.random.split(key, 20))
    one, events = (lines, 1), (lines, 24)
    time = jnp.arange(1600) / RATE
    regular = chance(next(k), one, 0.3)
    period = log_uniform(next(k), one, 0.2, 1.0)
    beats = period * (jnp.arange(24) + uniform(next(k), one, 0, 1))
    when = jnp.where(regular, beats, uniform(next(k), events, 0, 2 * SECONDS))
    own = jnp.where(regular, 0.0, 1.0)
    hertz = log_uniform(next(k), one, 150, 4000) * jnp.exp(
        own * 0.5 * jax.random.normal(next(k), events)
    )
    decay = log_uniform(next(k), one, 0.003, 0.03) * jnp.exp(
        own * 0.4 * jax.random.normal(next(k), events)
    )
    loud_db = uniform(next(k), one, -48, -8) + own * 5 * jax.random.normal(next(k), events)
    loud_db = loud_db + jnp.where(regular, 12.0, 0.0)
    pitched = uniform(next(k), one, 0, 1)[..., None]
    noise = jax.random.normal(next(k), (*events, 1600))
    waves = jnp.sin(2 * jnp.pi * hertz[..., None] * time)
    bursts = (pitched * waves + (1 - pitched) * noise) * jnp.exp(-time / decay[..., None])
    bursts = bursts * 10 ** (loud_db[..., None] / 20) * chance(next(k), one, 0.35)[..., None]
    places = jnp.round(when * RATE).astype(jnp.int32)[..., None] + jnp.arange(1600)
    empty = jnp.zeros((lines, LENGTH))
    return jax.vmap(lambda row, at, burst: row.at[at].add(burst, mode="drop"))(
        empty, places, bursts
    )


def stale_air(key: Key, lines: int) -> Array:
    """Breath that comes and goes with no note."""
    k = jax.random.split(key, 6)
    one = (lines, 1)
    white = jax.random.normal(k[0], (lines, LENGTH))
    air = white - jnp.roll(white, 1, axis=1) * uniform(k[1], one, -0.9, 0.9)
    gain = between(fluctuation(k[2], (lines,), jnp.zeros(one), uniform(k[3], one, 3, 14)))
    loud = 10 ** (uniform(k[4], one, -70, -28) / 20) * chance(k[5], one, 0.5)
    return air * jnp.minimum(gain, 20.0) * loud


# --- around it --------------------------------------------------------------------------


def spectrum_shaped(sound: Array, gain: Array, size: int) -> Array:
    """A sound through a filter that is given by its gain at each Fourier bin."""
    return jnp.fft.irfft(jnp.fft.rfft(sound, size) * gain, size)[:, : sound.shape[1]]


def rms(sound: Array) -> Array:
    """Root mean square of each line, shape (lines, 1)."""
    return jnp.sqrt(jnp.mean(sound**2, axis=1, keepdims=True) + 1e-12)


def room(key: Key, sound: Array) -> Array:
    """The sound in a room: direct, a few early reflections and a tail that dies away."""
    lines = sound.shape[0]
    k = jax.random.split(key, 9)
    tail = 32_000
    time = jnp.arange(tail) / RATE
    live = chance(k[8], (lines, 1), 0.4)
    rt60 = log_uniform(k[0], (lines, 1), jnp.where(live, 0.45, 0.15), jnp.where(live, 2.2, 1.8))
    white = jax.random.normal(k[1], (lines, tail))
    colour = uniform(k[2], (lines, 1), 0.0, 0.95)
    dark = jax.lax.associative_scan(
        lambda one, two: (one[0] * two[0], one[1] * two[0] + two[1]),
        (jnp.broadcast_to(colour, white.shape), white),
        axis=1,
    )[1]
    mixed = jnp.where(chance(k[3], (lines, 1), 0.5), dark, white)
    early = uniform(k[4], (lines, 1), 0.001, 0.02)
    diffuse = mixed * jnp.exp(-6.91 * time / rt60) * (time > early)
    sparse = chance(k[5], (lines, tail), 0.004) & (time < 0.06)
    diffuse = diffuse / rms(diffuse) + 6 * sparse * white * jnp.exp(-time / 0.02)
    diffuse = diffuse / jnp.sqrt(jnp.sum(diffuse**2, axis=1, keepdims=True))
    ratio_db = uniform(k[6], (lines, 1), -6, jnp.where(live, 6, 18))
    wet = 10 ** (-ratio_db / 20)
    direct = jnp.zeros((lines, tail)).at[:, 0].set(1.0)
    response = direct + wet * diffuse
    size = 131_072
    heard = jnp.fft.irfft(jnp.fft.rfft(sound, size) * jnp.fft.rfft(response, size), size)
    return jnp.where(chance(k[7], (lines, 1), 0.78), heard[:, :LENGTH], sound)


def backing(key: Key, lines: int) -> Array:
    """Bass, chords and drums, made up, at level one."""
    k = iter(jax.random.split(key, 40))
    time = jnp.arange(LENGTH) / RATE
    one = (lines, 1)
    beat_s = 60 / log_uniform(next(k), one, 50, 260)
    phase = uniform(next(k), one, 0, 1)
    beats = time / beat_s + phase
    count = jnp.floor(beats).astype(jnp.int32)
    since = (beats - count) * beat_s

    def pitched(
        low: int, high: int, every: int, decay: tuple[float, float], slope: tuple[float, float]
    ) -> Array:
        pitches = jax.random.randint(next(k), (lines, 64), low, high)
        step = jnp.clip(count // every, 0, 63)
        start = since + (count % every) * beat_s
        hertz = 440 * 2 ** ((jnp.take_along_axis(pitches, step, axis=1) - 69) / 12)
        envelope = jnp.exp(-start / log_uniform(next(k), one, *decay)) * (
            1 - jnp.exp(-start / 0.004)
        )
        fade = uniform(next(k), one, *slope)
        total = jnp.zeros((lines, LENGTH))
        for n in range(1, 9):
            wave = jnp.sin(2 * jnp.pi * n * jnp.mod(hertz * start, 1.0))
            total += wave * 10 ** (-fade * jnp.log2(n * 1.0) / 20) * (hertz * n < TOP_HZ)
        return total * envelope

    bass = pitched(28, 52, 1, (0.2, 1.5), (4, 12))
    chords = sum(pitched(50, 77, 2, (0.2, 3.0), (5, 14)) for _ in range(4))
    white = jax.random.normal(next(k), (lines, LENGTH))
    bright = white - jnp.roll(white, 1, axis=1)
    double = jnp.mod(beats * jnp.where(chance(next(k), one, 0.5), 2, 3), 1.0) * beat_s / 2
    ride = bright * jnp.exp(-double / log_uniform(next(k), one, 0.02, 0.25))
    backbeat = white * jnp.exp(-(since + (count % 2) * beat_s) / 0.06)
    kick = jnp.sin(2 * jnp.pi * (55 * since + 6 * (1 - jnp.exp(-since / 0.02)))) * jnp.exp(
        -since / 0.12
    )
    parts = [bass, chords, ride, backbeat, kick]
    total = jnp.zeros((lines, LENGTH))
    for part in parts:
        loud = 10 ** (uniform(next(k), one, -14, 0) / 20) * chance(next(k), one, 0.85)
        total += part / rms(part) * loud
    return total / rms(total)


def coloured(key: Key, lines: int) -> Array:
    """Noise of a random colour, and hum, at level one."""
    k = jax.random.split(key, 8)
    hz = jnp.fft.rfftfreq(LENGTH, 1 / RATE)
    slope = uniform(k[0], (lines, 1), -1.2, 0.2)
    gain = (jnp.maximum(hz, 30.0) / 1000) ** slope
    noise = spectrum_shaped(jax.random.normal(k[1], (lines, LENGTH)), gain, LENGTH)
    noise = noise / rms(noise)
    mains = jnp.where(chance(k[2], (lines, 1), 0.5), 50.0, 60.0)
    time = jnp.arange(LENGTH) / RATE
    hum = sum(
        jnp.sin(2 * jnp.pi * n * mains * time) / n * uniform(k[3 + i], (lines, 1), 0, 1)
        for i, n in enumerate((1, 2, 3, 4))
    )
    return noise + hum * chance(k[7], (lines, 1), 0.15)


def recorded(key: Key, sound: Array) -> Array:
    """The sound through a microphone: its response, a phone's band, saturation, level."""
    lines = sound.shape[0]
    k = jax.random.split(key, 12)
    size = 81_920
    hz = jnp.fft.rfftfreq(size, 1 / RATE)
    octaves = jnp.log2(jnp.maximum(hz, 20.0) / 1000)
    decibels = jnp.zeros((lines, len(hz)))
    for i in range(5):
        parts = jax.random.split(k[i], 3)
        centre, wide = uniform(parts[0], (lines, 1), -4, 3), uniform(parts[1], (lines, 1), 0.2, 1.5)
        decibels += uniform(parts[2], (lines, 1), -9, 7) * jnp.exp(
            -((octaves - centre) ** 2) / wide**2
        )
    narrow = chance(k[5], (lines, 1), 0.2)
    low_cut, high_cut = (
        log_uniform(k[6], (lines, 1), 60, 350),
        log_uniform(k[7], (lines, 1), 3000, 7500),
    )
    band = 1 / (1 + (low_cut / jnp.maximum(hz, 1)) ** 4) / (1 + (hz / high_cut) ** 6)
    gain = 10 ** (decibels / 20) * jnp.where(narrow, band, 1.0)
    heard = spectrum_shaped(sound, gain, size)
    drive = log_uniform(k[8], (lines, 1), 0.3, 3.0)
    peak = jnp.max(jnp.abs(heard), axis=1, keepdims=True) + 1e-9
    bent = jnp.tanh(heard / peak * drive) / drive
    return jnp.where(chance(k[9], (lines, 1), 0.25), bent, heard / peak)


def coded(key: Key, sound: Array) -> Array:
    """The sound through a codec: coarse in each band, empty where it is masked.

    A lapped cosine transform (Princen and Bradley 1986) of 64 ms, bands of sixteen bins.
    """
    lines = sound.shape[0]
    k = jax.random.split(key, 4)
    half = 512
    place, row = jnp.arange(2 * half), jnp.arange(half)
    turn = jnp.pi / half * (place[:, None] + 0.5 + half / 2) * (row + 0.5)
    window = jnp.sin(jnp.pi * (place + 0.5) / (2 * half))
    basis = window[:, None] * jnp.cos(turn) * (2 / half) ** 0.5
    frames = LENGTH // half + 2
    padded = jnp.pad(sound, ((0, 0), (half, (frames + 1) * half - LENGTH - half)))
    blocks = padded.reshape(lines, frames + 1, half)
    lapped = jnp.concatenate([blocks[:, :-1], blocks[:, 1:]], axis=2)
    bins = (lapped @ basis).reshape(lines, frames, 32, 16)
    loud = jnp.sqrt(jnp.mean(bins**2, axis=3, keepdims=True) + 1e-12)
    loudest = jnp.max(loud, axis=2, keepdims=True)
    coarse = log_uniform(k[0], (lines, 1, 1, 1), 0.3, 2.5)
    rising = 1 + uniform(k[1], (lines, 1, 1, 1), 0, 2) * jnp.arange(32)[:, None] / 32
    step = loud * coarse * rising
    kept = jnp.round(bins / step) * step
    masked_db = uniform(k[2], (lines, 1, 1, 1), 38, 75)
    kept = jnp.where(loud < loudest * 10 ** (-masked_db / 20), 0.0, kept)
    parts = kept.reshape(lines, frames, half) @ basis.T
    joined = parts[:, :-1, half:] + parts[:, 1:, :half]
    heard = joined.reshape(lines, -1)[:, :LENGTH]
    return jnp.where(chance(k[3], (lines, 1), 0.3), heard, sound)


def truth(notes: dict[str, Array], bend: Array) -> dict[str, Array]:
    """What each frame should say.

    Returns
    -------
    dict of arrays
        ``pitch`` (lines, FRAMES), semitone or SEMITONES for silence; ``near`` (lines,
        FRAMES), 1 beside an onset falling to 0 two frames away, in fractions of a frame;
        ``bend`` (lines, FRAMES) in semitones; ``sure`` (lines, FRAMES), 0 where it is
        left open what sounds; ``notes`` (lines, NOTES, 3), onset, end and pitch.
    """
    time = jnp.arange(FRAMES) * HOP / RATE
    onset = notes["onset"] + notes["late_s"]
    begun = onset[:, :, None] <= time
    index = jnp.clip(begun.sum(axis=1) - 1, 0)
    first = jnp.take_along_axis(onset, index, axis=1)
    end = jnp.take_along_axis(notes["end"], index, axis=1)
    note = jnp.take_along_axis(notes["pitch"], index, axis=1) - LOW
    sounds = (first <= time) & (time < end) & notes["plays"]
    pitch = jnp.where(sounds, note, SEMITONES).astype(jnp.int32)
    away = jnp.min(jnp.abs(onset[:, :, None] - time), axis=1) / (HOP / RATE)
    near = jnp.clip(1 - away / 2, 0, 1) * notes["plays"]
    after = (time >= end) & (time < end + 0.06) & (index >= 0)
    here = jnp.round(time * RATE).astype(jnp.int32)
    coming = jnp.argmin(jnp.abs(onset[:, :, None] - time), axis=1)
    return {
        "pitch": pitch,
        "near": near,
        "near_pitch": jnp.take_along_axis(notes["pitch"], coming, axis=1).astype(jnp.int32) - LOW,
        "bend": bend[:, here] + notes["tuning"],
        "sure": jnp.where(after, 0.3, 1.0),
        "notes": jnp.stack([onset, notes["end"], notes["pitch"] + notes["tuning"]], axis=-1),
    }


@partial(jax.jit, static_argnums=1)
def batch(key: Key, lines: int) -> tuple[Array, dict[str, Array]]:
    """Lines as a phone records them, with their truth.

    Returns
    -------
    sound : float32 array, shape (lines, LENGTH)
    truth : dict of arrays
        As `truth` gives it, with ``alone`` (lines,), 0 where a second player is too loud to
        say whose note counts, and ``company`` (lines, FRAMES), 1 while both of them sound.
    """
    k = jax.random.split(key, 14)
    sound, notes, bend = played(k[0], lines)
    said = truth(notes, bend)
    one = (lines, 1)
    two = chance(k[9], one, 0.2) & notes["plays"]
    second_db = jnp.where(two, uniform(k[10], one, -30, 3), -200.0)
    sound = sound + 10 ** (second_db / 20) * jnp.roll(sound, 1, axis=0)
    loud = second_db > COMPANY_DB
    sounding = said["pitch"] < SEMITONES
    said["company"] = loud & sounding & jnp.roll(sounding, 1, axis=0)
    said["alone"] = ~loud[:, 0]
    sound = room(k[1], sound)
    leaks = chance(k[2], one, 0.45) & notes["plays"]
    leak_db = jnp.where(leaks, uniform(k[3], one, -32, -6), -200.0)
    leak = room(k[4], backing(k[5], lines))
    noise_db = uniform(k[6], one, -62, -12)
    sound = sound + 10 ** (leak_db / 20) * leak / rms(leak) * rms(sound)
    sound = recorded(k[7], coded(k[11], sound))
    sound = sound + 10 ** (noise_db / 20) * coloured(k[8], lines) * rms(sound)
    return sound.astype(jnp.float32), said
