"""From stations and elevations to pixels of a profile, and words that move with a zoom along the stations."""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.sheets.markup import Markup, tag

LETTER = 6.9  # width of a digit in the chart's type [px]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartScale:
    """From station and elevation to pixels."""

    left: float
    right: float
    top: float
    bottom: float
    length: float
    low: float
    high: float

    def x(self, station: float) -> float:
        """Across, of a station [m]."""
        return self.left + (self.right - self.left) * station / max(self.length, 1e-9)

    def y(self, elevation: float) -> float:
        """Down, of an elevation [m]."""
        return self.bottom - (self.bottom - self.top) * (elevation - self.low) / max(self.high - self.low, 1e-9)

    @property
    def exaggeration(self) -> float:
        """How many times heights are drawn larger than lengths [-]."""
        across = (self.right - self.left) / max(self.length, 1e-9)
        return (self.bottom - self.top) / max(self.high - self.low, 1e-9) / across


def word(
    words: str,
    x: float,
    y: float,
    kind: str,
    *,
    anchor: str = "middle",
    row: str = "",
    room: float | None = None,
    crowded: bool = False,
) -> Markup:
    """A word that keeps its size and moves with the zoom.

    Parameters
    ----------
    words : str
        What it says, not escaped.
    x, y : float
        Where it is anchored [px].
    kind : str
        Its classes, ours.
    anchor : str
        start, middle or end.
    row : str
        Words of one row may not lie over one another; '' it stands by itself.
    room : float, optional
        Width that it must fit into [px].
    crowded : bool
        Whether there is no room for it before anybody zooms.

    Returns
    -------
    Markup
        One text element.
    """
    return tag(
        "text", words, class_=kind, x=round(x, 1), y=round(y, 1), text_anchor=anchor,
        data_x=f"{x:.1f}", data_crowded="" if crowded else None, data_row=row or None, data_room=None if room is None else f"{room:.1f}",
    )  # fmt: skip
