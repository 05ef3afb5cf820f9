"""Bore, grade and roughness in; what a round pipe carries and how deep, worked a second way, out.

Written apart from the water room: full flow by its closed form, part-full flow by area over perimeter, depths by
halving an interval, so that a slip in one shows against the other. All SI.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from siteplan.books import pipes
from siteplan.books.hydraulics import CodeTable, TableRow, code_tables
from siteplan.books.practice import POPUP_LIFT
from siteplan.site import Sizing
from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.values.laid_pipe import Pipe

STANDARD_GRAVITY = 9.80665
_VISCOSITY = 1.31e-6  # of water at 10 degrees C [m2/s]
_FLATTEST = 0.001  # grade at which the n of a level piece is taken
_SMOOTH = 0.013  # printed tables speak of smooth pipe
SAME_GRADE = 1e-5  # a grade this near below a printed slope is that slope
_FULL = math.pi / 4 ** (5 / 3)  # 0.3117: Manning's full pipe in one term


def full_flow_anew(bore: float, grade: float, roughness: float) -> float:
    """Flow of a round pipe just full.

    Parameters
    ----------
    bore : float
        True inside diameter [m].
    grade : float
        Fall over length, above 0 [-].
    roughness : float
        Manning n [s/m^(1/3)].

    Returns
    -------
    float
        Flow [m3/s].

    References
    ----------
    Manning's equation for a full circle, Q = 0.3117 D^(8/3) S^(1/2) / n.
    """
    return _FULL * math.pow(bore, 8 / 3) * math.sqrt(grade) / roughness


def flow_at(depth: float, bore: float, grade: float, roughness: float) -> float:
    """Flow of a round pipe at a depth.

    Parameters
    ----------
    depth : float
        Of water, 0 to the bore [m].
    bore, grade, roughness : float
        As for `full_flow_anew`.

    Returns
    -------
    float
        Flow [m3/s].

    References
    ----------
    Manning's equation, area and perimeter of a circle's segment.
    """
    area, wet = _segment(depth, bore)
    return area * math.pow(area / wet, 2 / 3) * math.sqrt(grade) / roughness if wet > 0 else 0.0


def _segment(depth: float, bore: float) -> tuple[float, float]:
    """Area and wetted perimeter below a depth."""
    radius = bore / 2
    half = math.acos(max(-1.0, min(1.0, (radius - depth) / radius)))
    return radius * radius * (half - math.sin(half) * math.cos(half)), 2 * radius * half


def even_depth(flow: float, bore: float, grade: float, roughness: float) -> float | None:
    """Depth of even flow, the lower of two.

    Parameters
    ----------
    flow : float
        Flow [m3/s].
    bore, grade, roughness : float
        As for `full_flow_anew`.

    Returns
    -------
    float or None
        Depth [m]; None where no depth carries it.

    References
    ----------
    `flow_at`; a circle carries most at 0.938 of its bore (any hydraulics text).
    """
    crest = 0.938 * bore
    if flow > flow_at(crest, bore, grade, roughness):
        return None
    return _halved(lambda depth: flow_at(depth, bore, grade, roughness) < flow, 0.0, crest)


def least_energy_depth(flow: float, bore: float) -> float:
    """Critical depth.

    Parameters
    ----------
    flow : float
        Flow [m3/s].
    bore : float
        Inside diameter [m].

    Returns
    -------
    float
        Depth, at most the bore [m].

    References
    ----------
    Q^2 T = g A^3, any hydraulics text.
    """

    def too_low(depth: float) -> bool:
        area, _ = _segment(depth, bore)
        top = 2 * math.sqrt(max(depth * (bore - depth), 0.0))
        return flow * flow * top > STANDARD_GRAVITY * area**3

    return _halved(too_low, 0.0, bore) if flow > 0 else 0.0


def _halved(too_low: Callable[[float], bool], low: float, high: float) -> float:
    for _ in range(60):
        middle = (low + high) / 2
        if too_low(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2


def speed_at(flow: float, bore: float, grade: float, roughness: float) -> float:
    """Velocity of a flow in a round pipe; of the full section when no depth carries it.

    Parameters
    ----------
    flow : float
        Flow [m3/s].
    bore, grade, roughness : float
        As for `full_flow_anew`.

    Returns
    -------
    float
        Velocity [m/s].

    References
    ----------
    Flow over area.
    """
    depth = even_depth(flow, bore, grade, roughness)
    area, _ = _segment(bore if depth is None else depth, bore)
    return flow / area if area > 0 else 0.0


def roughness_in_force(pipe: Pipe, sizing: Sizing, grade: float) -> float:
    """Manning n that a site asks for.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    sizing : Sizing
        The site's basis: its age 'design', 'new' or 'aged', or its kb.
    grade : float
        Fall over length, for kb alone [-].

    Returns
    -------
    float
        Manning n [s/m^(1/3)]; with kb that of the same full flow.

    References
    ----------
    New and aged n in the book of pipes, with a source at every row; `by_friction`.
    """
    if by_kb(sizing, pipe):
        slope = max(grade, _FLATTEST)
        return full_flow_anew(pipe.bore, slope, 1.0) / by_friction(sizing.kb or 0.0, pipe.bore, slope, pipe.bore)
    age = sizing.age
    if age == "design":
        return pipe.roughness
    try:
        entry = pipes.roughness_of(pipe.kind, sizing.own_pipes)
    except KeyError:
        return pipe.roughness
    return entry.new if age == "new" else entry.aged


def by_kb(sizing: Sizing, pipe: Pipe) -> bool:
    """Whether a pipe is held to a roughness in use.

    Parameters
    ----------
    sizing : Sizing
        The site's basis.
    pipe : Pipe
        The pipe.

    Returns
    -------
    bool
        No where the site's basis is another, and for pipe that is not smooth.
    """
    return sizing.kb is not None and pipe.roughness <= _SMOOTH


def by_friction(kb: float, bore: float, grade: float, depth: float) -> float:
    """Even flow of a round pipe at a depth by its friction factor.

    Parameters
    ----------
    kb : float
        Roughness in use [m].
    bore : float
        True inside diameter [m].
    grade : float
        Fall over length, above 0 [-].
    depth : float
        Of water, 0 to the bore [m].

    Returns
    -------
    float
        Flow [m3/s].

    References
    ----------
    Darcy and Weisbach, S = f v^2 / (2 g d) with d = 4 R, and f by Colebrook and White from the Reynolds number, halved
    until both agree; water at 10 degrees C.
    """
    area, wet = _segment(depth, bore)
    if wet <= 0:
        return 0.0
    wide = 4 * area / wet

    def too_slow(speed: float) -> bool:
        friction = 2 * STANDARD_GRAVITY * wide * grade / (speed * speed)
        reynolds = speed * wide / _VISCOSITY
        return 1 / math.sqrt(friction) < -2 * math.log10(2.51 / (reynolds * math.sqrt(friction)) + kb / (3.71 * wide))

    return area * _halved(too_slow, 1e-9, 100.0)


def table_of(code: str) -> CodeTable | None:
    """A printed table of capacities.

    Parameters
    ----------
    code : str
        Its code.

    Returns
    -------
    CodeTable or None
        None for Manning.
    """
    return next((table for table in code_tables() if table.code == code), None)


def printed_row(sizing: Sizing, pipe: Pipe, grade: float) -> TableRow | None:
    """The row of the printed table in force that a pipe is held to.

    Parameters
    ----------
    sizing : Sizing
        The site's basis.
    pipe : Pipe
        The pipe.
    grade : float
        Fall over length, above 0 [-].

    Returns
    -------
    TableRow or None
        None where no table is in force, and where it has no figure: rough pipe, a size or a grade that it lacks.

    References
    ----------
    The greatest printed figure of the size at a slope not above the grade; none between printed slopes.
    """
    table = table_of(sizing.basis)
    if table is None or pipe.roughness > _SMOOTH:
        return None
    fitting = [row for row in _of_size(table, pipe) if row.grade <= grade + SAME_GRADE]
    return max(fitting, key=lambda row: row.flow, default=None)


def _of_size(table: CodeTable, pipe: Pipe) -> list[TableRow]:
    return [row for row in table.rows if row.nominal == pipe.nominal]


def allowed(sizing: Sizing, pipe: Pipe, grade: float) -> float:
    """What the basis in force lets a pipe carry.

    Parameters
    ----------
    sizing : Sizing
        The site's basis.
    pipe : Pipe
        The pipe.
    grade : float
        Fall over length, above 0 [-].

    Returns
    -------
    float
        Flow [m3/s].

    References
    ----------
    `printed_row`; `by_friction` at the design fill where the basis is a roughness in use; else Manning at the design
    fill, never above what the table prints for the size at a steeper slope.
    """
    row = printed_row(sizing, pipe, grade)
    if row is not None:
        return row.flow
    table = table_of(sizing.basis)
    steeper = [] if table is None else [row.flow for row in _of_size(table, pipe) if row.grade >= grade - SAME_GRADE]
    return min([filled(sizing, pipe, grade, roughness_in_force(pipe, sizing, grade)), *steeper])


def filled(sizing: Sizing, pipe: Pipe, grade: float, roughness: float) -> float:
    """Flow of a pipe at the design fill by formula, whatever a table prints.

    Parameters
    ----------
    sizing : Sizing
        For the fill, and for kb.
    pipe : Pipe
        The pipe.
    grade, roughness : float
        As for `full_flow_anew`.

    Returns
    -------
    float
        Flow [m3/s], never above the full flow.

    References
    ----------
    `flow_at`, or `by_friction`.
    """
    bore = pipe.bore
    full = full_flow_anew(bore, grade, roughness)
    if sizing.fill_of == "flow":
        return full * sizing.fill
    if by_kb(sizing, pipe):
        return min(full, by_friction(sizing.kb or 0.0, bore, grade, sizing.fill * bore))
    return min(full, flow_at(sizing.fill * bore, bore, grade, roughness))


def leader(bore: float) -> float:
    """Flow of a round leader with water on 7/24 of its area: that area times the even speed to which the water falls.

    Parameters
    ----------
    bore : float
        Inside diameter [m].

    Returns
    -------
    float
        Flow [m3/s].

    References
    ----------
    Speed 3.0 (q/D)^(2/5) in ft/s, gallons a minute and inches: R. S. Wyly and H. N. Eaton, Capacities of stacks in
    sanitary drainage systems for buildings, National Bureau of Standards Monograph 31, 1961 (memory); 7/24 as older US
    codes (memory).
    """
    area = 7 / 24 * math.pi * bore**2 / 4
    unit = 3.0 * FOOT * math.pow(INCH / (GALLON_PER_MINUTE * bore), 2 / 5)  # speed over flow to the 2/5
    return math.pow(area * unit, 5 / 3)


def over_lid(rim: float, bore: float, flow: float) -> float:
    """Level of water that leaves over a pop-up's rim.

    Parameters
    ----------
    rim : float
        Elevation of the rim [m].
    bore : float
        Of the riser [m].
    flow : float
        Flow [m3/s].

    Returns
    -------
    float
        Elevation [m].

    References
    ----------
    The higher of a sharp weir round the rim (1.84 L h^1.5) and an orifice under a lid that lifts an inch (0.6): any
    hydraulics text (memory).
    """
    edge = math.pi * bore
    return rim + max(
        math.pow(flow / (1.84 * edge), 2 / 3), (flow / (0.6 * edge * POPUP_LIFT)) ** 2 / (2 * STANDARD_GRAVITY)
    )
