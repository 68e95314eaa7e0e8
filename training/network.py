"""The network that hears notes, in JAX for training and as ONNX for use.

One definition, `forward`, written with the few operations of `Jax` below; `onnx_model`
walks the same definition with operations that write a graph instead. So what is trained is
what is shipped.

It thinks in pairs of frames, twenty milliseconds apart, and says something of both frames.
Shapes: harmonics (batch, pairs, 183, 12) and bands (batch, pairs, 96) go in; out come for
each frame 62 log-probabilities of what sounds (61 semitones and silence), 61 logits of a
note beginning on that semitone, one of a note beginning at all, 61 deviations in
semitones, and one logit of a second player, each of shape (batch, pairs, 2, ...). Inside,
images are (batch, channels, pairs, semitones).
"""

from __future__ import annotations

from typing import Any

import numpy as np

SEMITONES, OVERTONES, BANDS = 61, 12, 96
CHANNELS, WIDE, BAND_CHANNELS = 32, 128, 64
BLOCKS = ((5, 3, 1), (5, 3, 2), (3, 3, 4), (3, 3, 8), (3, 3, 2), (5, 3, 1))
"""Pairs and semitones of each block's filter, and how far apart its pairs lie."""
AROUND = (1, 3)
"""The blocks that see what the whole compass has on average."""
OCTAVE_AFTER = 1
"""The block after which a note also sees what sounds an octave below and above it."""


def sizes() -> dict[str, tuple[int, ...]]:
    """The shape of every weight: (out, in, pairs, semitones) for filters."""
    found: dict[str, tuple[int, ...]] = {
        "first.w": (CHANNELS, OVERTONES, 3, 5),
        "bands1.w": (BAND_CHANNELS, BANDS, 3, 1),
        "bands2.w": (BAND_CHANNELS, BAND_CHANNELS, 3, 1),
        "bands3.w": (CHANNELS, BAND_CHANNELS, 1, 1),
        "octave.w": (CHANNELS, CHANNELS, 1, 3),
        "pitch.w": (2, CHANNELS, 1, 1),
        "onset.w": (2, CHANNELS, 1, 1),
        "bend.w": (2, CHANNELS, 1, 1),
        "frame.w": (32, 2 * CHANNELS + BAND_CHANNELS, 1, 1),
        "silence.w": (2, 32, 1, 1),
        "attack.w": (2, 32, 1, 1),
        "company.w": (2, 32, 1, 1),
    }
    for index, (pairs, semitones, _) in enumerate(BLOCKS):
        found[f"b{index}.depth.w"] = (CHANNELS, 1, pairs, semitones)
        found[f"b{index}.wide.w"] = (WIDE, CHANNELS, 1, 1)
        found[f"b{index}.back.w"] = (CHANNELS, WIDE, 1, 1)
    for index in AROUND:
        found[f"b{index}.around.w"] = (CHANNELS, CHANNELS, 1, 1)
    biases = {name[:-1] + "b": (shape[0],) for name, shape in found.items()}
    return found | biases | {"place": (CHANNELS, SEMITONES)}


def first_weights(seed: int = 0) -> dict[str, np.ndarray]:
    """Weights to start from: He's for filters, small at the end of each block."""
    rng = np.random.default_rng(seed)
    weights = {}
    for name, shape in sizes().items():
        if name.endswith(".w"):
            inputs = int(np.prod(shape[1:]))
            small = any(kind in name for kind in ("back", "around", "octave"))
            weights[name] = rng.normal(0, (2 / inputs) ** 0.5 * (0.3 if small else 1), shape)
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

    image = ops.image(harmonics)  # (batch, overtones, pairs, 183)
    image = ops.relu(filtered("first", image, stride=3))
    brief = ops.line(bands)  # (batch, bands, pairs, 1)
    brief = ops.relu(filtered("bands1", brief))
    brief = ops.relu(filtered("bands2", brief))
    image = ops.add(image, filtered("bands3", brief))
    image = ops.add(image, ops.as_image(weights["place"]))
    for index, (_, _, apart) in enumerate(BLOCKS):
        inner = filtered(f"b{index}.depth", image, apart=(apart, 1), depthwise=True)
        if index in AROUND:
            inner = ops.add(inner, filtered(f"b{index}.around", ops.mean(image)))
        inner = ops.relu(filtered(f"b{index}.wide", inner))
        image = ops.add(image, filtered(f"b{index}.back", inner))
        if index == OCTAVE_AFTER:
            image = ops.add(image, filtered("octave", ops.relu(image), apart=(1, 12)))
    last = ops.relu(image)
    frame = ops.relu(filtered("frame", ops.join([ops.mean(last), ops.peak(last), brief])))
    pitch = ops.beside(filtered("pitch", last), filtered("silence", frame))
    return (
        ops.log_softmax(ops.by_frame(pitch)),
        ops.by_frame(filtered("onset", last)),
        ops.by_frame(filtered("attack", frame)),
        ops.by_frame(filtered("bend", last)),
        ops.by_frame(filtered("company", frame)),
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
        apart: tuple[int, int] = (1, 1),
        depthwise: bool = False,
    ) -> Any:
        pairs, semitones = w.shape[2:]
        w, b = w.astype(image.dtype), b.astype(image.dtype)[None, :, None, None]
        along, across = apart[0] * (pairs - 1) // 2, apart[1] * (semitones - 1) // 2
        if depthwise:  # a sum of shifted images, which compiles to less than a grouped filter
            padded = self._np.pad(image, ((0, 0), (0, 0), (along, along), (across, across)))
            height, width = image.shape[2:]
            taps = [
                padded[:, :, apart[0] * i : apart[0] * i + height, j : j + width]
                * w[None, :, 0, i, j, None, None]
                for i in range(pairs)
                for j in range(semitones)
            ]
            return sum(taps) + b
        if pairs == semitones == 1:
            return self._np.einsum("oc,bcts->bots", w[:, :, 0, 0], image) + b
        across -= stride == 3
        out = self._jax.lax.conv_general_dilated(
            image, w, (1, stride), ((along, along), (across, across)), rhs_dilation=apart
        )
        return out + b

    def relu(self, image: Any) -> Any:
        return self._jax.nn.relu(image)

    def add(self, one: Any, other: Any) -> Any:
        return one + other

    def as_image(self, weight: Any) -> Any:
        return weight[None, :, None, :].astype(self._dtype)

    def mean(self, image: Any) -> Any:
        return self._np.mean(image, axis=3, keepdims=True)

    def peak(self, image: Any) -> Any:
        return self._np.max(image, axis=3, keepdims=True)

    def join(self, images: list[Any]) -> Any:
        return self._np.concatenate(images, axis=1)

    def beside(self, image: Any, other: Any) -> Any:
        return self._np.concatenate([image, other], axis=3)

    def by_frame(self, image: Any) -> Any:
        return image.transpose(0, 2, 1, 3).astype("float32")

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
        apart: tuple[int, int] = (1, 1),
        depthwise: bool = False,
    ) -> str:
        pairs, semitones = w.shape[2:]
        along, across = apart[0] * (pairs - 1) // 2, apart[1] * (semitones - 1) // 2
        across -= stride == 3
        return self._node(
            "Conv",
            image,
            self._constant(w),
            self._constant(b),
            kernel_shape=[pairs, semitones],
            strides=[1, stride],
            dilations=list(apart),
            pads=[along, across, along, across],
            group=w.shape[0] if depthwise else 1,
        )

    def relu(self, image: str) -> str:
        return self._node("Relu", image)

    def add(self, one: str, other: str) -> str:
        return self._node("Add", one, other)

    def as_image(self, weight: np.ndarray) -> str:
        return self._constant(weight[None, :, None, :])

    def mean(self, image: str) -> str:
        return self._node("ReduceMean", image, self._constant(np.array([3])), keepdims=1)

    def peak(self, image: str) -> str:
        return self._node("ReduceMax", image, self._constant(np.array([3])), keepdims=1)

    def join(self, images: list[str]) -> str:
        return self._node("Concat", *images, axis=1)

    def beside(self, image: str, other: str) -> str:
        return self._node("Concat", image, other, axis=3)

    def by_frame(self, image: str) -> str:
        return self._node("Transpose", image, perm=[0, 2, 1, 3])

    def log_softmax(self, logits: str) -> str:
        return self._node("LogSoftmax", logits, axis=-1)


def weights_of(model: Any) -> dict[str, np.ndarray]:
    """The weights in a graph that `onnx_model` made."""
    from onnx import numpy_helper

    graph, likeness = Graph(), first_weights()
    forward(graph, likeness, "harmonics", "bands")
    values = {each.name: numpy_helper.to_array(each) for each in model.graph.initializer}
    return {
        name: values[constant].reshape(like.shape)
        for name, like in likeness.items()
        for constant, value in graph.constants.items()
        if value is like or value.base is like
    }


def onnx_model(weights: dict[str, np.ndarray], fingerprint: list[float]) -> Any:
    """The network with its weights, for any number of pairs, one take at a time.

    It carries a fingerprint of the spectra that it was trained with.
    """
    import json

    import onnx
    from onnx import TensorProto, helper, numpy_helper

    graph = Graph()
    results = forward(graph, weights, "harmonics", "bands")
    for result, name in zip(results, RESULTS, strict=True):
        graph.nodes.append(helper.make_node("Identity", [result], [name]))

    def value(name: str, *rest: int) -> Any:
        return helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, "pairs", *rest])

    made = helper.make_graph(
        graph.nodes,
        "halfstep-listen",
        [value("harmonics", 3 * SEMITONES, OVERTONES), value("bands", BANDS)],
        [value(name, 2, size) for name, size in RESULTS.items()],
        [numpy_helper.from_array(each, name) for name, each in graph.constants.items()],
    )
    model = helper.make_model(made, opset_imports=[helper.make_opsetid("", 18)])
    model.ir_version = 9
    helper.set_model_props(model, {"fingerprint": json.dumps(fingerprint)})
    onnx.checker.check_model(model)
    return model
