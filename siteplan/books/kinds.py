"""Kinds of things on a lot, each declared once.

What it is called and drawn as, how its water comes, how it holds a pipe's end.

A kind stands in the files of a site as the plain word of `Kind`. What sources and outlets need further, rules by kind
of source and of outlet among it, is made from the table; a new kind is a new row and a symbol in the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Literal, NamedTuple


class Kind(StrEnum):
    """What a feature is."""

    LOT = "lot"
    BUILDING = "building"
    DRIVEWAY = "driveway"
    WALK = "walk"
    PAVING = "paving"
    NO_DIG = "no_dig"
    EASEMENT = "easement"
    NEIGHBOUR = "neighbour"
    WET_AREA = "wet_area"
    CURB = "curb"
    UTILITY = "utility"
    FENCE = "fence"
    WALL = "wall"
    DRAIN = "drain"
    DOWNSPOUT = "downspout"
    SUMP = "sump"
    INLET = "inlet"
    AREA_DRAIN = "area_drain"
    DISCHARGE_POINT = "discharge_point"
    CURB_OUTLET = "curb_outlet"
    DAYLIGHT_OUTLET = "daylight_outlet"
    TIE_IN = "tie_in"
    SPRINKLER = "sprinkler"
    TREE = "tree"
    BENCHMARK = "benchmark"


class PlannedKind(StrEnum):
    """What an exported plan adds to a site. A reader of sites passes it over; a line itself goes out as a `drain`."""

    PIPE = "plan_pipe"
    FITTING = "plan_fitting"
    STATION = "plan_station"
    CROSSING = "plan_crossing"
    LOW_GROUND = "plan_low_ground"
    SITE = "plan_site"


class Shape(StrEnum):
    """How a kind is drawn, in the words of the open vector formats."""

    POLYGON = "Polygon"
    LINE = "LineString"
    POINT = "Point"


class Flow(StrEnum):
    """How a source's water comes."""

    ROOF = "roof"  # `roof_area` times rain
    PUMP = "pump"  # `pump_rate`, whatever the rain
    GATHERED = "gathered"  # from the ground that drains to it
    AREA = "area"  # its own `flow`, or `drained_area` times rain and the runoff coefficient of its `cover`


End = Literal["fixed", "guided", "free"]  # neither sinks nor turns; sinks, does not turn; neither held
Verdict = Literal["allow", "flag", "fail"]  # what a place says of a way of draining
Opens = Literal["curb", "ground", "pipe"]  # through the face of a curb; onto the ground; into a pipe that lies there


class SourceKind(NamedTuple):
    """A kind of source.

    Attributes
    ----------
    title : str
        As a sheet calls it.
    water : str
        Its water, inside a sentence.
    flow : Flow
        How its water comes.
    end : str
        How it holds the upper end of a line.
    keys : tuple of str
        Attributes that are read on it, beside those of every source.
    ways : tuple of str
        What is usually said of its water at a curb and onto the ground; at every other kind of outlet that kind's own
        `usual`.
    """

    title: str
    water: str
    flow: Flow
    end: End
    keys: tuple[str, ...]
    ways: tuple[Verdict, Verdict]


class OutletKind(NamedTuple):
    """A kind of outlet.

    Attributes
    ----------
    title : str
        As a sheet calls it.
    word : str
        In the id of a rule.
    by : str
        How water leaves there, inside the title of a rule.
    to : str
        Where it goes, inside a sentence.
    end : str
        How it holds the lower end of a line.
    opens : str
        What a line's water leaves by: decides what covers its last length, how low it may end, and where its water is
        next.
    owner : str
        Who is asked whether it may.
    usual : str
        What is usually said of a source's water there, where the kind of source does not say.
    keys : tuple of str
        Attributes that are read on it, beside those of every outlet.
    """

    title: str
    word: str
    by: str
    to: str
    end: End
    opens: Opens
    owner: str = "the road owner"
    usual: Verdict = "flag"
    keys: tuple[str, ...] = ()


_PIT = (
    "pump_rate", "pump_flow", "pump_head", "pump_curve", "discharge", "check_valve", "off_level",
    "pit_diameter", "pit_depth", "pit_rise", "refill_s", "air_gap",
)  # fmt: skip

SOURCES: Mapping[str, SourceKind] = MappingProxyType({
    Kind.DOWNSPOUT: SourceKind(
        title="Downspout", water="roof water", flow=Flow.ROOF, end="fixed", keys=("roof_area",), ways=("allow", "allow"),
    ),
    Kind.SUMP: SourceKind(
        title="Sump", water="sump water", flow=Flow.PUMP, end="fixed", keys=_PIT, ways=("flag", "allow"),
    ),
    Kind.INLET: SourceKind(
        title="Inlet", water="an area inlet's water", flow=Flow.GATHERED, end="guided", keys=("roof_area", "cover"), ways=("allow", "allow"),
    ),
    Kind.AREA_DRAIN: SourceKind(
        title="Area drain", water="an area drain's water", flow=Flow.AREA, end="guided", keys=("flow", "drained_area", "cover"), ways=("allow", "allow"),
    ),
})  # fmt: skip

OUTLETS: Mapping[str, OutletKind] = MappingProxyType({
    Kind.CURB_OUTLET: OutletKind(
        title="Curb outlet", word="curb", by="by the gutter", to="into the gutter", end="fixed", opens="curb", keys=("curb_height", "holes", "hole_spacing"),
    ),
    Kind.DAYLIGHT_OUTLET: OutletKind(
        title="Daylight outlet", word="daylight", by="onto the ground", to="onto the ground", end="free", opens="ground",
    ),
    Kind.TIE_IN: OutletKind(
        title="Tie-in to an old pipe", word="pipe", by="by an old pipe", to="into the old pipe", end="fixed", opens="pipe", owner="the pipe's owner",
        keys=("takes_flow",),
    ),
})  # fmt: skip

_POLYGONS: dict[str, str] = {
    Kind.LOT: "Lot",
    Kind.BUILDING: "Building",
    Kind.DRIVEWAY: "Driveway",
    Kind.WALK: "Walk",
    Kind.PAVING: "Paving",
    Kind.NO_DIG: "No-dig area",
    Kind.EASEMENT: "Easement",
    Kind.NEIGHBOUR: "Neighbour's land",
    Kind.WET_AREA: "Wet area",
}
_LINES: dict[str, str] = {
    Kind.CURB: "Curb",
    Kind.UTILITY: "Utility",
    Kind.FENCE: "Fence",
    Kind.WALL: "Wall",
    Kind.DRAIN: "Drain as drawn",
}
_POINTS: dict[str, str] = {
    **{kind: about.title for kind, about in SOURCES.items()},
    **{kind: about.title for kind, about in OUTLETS.items()},
    Kind.DISCHARGE_POINT: "Discharge point",
    Kind.SPRINKLER: "Sprinkler",
    Kind.TREE: "Tree",
    Kind.BENCHMARK: "Benchmark",
}

SHAPE_OF: Mapping[str, Shape] = MappingProxyType(
    {
        **dict.fromkeys(_POLYGONS, Shape.POLYGON),
        **dict.fromkeys(_LINES, Shape.LINE),
        **dict.fromkeys(_POINTS, Shape.POINT),
    }
)
# attributes read on some sources or outlets alone, each with the kinds that it is read on
KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        key: (*(k for k, a in SOURCES.items() if key in a.keys), *(k for k, a in OUTLETS.items() if key in a.keys))
        for key in (
            *(key for a in SOURCES.values() for key in a.keys),
            *(key for a in OUTLETS.values() for key in a.keys),
        )
    }
)
TITLES: Mapping[str, str] = MappingProxyType({**_POLYGONS, **_LINES, **_POINTS})

POLYGON_KINDS = tuple(_POLYGONS)
LINE_KINDS = tuple(_LINES)
SOURCE_KINDS = tuple(SOURCES)
OUTLET_KINDS = tuple(OUTLETS)
PAVEMENT_KINDS = (Kind.DRIVEWAY, Kind.WALK, Kind.PAVING)
DRIVEN_KINDS = (Kind.DRIVEWAY, Kind.PAVING)  # that may carry vehicles


def pumped(kind: str) -> bool:
    """Whether a source's water is lifted by a pump.

    Parameters
    ----------
    kind : str
        Of a source.

    Returns
    -------
    bool
        Then it comes whether it rains or not, at the pump's rate.
    """
    about = SOURCES.get(kind)
    return about is not None and about.flow is Flow.PUMP


def at_curb(kind: str) -> bool:
    """Whether an outlet goes through a curb.

    Parameters
    ----------
    kind : str
        Of an outlet.

    Returns
    -------
    bool
        Then its end is held, and what a curb takes is asked.
    """
    return opens(kind) == "curb"


def on_ground(kind: str) -> bool:
    """Whether an outlet opens onto the ground.

    Parameters
    ----------
    kind : str
        Of an outlet.

    Returns
    -------
    bool
        Then its pipe may show before it, and its water runs on over the ground.
    """
    return opens(kind) == "ground"


def into_pipe(kind: str) -> bool:
    """Whether an outlet is a place on a pipe that lies there already.

    Parameters
    ----------
    kind : str
        Of an outlet.

    Returns
    -------
    bool
        Then the line is covered up to its end, and what that pipe is and can still take is asked.
    """
    return opens(kind) == "pipe"


def opens(kind: str) -> Opens:
    """What a line's water leaves by at an outlet.

    Parameters
    ----------
    kind : str
        Of an outlet.

    Returns
    -------
    str
        A kind that is not known opens onto the ground.
    """
    about = OUTLETS.get(kind)
    return "ground" if about is None else about.opens


def usual_way(source: str, outlet: str) -> Verdict:
    """What is usually said of a kind of source at a kind of outlet.

    Parameters
    ----------
    source, outlet : str
        Kinds.

    Returns
    -------
    str
        'allow', 'flag' or 'fail'.
    """
    told = dict(zip(OUTLETS, SOURCES[source].ways, strict=False))
    return told.get(outlet, OUTLETS[outlet].usual)


def way_id(source: str, outlet: str) -> str:
    """Id of the rule on whether a kind of source may leave by a kind of outlet.

    Parameters
    ----------
    source, outlet : str
        Kinds.

    Returns
    -------
    str
        As in docs/rules.md.
    """
    return f"{source.replace('_', '-')}-to-{OUTLETS[outlet].word}"
