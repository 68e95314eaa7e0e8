"""Train the network that hears notes.

    python training/train.py OUT [--steps N] [--from STATE] [--rate R] [--seconds S] [--seed N]

Lines are made on the fly (`synth.py`) and never repeat. Needs JAX; under half an hour on one
graphics card of the large kind. Writes OUT/weights.npz (a moving average of the weights)
and OUT/state.npz, to go on from, once a minute; and OUT/log.txt. A run that is stopped after
some seconds and gone on with makes the steps of one that is not. From an .onnx file that
`export.py` wrote, a new schedule begins with its weights.
"""

from __future__ import annotations

import argparse
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "src")]

import network  # noqa: E402
import synth  # noqa: E402

from halfstep.listen import spectra  # noqa: E402

RATE, DECAY, AVERAGE = 2e-3, 1e-2, 0.9995
STEPS = 11_000


def seen(sound: Any, gain: Any) -> tuple[Any, Any]:
    """The spectra of whole lines, as `spectra.spectra` computes them."""
    pairs = synth.FRAMES // 2
    level = jnp.sqrt(jnp.mean(sound.reshape(sound.shape[0], -1, spectra.BRIEF) ** 2, axis=2))
    level = jnp.percentile(level, 95, axis=1)[:, None, None] * gain[:, None, None]

    def scale(window: int, hop: int, middle: int, padded: int, bank: Any) -> Any:
        before = np.arange(synth.LENGTH // hop)[:, None] * hop + middle - window // 2
        index = before + spectra.LONG + np.arange(window)
        framed = jnp.pad(sound, ((0, 0), (spectra.LONG, spectra.LONG)))[:, index]
        waves = jnp.fft.rfft(framed * spectra.hann(window), padded)
        powers = jnp.square(waves.real) + jnp.square(waves.imag)
        return spectra.over_floor(jnp.matmul(powers, bank, precision="highest"), level, jnp)

    long, short = (
        scale(window, spectra.PAIR, spectra.HOP // 2, window, spectra.pitch_bank(window))
        for window in (spectra.LONG, spectra.SHORT)
    )
    bands = scale(spectra.BRIEF, spectra.HOP, 0, spectra.PADDED, spectra.band_bank())
    harmonics = spectra.stacked_overtones(long, short, jnp)
    return harmonics, bands.reshape(len(sound), pairs, 2 * spectra.BANDS)


def losses(weights: Any, key: Any, batch: int, dtype: str) -> tuple[Any, dict[str, Any]]:
    """The loss of a new batch, and its parts."""
    one, two = jax.random.split(key)
    sound, truth = synth.batch(one, batch)
    gain = 10 ** (jax.random.uniform(two, (batch,), minval=-6, maxval=6) / 20)
    harmonics, bands = jax.lax.stop_gradient(seen(sound, gain))
    pitch, onset, attack, bend, company = (
        said.reshape(batch, synth.FRAMES, -1)
        for said in network.forward(network.Jax(dtype), weights, harmonics, bands)
    )
    alone = truth["alone"][:, None]
    sure, near = truth["sure"] * alone, truth["near"]
    right = jnp.take_along_axis(pitch, truth["pitch"][..., None], axis=2)[..., 0]
    of_pitch = -jnp.mean(right * sure)
    of_attack = jnp.mean(crossed(attack[..., 0], near) * alone)
    wanted = near[..., None] * (jnp.arange(synth.SEMITONES) == truth["near_pitch"][..., None])
    of_onset = jnp.mean(jnp.sum(crossed(onset, wanted), axis=2) * alone)
    sounding = truth["pitch"] < synth.SEMITONES
    place = jnp.minimum(truth["pitch"], synth.SEMITONES - 1)[..., None]
    found = jnp.take_along_axis(bend, place, axis=2)[..., 0]
    judged = sounding & (jnp.abs(truth["bend"]) < 1) & alone
    of_bend = jnp.sum(jnp.abs(found - truth["bend"]) * judged) / (jnp.sum(judged) + 1)
    of_company = jnp.mean(crossed(company[..., 0], truth["company"]))
    parts = {"pitch": of_pitch, "attack": of_attack, "onset": of_onset, "bend": of_bend}
    parts["company"] = of_company
    right = (jnp.argmax(pitch, axis=2) == truth["pitch"]) * alone
    parts["right"] = jnp.mean(right) / jnp.mean(alone)
    return of_pitch + 2 * of_attack + of_onset + of_bend + 0.3 * of_company, parts


def crossed(logits: Any, wanted: Any) -> Any:
    """Binary cross-entropy."""
    return jax.nn.softplus(logits) - wanted * logits


@partial(jax.jit, static_argnums=(4, 5), donate_argnums=0)
def step(state: Any, key: Any, rate: Any, count: Any, batch: int, dtype: str) -> tuple[Any, Any]:
    """One step of AdamW, and of the moving average."""
    (_, parts), slopes = jax.value_and_grad(losses, has_aux=True)(
        state["weights"], key, batch, dtype
    )
    norm = jnp.sqrt(sum(jnp.sum(slope**2) for slope in slopes.values()))
    clip = jnp.minimum(1.0, 1.0 / (norm + 1e-9))
    new: dict[str, Any] = {"weights": {}, "first": {}, "second": {}, "average": {}}
    for name, slope in slopes.items():
        slope = slope * clip
        old = state["weights"][name]
        first = 0.9 * state["first"][name] + 0.1 * slope
        second = 0.99 * state["second"][name] + 0.01 * slope**2
        moved = first / (1 - 0.9**count) / (jnp.sqrt(second / (1 - 0.99**count)) + 1e-8)
        decay = DECAY if name.endswith(".w") else 0.0
        new["weights"][name] = old - rate * (moved + decay * old)
        new["first"][name], new["second"][name] = first, second
        keep = jnp.minimum(AVERAGE, (1 + count) / (10 + count))
        new["average"][name] = keep * state["average"][name] + (1 - keep) * new["weights"][name]
    return new, parts | {"norm": norm}


def main() -> None:
    """Train, saving once a minute."""
    asked = argparse.ArgumentParser()
    asked.add_argument("out", type=Path)
    asked.add_argument("--from", dest="start", type=Path, help="state.npz, or a model (.onnx)")
    asked.add_argument("--rate", type=float, default=RATE, help="of learning, at its highest")
    asked.add_argument("--steps", type=int, default=STEPS, help="of the whole schedule")
    asked.add_argument("--seconds", type=float, default=np.inf, help="stop after these")
    asked.add_argument("--batch", type=int, default=96)
    asked.add_argument("--dtype", default="bfloat16")
    asked.add_argument("--seed", type=int, default=1)
    args = asked.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    state, count = first_state(args.start)
    key = jax.random.PRNGKey(args.seed)
    log = (args.out / "log.txt").open("a")
    begun = saved = time.monotonic()
    print("devices", jax.devices(), file=log, flush=True)
    while count < args.steps and time.monotonic() - begun < args.seconds:
        fading = 0.5 + 0.5 * np.cos(np.pi * count / args.steps)
        rate = args.rate * min(1.0, (count + 1) / 300) * fading
        state, parts = step(
            state, jax.random.fold_in(key, count), rate, count + 1, args.batch, args.dtype
        )
        count += 1
        if count % 50 == 0 or count < 4:
            shown = " ".join(f"{name} {float(value):.4f}" for name, value in parts.items())
            line = f"{count} {time.monotonic() - begun:.0f} s {shown}"
            print(line, file=log, flush=True)
            print(line, flush=True)
        if time.monotonic() - saved > 60:
            saved = time.monotonic()
            save(args.out, state, count)
    save(args.out, state, count)


def first_state(start: Path | None) -> tuple[Any, int]:
    """What is known at the first step, and which step that is."""
    if start is None:
        return unmoved(network.first_weights()), 0
    if start.suffix == ".onnx":
        import onnx

        return unmoved(network.weights_of(onnx.load(start))), 0
    kept = dict(np.load(start))
    count = int(kept.pop("count"))
    state: dict[str, Any] = {}
    for name, value in kept.items():
        kind, _, weight = name.partition("/")
        state.setdefault(kind, {})[weight] = jnp.asarray(value)
    return state, count


def unmoved(weights: dict[str, np.ndarray]) -> dict[str, Any]:
    """Weights that no step has moved."""
    return {
        "weights": {name: jnp.asarray(value) for name, value in weights.items()},
        "first": {name: jnp.zeros_like(value) for name, value in weights.items()},
        "second": {name: jnp.zeros_like(value) for name, value in weights.items()},
        "average": {name: jnp.array(value) for name, value in weights.items()},
    }


def save(out: Path, state: Any, count: int) -> None:
    """The averaged weights, and all that is needed to go on."""
    np.savez(out / "weights.npz", **{n: np.asarray(v) for n, v in state["average"].items()})
    flat = {f"{kind}/{n}": np.asarray(v) for kind, each in state.items() for n, v in each.items()}
    np.savez(out / "state.npz", count=count, **flat)


if __name__ == "__main__":
    main()
