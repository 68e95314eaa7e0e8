"""What is wrong with a course: one line each, with the file and the field."""

from __future__ import annotations

from typing import NamedTuple

from halfstep.errors import ReadError


class CourseFault(NamedTuple):
    """One thing that is wrong.

    Attributes
    ----------
    file : str
        The name of the file; empty for the folder itself.
    text : str
        What is wrong and what would be right, the field between grave accents.
    """

    file: str
    text: str

    def __str__(self) -> str:
        """The file and what is wrong in it, as a message that names fields."""
        return f"{self.file}: {self.text}" if self.file else self.text

    def error(self) -> ReadError:
        """The same as an error; its fields are the file's, which no face has other words for."""
        return ReadError(self.text.replace("`", ""), source=self.file)
