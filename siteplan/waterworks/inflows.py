"""Sources and the ground in; what each source brings at the design rain out.

A survey holds areas, rates and rain; a flow follows from them here and nowhere else in the planner.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from siteplan import units
from siteplan.books.hydraulics import runoff_of
from siteplan.books.kinds import SOURCES, Flow
from siteplan.ground.runoff import Surface
from siteplan.site import Site
from siteplan.values.water_ends import Inflows, Source

INLET_COVER = "lawn_heavy"  # when the site names no cover round an inlet
DRAIN_COVER = "concrete"  # nor on what an area drain takes


def inflows_told(site: Site) -> Inflows:
    """What the survey alone says that sources bring.

    Roofs under the design rain, pumps, area drains with a flow of their own.

    Parameters
    ----------
    site : Site
        As surveyed.

    Returns
    -------
    Inflows
        Without those whose flow the survey does not give [m3/s].

    References
    ----------
    Q = i A, the rational method with C = 1 for roofs.
    """
    told = ((source.id, _told(site, source)) for source in site.sources)
    return Inflows(flows=tuple((name, flow) for name, flow in told if flow is not None))


def with_rates(inflows: Inflows, rates: Mapping[str, float]) -> Inflows:
    """Inflows with what pumps give through their lines.

    Parameters
    ----------
    inflows : Inflows
        As told.
    rates : mapping
        By id of the sump [m3/s].

    Returns
    -------
    Inflows
        A pump that has no line keeps what was told of it.
    """
    kept = tuple((name, rates.get(name, flow)) for name, flow in inflows.flows)
    known = {name for name, _ in kept}
    return Inflows(flows=(*kept, *((name, flow) for name, flow in rates.items() if name not in known)))


def _told(site: Site, source: Source) -> float | None:
    comes = SOURCES[source.kind].flow
    if comes is Flow.PUMP:
        return source.pump_rate
    if comes is Flow.AREA:
        own = site.told_of(source).get("flow")
        return None if own is None else float(own)
    if comes is Flow.ROOF and source.roof_area is not None and site.rainfall is not None:
        return source.roof_area * site.rainfall
    return None


def inlet_flows(site: Site, surface: Surface, told: Inflows) -> tuple[Inflows, tuple[str, ...]]:
    """What sources bring with what rain on the ground gives area inlets and area drains.

    Parameters
    ----------
    site : Site
        As surveyed.
    surface : Surface
        From `ground.runoff.runoff_surface`.
    told : Inflows
        From `inflows_told`.

    Returns
    -------
    tuple of Inflows and tuple of str
        With the flows of inlets where rain is given [m3/s], and what was assumed.

    References
    ----------
    Q = C i A, the rational method; A gathered over the filled ground by steepest descent; C from the book of runoff.
    """
    notes: list[str] = []
    found: list[tuple[str, float]] = []
    area: float | None
    for source in site.sources:
        comes, known = SOURCES[source.kind].flow, told.of(source.id)
        about = site.told_of(source)
        if comes is Flow.AREA and {"flow", "drained_area"} <= set(about):
            notes.append(f"{source.name}: its own flow is taken; drained_area is not used.")
        if comes not in (Flow.GATHERED, Flow.AREA) or known is not None or site.rainfall is None:
            found += [] if known is None else [(source.id, known)]
            continue
        cover = about.get("cover", DRAIN_COVER if comes is Flow.AREA else INLET_COVER)
        if comes is Flow.AREA:
            share, area, what = runoff_of(cover).default, about.get("drained_area"), "the area given"
        elif source.roof_area is not None:
            share, area, what = (
                (1.0 if "cover" not in about else runoff_of(cover).default),
                source.roof_area,
                "the area given",
            )
        else:
            share, area, what = (
                runoff_of(cover).default,
                _gathered(surface, source.x, source.y),
                "the ground that drains to it",
            )
        if area is None:
            lacks = (
                "neither flow nor drained_area is given"
                if comes is Flow.AREA
                else "the ground that drains to it is not known"
            )
            notes.append(f"{source.name}: {lacks}, so its flow is not known.")
            continue
        size = (
            f"{area:.1f} m2" if site.length_unit == "m" else f"{area / units.LENGTH[site.length_unit] ** 2:.0f} sq ft"
        )
        usual = "concrete" if comes is Flow.AREA else "lawn on heavy soil"
        assumed = "" if "cover" in about or source.roof_area is not None else f" (cover not given: {usual})"
        notes.append(f"{source.name}: {size}, {what}, with a runoff coefficient of {share:g}{assumed}.")
        found.append((source.id, share * site.rainfall * area))
    return Inflows(flows=tuple(found)), tuple(notes)


def _gathered(surface: Surface, x: float, y: float) -> float | None:
    """Ground that drains through the cell of a place or one beside it [m2]."""
    row, col = (round(float(v[0])) for v in surface.grid.to_index(np.array([x]), np.array([y])))
    around = surface.gathered[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]
    return float(np.nanmax(around)) if around.size and np.isfinite(around).any() else None
