"""What was to be built and what was shot in; the verdict before backfill out: accept, mend the paper, re-dig, or cannot tell."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.field.design import UNNAMED, Design, DesignLine, Item
from siteplan.field.laid_fit import CERTAIN, LaidFit, fit_laid
from siteplan.field.laid_water import PAIR_DOUBT, Belly, LaidReach, bellies, low_profile, pairs, pieces
from siteplan.field.placing import Placed, place
from siteplan.field.shots import CHECK_ALLOWED, SetUp, Shot

Floats = NDArray[np.float64]
Verdict = Literal["accept", "fix-paper", "re-dig", "cannot-tell"]

OFF_GRADE = 0.05 * units.FOOT  # for grades about 1 %; common practice, no source
REOPENS = 0.10 * units.FOOT  # a flow line farther off reopens the design; one city's record drawing rule
DATUM_SEEN = 0.02 * units.FOOT
FIXED_AGREE = 0.04 * units.FOOT  # between fixed objects, shots of one set-up; common practice, no source
WIDEST = 25.5 * units.FOOT  # between shots: two sticks and a little; nobody saw what lies between
SHORT = (
    20 * units.FOOT
)  # a piece shorter than two sticks may be flatter, as long as it falls; common practice, no source
CAP = 0.25 * units.FOOT
_ALIKE = 0.05 * units.FOOT
_SAME = 0.02  # m


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidLine:
    """One line as laid. `fit` is None with fewer than three shots, two on a line of two sticks or less."""

    design: DesignLine
    shots: tuple[Shot, ...]
    fit: LaidFit | None
    bellies: tuple[Belly, ...]
    pieces: tuple[LaidReach, ...]
    pairs: tuple[LaidReach, ...]
    gaps: tuple[tuple[float, float], ...]
    cover_lost: tuple[float, float] | None  # station, by how much the rule is now broken [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A stretch or a point of a line; `line` is empty for a place that is named."""

    line: str
    station_from: float | None
    station_to: float | None
    why: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AsBuilt:
    """The check of what was laid.

    Attributes
    ----------
    datum_shift : float or None
        As-laid minus plan on fixed objects [m]; 0 when they agree; None when none was shot.
    reasons : tuple of (str, str)
        Verdict that each asks for, and why, weightiest first.
    relay, reshoot : tuple of Place
        What to take up again, and what to shoot again.
    """

    verdict: Verdict
    reasons: tuple[tuple[Verdict, str], ...]
    datum_shift: float | None
    fixed: tuple[tuple[Item, Shot, float], ...]
    turned: str
    lines: tuple[LaidLine, ...]
    missing: tuple[Item, ...]
    unjudged: tuple[Item, ...]
    moved: tuple[tuple[Item, float], ...]
    stray: tuple[Shot, ...]
    relay: tuple[Place, ...]
    reshoot: tuple[Place, ...]
    set_up: SetUp
    assumptions: tuple[str, ...]
    crossed: tuple[str, ...] = ()


def check_as_laid(
    design: Design,
    shots: Sequence[Shot],
    set_up: SetUp,
    *,
    on: str | None = None,
    bell_rise: float | None = None,
    doubt: float | None = None,
    only: str | None = None,
) -> AsBuilt:
    """Check what was laid against what was to be laid.

    Parameters
    ----------
    design : Design
        What was to be built.
    shots : sequence of Shot
        As read.
    set_up : SetUp
        Where their heights come from.
    on : str, optional
        What rods stood on where a row does not say it: 'top', 'invert', 'bottom' or 'bell'.
    bell_rise : float, optional
        Top of a bell above the invert [m]; shots on bells are left out where it is not known.
    doubt : float, optional
        One standard deviation of a shot [m].
    only : str, optional
        Judge this line alone; shots of others are put where they belong all the same.

    Returns
    -------
    AsBuilt
        With every reason for its verdict.
    """
    placed = place(design, shots)
    if only is not None:
        placed = _of_line(placed, only)
        design = replace(design, lines=tuple(line for line in design.lines if line.id == only))
    told = list(design.assumptions)
    usual = on or ("top" if set_up.hi is not None else "invert")
    if on is None and any(not shot.on for _, _, shot in placed.on_line):
        stood = "the outside top of the pipe" if usual == "top" else "the invert"
        told.append(f"Shots are taken to stand on {stood} where they do not say (--on changes it).")
    shift, fixed, agree = _datum(placed)
    reasons: list[tuple[Verdict, str]] = []
    lines = [
        _laid(
            line,
            design,
            [(s, shot) for name, s, shot in placed.on_line if name == line.id],
            usual,
            bell_rise,
            doubt,
            shift or 0.0,
        )
        for line in design.lines
    ]
    relay: list[Place] = []
    reshoot: list[Place] = []
    unit = design.unit
    _judge_set_up(set_up, agree, fixed, unit, reasons, reshoot)
    _judge_placing(placed, unit, reasons, reshoot)
    if shift:
        word = units.length_text(abs(shift), design.elevation_unit)
        reasons.append(
            (
                "fix-paper",
                f"Datum: fixed objects stand {word} {'higher' if shift > 0 else 'lower'} in the shots than in the plan; taken off every shot.",
            )
        )
        if len(fixed) == 1:
            reshoot.append(
                Place(
                    line="",
                    station_from=None,
                    station_to=None,
                    why="a second fixed object: one alone may itself have moved",
                )
            )
    if any(line.fit is not None and _wrong_surface(line, usual, placed) for line in lines):
        rise = units.length_text(design.lines[0].rise, unit, 3)
        other = "the outside top" if usual == "invert" else "the invert"
        reasons.append(
            (
                "cannot-tell",
                f"All shots lie {rise} off the plan, the height of the pipe's top above its invert: did the rod stand on {other}? Say --on.",
            )
        )
    else:
        for line in lines:
            _judge_line(line, design, has_datum=shift is not None, reasons=reasons, relay=relay, reshoot=reshoot)
    order = ("re-dig", "cannot-tell", "fix-paper", "accept")
    if set_up.slipped is not None and abs(set_up.slipped) > CHECK_ALLOWED:
        order = ("cannot-tell", "re-dig", "fix-paper", "accept")  # no figure of a slipped set-up condemns a pipe
    reasons.sort(key=lambda one: order.index(one[0]))
    verdict: Verdict = reasons[0][0] if reasons else "accept"
    return AsBuilt(
        verdict=verdict, reasons=tuple(reasons), datum_shift=shift, fixed=fixed, turned=placed.turned, lines=tuple(lines),
        missing=placed.missing, unjudged=placed.unjudged, moved=placed.moved, stray=placed.stray, relay=tuple(relay),
        reshoot=tuple(reshoot), set_up=set_up, assumptions=tuple(told),
    )  # fmt: skip


def _of_line(placed: Placed, only: str) -> Placed:
    """What of the shots speaks of one line; fixed objects speak of all."""
    return replace(
        placed,
        on_line=tuple(one for one in placed.on_line if one[0] == only),
        missing=tuple(item for item in placed.missing if item.line == only),
        unjudged=tuple(item for item in placed.unjudged if item.line == only),
        moved=tuple(one for one in placed.moved if one[0].line == only),
        stray=(),
    )


def _datum(placed: Placed) -> tuple[float | None, tuple[tuple[Item, Shot, float], ...], bool]:
    """Shift of the datum from fixed objects alone, the objects with their own shifts, and whether these agree."""
    fixed = tuple(
        (item, shot, shot.height - item.elevation) for item, shot in placed.fixed if item.elevation is not None
    )
    if not fixed:
        return None, (), True
    each = np.array([shift for _, _, shift in fixed])
    middle = float(np.median(each))
    agree = bool(np.ptp(each) <= FIXED_AGREE)
    return (middle if abs(middle) > DATUM_SEEN and agree else 0.0), fixed, agree


def _laid(
    line: DesignLine,
    design: Design,
    own: list[tuple[float, Shot]],
    usual: str,
    bell_rise: float | None,
    doubt: float | None,
    shift: float,
) -> LaidLine:
    inverts: list[tuple[float, float, Shot]] = []
    for at, shot in own:
        lift = _lift(shot.on or usual, line, at, design.bedding, bell_rise)
        if lift is None:
            continue
        invert = shot.height - lift - shift
        # a cleanout is shot on its cap or on the pipe: what lies far over the design is a cap
        if shot.kind != "cleanout" or invert - float(line.at(np.array([at]))[0]) < CAP:
            inverts.append((at, invert, shot))
    inverts.sort(key=lambda one: (one[0], one[2].row))
    groups: list[list[tuple[float, float, Shot]]] = []
    for one in inverts:
        if groups and one[0] - groups[-1][0][0] <= _SAME:
            groups[-1].append(one)
        else:
            groups.append([one])
    station: Floats = np.array([group[0][0] for group in groups], np.float64)
    shot_at: Floats = np.array([np.mean([invert for _, invert, _ in group]) for group in groups], np.float64)
    shots = tuple(shot for _, _, shot in inverts)
    gaps = tuple((float(a), float(b)) for a, b in itertools.pairwise(station.tolist()) if b - a > WIDEST)
    short = line.station[-1] - line.station[0] <= SHORT
    if len(station) < (2 if short else 3):
        return LaidLine(design=line, shots=shots, fit=None, bellies=(), pieces=(), pairs=(), gaps=gaps, cover_lost=None)
    fit = fit_laid(station, shot_at, line.at(station), doubt)
    return LaidLine(
        design=line, shots=shots, fit=fit, bellies=bellies(fit), pieces=pieces(fit, design.min_grade), pairs=pairs(fit, design.min_grade),
        gaps=gaps, cover_lost=_cover_lost(line, fit),
    )  # fmt: skip


def _lift(on: str, line: DesignLine, station: float, bedding: float, bell_rise: float | None) -> float | None:
    """Height of what the rod stood on above the invert [m]; None: not known."""
    rise, below = line.wall_at(station)
    return {"top": rise, "invert": 0.0, "bottom": -below - bedding, "bell": bell_rise}[on]


def _cover_lost(line: DesignLine, fit: LaidFit) -> tuple[float, float] | None:
    """Where the pipe lies so high that the rule of cover, kept by the plan, is broken beyond doubt; the worst place."""
    off = fit.fitted - fit.design
    worst = None
    for station, spare in line.least_cover:
        if not fit.station[0] <= station <= fit.station[-1]:
            continue
        short = float(np.interp(station, fit.station, off)) - spare - OFF_GRADE
        if short > 0 and (worst is None or short > worst[1]):
            worst = (station, short + OFF_GRADE)
    return worst


def _wrong_surface(line: LaidLine, usual: str, placed: Placed) -> bool:
    """Whether every shot is off by the pipe's own height, as when the rod stood on the other surface."""
    if line.fit is None or usual not in {"top", "invert"} or any(shot.on for shot in line.shots) or placed.fixed:
        return False
    off = line.fit.shot - line.fit.design
    expected = line.design.rise if usual == "invert" else -line.design.rise
    return bool(abs(np.median(off) - expected) < _ALIKE)


def _judge_set_up(
    set_up: SetUp,
    agree: bool,
    fixed: Sequence[tuple[Item, Shot, float]],
    unit: str,
    reasons: list[tuple[Verdict, str]],
    reshoot: list[Place],
) -> None:
    if set_up.slipped is not None and abs(set_up.slipped) > CHECK_ALLOWED:
        reasons.append(
            (
                "cannot-tell",
                f"The check back on the mark differs by {units.length_text(set_up.slipped, unit)}: the set-up moved; shoot all again.",
            )
        )
        reshoot.append(Place(line="", station_from=None, station_to=None, why="everything, from a new set-up"))
    if not agree:
        each = "; ".join(f"{item.name} {shift / units.LENGTH[unit]:+.2f}" for item, _, shift in fixed)
        reasons.append(
            (
                "cannot-tell",
                f"Fixed objects disagree about the datum ({each} {units.UNIT_NAMES[unit]}): no shift is taken off.",
            )
        )
        reshoot.append(Place(line="", station_from=None, station_to=None, why="the fixed objects"))


def _judge_placing(placed: Placed, unit: str, reasons: list[tuple[Verdict, str]], reshoot: list[Place]) -> None:
    if placed.turned == "swapped":
        reasons.append(
            (
                "fix-paper",
                "Northing and easting stand in each other's column; every length and grade agrees all the same. Read the right way here.",
            )
        )
    elif placed.turned == "mirrored":
        reasons.append(
            ("fix-paper", "The shots are a mirror image of the plan: one axis runs the other way. Turned back here.")
        )
    elif placed.turned == "nowhere":
        reasons.append(
            ("cannot-tell", "No shot lies near the plan, however the columns are read: another grid, origin or unit?")
        )
    for item in placed.missing:
        reasons.append(
            (
                "cannot-tell",
                f"{item_text(item, unit)}: planned, and not among the shots. Not built, or not shot: show it before backfill.",
            )
        )
        reshoot.append(
            Place(
                line=item.line,
                station_from=item.station,
                station_to=item.station,
                why=f"{item.name}, which has no shot",
            )
        )
    for item, far in placed.moved:
        what = "The outlet" if item.kind == "outlet" else item.kind.capitalize()
        reasons.append(
            (
                "fix-paper",
                f"{what} {item.name} lies {units.length_text(far, unit, 1)} from its planned place: the plan's distances to lines and walls no longer hold there; review them.",
            )
        )


def item_text(item: Item, unit: str) -> str:
    """An item as it is spoken of.

    Parameters
    ----------
    item : Item
        One of the plan's.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Name, line and station.
    """
    if item.station is None or item.line in {"", UNNAMED}:
        return item.name
    return f"{item.line} {item.name} at {units.station_text(item.station, unit)}"


def _shallow(depth: float, unit: str) -> str:
    """Depth of water: 0.12 ft (1.4 in), 0.037 m."""
    return units.length_text(depth, unit) + ("" if unit == "m" else f" ({units.from_metres(depth, 'in'):.1f} in)")


def _judge_line(
    line: LaidLine,
    design: Design,
    *,
    has_datum: bool,
    reasons: list[tuple[Verdict, str]],
    relay: list[Place],
    reshoot: list[Place],
) -> None:
    unit, name = design.unit, line.design.id
    who = "" if len(design.lines) == 1 else f"{name}: "

    def at(station: float) -> str:
        return units.station_text(station, unit)

    if line.fit is None:
        count = len(line.shots)
        if not count:
            reasons.append(("cannot-tell", f"{who}not shot."))
            reshoot.append(
                Place(
                    line=name,
                    station_from=float(line.design.station[0]),
                    station_to=float(line.design.station[-1]),
                    why="every stick",
                )
            )
            return
        reasons.append(
            (
                "cannot-tell",
                f"{who}{count} shot{'s' if count != 1 else ''} prove nothing: two ends may agree over any belly. Shoot every stick.",
            )
        )
        reshoot.append(
            Place(
                line=name,
                station_from=float(line.design.station[0]),
                station_to=float(line.design.station[-1]),
                why="every stick",
            )
        )
        return
    for belly in line.bellies:
        low = float(
            line.fit.design[line.fit.station == belly.lowest][0]
            - low_profile(line.fit)[line.fit.station == belly.lowest][0]
        )
        water = f"water stands from {at(belly.station_from)} to {at(belly.station_to)}, deepest {_shallow(belly.depth, unit)}"
        share = f"{belly.depth / line.design.bore * 100:.0f} % of the bore"
        if belly.certain:
            reasons.append(
                (
                    "re-dig",
                    f"{who}Belly: {water}, {share}; at {at(belly.lowest)} the pipe lies {units.drop_text(low, unit)} below its design and runs backward at {units.grade_text(belly.back_fall)}. Do not backfill.",
                )
            )
            relay.append(Place(line=name, station_from=belly.relay_from, station_to=belly.relay_to, why="belly"))
            reshoot.append(
                Place(
                    line=name,
                    station_from=belly.relay_from,
                    station_to=belly.relay_to,
                    why="every half stick once relaid",
                )
            )
        else:
            reasons.append(
                (
                    "cannot-tell",
                    f"{who}Perhaps a belly: {water}, {share}, with a doubt of {_shallow(CERTAIN * belly.doubt, unit)}. Shoot every half stick there.",
                )
            )
            reshoot.append(
                Place(
                    line=name,
                    station_from=belly.relay_from,
                    station_to=belly.relay_to,
                    why="every half stick: perhaps a belly",
                )
            )
    wet = [(belly.relay_from, belly.relay_to) for belly in line.bellies]
    _judge_pieces(line, design.min_grade, who, at, wet, reasons, relay)
    for first, last in line.gaps:
        reasons.append(
            ("cannot-tell", f"{who}No shot between {at(first)} and {at(last)}: a belly there would not be seen.")
        )
        reshoot.append(Place(line=name, station_from=first, station_to=last, why="every stick"))
    _judge_reach_of_shots(line, who, at, reasons, reshoot)
    _judge_height(line, design, who, has_datum=has_datum, wet=wet, reasons=reasons, relay=relay, reshoot=reshoot)
    for pair in line.pairs:
        inside = any(pair.station_to > first and pair.station_from < last for first, last in wet)
        # an exact 0.80 % against 1.00 % +- 0.20 % is worth a look, no more
        if not inside and pair.grade <= design.min_grade - pair.doubt + 1e-6:
            reshoot.append(
                Place(
                    line=name, station_from=pair.station_from, station_to=pair.station_to,
                    why=f"reads {units.grade_text(pair.grade)} +- {pair.doubt * 100:.1f} %, within the doubt of two shots: accept, or shoot again",
                )
            )  # fmt: skip


def _judge_pieces(
    line: LaidLine,
    min_grade: float,
    who: str,
    at: Callable[[float], str],
    wet: list[tuple[float, float]],
    reasons: list[tuple[Verdict, str]],
    relay: list[Place],
) -> None:
    for piece in line.pieces:
        if any(piece.station_to > first and piece.station_from < last for first, last in wet):
            continue
        where = f"{at(piece.station_from)} to {at(piece.station_to)}"
        graded = f"{units.grade_text(piece.grade)} +- {CERTAIN * piece.doubt * 100:.2f} %"
        if piece.says == "back-falls" and piece.grade * (piece.station_to - piece.station_from) < -PAIR_DOUBT:
            reasons.append(("re-dig", f"{who}{where} runs backward: {graded}."))
            relay.append(
                Place(
                    line=line.design.id,
                    station_from=piece.station_from,
                    station_to=piece.station_to,
                    why="runs backward",
                )
            )
        elif piece.says == "falls too little" and _matters(piece, min_grade):
            reasons.append(("re-dig", f"{who}{where} falls too little: {graded}."))
            relay.append(
                Place(
                    line=line.design.id,
                    station_from=piece.station_from,
                    station_to=piece.station_to,
                    why="falls too little",
                )
            )
        elif piece.says == "cannot tell" and piece.station_to - piece.station_from >= SHORT - _SAME:
            reasons.append(("cannot-tell", f"{who}{where}: whether it falls cannot be told ({graded})."))


def _matters(piece: LaidReach, min_grade: float) -> bool:
    """Whether a flat piece is longer than two sticks and lacks more fall than grades are laid to."""
    length = piece.station_to - piece.station_from
    return length >= SHORT - _SAME and (min_grade - piece.grade) * length >= OFF_GRADE


def _judge_reach_of_shots(
    line: LaidLine, who: str, at: Callable[[float], str], reasons: list[tuple[Verdict, str]], reshoot: list[Place]
) -> None:
    """Ends of the line beyond the last shots. A design given as a grade alone has no upper end."""
    if line.fit is None or (line.design.xy is None and line.design.id == UNNAMED):
        return
    first, last = float(line.design.station[0]), float(line.design.station[-1])
    for start, end in ((first, float(line.fit.station[0])), (float(line.fit.station[-1]), last)):
        if end - start > WIDEST:
            reasons.append(("cannot-tell", f"{who}No shot between {at(start)} and {at(end)}."))
            reshoot.append(Place(line=line.design.id, station_from=start, station_to=end, why="every stick"))


def _judge_height(
    line: LaidLine, design: Design, who: str, *, has_datum: bool, wet: list[tuple[float, float]], reasons: list[tuple[Verdict, str]],
    relay: list[Place], reshoot: list[Place],
) -> None:  # fmt: skip
    """Where the line lies against the plan: high, low, or off as a whole."""
    fit, unit = line.fit, design.unit
    assert fit is not None
    dry = np.array([not any(first < s < last for first, last in wet) for s in fit.station])
    off = (low_profile(fit) - fit.design)[dry]
    sure = CERTAIN * np.sqrt(np.maximum(np.diag(fit.spread), 0.0))[dry]
    if not len(off):
        return
    worst = int(np.argmax(np.abs(off) - sure))
    beyond = abs(off[worst]) - sure[worst]
    where = units.station_text(float(fit.station[dry][worst]), unit)
    text = f"{units.drop_text(abs(float(off[worst])), unit)} {'high' if off[worst] > 0 else 'low'} at {where}"
    if line.cover_lost is not None:
        station, short = line.cover_lost
        reasons.append(
            (
                "re-dig",
                f"{who}Laid high at {units.station_text(station, unit)}: {units.drop_text(short, unit)} less cover than the rule asks.",
            )
        )
        relay.append(Place(line=line.design.id, station_from=station, station_to=station, why="too little cover"))
    whole = bool(np.ptp(off) < OFF_GRADE and abs(float(np.median(off))) > OFF_GRADE)
    if whole and not has_datum:
        middle = float(np.median(off))
        word = f"{units.length_text(abs(middle), unit)} {'high' if middle > 0 else 'low'}"
        reasons.append(
            (
                "cannot-tell",
                f"{who}The whole line lies {word} and no fixed object was shot: datum or pipe? Shoot a mark, the gutter or a slab.",
            )
        )
        reshoot.append(
            Place(line="", station_from=None, station_to=None, why="fixed objects: a benchmark, the gutter, a slab")
        )
    elif beyond > REOPENS:
        reasons.append(
            (
                "re-dig",
                f"{who}The pipe itself is off its design: {text}; more than {units.length_text(REOPENS, unit)} reopens the design.",
            )
        )
    elif beyond > OFF_GRADE - 1e-6:
        reasons.append(("fix-paper", f"{who}Off the design, and it falls: {text}. Record it as laid."))
