"""Lines that end at one curb outlet in; whose water goes through which holes there out."""

from __future__ import annotations

from siteplan.checks.flows import lines_at
from siteplan.checks.scene import Scene
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet


def hole_each(scene: Scene, outlet: Outlet) -> bool:
    """Whether each of several lines at an outlet has a hole of its own: as many holes as lines are told there.

    Parameters
    ----------
    scene : Scene
        For the survey's `holes`.
    outlet : Outlet
        A curb outlet.

    Returns
    -------
    bool
        False for a single line, and where the survey gives another number or none.
    """
    ends = len(lines_at(scene, outlet))
    return ends > 1 and int(scene.site.told_of(outlet).get("holes", 1)) == ends


def through_same_holes(scene: Scene, line: Line, outlet: Outlet) -> tuple[Line, ...]:
    """Lines whose water goes through the same holes as a line's.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    line : Line
        A line that ends at the outlet.
    outlet : Outlet
        A curb outlet.

    Returns
    -------
    tuple of Line
        All that end there, or the line alone where each has a hole of its own.
    """
    return (line,) if hole_each(scene, outlet) else lines_at(scene, outlet)
