"""What of a script or a style sheet goes over the line? All but its comments and its indentation.

What is left is the same to a browser; a person reads the file where it lies. Comments that stand
behind something in their line stay, and so does all of a line that a text goes on over.
"""

from __future__ import annotations

import hashlib
import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

_STYLE_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
LIGHT = {".js": "text/javascript", ".css": "text/css"}
"""What is made light, and what it is to a browser."""


class LightFile(NamedTuple):
    """A file as it is sent.

    Attributes
    ----------
    data : bytes
    mark : str
        What it is known by.
    media_type : str
    """

    data: bytes
    mark: str
    media_type: str


@cache
def light_file(path: Path) -> LightFile | None:
    """A script or a style sheet as it is sent; None where it is something else."""
    if path.suffix not in LIGHT:
        return None
    text = path.read_text("utf-8")
    data = (light_script(text) if path.suffix == ".js" else light_style(text)).encode()
    return LightFile(data, f'"{hashlib.sha256(data).hexdigest()[:24]}"', LIGHT[path.suffix])


def light_script(text: str) -> str:
    r"""A script without lines that are comments, and without indentation.

    >>> light_script("// why\n  a();\n  b(`\n  // text\n`); // because\n")
    'a();\nb(`\n  // text\n`); // because\n'
    """
    lines, is_text = [], False
    for line in text.splitlines():
        shown = line if is_text else line.strip()
        if is_text or (shown and not shown.startswith("//")):
            lines.append(shown)
            is_text ^= bool(shown.count("`") % 2)
    return "\n".join(lines) + "\n"


def light_style(text: str) -> str:
    r"""A style sheet without comments and indentation.

    >>> light_style("/* Lists */\n\n.a {\n  color: red; /* so */\n}\n")
    '.a {\ncolor: red;\n}\n'
    """
    plain = _STYLE_COMMENT.sub("", text)
    return "\n".join(shown for line in plain.splitlines() if (shown := line.strip())) + "\n"
