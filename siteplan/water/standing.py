"""Where water stands when nothing moves: a blocked or frozen outlet, a rim above the invert.

Also where it comes out first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from siteplan.units import drop_text, length_text
from siteplan.water.section import Circle, flow_area
from siteplan.water.sizes import upstream_first
from siteplan.water.surface import SurfaceRun
from siteplan.water.trouble import Trouble, above_zero, finite

_SLICES = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A place where water can come out: a downspout joint, a grate, a pop-up rim, the open rim of an air gap.

    Attributes
    ----------
    name : str
        How a person calls it.
    run : str
        The run at whose upper end it stands.
    rim : float
        Elevation at which water comes out [m].
    source : str or None
        Id of the source it belongs to.
    """

    name: str
    run: str
    rim: float
    source: str | None = None

    def __post_init__(self) -> None:
        finite(f"rim of {self.name}", self.rim, "give its elevation")


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocked:
    """A line whose outlet passes nothing.

    Attributes
    ----------
    level : float
        Elevation at which the water stands: the lowest rim [m].
    first : Opening
        Where it comes out first.
    next_rim : float or None
        The next rim above it [m].
    standing : float
        Length of pipe with water in it [m].
    full : float
        Length that stands full [m].
    volume : float
        Water the pipes hold below the level [m3].
    filled_in : float or None
        Time until it comes out [s], at the inflow given.
    statement : str
        In one sentence.
    """

    level: float
    first: Opening
    next_rim: float | None
    standing: float
    full: float
    volume: float
    filled_in: float | None
    statement: str


def standing_length(length: float, invert_up: float, invert_down: float, level: float, *, rise: float = 0.0) -> float:
    """Length of a straight run that lies below a level of still water.

    Parameters
    ----------
    length : float
        Along the run, above 0 [m].
    invert_up, invert_down : float
        Elevations of its ends [m].
    level : float
        Elevation of the water [m].
    rise : float
        0 counts where the invert is under water, the bore counts where the pipe stands full [m].

    Returns
    -------
    float
        Length [m].

    Raises
    ------
    ValueError
        If the length is not above 0 or an elevation is no number.

    References
    ----------
    Geometry.
    """
    above_zero("length", length, "give metres along the run")
    for name, value in (("upper invert", invert_up), ("lower invert", invert_down), ("water level", level)):
        finite(name, value, "give its elevation")
    low, high = min(invert_up, invert_down) + rise, max(invert_up, invert_down) + rise
    if level <= low:
        return 0.0
    return length if level >= high else length * (level - low) / (high - low)


def left_standing(runs: Sequence[SurfaceRun], level: float) -> tuple[float, float, float]:
    """How much pipe stands in water at one level.

    Parameters
    ----------
    runs : sequence of Run
        The pipes that are joined below the level.
    level : float
        Elevation of the water [m].

    Returns
    -------
    tuple of float
        Length with water in it [m], length standing full [m], volume of the water [m3].

    Raises
    ------
    ValueError
        If the level is no number.

    References
    ----------
    Geometry; the volume by 200 slices a run (midpoint rule).
    """
    wet = full = volume = 0.0
    for run in runs:
        wet += standing_length(run.length, run.invert_up, run.invert_down, level)
        full += standing_length(run.length, run.invert_up, run.invert_down, level, rise=run.bore)
        section = Circle(bore=run.bore)
        for place in range(_SLICES):
            invert = run.invert_down + (run.invert_up - run.invert_down) * (place + 0.5) / _SLICES
            volume += flow_area(section, min(max(level - invert, 0.0), run.bore)) * run.length / _SLICES
    return wet, full, volume


def blocked_outlet(
    runs: Sequence[SurfaceRun],
    openings: Sequence[Opening],
    *,
    outlet: str,
    inflow: float | None = None,
    unit: str = "ft",
    elevation_unit: str | None = None,
) -> Blocked | Trouble:
    """Where the water stands when an outlet is blocked or frozen, and where it comes out first.

    Parameters
    ----------
    runs : sequence of Run
        The tree or trees.
    openings : sequence of Opening
        Every place where water can come out.
    outlet : str
        The run whose lower end is blocked; everything that falls into it is joined.
    inflow : float, optional
        Flow that keeps coming [m3/s], to say how soon.
    unit : str
        The user's length unit, for messages.
    elevation_unit : str, optional
        Of elevations, where the survey tells them in another unit.

    Returns
    -------
    Blocked or Trouble
        A trouble when no opening is joined: the water would then find a joint, or the pit.

    Raises
    ------
    ValueError
        If the run or an opening's run is unknown.

    References
    ----------
    Level water in joined pipes.
    """
    into = {run.id: run.into for run in runs}
    upstream_first(into, len(runs))
    if outlet not in into:
        raise ValueError(f"run {outlet} is no run here: name the run whose end is blocked")
    joined = [run for run in runs if outlet in _way_down(run.id, into)]
    names = {run.id for run in joined}
    for opening in openings:
        if opening.run not in into:
            raise ValueError(
                f"opening {opening.name} stands on {opening.run}, which is no run here: name the run it feeds"
            )
    rims = sorted(
        (opening for opening in openings if opening.run in names), key=lambda opening: (opening.rim, opening.name)
    )
    if not rims:
        message = (
            f"{outlet}: with its outlet blocked the water has no known way out, it would find a joint or the "
            "house. Give the line an overflow at a known rim."
        )
        return Trouble(
            rule="overflow-path", subject=outlet, status="fail", value=None, limit=None, unit="m", message=message
        )
    first = rims[0]
    wet, full, volume = left_standing(joined, first.rim)
    filled = volume / inflow if inflow is not None and inflow > 0 else None
    follow = next((opening.rim for opening in rims[1:] if opening.rim > first.rim), None)
    text = (
        f"{outlet}: blocked, the water stands at {length_text(first.rim, elevation_unit or unit)} and comes out "
        f"first at {first.name}"
    )
    if follow is not None:
        text += f", {drop_text(follow - first.rim, unit)} below the next rim"
    text += f"; {length_text(wet, unit, 1)} of pipe holds water, {length_text(full, unit, 1)} of it full"
    return Blocked(
        level=first.rim,
        first=first,
        next_rim=follow,
        standing=wet,
        full=full,
        volume=volume,
        filled_in=filled,
        statement=text,
    )


def _way_down(name: str, into: Mapping[str, str | None]) -> tuple[str, ...]:
    way = [name]
    down = into[name]
    while down is not None:
        way.append(down)
        down = into[down]
    return tuple(way)
