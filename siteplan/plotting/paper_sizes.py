"""Sheets of paper and the scales that a drawing office draws at.

Paper: ISO 216:2007 for A3 and A4; ANSI/ASME Y14.1 for letter (8.5 x 11 in) and tabloid (11 x 17 in), both from memory.
Scales in feet are those of an engineer's rule (1 in to 10, 20, 30, 40 ft), in metres those of ISO 5455 and site
practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from siteplan import units

_INCH_MM = units.INCH / units.MILLIMETRE
FRAME_MM = 10.0  # from the paper's edge to the frame
_BLOCK_MM = 20.0  # height of the title block
_INSIDE_MM = 3.0  # from the frame to what is drawn
SCALES_FT, SCALES_M = (120, 240, 360, 480), (100, 200, 250, 500)
_COARSEST = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle on a page [mm]."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def wide(self) -> float:
        """From left to right [mm]."""
        return self.right - self.left

    @property
    def high(self) -> float:
        """From bottom to top [mm]."""
        return self.top - self.bottom

    def apart(self, other: Box, gap: float = 0.0) -> bool:
        """Whether two boxes keep a gap [mm]."""
        return (
            self.right + gap <= other.left
            or other.right + gap <= self.left
            or self.top + gap <= other.bottom
            or other.top + gap <= self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether another box lies inside, touching allowed."""
        return (
            self.left - 1e-6 <= other.left
            and self.bottom - 1e-6 <= other.bottom
            and other.right <= self.right + 1e-6
            and other.top <= self.top + 1e-6
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet of paper, lying on its long side unless `upright`."""

    name: str
    title: str
    long: float  # [mm]
    short: float  # [mm]
    upright: bool = False

    @property
    def wide(self) -> float:
        """Across [mm]."""
        return self.short if self.upright else self.long

    @property
    def high(self) -> float:
        """Up [mm]."""
        return self.long if self.upright else self.short

    @property
    def frame(self) -> Box:
        """The border that stands on every sheet."""
        return Box(left=FRAME_MM, bottom=FRAME_MM, right=self.wide - FRAME_MM, top=self.high - FRAME_MM)

    @property
    def block(self) -> Box:
        """The title block along the frame's foot."""
        edge = self.frame
        return replace(edge, top=edge.bottom + _BLOCK_MM)

    @property
    def inside(self) -> Box:
        """What a sheet may fill: the frame less the title block and a margin."""
        edge = self.frame
        return Box(
            left=edge.left + _INSIDE_MM,
            bottom=self.block.top + _INSIDE_MM,
            right=edge.right - _INSIDE_MM,
            top=edge.top - _INSIDE_MM,
        )


PAPERS: tuple[Paper, ...] = (
    Paper(name="letter", title="letter (8.5 x 11 in)", long=11 * _INCH_MM, short=8.5 * _INCH_MM),
    Paper(name="tabloid", title="tabloid (11 x 17 in)", long=17 * _INCH_MM, short=11 * _INCH_MM),
    Paper(name="a4", title="A4", long=297.0, short=210.0),
    Paper(name="a3", title="A3", long=420.0, short=297.0),
)


def paper_of(name: str) -> Paper:
    """A paper by its name.

    Parameters
    ----------
    name : str
        letter, tabloid, a4 or a3.

    Returns
    -------
    Paper
        Lying on its long side.

    Raises
    ------
    KeyError
        For another name.
    """
    return {one.name: one for one in PAPERS}[name]


def usual_paper(unit: str) -> Paper:
    """The paper that a printer at the site most likely holds.

    Parameters
    ----------
    unit : str
        The site's length unit.

    Returns
    -------
    Paper
        A4 on a metric site, letter on any other.
    """
    return paper_of("a4" if unit == "m" else "letter")


def scales(unit: str) -> tuple[int, ...]:
    """The scales tried, largest drawing first.

    Parameters
    ----------
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of int
        1 to so many.
    """
    return SCALES_M if unit == "m" else SCALES_FT


def scale_words(ratio: int, unit: str) -> str:
    """A scale as it is written on a sheet.

    Parameters
    ----------
    ratio : int
        1 to so many.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        '1 in = 20 ft (1:240)', '1:200'.

    Examples
    --------
    >>> scale_words(240, "ft"), scale_words(200, "m"), scale_words(96, "ft"), scale_words(250, "ft")
    ('1 in = 20 ft (1:240)', '1:200', '1 in = 8 ft (1:96)', '1:250')
    """
    if unit == "m" or ratio % 12:
        return f"1:{ratio}"
    return f"1 in = {ratio // 12} ft (1:{ratio})"


def read_scale(text: str) -> int:
    """A scale as typed.

    Parameters
    ----------
    text : str
        '1:240', '240', or '20' with feet: '1in=20ft'.

    Returns
    -------
    int
        1 to so many.

    Raises
    ------
    ValueError
        For anything else.

    Examples
    --------
    >>> read_scale("1:240"), read_scale("1 in = 20 ft"), read_scale("250")
    (240, 240, 250)
    """
    typed = text.replace(" ", "").lower()
    feet = typed.removeprefix("1in=").removesuffix("ft") if typed.startswith("1in=") and typed.endswith("ft") else ""
    figure = feet or typed.removeprefix("1:")
    ratio = int(figure) if figure.isascii() and figure.isdigit() and len(figure) <= 6 else 0
    ratio *= 12 if feet else 1
    if not 10 <= ratio <= _COARSEST:
        raise ValueError("a scale is written 1:240 or 1in=20ft, from 1:10 to 1:100000")
    return ratio


def fitting_scale(wide: float, high: float, room: Box, unit: str) -> int | None:
    """The largest scale at which a thing fits.

    Parameters
    ----------
    wide, high : float
        Of the thing [m].
    room : Box
        What it may fill.
    unit : str
        The site's length unit.

    Returns
    -------
    int or None
        1 to so many; None where it fits at none.
    """
    for ratio in scales(unit):
        if wide / ratio <= room.wide * units.MILLIMETRE and high / ratio <= room.high * units.MILLIMETRE:
            return ratio
    return None
