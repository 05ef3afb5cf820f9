"""Lines as laid, shots where they belong, and the datum in.

Every reason for a verdict, what to relay and what to shoot again, out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.practice import (
    FIXED_AGREE,
    MISCLOSED,
    NEXT_TO,
    OFF_GRADE,
    OUTLET_MOVED,
    PAIR_DOUBT,
    REOPENS,
    SHORT_PIECE,
)
from siteplan.laid.design import UNNAMED, Design, Item
from siteplan.laid.fit import CERTAIN
from siteplan.laid.laid_shots import LaidShot
from siteplan.laid.placing import Placed
from siteplan.laid.relaying import proven_orders
from siteplan.laid.verdict_values import (
    SAME_PLACE_WITHIN,
    About,
    Asked,
    LaidLine,
    OutletLevel,
    Place,
    Reason,
    Relay,
    Verdict,
)
from siteplan.laid.water_in import Belly, LaidReach, low_profile
from siteplan.survey.set_up import SetUp
from siteplan.survey.shot_codes import speaks_of_new_pipe, speaks_of_something_else

Fixed = Sequence[tuple[Item, LaidShot, float]]
STRAYS = 3  # shots without a word about them that make a line nobody planned; common practice, no source
FIXED_PLACES = "fixed objects: a benchmark, the gutter, a slab"


@dataclass(slots=True)
class Findings:
    """What is found, as it is found."""

    unit: str
    high: str
    reasons: list[Reason] = field(default_factory=list)
    condemned: list[Place] = field(default_factory=list)
    relay: list[Relay] = field(default_factory=list)
    reopened: list[str] = field(default_factory=list)
    reshoot: list[Place] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def say(self, asks_for: Verdict, about: About, text: str) -> None:
        """A reason for a verdict."""
        self.reasons.append(Reason(asks_for=asks_for, about=about, text=text))

    def shoot(self, why: str, line: str = "", first: float | None = None, last: float | None = None) -> None:
        """A place to shoot again."""
        place = Place(line=line, station_from=first, station_to=first if last is None else last, why=why)
        if place not in self.reshoot:
            self.reshoot.append(place)

    def take_up(self, why: str, line: str, first: float, last: float) -> None:
        """A stretch that cannot stay as it lies."""
        self.condemned.append(Place(line=line, station_from=first, station_to=last, why=why))

    def at(self, station: float) -> str:
        """A station as it is spoken of."""
        return units.station_text(station, self.unit)

    def length(self, value: float, digits: int | None = None) -> str:
        """A length as it is spoken of."""
        return units.length_text(value, self.unit) if digits is None else units.length_text(value, self.unit, digits)


def judge_set_up(out: Findings, set_up: SetUp) -> None:
    """Whether the instrument stood still.

    Parameters
    ----------
    out : Findings
        To be added to.
    set_up : SetUp
        Of the shots.
    """
    if set_up.slipped is not None and abs(set_up.slipped) > MISCLOSED:
        out.say(
            "cannot-tell",
            "grade",
            f"The check back on the mark differs by {out.length(set_up.slipped)}: the set-up moved; shoot all again.",
        )
        out.shoot("everything, from a new set-up")


def judge_datum(out: Findings, fixed: Fixed, shift: float | None, *, agree: bool) -> None:
    """What the fixed objects say of the heights.

    Parameters
    ----------
    out : Findings
        To be added to.
    fixed : sequence of (Item, Shot, float)
        Objects found, and by how much each stands higher in the shots [m].
    shift : float or None
        Taken off the shots [m].
    agree : bool
        Whether the objects agree.
    """
    if not agree:
        each = "; ".join(f"{item.name} {by / units.LENGTH[out.unit]:+.2f}" for item, _, by in fixed)
        out.say(
            "cannot-tell",
            "paper",
            f"Fixed objects disagree about the datum ({each} {units.UNIT_NAMES[out.unit]}): no shift is taken off.",
        )
        out.shoot("the fixed objects")
    elif shift:
        word = units.length_text(abs(shift), out.high)
        out.say(
            "fix-paper",
            "paper",
            (
                f"Datum: fixed objects stand {word} {'higher' if shift > 0 else 'lower'} in the shots than in the "
                "plan; taken off every shot."
            ),
        )
        if len(fixed) == 1:
            out.shoot("a second fixed object: one alone may itself have moved")
    elif len(fixed) == 1 and abs(fixed[0][2]) > FIXED_AGREE:
        item, _, by = fixed[0]
        out.say(
            "cannot-tell",
            "paper",
            f"{item.name} alone stands {units.length_text(abs(by), out.high)} "
            f"{'higher' if by > 0 else 'lower'} in the shots than in the plan: did it move, "
            "or the datum? One object moves no datum. Shoot a second.",
        )
        out.shoot(f"a second fixed object beside {item.name}")


def judge_placing(out: Findings, placed: Placed) -> None:
    """Columns, missing and moved things, shots on no line.

    Parameters
    ----------
    out : Findings
        To be added to.
    placed : Placed
        Shots where they belong.
    """
    if placed.turned == "swapped":
        out.say(
            "fix-paper",
            "paper",
            (
                "Northing and easting stand in each other's column; every length and grade agrees all the same. "
                "Read the right way here."
            ),
        )
    elif placed.turned == "mirrored" and placed.fixed:
        out.say(
            "fix-paper",
            "paper",
            "The shots are a mirror image of the plan: one axis runs the other way. Turned back here.",
        )
    elif placed.turned == "mirrored":
        out.say(
            "cannot-tell",
            "paper",
            (
                "The shots are a mirror image of the plan, and no fixed object was shot: is the list turned "
                "over, or was the pipe laid so?"
            ),
        )
        out.shoot(FIXED_PLACES)
    elif placed.turned == "nowhere":
        out.say(
            "cannot-tell",
            "paper",
            (
                "No shot lies near the plan, however the columns are read: another grid, origin or unit, or pipe "
                "laid elsewhere?"
            ),
        )
    for item in placed.missing:
        out.say(
            "cannot-tell",
            "paper",
            (
                f"{item_text(item, out.unit)}: planned, and not among the shots. Not built, or not shot: show it "
                "before backfill."
            ),
        )
        out.shoot(f"{item.name}, which has no shot", item.line, item.station)
    for item, far in placed.moved:
        what = "The outlet" if item.kind == "outlet" else item.kind.capitalize()
        out.say(
            "fix-paper",
            "paper",
            (
                f"{what} {item.name} lies {out.length(far, 1)} from its planned place: the plan's distances to "
                "lines and walls no longer hold there; review them."
            ),
        )
    told = {item.kind for item, _ in placed.moved}  # what moved is said already
    named = [shot for shot in placed.stray if shot.kind not in told and speaks_of_new_pipe(shot.name)]
    silent = [shot for shot in placed.stray if not named and not speaks_of_something_else(shot.name)]
    stray = named or (silent if len(silent) >= STRAYS else [])
    if stray and placed.turned != "nowhere":
        rows = ", ".join(f"row {shot.row} {shot.name}".strip() for shot in stray[:4]) + (
            " ..." if len(stray) > 4 else ""
        )
        out.say(
            "cannot-tell",
            "paper",
            f"{len(stray)} shot{'s' if len(stray) > 1 else ''} of pipe lie on no planned line ({rows}): was "
            "the pipe laid elsewhere? The plan's cover, crossings "
            "and distances do not speak for it.",
        )
        out.shoot("what lies off the plan, with a fixed object or two")


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


def water_text(depth: float, unit: str) -> str:
    """Depth of water: 0.12 ft (1.4 in), 0.037 m.

    Parameters
    ----------
    depth : float
        [m]
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        As spoken.
    """
    return units.length_text(depth, unit) + ("" if unit == "m" else f" ({units.from_metres(depth, 'in'):.1f} in)")


def judge_line(
    out: Findings, line: LaidLine, design: Design, levels: Sequence[OutletLevel] = (), *, has_datum: bool
) -> None:
    """Everything that one line says.

    Parameters
    ----------
    out : Findings
        To be added to.
    line : LaidLine
        As laid.
    design : Design
        What was to be built.
    levels : sequence of OutletLevel
        Outlets against what lies beside them.
    has_datum : bool
        Whether a fixed object was shot.
    """
    name = line.design.id
    who = "" if len(design.lines) == 1 else f"{name}: "
    for asked in line.asked:
        _ask(out, asked, who)
    if line.fit is None:
        count = len(line.shots)
        out.say(
            "cannot-tell",
            "grade",
            f"{who}not shot."
            if not count
            else (
                f"{who}{count} shot{'s' if count != 1 else ''} prove nothing: two ends may agree over any belly. "
                "Shoot every stick."
            ),
        )
        known = [float(at) for at in line.design.station]
        if not line.design.has_ends:
            known = [shot.station for shot in line.shots if shot.station is not None]
        if known:
            out.shoot("every stick", name, min(known), max(known))
        return
    for belly in line.bellies:
        _judge_belly(out, line, belly, who)
    wet = [(belly.relay_from, belly.relay_to) for belly in line.bellies]
    _judge_pieces(out, line, who, wet)
    for first, last in line.gaps:
        out.say(
            "cannot-tell",
            "grade",
            f"{who}No shot between {out.at(first)} and {out.at(last)}, {out.length(last - first, 1)}: a belly "
            "at a joint there would not be seen. "
            "Shoot every stick (--stick says how long one is).",
        )
        out.shoot("a shot is missing: every stick", name, first, last)
    unproven = _off_as_a_whole(line, wet) is not None and not has_datum
    lost = _judge_cover(out, line, who, unproven=unproven)
    orders = proven_orders(
        line,
        [one for one in out.condemned if one.line == name],
        min_grade=design.min_grade,
        raised=_to_raise(line, levels),
        cover=lost,
    )
    out.relay += orders
    for order in orders:
        out.shoot("every half stick once relaid", name, order.station_from, order.station_to)
    _judge_height(out, line, who, wet, orders, unproven=unproven)
    if line.aside is not None and line.aside[1] > OUTLET_MOVED:
        out.say(
            "fix-paper",
            "paper",
            f"{who}The pipe lies {out.length(line.aside[1], 1)} beside its planned line at "
            f"{out.at(line.aside[0])}: the plan's distances to lines, walls and "
            "crossings no longer hold there; review them.",
        )
    _judge_pairs(out, line, wet)
    _note_flat_design(out, line, design, who)


def _judge_pairs(out: Findings, line: LaidLine, wet: list[tuple[float, float]]) -> None:
    """Neighbouring shots that read short of what was asked, but where the stretch is taken up anyway."""
    name = line.design.id
    taken = [*wet, *((one.station_from, one.station_to) for one in out.relay if one.line == name)]
    for pair in line.pairs:
        inside = any(
            first is not None and last is not None and pair.station_to > first and pair.station_from < last
            for first, last in taken
        )
        # an exact 0.80 % against 1.00 % +- 0.20 % is worth a look, no more
        if inside or pair.grade > pair.least - pair.doubt + 1e-6:
            continue
        reads = f"reads {units.grade_text(pair.grade)} +- {pair.doubt * 100:.1f} %"
        if pair.grade >= pair.least - CERTAIN * pair.doubt:
            why = f"{reads}, within the doubt of two shots: accept, or shoot again"
        else:
            more = f" (designed {units.grade_text(pair.designed)})" if pair.least < pair.designed - 1e-6 else ""
            why = f"{reads}, short of {units.grade_text(pair.least)}{more} beyond the doubt of two shots: shoot again"
        out.shoot(why, name, pair.station_from, pair.station_to)


def _ask(out: Findings, asked: Asked, who: str) -> None:
    """What is wrong with a shot that was left out."""
    called = (
        f"row {asked.row}{f' {asked.name}' if asked.name and not asked.name.isdigit() else ''} at "
        f"{out.at(asked.station)}"
    )
    off = f"{units.drop_text(abs(asked.off), out.unit)} {'high' if asked.off > 0 else 'low'} of the design"
    text = {
        "pipe or not": f"{called} bears another thing's name and reads {off}: pipe, or not?",
        "pipe or cap": f"{called} reads {off}: does the pipe hump there, or was a cap or hub shot? Shoot the pipe.",
        "far off its neighbours": (
            f"{called} reads {off}, farther than this pipe can hold water, and its neighbours do not: misread, or "
            "not on this pipe?"
        ),
        "bell not known": f"{called} stands on a bell, and the book does not know this pipe's: give --bell-rise.",
        "two shots disagree": f"{called} reads {off}; another shot of the same place disagrees. One of the two is wrong.",
    }[asked.why]
    out.say("cannot-tell", "grade", f"{who}{text[:1].upper()}{text[1:]} Left out.")
    out.shoot(f"the pipe: {asked.why}", asked.line, asked.station)


def _judge_belly(out: Findings, line: LaidLine, belly: Belly, who: str) -> None:
    fit, name, unit = line.fit, line.design.id, out.unit
    assert fit is not None
    here = fit.station == belly.lowest
    low = float(fit.design[here][0] - low_profile(fit)[here][0])
    water = (
        f"water stands from {out.at(belly.station_from)} to {out.at(belly.station_to)}, deepest "
        f"{water_text(belly.depth, unit)}"
    )
    share = f"{belly.depth / line.design.bore * 100:.0f} % of the bore"
    if belly.depth > line.design.bore:
        out.say(
            "cannot-tell",
            "grade",
            f"{who}By the list {water}: deeper than the pipe is wide. That is a question about the list "
            "before it is one about the pipe: "
            f"are the shots from {out.at(belly.relay_from)} to {out.at(belly.relay_to)} all on this pipe, and "
            "read right?",
        )
        out.shoot("every half stick: deeper than the pipe", name, belly.relay_from, belly.relay_to)
    elif belly.certain:
        out.say(
            "re-dig",
            "grade",
            (
                f"{who}Belly: {water}, {share}; at {out.at(belly.lowest)} the pipe lies "
                f"{units.drop_text(low, unit)} below its design and runs backward at "
                f"{units.grade_text(belly.back_fall)}. Do not backfill."
            ),
        )
        out.take_up("belly", name, belly.relay_from, belly.relay_to)
    else:
        out.say(
            "cannot-tell",
            "grade",
            (
                f"{who}Perhaps a belly: {water}, {share}, with a doubt of "
                f"{water_text(CERTAIN * belly.doubt, unit)}. Shoot every half stick there."
            ),
        )
        out.shoot("every half stick: perhaps a belly", name, belly.relay_from, belly.relay_to)


def _judge_pieces(out: Findings, line: LaidLine, who: str, wet: list[tuple[float, float]]) -> None:
    for piece in line.pieces:
        if any(piece.station_to > first and piece.station_from < last for first, last in wet):
            continue
        where = f"{out.at(piece.station_from)} to {out.at(piece.station_to)}"
        graded = f"{units.grade_text(piece.grade)} +- {CERTAIN * piece.doubt * 100:.2f} %"
        if piece.says == "back-falls" and piece.grade * (piece.station_to - piece.station_from) < -PAIR_DOUBT:
            out.say("re-dig", "grade", f"{who}{where} runs backward: {graded}.")
            out.take_up("runs backward", line.design.id, piece.station_from, piece.station_to)
        elif piece.says == "falls too little" and _matters(piece):
            out.say(
                "re-dig",
                "grade",
                f"{who}{where} falls too little: {graded}; {_asked_text(piece)}.",
            )
            out.take_up("falls too little", line.design.id, piece.station_from, piece.station_to)
        elif (
            piece.grade <= CERTAIN * piece.doubt
            and piece.station_to - piece.station_from >= SHORT_PIECE - SAME_PLACE_WITHIN
        ):
            out.say("cannot-tell", "grade", f"{who}{where}: whether it falls cannot be told ({graded}).")


def _asked_text(reach: LaidReach) -> str:
    """What was designed for a reach, and the least grade that it is held to.

    Two figures, never one in the other's place.
    """
    designed = f"designed {units.grade_text(reach.designed)}"
    if reach.least < reach.designed - 1e-6:
        return f"{designed}, least asked {units.grade_text(reach.least)}"
    return f"{designed}, and no less is asked of it"


def _matters(piece: LaidReach) -> bool:
    """Whether a flat piece is longer than two sticks and lacks more fall than grades are laid to."""
    length = piece.station_to - piece.station_from
    return length >= SHORT_PIECE - SAME_PLACE_WITHIN and (piece.least - piece.grade) * length >= OFF_GRADE


def _dry(line: LaidLine, stretches: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
    """Shots in none of some stretches; their ends count as outside."""
    assert line.fit is not None
    return np.array([not any(first < s < last for first, last in stretches) for s in line.fit.station])


def _off_as_a_whole(line: LaidLine, wet: Sequence[tuple[float, float]]) -> float | None:
    """By how much the whole line lies off its design alike [m]; None where it does not."""
    fit = line.fit
    assert fit is not None
    off = (fit.fitted - fit.design)[_dry(line, wet)]
    if not len(off) or not (np.ptp(off) < OFF_GRADE and abs(float(np.median(off))) > OFF_GRADE):
        return None
    return float(np.median(off))


def _judge_cover(out: Findings, line: LaidLine, who: str, *, unproven: bool) -> bool:
    """Whether cover is lost beyond doubt because the pipe lies high."""
    if line.cover_lost is None:
        return False
    station, short = line.cover_lost
    lost = f"{who}Laid high at {out.at(station)}: {units.drop_text(short, out.unit)} less cover than the rule asks"
    if unproven:  # a height of instrument typed wrong lifts good pipe, too
        out.say("cannot-tell", "grade", f"{lost}, if it is the pipe that lies high and not the shots.")
        return False
    out.say("re-dig", "grade", f"{lost}.")
    out.take_up("too little cover", line.design.id, station, station)
    return True


def _to_raise(line: LaidLine, levels: Sequence[OutletLevel]) -> float | None:
    """Height over its design at which the outlet lies as far above the thing beside it as planned [m].

    None where it may stay.
    """
    fit = line.fit
    assert fit is not None
    off = float(fit.fitted[0] - fit.design[0])
    return max(
        (off + one.planned - one.laid for one in levels if one.line == line.design.id and one.laid < -OFF_GRADE),
        default=None,
    )


def _judge_height(
    out: Findings, line: LaidLine, who: str, wet: list[tuple[float, float]], orders: Sequence[Relay], *, unproven: bool
) -> None:
    """Where what stays of the line lies against the plan: high, low, or off as a whole."""
    fit, unit = line.fit, out.unit
    assert fit is not None
    middle = _off_as_a_whole(line, wet)
    if unproven and middle is not None:
        word = f"{out.length(abs(middle))} {'high' if middle > 0 else 'low'}"
        out.say(
            "cannot-tell",
            "grade",
            (
                f"{who}The whole line lies {word} and no two fixed objects tell: datum or pipe? Shoot a mark, the "
                "gutter or a slab."
            ),
        )
        out.shoot(FIXED_PLACES)
        return
    dry = _dry(line, [*wet, *((one.station_from, one.station_to) for one in orders if one.low is not None)])
    for end in (at for one in orders for at in one.anew):
        dry &= np.abs(fit.station - end) > SAME_PLACE_WITHIN
    off = (fit.fitted - fit.design)[dry]
    sure = CERTAIN * np.sqrt(np.maximum(np.diag(fit.spread), 0.0))[dry]
    if not len(off):
        return
    worst = int(np.argmax(np.abs(off) - sure))
    beyond = abs(off[worst]) - sure[worst]
    text = (
        f"{units.drop_text(abs(float(off[worst])), unit)} {'high' if off[worst] > 0 else 'low'} at "
        f"{out.at(float(fit.station[dry][worst]))}"
    )
    if beyond > REOPENS:
        out.reopened.append(line.design.id)
        out.say(
            "re-dig",
            "grade",
            f"{who}The pipe itself is off its design: {text}; more than {out.length(REOPENS)} reopens the design.",
        )
    elif beyond > OFF_GRADE - 1e-6:
        falls = all(piece.says == "falls" for piece in line.pieces) and all(pair.grade > 0 for pair in line.pairs)
        out.say(
            "fix-paper",
            "paper",
            f"{who}Off the design: {text}.{' It falls all the way by the shots.' if falls else ''} Record it as laid.",
        )


def judge_outlet(out: Findings, line: LaidLine, fixed: Fixed, shift: float) -> list[OutletLevel]:
    """The lower end against fixed objects beside it, which lie no higher by the plan: a gutter, most often.

    Parameters
    ----------
    out : Findings
        To be added to.
    line : LaidLine
        As laid.
    fixed : sequence of (Item, Shot, float)
        Objects found.
    shift : float
        Taken off the shots [m].

    Returns
    -------
    list of OutletLevel
        One for each such object.
    """
    fit, xy = line.fit, line.design.xy
    if fit is None or not line.design.ends_at_outlet or fit.station[0] - line.design.station[0] > NEXT_TO:
        return []
    found = []
    for item, shot, _ in fixed:
        near = xy is not None and item.x is not None and item.y is not None
        if not near or np.hypot(item.x - xy[0, 0], item.y - xy[0, 1]) > NEXT_TO:  # type: ignore[index]
            continue
        planned = float(line.design.invert[0]) - (item.elevation or 0.0)
        if planned < 0:
            continue
        level = OutletLevel(
            line=line.design.id, against=item.name, planned=planned, laid=float(fit.shot[0]) + shift - shot.height
        )
        found.append(level)
        if level.laid < -OFF_GRADE:
            out.say(
                "re-dig",
                "grade",
                f"The outlet of {line.design.id} lies {units.drop_text(-level.laid, out.unit)} below "
                f"{item.name} as shot, and {units.drop_text(planned, out.unit)} "
                "above it by the plan: water would stand in it.",
            )
            out.take_up(
                f"below {item.name}",
                line.design.id,
                float(fit.station[0]),
                float(fit.station[min(1, len(fit.station) - 1)]),
            )
    return found


def _note_flat_design(out: Findings, line: LaidLine, design: Design, who: str) -> None:
    """The least grade is the design's matter: said, and no reason to dig."""
    s, z = line.design.station, line.design.invert
    grades = np.diff(z) / np.diff(s)
    flat = int(np.argmin(grades))
    if grades[flat] < design.min_grade - 1e-6:
        out.notes.append(
            f"{who}The design itself falls {units.grade_text(float(grades[flat]))} from "
            f"{out.at(float(s[flat]))}, less than the least grade of "
            f"{units.grade_text(design.min_grade)}: a matter for the one who designed it; what was laid is "
            "judged against the design."
        )
