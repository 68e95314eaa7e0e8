"""How large is a film, and how much of it has the music? A size is a row of a table.

Conventions
-----------
- Pixels; shares are of a film's width or height.
- The least note head is `HEAD_PX` wide where the film is shown `PHONE_PX` wide, as on a phone that
  is held upright.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.render.glyphs import music_box

PHONE_PX, HEAD_PX = 360, 7.0
"""The width of a phone's screen in the units of the web, and of a note head on it."""
_LEAST_HEADER = 0.45
_ROOM = 1.03
"""A head is drawn a little wider, since it is rounded to whole pixels."""
_HEAD, _SPACE = 0xE0A4, 250.0  # SMuFL: noteheadBlack, and a staff space of its font


@dataclass(frozen=True, slots=True)
class FilmSize:
    """A size of film.

    Attributes
    ----------
    name : str
    width, height : int
    bars_a_line : int
        Bars on a line of music where they fit.
    places : int
        Lines of music that are seen at a time, at most.
    strip_share, header_share : float
        Of the height: the strip with title and bar, and the chords under it.
    now_share : float
        The em of the chord that sounds, of the width.
    """

    name: str
    width: int
    height: int
    bars_a_line: int
    places: int
    strip_share: float
    header_share: float
    now_share: float

    @property
    def staff_space(self) -> float:
        """The least staff space, in pixels."""
        head_spaces = music_box(_HEAD)[2] / _SPACE
        return _ROOM * HEAD_PX / PHONE_PX * self.width / head_spaces

    @property
    def margin(self) -> int:
        """White at each side."""
        return round(0.024 * self.width)

    @property
    def strip(self) -> int:
        """The height of the strip."""
        return round(self.strip_share * self.height)

    @property
    def header(self) -> int:
        """The height of the chords."""
        return round(self.header_share * self.height)

    @property
    def least_header(self) -> int:
        """The height that the chords are left where the music needs much."""
        return round(_LEAST_HEADER * self.header)

    @property
    def music_width(self) -> int:
        """The room for a line of music."""
        return self.width - 2 * self.margin


FILM_SIZES = {
    size.name: size
    for size in (
        FilmSize("720p", 1280, 720, 4, 2, 0.054, 0.17, 0.078),
        FilmSize("1080p", 1920, 1080, 4, 2, 0.054, 0.17, 0.078),
        FilmSize("square", 1080, 1080, 2, 2, 0.055, 0.20, 0.115),
        FilmSize("portrait", 1080, 1920, 2, 6, 0.036, 0.16, 0.17),
    )
}
"""By name; the first one is made where none is asked for."""
