"""From stations and elevations to pixels of a profile, and words that move with a zoom along the stations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from siteplan.sheets.markup import Markup, shown_number, tag

LETTER = 6.9  # width of a digit in the chart's type [px]
_SEEN = 0.15  # px: a run is drawn without the points that lie closer to it


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


def run_points(run: Sequence[tuple[float, float]], scale: ChartScale) -> str:
    """A run along the line as a drawing's points, without those that nobody would see.

    Parameters
    ----------
    run : sequence of (float, float)
        Stations and elevations [m], two at least.
    scale : ChartScale
        Of the chart.

    Returns
    -------
    str
        The points [px], within 0.15 px of the run. Method: Douglas and Peucker, "Algorithms for the reduction of the
        number of points required to represent a digitized line or its caricature", Cartographica 10(2), 1973, as
        shapely has it.
    """
    from shapely.geometry import LineString

    drawn = LineString([(scale.x(station), scale.y(z)) for station, z in run]).simplify(_SEEN).coords
    return " ".join(f"{shown_number(x)},{shown_number(y)}" for x, y in drawn)


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
        "text",
        words,
        class_=kind,
        x=round(x, 1),
        y=round(y, 1),
        text_anchor=anchor,
        data_x=f"{x:.1f}",
        data_crowded="" if crowded else None,
        data_row=row or None,
        data_room=None if room is None else f"{room:.1f}",
    )
