"""Write trained weights as the ONNX file that the program ships.

python training/export.py WEIGHTS.npz [OUT.onnx]
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent / "src")]

import network  # noqa: E402
from fingerprint import fingerprint  # noqa: E402

SHIPPED = HERE.parent / "src" / "halfstep" / "listen" / "hears.onnx"


def main() -> None:
    """Write the graph with its weights."""
    weights = dict(np.load(sys.argv[1]))
    out = Path(sys.argv[2]) if len(sys.argv) > 2 else SHIPPED
    out.write_bytes(network.onnx_model(weights, fingerprint()).SerializeToString())
    print(
        f"{out}: {out.stat().st_size / 1000:.0f} kB, {sum(map(np.size, weights.values()))} weights"
    )


if __name__ == "__main__":
    main()
