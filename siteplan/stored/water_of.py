"""The water's record of plan.json in; the water of a plan out, as it stands there."""

from __future__ import annotations

from typing import cast, get_args

from siteplan.stored.record_of import ANY, PLACE, PlanRecord
from siteplan.units import LITRE, MILLIMETRE
from siteplan.values.flows_worked import (
    BlockedOutlet,
    Held,
    LineWater,
    Met,
    OutletPath,
    RunFlow,
    SourceStorm,
    StormTest,
    Water,
    WeakLink,
)


def water_of_record(one: PlanRecord) -> Water:
    """All that plan.json says of water.

    Parameters
    ----------
    one : Record
        Its record.

    Returns
    -------
    Water
        SI; what is not known is None.

    Raises
    ------
    InputError
        If a part cannot be read: which part.
    """
    kb = one.maybe("kb_mm", ANY)
    return Water(
        code=one.text_or("code", "manning"),
        kb=None if kb is None else kb * MILLIMETRE,
        basis=one.text("basis"),
        rain=one.text("rain"),
        inflows=tuple(
            (item.text("source"), item.maybe("minutes", ANY), flow_maybe(item, "flow_lps"), item.text("statement"))
            for item in one.records("inflows")
        ),
        lines=tuple(_line(item) for item in one.records("lines")),
        blocked=tuple(_blocked(item) for item in one.records("blocked")),
        paths=tuple(_path(item) for item in one.records("outlets")),
        storm=one.some("storm", _storm),
        notes=one.texts("notes"),
    )


def flow_maybe(one: PlanRecord, key: str) -> float | None:
    """A flow that stands in litres a second.

    Parameters
    ----------
    one : Record
        Where it stands.
    key : str
        Under which key.

    Returns
    -------
    float or None [m3/s]
        None: not known.
    """
    value = one.maybe(key, ANY)
    return None if value is None else value * LITRE


def _flow(one: PlanRecord, key: str) -> float:
    return one.number(key, ANY) * LITRE


def _line(one: PlanRecord) -> LineWater:
    return LineWater(
        line=one.text("line"),
        flow=flow_maybe(one, "flow_lps"),
        runs=tuple(_run(item) for item in one.records("runs")),
        links=tuple(_link(item) for item in one.records("links")),
        weakest=one.some("weakest", _link),
        levels=tuple((station, level) for station, level in one.rows("water_levels", 2)),
        full_length=one.known("full_length"),
        jump=one.maybe("jump"),
        rim=one.known("rim"),
        rim_spare=one.maybe("rim_spare"),
        standing=one.known("standing_length"),
    )


def _run(one: PlanRecord) -> RunFlow:
    printed = one.maybe("printed_grade_percent", ANY)
    return RunFlow(
        station_from=one.number("station_from"),
        station_to=one.number("station_to"),
        grade=one.known("grade_percent", ANY) / 100,
        bore=one.number("bore_m"),
        roughness=one.known("manning_n"),
        flow=flow_maybe(one, "flow_lps"),
        full=flow_maybe(one, "full_lps"),
        design=flow_maybe(one, "capacity_lps"),
        share=one.maybe("share", ANY),
        depth=one.maybe("depth"),
        velocity=one.maybe("velocity_m_per_s", ANY),
        velocity_full=one.maybe("velocity_full_m_per_s", ANY),
        smallest=one.text_maybe("smallest_size"),
        printed=None if printed is None else printed / 100,
        capacity_from=cast("Held", one.word("capacity_from", get_args(Held), "manning")),
    )


def _link(one: PlanRecord) -> WeakLink:
    return WeakLink(
        kind=one.text("kind"),
        name=one.text("name"),
        flow=flow_maybe(one, "flow_lps"),
        capacity=flow_maybe(one, "capacity_lps"),
        tail_water=one.maybe("tail_water"),
        statement=one.text("statement"),
    )


def _met(one: PlanRecord) -> Met:
    return Met(
        kind=one.text("kind"),
        name=one.text("name"),
        distance=one.known("distance"),
        x=one.number("x", PLACE),
        y=one.number("y", PLACE),
    )


def _places(one: PlanRecord) -> tuple[tuple[float, float], ...]:
    return tuple((x, y) for x, y in one.rows("path", 2, PLACE))


def _path(one: PlanRecord) -> OutletPath:
    return OutletPath(
        outlet=one.text("outlet"),
        flow=flow_maybe(one, "flow_lps"),
        path=_places(one),
        meets=tuple(_met(item) for item in one.records("meets")),
        statement=one.text("statement"),
    )


def _blocked(one: PlanRecord) -> BlockedOutlet:
    return BlockedOutlet(
        line=one.text("line"),
        outlet=one.text("outlet"),
        level=one.maybe("level"),
        source=one.text_maybe("source"),
        next_rim=one.maybe("next_rim"),
        standing=one.known("standing_length"),
        volume=one.known("volume", ANY),
        filled_in=one.maybe("filled_in_s", ANY),
        meets=tuple(_met(item) for item in one.records("meets")),
        path=_places(one),
        statement=one.text("statement"),
    )


def _storm(one: PlanRecord) -> StormTest:
    return StormTest(
        source=one.text("source"),
        duration=one.number("duration_s", ANY),
        depth=one.number("depth", ANY),
        inflow=one.number("inflow", ANY),
        outflow=one.number("outflow", ANY),
        overflow=one.number("overflow", ANY),
        flooded=one.number("flooded", ANY),
        stored=one.number("stored", ANY),
        sources=tuple(_source(item) for item in one.records("sources")),
        peaks=tuple(
            (item.text("line"), _flow(item, "flow_lps"), item.number("at_s", ANY)) for item in one.records("peaks")
        ),
        steps=tuple(
            (start, end, rain, out * LITRE, over * LITRE) for start, end, rain, out, over in one.rows("steps", 5)
        ),
    )


def _source(one: PlanRecord) -> SourceStorm:
    return SourceStorm(
        source=one.text("source"),
        inflow=one.number("inflow", ANY),
        overflow=one.number("overflow", ANY),
        flooded=one.number("flooded", ANY),
        peak_inflow=_flow(one, "peak_inflow_lps"),
        peak_overflow=_flow(one, "peak_overflow_lps"),
        peak_level=one.known("peak_level"),
        rim=one.known("rim"),
        overflow_from=one.maybe("overflow_from_s", ANY),
        overflow_time=one.number("overflow_time_s", ANY),
        starts=one.whole("pump_starts"),
    )
