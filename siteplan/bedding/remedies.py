"""A line that may pond in; what would change it, most helpful first, and which unknown matters most, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from siteplan.bedding.belly import Bed, Stretch, forecast, settled_case
from siteplan.books.soils import Range, settlement, value_range
from siteplan.books.stock import PipeStock

_TAMPED_OVER_DUMPED = 0.4  # 2 percent against 5, book of soils


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """One change and the depth of standing water it leaves, long term [m]."""

    id: str
    title: str
    depth: Range
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """How far one unknown moves the likely depth, all else at its likely value [m]."""

    what: str
    at_best: float
    at_worst: float

    @property
    def width(self) -> float:
        """Difference of the two [m]."""
        return abs(self.at_worst - self.at_best)


def remedies(
    stock: PipeStock, bed: Bed, others: Sequence[PipeStock] = (), *, steeper: float = 0.01
) -> tuple[Remedy, ...]:
    """What would change standing water in a line, the most helpful first.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    bed : Bed
        The line and its ground.
    others : sequence of PipeStock
        Pipes to try in its place.
    steeper : float
        Grade to add [-].

    Returns
    -------
    tuple of Remedy
        By worst depth left, then by likely depth, then in the order: stone, tamping, steeper, welded joints, other
        pipe, way round.

    References
    ----------
    `belly.forecast` of the changed line.
    """
    tries: list[tuple[str, str, PipeStock, Bed]] = []
    if bed.stretches:
        tries += [
            ("stone", "over-dig two pipe diameters and bed in tamped stone", stock, _stone(stock, bed)),
            ("tamp", "tamp the refill under the pipe", stock, _tamped(bed)),
        ]
    tries.append(("steeper", f"lay it {100 * steeper:g} % steeper", stock, _steeper(bed, steeper)))
    if stock.hinged and "weld" in stock.joints and not bed.welded:
        tries.append(("weld", "weld the joints", stock, replace(bed, welded=True)))
    tries += [("pipe", f"lay {other.name}", other, bed) for other in others if other.pipe != stock.pipe]
    if bed.stretches:
        tries.append(("reroute", "go round the weak ground", stock, replace(bed, stretches=())))
    found = []
    for name, title, pipe, changed in tries:
        after = forecast(pipe, changed)
        found.append(Remedy(id=name, title=title, depth=after.depth, flags=after.flags))
    return tuple(sorted(found, key=lambda remedy: (round(remedy.depth.high, 4), round(remedy.depth.likely, 4))))


def swings(stock: PipeStock, bed: Bed) -> tuple[Swing, ...]:
    """Which unknown moves the depth of standing water most, one at a time.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    bed : Bed
        The line and its ground; all but the unknown in question stay at their likely value.

    Returns
    -------
    tuple of Swing
        Widest first.

    References
    ----------
    `belly.settled_case` of the likely case, long term.
    """
    middle = replace(bed, stretches=tuple(_pinned(stretch) for stretch in bed.stretches), firm=_only(bed.firm.likely))

    def depth(changed: Bed, scale: float = 1.0) -> float:
        return settled_case(stock, changed, "likely", "long", scale=scale).depth

    def with_drop(guess: int) -> Bed:
        pairs = zip(middle.stretches, bed.stretches, strict=True)
        return replace(middle, stretches=tuple(replace(s, drop=_only(known.drop[guess])) for s, known in pairs))

    def with_modulus(guess: int) -> Bed:
        pairs = zip(middle.stretches, bed.stretches, strict=True)
        return replace(middle, stretches=tuple(replace(s, modulus=_only(known.modulus[guess])) for s, known in pairs))

    factor = stock.bending_factor
    found = [
        Swing(what="settlement of the bed", at_best=depth(with_drop(0)), at_worst=depth(with_drop(2))),
        Swing(what="stiffness of the weak ground", at_best=depth(with_modulus(2)), at_worst=depth(with_modulus(0))),
        Swing(
            what="stiffness of the firm ground",
            at_best=depth(replace(middle, firm=_only(bed.firm.high))),
            at_worst=depth(replace(middle, firm=_only(bed.firm.low))),
        ),
        Swing(what="bending stiffness of the pipe", at_best=depth(middle, factor), at_worst=depth(middle, 1 / factor)),
        Swing(
            what="sharp or smooth edges of the dip",
            at_best=depth(_edged(middle, smooth=True)),
            at_worst=depth(_edged(middle, smooth=False)),
        ),
    ]
    return tuple(sorted(found, key=lambda swing: (-round(swing.width, 6), swing.what)))


def _stone(stock: PipeStock, bed: Bed) -> Bed:
    drop = settlement("over_stone", 2 * stock.pipe.od)
    stiff = value_range("line_modulus", "stone")
    return replace(bed, stretches=tuple(replace(stretch, modulus=stiff, drop=drop) for stretch in bed.stretches))


def _tamped(bed: Bed) -> Bed:
    def better(stretch: Stretch) -> Range:
        if stretch.loose > 0:
            return settlement("over_tamped", stretch.loose)
        return Range(*(drop * _TAMPED_OVER_DUMPED for drop in stretch.drop))

    return replace(bed, stretches=tuple(replace(stretch, drop=better(stretch)) for stretch in bed.stretches))


def _steeper(bed: Bed, more: float) -> Bed:
    return replace(bed, inverts=tuple((station, invert + more * station) for station, invert in bed.inverts))


def _only(value: float) -> Range:
    return Range(value, value, value)


def _pinned(stretch: Stretch) -> Stretch:
    return replace(stretch, modulus=_only(stretch.modulus.likely), drop=_only(stretch.drop.likely))


def _edged(bed: Bed, *, smooth: bool) -> Bed:
    return replace(bed, stretches=tuple(replace(s, edge="bowl" if smooth else "sharp") for s in bed.stretches))
