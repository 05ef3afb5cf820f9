"""A line, its pipe and its ground in; where it will settle, stand in water, bend and turn at joints out.

Stations run from the outlet (0) upstream, as everywhere. Low, likely and high come from what is known of the ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.bedding.beam import FINENESS, AlongLine, Array, Bent, End, bent_line, characteristic
from siteplan.bedding.weight import bed_load
from siteplan.books.practice import POOL_LIMIT, POOL_SHARE
from siteplan.books.soils import Range, value_range
from siteplan.books.stock import PipeStock

Edge = Literal["sharp", "bowl", "either"]
Term = Literal["short", "long"]
GUESSES = ("low", "likely", "high")
TERMS: tuple[Term, Term] = ("short", "long")
_WET = 0.005 * units.INCH  # shallower water is the mesh's, not the line's
WET_SOIL = 120 * units.POUND_PER_CUBIC_FOOT


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A stretch of weaker ground under a line."""

    start: float  # stations [m]
    end: float
    modulus: Range  # stiffness per length of pipe [Pa]
    drop: Range  # settlement of the bed against the ground beside it [m]
    edge: Edge = "either"  # either: a bowl for the low guess, sharp edges for the others
    loose: float = 0.0  # thickness of loose refill under the pipe; 0: not known or none [m]
    what: str = "soft ground"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A line as laid and the ground it lies on."""

    inverts: tuple[tuple[float, float], ...]  # (station, invert) from the outlet up; straight between
    covers: tuple[tuple[float, float], ...]  # (station, cover over the pipe)
    stretches: tuple[Stretch, ...] = ()
    firm: Range = field(default_factory=lambda: value_range("line_modulus", "firm"))
    unit_weight: float = WET_SOIL
    ends: tuple[End, End] = ("fixed", "fixed")  # at the outlet, at the upper end
    added: tuple[tuple[float, float, float], ...] = ()  # (station, station, load [N/m]): traffic that stays, a wall
    welded: bool | None = None  # None: as the pipe is usually joined
    fill: float = 1.0  # share of the bore with water

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return self.inverts[-1][0]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingPool:
    """A pool in a line."""

    start: float  # stations [m]
    end: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """How the line lies under one guess of the ground, at once or after 50 years."""

    guess: str  # low | likely | high
    term: Term
    station: Array
    sag: Array  # [m]
    invert: Array  # settled [m]
    pools: tuple[StandingPool, ...]
    depth: float  # of the deepest pool
    pool_length: float  # of all pools
    moment: float  # greatest, either sign [N m]
    stress: float | None  # bending [Pa]; None for a corrugated wall
    turn: float  # greatest at a joint [degrees]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """What a line will do, with its doubt."""

    stock: PipeStock
    cases: tuple[Case, ...]  # three guesses, short and long term of each
    depth: Range  # of standing water, long term [m]
    pool_length: Range
    stress: float | None  # greatest of all cases
    turn: float
    flags: tuple[str, ...]
    notes: tuple[str, ...]

    def case(self, guess: str, term: Term) -> Case:
        """One case.

        Parameters
        ----------
        guess : str
            low, likely or high.
        term : str
            'short' or 'long'.

        Returns
        -------
        Case
            How the line lies then.
        """
        return next(case for case in self.cases if (case.guess, case.term) == (guess, term))


def pool_depth(stock: PipeStock, asked: float | None) -> float:
    """Depth of standing water that is flagged.

    Parameters
    ----------
    stock : PipeStock
        For a tenth of its bore.
    asked : float or None
        Limit in force [m]; None: not known.

    Returns
    -------
    float
        The lesser of the two [m]; common practice, from memory.
    """
    tenth = POOL_SHARE * stock.pipe.bore
    return float(tenth if asked is None else min(asked, tenth))


def forecast(
    stock: PipeStock,
    bed: Bed,
    *,
    frost: bool = False,
    refine: float = 1.0,
    unit: str = "ft",
    pool: float | None = POOL_LIMIT,
) -> Forecast:
    """Standing water, stress and joint turn of a line, low, likely and high.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    bed : Bed
        The line and its ground.
    frost : bool
        Whether the line lies above the depth of frost: then any pool is flagged.
    refine : float
        Elements this many times shorter than the rule asks, for a check of convergence [-].
    unit : str
        The site's length unit, for flags and notes.
    pool : float or None
        Depth of standing water that the rule in force flags [m]; None: not known.

    Returns
    -------
    Forecast
        Six cases: ground at its best, likely and worst; pipe at once and after 50 years. At the best the pipe is as
        stiff as it may be, at the worst as limp. Nobody knows where joints will fall, nor is the stiffest pipe the
        best on every bed: low and high are the envelope over `joint_starts` and over the likely case, so that low,
        likely and high stand in order.

    Raises
    ------
    ValueError
        If a stretch lies off the line or ends before it starts, or the bed's stations do not rise.
    beam.UnsettledError
        If the line cannot be solved in balance: no figure is better than a wrong one.

    References
    ----------
    `beam.bent_line` for the line; water stands to the highest invert downstream.
    Known: settlement and ground stiffness to a factor 2 to 3, so the depth of a pool too. Ranking of pipes on one
    bed is steadier than that.
    """
    _check(bed)
    tried = {
        (guess, term): [
            settled_case(stock, bed, guess, term, refine=refine, joint=joint)
            for joint in (joint_starts(stock, bed) if guess != "likely" else (None,))
        ]
        for guess, term in product(GUESSES, TERMS)
    }
    cases = tuple(_enveloped(tried, guess, term) for guess, term in product(GUESSES, TERMS))
    every = [case for some in tried.values() for case in some]
    long = {case.guess: case for case in cases if case.term == "long"}
    depth = Range(*(long[guess].depth for guess in GUESSES))
    lengths = [
        long["likely"].pool_length,
        *(case.pool_length for case in every if case.term == "long" and case.guess != "likely"),
    ]
    best = [long["likely"].pool_length, *(case.pool_length for case in tried["low", "long"])]
    stresses = [case.stress for case in every if case.stress is not None]
    stress = max(stresses, default=None)
    turn = max(case.turn for case in every)
    flags = []
    limit = pool_depth(stock, pool)
    for guess in ("likely", "high"):
        if long[guess].depth > limit:
            flags.append(
                f"standing water {units.short_text(long[guess].depth, unit, 2)} deep ({guess}), over "
                f"{units.short_text(limit, unit, 2)}"
            )
            break
    if frost and depth.high > _WET:
        flags.append(f"water may stand in frost: up to {units.short_text(depth.high, unit, 2)}")
    if stress is not None and stock.stress_limit is not None and stress > stock.stress_limit:
        flags.append(
            f"bending stress {units.stress_text(stress, unit)}, over {units.stress_text(stock.stress_limit, unit)}"
        )
    if turn > (stock.joint_turn or math.inf):
        flags.append(f"a joint turns {turn:.1f} degrees, over {stock.joint_turn:g}")
    return Forecast(
        stock=stock,
        cases=cases,
        depth=depth,
        pool_length=Range(min(best), long["likely"].pool_length, max(lengths)),
        stress=stress,
        turn=turn,
        flags=tuple(flags),
        notes=_notes(stock, bed, unit),
    )


def _enveloped(tried: dict[tuple[str, Term], list[Case]], guess: str, term: Term) -> Case:
    """Of the cases of a guess the shallowest or the deepest; the likely one where it lies outside of them."""
    (likely,) = tried["likely", term]
    if guess == "likely":
        return likely
    pick = min if guess == "low" else max
    found = pick((*tried[guess, term], likely), key=lambda case: case.depth)
    return replace(found, guess=guess)


def joint_starts(stock: PipeStock, bed: Bed) -> tuple[float | None, ...]:
    """Where the first joint may fall, to be tried.

    As laid from the outlet, and at the edges and the middle of the worst dip.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    bed : Bed
        The line and its ground.

    Returns
    -------
    tuple of float or None
        Stations within the first pipe [m]; None alone for pipe in one piece.
    """
    if not _jointed(stock, bed):
        return (None,)
    lay = stock.lay_length
    if not bed.stretches:
        return (lay,)
    worst = max(bed.stretches, key=lambda stretch: stretch.drop.high)
    places = (worst.start, worst.end, (worst.start + worst.end) / 2)
    return tuple(dict.fromkeys((lay, *(place % lay or lay for place in places))))


def settled_case(
    stock: PipeStock,
    bed: Bed,
    guess: str,
    term: Term,
    *,
    refine: float = 1.0,
    scale: float | None = None,
    joint: float | None = None,
) -> Case:
    """How a line lies under one guess of the ground.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    bed : Bed
        The line and its ground.
    guess : str
        low, likely or high: how bad the ground is.
    term : str
        'short' or 'long': the modulus of the pipe's material.
    refine : float
        Elements this many times shorter than the rule asks [-].
    scale : float, optional
        Factor on the pipe's EI [-]; when absent the pipe's doubt: stiffer for low, limper for high.
    joint : float, optional
        Station of the first joint [m]; when absent one pipe's length up, for the high guess one at the edge of the dip.

    Returns
    -------
    Case
        Settled inverts, pools, stress, joint turn.

    References
    ----------
    See `forecast`.
    """
    book = stock.bending_short if term == "short" else stock.bending_long
    if scale is None:
        scale = {"low": stock.bending_factor, "likely": 1.0, "high": 1 / stock.bending_factor}[guess]
    stiffness = book * scale
    which = GUESSES.index(guess)
    lines = _lines(stock, bed, which)
    breaks = [mark for stretch in bed.stretches for mark in (stretch.start, stretch.end)]
    breaks += [mark for start, end, _ in bed.added for mark in (start, end)]
    breaks += [station for station, _ in (*bed.inverts, *bed.covers)]
    joints = _joints(stock, bed, guess, joint)
    bent = bent_line(
        bed.length,
        bending=stiffness,
        modulus=lines[0],
        drop=lines[1],
        load=lines[2],
        ends=bed.ends,
        joints=joints,
        breaks=breaks,
        element=_element(stiffness, bed, which, refine),
    )
    return _read(stock, bed, bent, stiffness, guess, term)


def _element(stiffness: float, bed: Bed, which: int, refine: float) -> float:
    stiffest = max([_of(bed.firm, which), *(_of(stretch.modulus, which) for stretch in bed.stretches)])
    return min(FINENESS / characteristic(stiffness, stiffest), bed.length / 100) / refine


def _of(span: Range, which: int, *, rising: bool = False) -> float:
    """The number that goes with a guess: soft ground is the worst, a large settlement is the worst."""
    return span[which] if rising else span[2 - which]


def _lines(stock: PipeStock, bed: Bed, which: int) -> tuple[AlongLine, AlongLine, AlongLine]:
    """Ground stiffness, settlement and load as functions of the station."""

    def modulus(at: Array) -> Array:
        found = np.full(at.shape, _of(bed.firm, which))
        for stretch in bed.stretches:
            inside = (at > stretch.start) & (at < stretch.end)
            found[inside] = np.minimum(found[inside], _of(stretch.modulus, which))
        return found

    def drop(at: Array) -> Array:
        found = np.zeros(at.shape)
        for stretch in bed.stretches:
            inside = (at > stretch.start) & (at < stretch.end)
            deep = _of(stretch.drop, which, rising=True)
            smooth = stretch.edge == "bowl" or (stretch.edge == "either" and which == 0)
            share = (at[inside] - stretch.start) / (stretch.end - stretch.start)
            shape = (1 - np.cos(2 * np.pi * share)) / 2 if smooth else np.ones(share.shape)
            found[inside] = np.maximum(found[inside], deep * shape)
        return found

    own = bed_load(stock, 0.0, bed.unit_weight, bed.fill)

    def load(at: Array) -> Array:
        station, cover = np.array(bed.covers).T
        found = own + bed.unit_weight * stock.pipe.od * np.maximum(np.interp(at, station, cover), 0)
        for start, end, more in bed.added:
            found[(at > start) & (at < end)] += more
        return np.asarray(found, dtype=np.float64)

    return modulus, drop, load


def _jointed(stock: PipeStock, bed: Bed) -> bool:
    return stock.hinged if bed.welded is None else not bed.welded


def _joints(stock: PipeStock, bed: Bed, guess: str, first: float | None = None) -> tuple[float, ...]:
    """Where joints turn.

    Nobody knows where they will fall, so the worst guess puts one at the edge of the worst dip.
    """
    if not _jointed(stock, bed):
        return ()
    lay = stock.lay_length
    start = lay if first is None else first
    if first is None and guess == "high" and bed.stretches:
        worst = max(bed.stretches, key=lambda stretch: stretch.drop.high)
        start = worst.start % lay or lay
    inside = [start + lay * n for n in range(int(bed.length / lay) + 1)]
    return tuple(at for at in inside if 0.01 * lay < at < bed.length - 0.01 * lay)


def _read(stock: PipeStock, bed: Bed, bent: Bent, stiffness: float, guess: str, term: Term) -> Case:
    station, laid = np.array(bed.inverts).T
    invert = np.interp(bent.at, station, laid) - bent.sag
    water = np.maximum.accumulate(invert)
    deep = water - invert
    pools = tuple(
        StandingPool(start=float(bent.at[a]), end=float(bent.at[b]), depth=float(deep[a : b + 1].max()))
        for a, b in _spells(deep > 1e-6)
        if deep[a : b + 1].max() > _WET
    )
    moment = float(np.max(np.abs(bent.moment)))
    modulus = stock.modulus_short if term == "short" else stock.modulus_long
    for held in (bent.at, bent.sag, invert):
        held.flags.writeable = False
    return Case(
        guess=guess,
        term=term,
        station=bent.at,
        sag=bent.sag,
        invert=invert,
        pools=pools,
        depth=max((pool.depth for pool in pools), default=0.0),
        pool_length=sum(pool.end - pool.start for pool in pools),
        moment=moment,
        stress=moment / stiffness * modulus * stock.pipe.od / 2 if stock.plain_wall else None,
        turn=max((abs(math.degrees(turn)) for _, turn in bent.turns), default=0.0),
    )


def _spells(true: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], true, [False]]).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _check(bed: Bed) -> None:
    for name, marks in (("inverts", bed.inverts), ("covers", bed.covers)):
        at = [station for station, _ in marks]
        if len(at) < 2 or at != sorted(set(at)) or not all(math.isfinite(v) for pair in marks for v in pair):
            raise ValueError(f"the {name} of a bed need two stations or more that rise, all finite")
    if bed.inverts[0][0] != 0:
        raise ValueError("a bed's first station is 0, the outlet")
    for stretch in bed.stretches:
        if not 0 <= stretch.start < stretch.end <= bed.length * (1 + 1e-9):
            raise ValueError(f"{stretch.what} from {stretch.start:g} to {stretch.end:g} m does not lie on the line")
        for span in (stretch.modulus, stretch.drop):
            if not 0 <= span.low <= span.likely <= span.high:
                raise ValueError(f"{stretch.what}: low, likely and high do not rise from 0")


def _notes(stock: PipeStock, bed: Bed, unit: str) -> tuple[str, ...]:
    notes = [
        (
            f"Soil on the line {units.unit_weight_text(bed.unit_weight, unit)}, pipe "
            f"{'full' if bed.fill == 1 else 'part full'} of water."
        ),
        "Depth of a pool is known to a factor 2 to 3, like the settlement and the stiffness of the ground.",
        (
            "Load is taken not to change as the ground sinks; over a void, arching onto a stiff pipe may raise "
            "it 1.5 to 2 times."
        ),
    ]
    if stock.bending_factor > 1.5:
        notes.append(f"Bending stiffness of {stock.pipe.title} is known to a factor {stock.bending_factor:g} only.")
    if _joints(stock, bed, "likely"):
        notes.append(
            f"Joints every {units.length_text(stock.lay_length, unit, 1)} turn freely; best and worst are "
            "those of several places where they may fall."
        )
    return tuple(notes)
