"""Bedding, stone, trench and frost: rules as data with their sources, and what they say of one pipe."""

from __future__ import annotations

from typing import Literal, NamedTuple

from siteplan import units
from siteplan.units import FOOT, INCH

Bottom = Literal["firm", "rock", "soft", "over_dug"]


class Fact(NamedTuple):
    """One figure for a trench, SI; None for a rule without a figure."""

    id: str
    title: str
    value: float | None
    unit: str  # m | diameters | share | degC | ""
    source: str
    basis: str  # read | memory
    authority: str  # law | code | standard | practice | local


_US_TRENCH = "29 CFR 1926 Subpart P"
_CITY = "Chicago municipal code 18-29-306 (IPC based)"
FACTS: tuple[Fact, ...] = (
    Fact("protection", "trench depth from which a protective system is needed", 5 * FOOT, "m", f"{_US_TRENCH}, 1926.652(a)(1)", "read", "law"),
    Fact("ladder", "trench depth from which a way out is needed", 4 * FOOT, "m", f"{_US_TRENCH}, 1926.651(c)(2)", "read", "law"),
    Fact("ladder-reach", "farthest way to that way out", 25 * FOOT, "m", f"{_US_TRENCH}, 1926.651(c)(2)", "read", "law"),
    Fact("ladder-top", "ladder above the edge", 3 * FOOT, "m", f"contractors' association summary of {_US_TRENCH}", "read", "law"),
    Fact("spoil", "spoil and machines back from the edge", 2 * FOOT, "m", f"{_US_TRENCH}, 1926.651(j)(2)", "read", "law"),
    Fact("engineer", "depth from which an engineer designs the protection", 20 * FOOT, "m", f"contractors' association summary of {_US_TRENCH}", "read", "law"),
    Fact("air-test", "depth from which bad air is tested for where it may be", 4 * FOOT, "m", f"contractors' association summary of {_US_TRENCH}", "read", "law"),
    Fact("locate-zone", "hand tools each side of a mark", 18 * INCH, "m", "one-call good-practice guide; a state one-call centre (18 to 30 by state)", "read", "local"),
    Fact("soft-over-dig", "over-dig of a soft bottom, then refill with fine gravel or crushed stone", 2, "diameters", f"{_CITY}.2.3", "read", "code"),
    Fact("rock-over-dig", "rock taken out below the pipe, then sand tamped", 3 * INCH, "m", f"{_CITY}.2.2", "read", "code"),
    Fact("refill-layer", "layer of an over-dig's refill", 6 * INCH, "m", f"{_CITY}.2.1", "read", "code"),
    Fact("backfill-layer", "layer of backfill, tamped", 6 * INCH, "m", "IRC 2018 P2604.3", "read", "code"),
    Fact("clean-backfill", "clean backfill over the pipe", 12 * INCH, "m", "California Plumbing Code 2014, 314.4", "read", "code"),
    Fact("rock-surround", "clean sand or fine gravel all round a pipe in rock", 6 * INCH, "m", "Electric City WA 12.15.250", "read", "local"),
    Fact("bedding", "bedding under the pipe by standard", 4 * INCH, "m", "ASTM D2321", "memory", "standard"),
    Fact("bedding-rock", "bedding over rock by standard", 6 * INCH, "m", "ASTM D2321", "memory", "standard"),
    Fact("stone", "largest stone near pipe of 3 to 8 in, none sharp", 0.75 * INCH, "m", "trade practice; ASTM D2321 allows 1.5 in", "memory", "practice"),
    Fact("compaction", "compaction of the embedment, standard Proctor", 0.90, "share", "ASTM D2321, clean gravel 85 to 90 %, with fines 90 to 95 %", "memory", "practice"),
    Fact("no-check-stone", "cover in crushed stone that needs no load check", 24 * INCH, "m", "ASTM D2321", "memory", "standard"),
    Fact("no-check-soil", "the same in other embedment", 36 * INCH, "m", "ASTM D2321", "memory", "standard"),
    Fact("traffic-cover", "least cover of flexible pipe under traffic", 12 * INCH, "m", "AASHTO LRFD 12.6.6.3", "memory", "practice"),
    Fact("machine-cover", "cover, for the time being, before heavy machines cross", 36 * INCH, "m", "ASTM D2321", "memory", "practice"),
    Fact("footing-angle", "bearing plane under a footing to stay out of [degrees]", 45, "", "IRC 2018 P2604.4", "read", "code"),
    Fact("water-service", "depth of a water service that stands full", 12 * INCH, "m", "IRC P2603.6", "read", "code"),
    Fact("freeze-rule", "design temperature from which water, soil and waste pipes are kept from frost", 0.0, "degC", "IRC P2603.6 (2006 wording)", "read", "code"),
    Fact("freezing-growth", "growth of water on freezing", 0.09, "share", "handbooks", "memory", "practice"),
    Fact("continuous-bed", "pipe in the ground lies on a firm bed for its whole length, not on blocks", None, "", "IRC 2006 P2605.1; Chicago 18-29-306.1", "read", "code"),
    Fact("district-lawn", "cover asked for by one district under lawn", 18 * INCH, "m", "a California services district's answer page", "read", "local"),
    Fact("district-drive", "the same under a private drive", 24 * INCH, "m", "a California services district's answer page", "read", "local"),
    Fact("district-road", "the same under a public or unpaved drive", 36 * INCH, "m", "a California services district's answer page", "read", "local"),
    Fact("drain-empty", "a storm line above frost is accepted where it drains empty", None, "", "an engineers' forum on lines that daylight", "read", "practice"),
    Fact("pump-relief", "a pump line needs an open gap or relief fitting just outside the wall", None, "", "basement contractors' advice pages", "read", "practice"),
)  # fmt: skip
LOCATE_COLOURS = {  # one-call colour code, read
    "white": "proposed digging", "pink": "temporary survey", "red": "electric", "yellow": "gas, oil, steam",
    "orange": "communication", "blue": "drinking water", "purple": "reclaimed water, irrigation, slurry",
    "green": "sewer and drain",
}  # fmt: skip


def fact(name: str) -> Fact:
    """One rule by its id.

    Parameters
    ----------
    name : str
        Such as 'stone'.

    Returns
    -------
    Fact
        The figure, its source and what kind of rule it is.

    Raises
    ------
    KeyError
        If there is none.
    """
    for entry in FACTS:
        if entry.id == name:
            return entry
    raise KeyError(f"no trench rule {name!r}")


def trench_width(od: float) -> float:
    """Width of a trench in which the haunches can be worked from both sides.

    Parameters
    ----------
    od : float
        Outside diameter [m].

    Returns
    -------
    float
        Width [m]. Yard trenches of 12 in are common: then stone or soil is sliced under the haunches by hand.

    References
    ----------
    ASTM D2321, from memory: the greater of OD + 16 in and 1.25 OD + 12 in.
    """
    return max(od + 16 * INCH, 1.25 * od + 12 * INCH)


def bedding_rule(od: float, bottom: Bottom, *, narrow: float | None = None) -> tuple[str, ...]:
    """What to put under and round a pipe, as sentences for the schedule.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    bottom : str
        firm, rock, soft, or over_dug (dug below grade by mistake).
    narrow : float, optional
        Width of the trench planned [m].

    Returns
    -------
    tuple of str
        The rule for the bottom first; each ends with its source.

    Raises
    ------
    ValueError
        If the bottom is none of these.

    References
    ----------
    `FACTS`.
    """
    stone, clean, layer = fact("stone"), fact("clean-backfill"), fact("backfill-layer")
    first = {
        "firm": "Dig to grade and no deeper, by hand for the last inch; the pipe lies on firm ground for its whole length, with holes dug for bells",
        "rock": f"Take out {_in(fact('rock-over-dig').value)} of rock below the pipe (6 in is better) and bed in tamped sand or fine stone",
        "soft": f"Over-dig {_in(2 * od)} (two diameters) or more and refill with stone in {_in(layer.value)} tamped layers",
        "over_dug": f"Refill to grade with sand or fine gravel in tamped layers of {_in(fact('refill-layer').value)} or less, never with loose spoil",
    }
    source = {"firm": "continuous-bed", "rock": "rock-over-dig", "soft": "soft-over-dig", "over_dug": "refill-layer"}
    if bottom not in first:
        raise ValueError(f"a trench bottom is {', '.join(first)}, not {bottom!r}")
    lines = [
        f"{first[bottom]} ({fact(source[bottom]).source}).",
        f"No stone over {units.inches_text(stone.value or 0.0)}, and none sharp, against the pipe ({stone.source}, from memory).",
        f"Clean fill to {_in(clean.value)} over the pipe ({clean.source}), in {_in(layer.value)} tamped layers ({layer.source}).",
    ]
    wide = trench_width(od)
    if narrow is not None and narrow < wide:
        lines.append(
            f"The trench is narrower than the {_in(wide)} of ASTM D2321 (from memory): slice fill under the haunches by hand."
        )
    return tuple(lines)


def trench_notes(depth: float) -> tuple[str, ...]:
    """What the law asks of a trench by its depth.

    Parameters
    ----------
    depth : float
        Ground minus trench bottom, where deepest [m].

    Returns
    -------
    tuple of str
        Sentences with their source; always a word on shallow trenches.

    References
    ----------
    `FACTS`.
    """
    lines = []
    for name, text in (
        ("engineer", "an engineer designs the protection"),
        ("protection", "nobody enters without shoring, box or slope"),
        ("ladder", "a ladder within 25 ft of every worker"),
    ):
        rule = fact(name)
        if depth >= (rule.value or 0.0) - 1e-9:
            lines.append(f"Trench {_ft(depth)} deep, at or over {_ft(rule.value or 0.0)}: {text} ({rule.source}).")
    lines.append(
        f"Spoil and machines {_ft(fact('spoil').value or 0.0)} back from the edge; a shallower trench can cave in too: a competent person decides."
    )
    return tuple(lines)


def frost_note(frost: float | None, top: float, *, empties: bool, pumped: bool = False) -> str:
    """What frost means for a line, as information.

    Parameters
    ----------
    frost : float or None
        Depth of frost at the place [m]; None: not known.
    top : float
        Least depth of the pipe's top below ground [m].
    empties : bool
        Whether the line drains itself, with no belly.
    pumped : bool
        Whether a pump feeds it.

    Returns
    -------
    str
        One or two sentences.

    References
    ----------
    An engineers' forum on lines that daylight (read); contractors' advice pages on pump lines (read).
    """
    if frost is None:
        note = "Depth of frost is not known: ask the local building office. A storm line that empties itself may lie above it; one with a belly may not."
    elif top >= frost:
        note = f"The line lies below frost ({_ft(frost)})."
    elif empties:
        note = f"The line lies above frost ({_ft(frost)}); it empties itself, which is what is usually accepted. Keep the outlet clear of ice."
    else:
        note = f"The line lies above frost ({_ft(frost)}) and holds water in a belly: mend the belly, or lay it deeper."
    if pumped:
        note += " The pump's line needs an open gap or relief fitting just outside the wall, so that a frozen outlet spills outside."
    return note


def _in(length: float | None) -> str:
    return f"{round((length or 0.0) / INCH, 1):g} in"


def _ft(length: float) -> str:
    return f"{round(length / FOOT, 1):g} ft"
