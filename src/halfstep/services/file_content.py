"""What goes into a file of a reply, and what should be said of it."""

from typing import NamedTuple


class FileContent(NamedTuple):
    """The bytes of a file.

    Attributes
    ----------
    pages : tuple of bytes
        One file each; all but long pictures have one.
    notices : tuple of str
    """

    pages: tuple[bytes, ...]
    notices: tuple[str, ...] = ()

    @property
    def data(self) -> bytes:
        """The first page."""
        return self.pages[0]
