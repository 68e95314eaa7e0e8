"""What is a file to a browser? Its media type, by its suffix and nothing else.

What somebody calls a file decides no more: one that we do not know is bytes, and never a page.
Names: IANA's media types.
"""

from __future__ import annotations

from pathlib import Path

MEDIA_TYPES = {
    ".wav": "audio/wav",
    ".flac": "audio/flac",
    ".mp3": "audio/mpeg",
    ".m4a": "audio/mp4",
    ".mp4": "audio/mp4",
    ".aac": "audio/aac",
    ".ogg": "audio/ogg",
    ".opus": "audio/ogg",
    ".webm": "audio/webm",
    ".amr": "audio/amr",
    ".mid": "audio/midi",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".json": "application/json",
    ".musicxml": "application/vnd.recordare.musicxml+xml",
}
UNKNOWN = "application/octet-stream"


def media_type(path: Path) -> str:
    """The media type of a file."""
    return MEDIA_TYPES.get(path.suffix.lower(), UNKNOWN)
