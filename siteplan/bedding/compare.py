"""The same line in several pipes and several grounds, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.bedding.belly import Edge, Stretch, settled, straight_bed
from siteplan.books.soils import Range
from siteplan.books.stock import PipeStock, stock

LENGTH = 60 * units.FOOT
WET = (25 * units.FOOT, 35 * units.FOOT)
GRADE = 0.01
COVER = 1.5 * units.FOOT
FIRM = 2000 * units.PSI
KINDS = ("pvc_sch40", "pvc_sdr35", "pe_corr_dual", "pe_corr_single")
TIE = 0.05 * units.INCH  # pools that differ by less are a tie


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One ground under the wet stretch."""

    title: str
    modulus: float  # stiffness per length of pipe [Pa]
    drop: float  # settlement of the trench bottom [m]
    edge: Edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One pipe on one ground."""

    ground: Ground
    kind: str
    name: str
    welded: bool
    depth_short: float  # of standing water [m]
    depth_long: float
    pool_length: float  # long term [m]
    sag: float  # greatest, long term [m]
    stress: float | None  # bending, short term, the greater [Pa]
    turn: float  # at a joint [degrees]
    shallowest: bool  # within `TIE` of the shallowest pool on this ground, long term


GROUNDS: tuple[Ground, ...] = (
    Ground(title="load only, soft wet ground", modulus=50 * units.PSI, drop=0.0, edge="sharp"),
    Ground(title="load only, mud", modulus=20 * units.PSI, drop=0.0, edge="sharp"),
    Ground(title="load only, mud near liquid", modulus=5 * units.PSI, drop=0.0, edge="sharp"),
    Ground(title="bottom drops 0.5 in, sharp", modulus=200 * units.PSI, drop=0.5 * units.INCH, edge="sharp"),
    Ground(title="bottom drops 1 in, sharp", modulus=200 * units.PSI, drop=1.0 * units.INCH, edge="sharp"),
    Ground(title="bottom drops 2 in, sharp", modulus=200 * units.PSI, drop=2.0 * units.INCH, edge="sharp"),
    Ground(title="bottom drops 1 in, smooth bowl", modulus=200 * units.PSI, drop=1.0 * units.INCH, edge="bowl"),
)


def side_by_side(
    pipes: Sequence[PipeStock] | None = None,
    grounds: Sequence[Ground] = GROUNDS,
    *,
    length: float = LENGTH,
    wet: tuple[float, float] = WET,
    grade: float = GRADE,
    cover: float = COVER,
    welded: bool | None = True,
) -> tuple[Entry, ...]:
    """Pools, stress and joint turn of several pipes on one line.

    Parameters
    ----------
    pipes : sequence of PipeStock, optional
        Pipes; the four of `KINDS` in 4 in when absent.
    grounds : sequence of Ground
        What lies under the wet stretch; firm ground elsewhere.
    length : float
        Length of the line, held fast at both ends [m].
    wet : tuple of float
        Stations of the wet stretch [m].
    grade : float
        Grade laid [-].
    cover : float
        Cover over the pipe [m].
    welded : bool or None
        True: one piece; None: joined as each pipe usually is.

    Returns
    -------
    tuple of Entry
        Ground by ground, pipes in the order given.

    References
    ----------
    `belly.settled`, with the ground's numbers taken as known.
    """
    chosen = [stock(kind, "4 in") for kind in KINDS] if pipes is None else list(pipes)
    table: list[Entry] = []
    for ground in grounds:
        soft = Stretch(
            start=wet[0],
            end=wet[1],
            modulus=Range(ground.modulus, ground.modulus, ground.modulus),
            drop=Range(ground.drop, ground.drop, ground.drop),
            edge=ground.edge,
        )
        plain = straight_bed(length, grade, cover, [soft])
        bed = replace(plain, firm=Range(FIRM, FIRM, FIRM), welded=welded)
        both = [(settled(pipe, bed, "likely", "short"), settled(pipe, bed, "likely", "long")) for pipe in chosen]
        best = min(after.depth for _, after in both)
        table += [
            Entry(
                ground=ground,
                kind=pipe.pipe.kind,
                name=pipe.name,
                welded=not pipe.hinged if welded is None else welded,
                depth_short=at_once.depth,
                depth_long=after.depth,
                pool_length=after.pool_length,
                sag=float(after.sag.max()),
                stress=None if at_once.stress is None or after.stress is None else max(at_once.stress, after.stress),
                turn=max(at_once.turn, after.turn),
                shallowest=after.depth <= best + TIE,
            )
            for pipe, (at_once, after) in zip(chosen, both, strict=True)
        ]
    return tuple(table)
