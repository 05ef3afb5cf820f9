"""Writes the tables of docs/bedding.md from the sums themselves; a test fails when the page is stale.

Python docs/make_bedding.py.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.bedding import ring, weight
from siteplan.bedding.belly import WET_SOIL, Bed, Edge, Stretch, settled_case
from siteplan.books.soils import Range
from siteplan.books.stock import PipeStock, stock
from siteplan.books.vehicles import VEHICLES
from siteplan.trench.sides import TIE

PAGE = Path(__file__).with_name("bedding.md")
LENGTH = 60 * units.FOOT
WET = (25 * units.FOOT, 35 * units.FOOT)
GRADE = 0.01
COVER = 1.5 * units.FOOT
FIRM = 2000 * units.PSI
KINDS = ("pvc_sch40", "pvc_sdr35", "pe_corr_dual", "pe_corr_single")


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
    """Pools, stress and joint turn of several pipes on one line, held fast at both ends.

    Firm ground but for the wet stretch.

    `welded` True: all in one piece; None: joined as each pipe usually is. Ground by ground, pipes in the order given.
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
        bed = Bed(
            inverts=((0.0, 0.0), (length, grade * length)),
            covers=((0.0, cover), (length, cover)),
            stretches=(soft,),
            firm=Range(FIRM, FIRM, FIRM),
            welded=welded,
        )
        both = [
            (settled_case(pipe, bed, "likely", "short"), settled_case(pipe, bed, "likely", "long")) for pipe in chosen
        ]
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


_COVER = 1.5 * units.FOOT
_COLUMNS = {
    "pvc_sch40": "solid PVC",
    "pvc_sdr35": "sewer-grade PVC",
    "pvc_thin": "thin-wall PVC",
    "pe_corr_dual": "dual-wall corrugated",
    "pe_corr_single": "single-wall corrugated",
}


def tables() -> dict[str, str]:
    """Every table of the page by its name, as Markdown."""
    return {
        "pools": _pools(welded=True),
        "jointed": _pools(welded=None, kinds=("pvc_sch40", "pvc_sdr35")),
        "short-patch": _short_patch(),
        "weights": _weights(),
        "covers": _covers(),
    }


def _four(kinds: Sequence[str]) -> list[PipeStock]:
    return [stock(kind, "4 in") for kind in kinds]


def _markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def _inches(length: float) -> str:
    return f"{length / units.INCH + 0.0:.2f}"


def _cell(entry: Entry) -> str:
    text = f"{_inches(entry.depth_long)} ({_inches(entry.depth_short)})"
    if entry.turn >= 0.05:
        text += f", joint {entry.turn:.1f}\u00b0"
    return f"**{text}**" if entry.shallowest else text


def _pools(*, welded: bool | None, kinds: Sequence[str] = KINDS) -> str:
    entries = side_by_side(_four(kinds), welded=welded)
    rows = [[ground.title, *(_cell(entry) for entry in entries if entry.ground == ground)] for ground in GROUNDS]
    return _markdown(["ground under the wet 10 ft", *(_COLUMNS[kind] for kind in kinds)], rows)


def _short_patch() -> str:
    rows = []
    for feet in (2, 4, 6, 10, 20):
        wet = (LENGTH / 2 - feet / 2 * units.FOOT, LENGTH / 2 + feet / 2 * units.FOOT)
        ground = Ground(title="", modulus=200 * units.PSI, drop=1 * units.INCH, edge="sharp")
        entries = side_by_side(_four(KINDS), [ground], wet=wet)
        rows.append([f"{feet} ft", *(_cell(entry) for entry in entries)])
    return _markdown(["length of the dip", *(_COLUMNS[kind] for kind in KINDS)], rows)


def _weights() -> str:
    asked: tuple[tuple[float, weight.Surround], ...] = ((0.0, "saturated"), (1.0, "saturated"), (1.0, "mud"))
    rows = []
    for pipe in _four(KINDS):
        cells = [weight.force_text(weight.net_weight(pipe, fill, surround)) for fill, surround in asked]
        soil = (weight.bed_load(pipe, _COVER, WET_SOIL) - weight.weight_in_air(pipe, 1.0)) / units.POUND_PER_FOOT
        share = 100 * weight.pipe_share(pipe, _COVER, WET_SOIL)
        needed = [
            weight.uplift(pipe, _COVER, weight.lightest_wet(told)).cover_needed
            for told in (weight.MINERAL, weight.ORGANIC)
        ]
        held = [f"{one / units.INCH:.1f} in" for one in needed]
        rows.append([_COLUMNS[pipe.pipe.kind], *cells, f"{soil:.1f} lbf/ft", f"{share:.1f} %", *held])
    head = [
        "4 in pipe",
        "empty, under water",
        "full, under water",
        "full, in mud that flows",
        "18 in of wet soil on it",
    ]
    return _markdown(
        [
            *head,
            "pipe's share of the bed load",
            "wet mineral soil of 110 lbf/ft3 that holds it down empty",
            "peat of 75 that does",
        ],
        rows,
    )


def _covers() -> str:
    rows = []
    for kind, reaction in (
        ("pvc_thin", 200),
        ("pe_corr_single", 200),
        ("pvc_sdr35", 200),
        ("pvc_sch40", 200),
        ("pvc_sdr35", 1000),
    ):
        cells = []
        for wheel in VEHICLES:
            found = ring.minimum_cover(stock(kind, "4 in"), wheel, unit_weight=WET_SOIL, reaction=reaction * units.PSI)
            if found.by_sum is None:
                cells.append("no")
            elif found.by_sum < 3 * units.INCH:
                cells.append("under 3 in")
            else:
                cells.append(f"{found.by_sum / units.INCH:.0f} in")
        bed = "hand-tamped soil" if reaction == 200 else "compacted stone"
        rows.append([f"{_COLUMNS[kind]} in {bed}", *cells])
    return _markdown(["4 in pipe", *(wheel.title for wheel in VEHICLES)], rows)


def written(page: str) -> str:
    """The page with its tables made again."""
    for name, table in tables().items():
        page = re.sub(
            rf"(<!-- table: {name} -->\n).*?(\n<!-- end -->)",
            lambda marks, table=table: f"{marks[1]}{table}{marks[2]}",  # type: ignore[misc]
            page,
            flags=re.DOTALL,
        )
    return page


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
