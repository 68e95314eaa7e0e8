"""The network that hears notes, in JAX for training and as ONNX for use.

One definition, `forward`, written with the few operations of `Jax` below; `onnx_model`
walks the same definition with operations that write a graph instead. So what is trained is
what is shipped.

Shapes: harmonics (batch, frames, 183, 12) and bands (batch, frames, 48) go in; out come for
each frame 62 log-probabilities of what sounds (61 semitones and silence), 61 logits of a
note beginning on that semitone, one of a note beginning at all, 61 deviations in
semitones, and one logit of a second player. Inside, images are (batch, channels, frames,
semitones).
"""

from __future__ import annotations

from typing import Any

import numpy as np

SEMITONES, OVERTONES, BANDS = 61, 12, 48
FIRST, CHANNELS, WIDE, BAND_CHANNELS = 16, 32, 128, 64
BLOCKS = ((5, 3, 1), (5, 3, 2), (3, 3, 4), (3, 3, 8), (3, 3, 16), (5, 3, 1))
"""Frames and semitones of each block's filter, and how far apart its frames lie."""
OCTAVE_AFTER = 1
"""The block after which a note also sees what sounds an octave below and above it."""


def sizes() -> dict[str, tuple[int, ...]]:
    """The shape of every weight: (out, in, frames, semitones) for filters."""
    found: dict[str, tuple[int, ...]] = {
        "first.w": (FIRST, OVERTONES, 3, 3),
        "second.w": (CHANNELS, FIRST, 3, 5),
        "bands1.w": (BAND_CHANNELS, BANDS, 5, 1),
        "bands2.w": (BAND_CHANNELS, BAND_CHANNELS, 5, 1),
        "bands3.w": (CHANNELS, BAND_CHANNELS, 1, 1),
        "octave.w": (CHANNELS, 3 * CHANNELS, 1, 1),
        "pitch.w": (1, CHANNELS, 1, 1),
        "onset.w": (1, CHANNELS, 1, 1),
        "bend.w": (1, CHANNELS, 1, 1),
        "frame.w": (32, 2 * CHANNELS + BAND_CHANNELS, 1, 1),
        "silence.w": (1, 32, 1, 1),
        "attack.w": (1, 32, 1, 1),
        "company.w": (1, 32, 1, 1),
    }
    for index, (frames, semitones, _) in enumerate(BLOCKS):
        found[f"b{index}.depth.w"] = (CHANNELS, 1, frames, semitones)
        found[f"b{index}.around.w"] = (CHANNELS, CHANNELS, 1, 1)
        found[f"b{index}.wide.w"] = (WIDE, CHANNELS, 1, 1)
        found[f"b{index}.back.w"] = (CHANNELS, WIDE, 1, 1)
    biases = {name[:-1] + "b": (shape[0],) for name, shape in found.items()}
    places = {"place": (CHANNELS, SEMITONES)}
    gains = {f"b{index}.gain": (CHANNELS,) for index in range(len(BLOCKS))}
    return found | biases | places | gains


def first_weights(seed: int = 0) -> dict[str, np.ndarray]:
    """Weights to start from: He's for filters, small at the end of each block."""
    rng = np.random.default_rng(seed)
    weights = {}
    for name, shape in sizes().items():
        if name.endswith(".w"):
            inputs = int(np.prod(shape[1:]))
            scale = (2 / inputs) ** 0.5 * (0.3 if "back" in name or "around" in name else 1)
            weights[name] = rng.normal(0, scale, shape)
        elif name.endswith("gain"):
            weights[name] = np.ones(shape)
        else:
            weights[name] = np.zeros(shape)
    weights["onset.b"] -= 5
    weights["attack.b"] -= 3
    weights["company.b"] -= 3
    return {name: value.astype(np.float32) for name, value in weights.items()}


RESULTS = {
    "pitch": SEMITONES + 1,
    "onset": SEMITONES,
    "attack": 1,
    "bend": SEMITONES,
    "company": 1,
}
"""What comes out for each frame, and how many numbers each is."""


def forward(ops: Any, weights: Any, harmonics: Any, bands: Any) -> tuple[Any, ...]:
    """What is heard, in the order of `RESULTS`."""

    def filtered(name: str, image: Any, **kind: Any) -> Any:
        return ops.conv(image, weights[f"{name}.w"], weights[f"{name}.b"], **kind)

    image = ops.image(harmonics)  # (batch, overtones, frames, 183)
    image = ops.relu(filtered("first", image))
    image = ops.relu(filtered("second", image, stride=3))
    short = ops.line(bands)  # (batch, bands, frames, 1)
    short = ops.relu(filtered("bands1", short))
    short = ops.relu(filtered("bands2", short))
    image = ops.add(image, filtered("bands3", short))
    image = ops.add(image, ops.as_image(weights["place"]))
    for index, (_, _, dilation) in enumerate(BLOCKS):
        normal = ops.normal(image, weights[f"b{index}.gain"])
        inner = filtered(f"b{index}.depth", normal, dilation=dilation, depthwise=True)
        around = filtered(f"b{index}.around", ops.mean(normal))
        inner = ops.relu(filtered(f"b{index}.wide", ops.add(inner, around)))
        image = ops.add(image, filtered(f"b{index}.back", inner))
        if index == OCTAVE_AFTER:
            clear = ops.relu(image)
            around = ops.join([clear, ops.shifted(clear, 12), ops.shifted(clear, -12)])
            image = ops.add(image, filtered("octave", around))
    last = ops.relu(image)
    frame = ops.relu(filtered("frame", ops.join([ops.mean(last), ops.peak(last), short])))
    pitch = ops.beside(filtered("pitch", last), filtered("silence", frame))
    return (
        ops.log_softmax(ops.flat(pitch)),
        ops.flat(filtered("onset", last)),
        ops.flat(filtered("attack", frame)),
        ops.flat(filtered("bend", last)),
        ops.flat(filtered("company", frame)),
    )


class Jax:
    """The operations on JAX arrays.

    Parameters
    ----------
    dtype : str
        In which images are computed; results are float32.
    """

    def __init__(self, dtype: str = "float32") -> None:
        import jax
        import jax.numpy as jnp

        self._jax, self._np, self._dtype = jax, jnp, dtype

    def image(self, harmonics: Any) -> Any:
        return harmonics.transpose(0, 3, 1, 2).astype(self._dtype)

    def line(self, bands: Any) -> Any:
        return bands.transpose(0, 2, 1)[..., None].astype(self._dtype)

    def conv(
        self,
        image: Any,
        w: Any,
        b: Any,
        *,
        stride: int = 1,
        dilation: int = 1,
        depthwise: bool = False,
    ) -> Any:
        frames, semitones = w.shape[2:]
        w, b = w.astype(image.dtype), b.astype(image.dtype)[None, :, None, None]
        along, across = dilation * (frames - 1) // 2, (semitones - 1) // 2
        if depthwise:  # a sum of shifted images, which compiles to less than a grouped filter
            padded = self._np.pad(image, ((0, 0), (0, 0), (along, along), (across, across)))
            height, width = image.shape[2:]
            taps = [
                padded[:, :, dilation * i : dilation * i + height, j : j + width]
                * w[None, :, 0, i, j, None, None]
                for i in range(frames)
                for j in range(semitones)
            ]
            return sum(taps) + b
        if frames == semitones == 1:
            return self._np.einsum("oc,bcts->bots", w[:, :, 0, 0], image) + b
        across -= stride == 3
        out = self._jax.lax.conv_general_dilated(
            image, w, (1, stride), ((along, along), (across, across)), rhs_dilation=(dilation, 1)
        )
        return out + b

    def relu(self, image: Any) -> Any:
        return self._jax.nn.relu(image)

    def add(self, one: Any, other: Any) -> Any:
        return one + other

    def as_image(self, weight: Any) -> Any:
        return weight[None, :, None, :].astype(self._dtype)

    def normal(self, image: Any, gain: Any) -> Any:
        wide = image.astype("float32")
        power = self._np.mean(self._np.square(wide), axis=1, keepdims=True)
        scaled = wide / self._np.sqrt(power + 1e-3) * gain[None, :, None, None]
        return scaled.astype(image.dtype)

    def mean(self, image: Any) -> Any:
        return self._np.mean(image, axis=3, keepdims=True)

    def peak(self, image: Any) -> Any:
        return self._np.max(image, axis=3, keepdims=True)

    def join(self, images: list[Any]) -> Any:
        return self._np.concatenate(images, axis=1)

    def beside(self, image: Any, other: Any) -> Any:
        return self._np.concatenate([image, other], axis=3)

    def shifted(self, image: Any, semitones: int) -> Any:
        still = self._np.zeros_like(image[..., :12])
        if semitones > 0:
            return self._np.concatenate([still, image[..., :-12]], axis=3)
        return self._np.concatenate([image[..., 12:], still], axis=3)

    def flat(self, image: Any) -> Any:
        return image[:, 0].astype("float32")

    def log_softmax(self, logits: Any) -> Any:
        return self._jax.nn.log_softmax(logits, axis=-1)


class Graph:
    """The operations as nodes of an ONNX graph; values are names."""

    def __init__(self) -> None:
        self.nodes: list[Any] = []
        self.constants: dict[str, np.ndarray] = {}

    def _node(self, kind: str, *inputs: str, **attributes: Any) -> str:
        import onnx.helper

        name = f"{kind.lower()}{len(self.nodes)}"
        self.nodes.append(onnx.helper.make_node(kind, inputs, [name], **attributes))
        return name

    def _constant(self, value: Any) -> str:
        name = f"constant{len(self.constants)}"
        self.constants[name] = np.asarray(value)
        return name

    def image(self, harmonics: str) -> str:
        return self._node("Transpose", harmonics, perm=[0, 3, 1, 2])

    def line(self, bands: str) -> str:
        turned = self._node("Transpose", bands, perm=[0, 2, 1])
        return self._node("Unsqueeze", turned, self._constant(np.array([3])))

    def conv(
        self,
        image: str,
        w: np.ndarray,
        b: np.ndarray,
        *,
        stride: int = 1,
        dilation: int = 1,
        depthwise: bool = False,
    ) -> str:
        frames, semitones = w.shape[2:]
        along, across = dilation * (frames - 1) // 2, (semitones - 1) // 2
        across -= stride == 3
        return self._node(
            "Conv",
            image,
            self._constant(w),
            self._constant(b),
            kernel_shape=[frames, semitones],
            strides=[1, stride],
            dilations=[dilation, 1],
            pads=[along, across, along, across],
            group=w.shape[0] if depthwise else 1,
        )

    def relu(self, image: str) -> str:
        return self._node("Relu", image)

    def add(self, one: str, other: str) -> str:
        return self._node("Add", one, other)

    def as_image(self, weight: np.ndarray) -> str:
        return self._constant(weight[None, :, None, :])

    def normal(self, image: str, gain: np.ndarray) -> str:
        square = self._node("Mul", image, image)
        power = self._node("ReduceMean", square, self._constant(np.array([1])), keepdims=1)
        power = self._node("Add", power, self._constant(np.float32(1e-3)))
        root = self._node("Sqrt", power)
        scaled = self._node("Div", image, root)
        return self._node("Mul", scaled, self._constant(gain[None, :, None, None]))

    def mean(self, image: str) -> str:
        return self._node("ReduceMean", image, self._constant(np.array([3])), keepdims=1)

    def peak(self, image: str) -> str:
        return self._node("ReduceMax", image, self._constant(np.array([3])), keepdims=1)

    def join(self, images: list[str]) -> str:
        return self._node("Concat", *images, axis=1)

    def beside(self, image: str, other: str) -> str:
        return self._node("Concat", image, other, axis=3)

    def shifted(self, image: str, semitones: int) -> str:
        low, high = (0, SEMITONES - 12) if semitones > 0 else (12, SEMITONES)
        ends = [self._constant(np.array([value])) for value in (low, high, 3)]
        kept = self._node("Slice", image, *ends)
        pads = [0] * 8
        pads[3 if semitones > 0 else 7] = 12
        return self._node("Pad", kept, self._constant(np.array(pads)))

    def flat(self, image: str) -> str:
        return self._node("Squeeze", image, self._constant(np.array([1])))

    def log_softmax(self, logits: str) -> str:
        return self._node("LogSoftmax", logits, axis=-1)


def onnx_model(weights: dict[str, np.ndarray]) -> Any:
    """The network with its weights, for any number of frames, one take at a time."""
    import onnx
    from onnx import TensorProto, helper, numpy_helper

    graph = Graph()
    results = forward(graph, weights, "harmonics", "bands")
    for result, name in zip(results, RESULTS, strict=True):
        graph.nodes.append(helper.make_node("Identity", [result], [name]))

    def value(name: str, *rest: int) -> Any:
        return helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, "frames", *rest])

    made = helper.make_graph(
        graph.nodes,
        "halfstep-listen",
        [value("harmonics", 3 * SEMITONES, OVERTONES), value("bands", BANDS)],
        [value(name, size) for name, size in RESULTS.items()],
        [numpy_helper.from_array(each, name) for name, each in graph.constants.items()],
    )
    model = helper.make_model(made, opset_imports=[helper.make_opsetid("", 18)])
    model.ir_version = 9
    onnx.checker.check_model(model)
    return model
