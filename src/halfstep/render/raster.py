"""How do drawings become pixels? SVG in black -> how much of each pixel it covers.

Conventions
-----------
- A coverage is uint8, shape (rows, columns): 255 where a pixel is all ink. What colour the ink has
  is for who paints with it to say.
- All drawings that are wanted are made in one go, since most of the time goes into beginning.

Sources: SVG 1.1 in, Portable Network Graphics between, both through typst; the picture is read
back by libav.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Coverage = npt.NDArray[np.uint8]

_DOTS_AN_INCH = 72.0
"""So that a point is a pixel."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """What is to be made into pixels.

    Attributes
    ----------
    shapes : str
        SVG elements, one unit to a pixel.
    width, height : int
        In pixels.
    left, top : int
        Where it begins, in the units of the shapes; what stands outside of it is left out.
    """

    shapes: str
    width: int
    height: int
    left: int = 0
    top: int = 0

    @property
    def svg(self) -> str:
        """The drawing as a picture."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width}" height="{self.height}" '
            f'viewBox="{self.left} {self.top} {self.width} {self.height}">{self.shapes}</svg>'
        )


def coverages(drawings: Sequence[Drawing]) -> list[Coverage]:
    """The coverage of each drawing."""
    import typst

    if not drawings:
        return []
    inputs = {f"svg-{number}": drawing.svg for number, drawing in enumerate(drawings)}
    sizes = ", ".join(f"({drawing.width}, {drawing.height})" for drawing in drawings)
    source = _PAGES.replace("SIZES", f"{sizes},").encode()
    pages = typst.compile(
        source, format="png", ppi=_DOTS_AN_INCH, sys_inputs=inputs, ignore_system_fonts=True
    )
    return [_coverage(bytes(page)) for page in (pages if isinstance(pages, list) else [pages])]


def _coverage(png: bytes) -> Coverage:
    import av
    import numpy as np

    file: Any = av.open(BytesIO(png))
    with file:
        frame = next(file.decode(video=0))
        return np.ascontiguousarray(frame.to_ndarray(format="rgba")[..., 3])


def png_of_pixels(pixels: npt.NDArray[np.uint8]) -> bytes:
    """Pixels, shape (rows, columns, 3), as a PNG picture."""
    import av

    encoder: Any = av.CodecContext.create("png", "w")
    rows, columns = pixels.shape[:2]
    encoder.width, encoder.height, encoder.pix_fmt = columns, rows, "rgb24"
    encoder.framerate = 1
    frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
    packets = [*encoder.encode(frame), *encoder.encode(None)]
    return b"".join(bytes(packet) for packet in packets)


_PAGES = """
#for (number, size) in (SIZES).enumerate() {
  let (wide, high) = size
  page(width: wide * 1pt, height: high * 1pt, margin: 0pt, fill: none,
    image(bytes(sys.inputs.at("svg-" + str(number))), format: "svg", width: 100%, height: 100%))
}
"""
