"""Descriptions of shots in.

Which of them do not stand on the ground, and which follow one another along a breakline, out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from siteplan.books.practice import CODE_GAP
from siteplan.survey.shot_things import thing_of

if TYPE_CHECKING:
    from siteplan.survey.pointlists import ListedPoint

_OFF_GROUND = re.compile(
    r"\b(?:BM|TBM|BENCH ?MARK|CONTROL|CP ?\d*|TP ?\d*|THRESHOLD|FFE?|FINISHED "
    r"FLOOR|FLOOR|SILL|STEP|STOOP|INV(?:ERT)?|PIPE|AIR GAP|EAVE|ROOF|"
    r"TOP OF WALL|TW|HYDRANT|SKETCHED|PROPOSED|CEILING|WINDOW)\b",
    re.IGNORECASE,
)
_BREAK = re.compile(
    r"\b(?:TC|TBC|TOP OF CURB|BC|BACK OF CURB|FL|FLOW ?LINE|GUTTER|TOB|TOP(?: OF)?(?: \w+)? BANK|TOE(?:(?: "
    r"OF)?(?: \w+)? BANK)?|TOP OF SLOPE|TOE OF SLOPE|"
    r"EP|EOP|EDGE(?: OF \w+)?|DITCH|SWALE|BL|BREAK ?LINE|RIDGE|CROWN|BOTTOM OF WALL|BW)(?P<number> ?-?\d+)?\b",
    re.IGNORECASE,
)
_CURB_TOP = re.compile(r"\b(?:TC|TBC|TOP(?: OF)? CURB)(?: ?-?\d+)?\b", re.IGNORECASE)
_FLOW_LINE = re.compile(r"\b(?:FL|FLOW ?LINE|GUTTER)(?: ?-?\d+)?\b", re.IGNORECASE)
_FILLER = re.compile(r"^(?:GR|GRD|GROUND)\b\s*", re.IGNORECASE)

_NEW_PIPE = re.compile(
    r"\b(?:INV(?:ERT)?|PIPE|PVC|TOP OF PIPE|TOP PIPE|CROWN OF PIPE|BELL|SPIGOT|CO ?\d*|C/O|CLEAN "
    r"?OUT|WYE|TEE|BEND|ELBOW|REDUCER|COUPLING|"
    r"OUTLET|OUTFALL|DAYLIGHT|POP ?UP|DS ?\d*|DOWNSPOUT|START|SUMP)\b",
    re.IGNORECASE,
)
_OTHER = re.compile(
    r"\b(?:TC|TBC|T/C|BC|FL|CURB|KERB|GUTTER|WALK|SIDEWALK|SLAB|PATIO|DECK|STEP|STOOP|SILL|PORCH|DRIVE(?:WAY)?|ROAD|STREET|EP|EOP|EDGE|PAVING|"
    r"GR|GRD|GROUND|NG|EG|TOPO|TREE|SHRUB|HEDGE|FENCE|POST|POLE|WALL|TW|BW|HYDRANT|VALVE|METER|METRE|MH|MANHOLE|RIM|GRATE|BOX|SIGN|MAIL "
    r"?BOX|"
    r"WATER|GAS|ELEC(?:TRIC)?|POWER|CABLE|TELEPHONE|SEWER|MAIN|SERVICE|CORNER|COR|HOUSE|BUILDING|GARAGE|BM|TBM|BENCH "
    r"?MARK|NAIL|STAKE|HUB|"
    r"PROPERTY|LOT|SWALE|DITCH|BANK|TOE|RIDGE|HIGH POINT|LOW POINT|SPOT)\b",
    re.IGNORECASE,
)
_OLD = re.compile(r"\bEX(?:IST(?:ING)?)?\b", re.IGNORECASE)


def speaks_of_new_pipe(description: str) -> bool:
    """Whether a description names pipe that is being laid, or a part of it.

    Parameters
    ----------
    description : str
        As in the list of shots.

    Returns
    -------
    bool
        False for a description that says nothing, and for what existed before.

    Examples
    --------
    >>> speaks_of_new_pipe("INV 0+30"), speaks_of_new_pipe("EXIST INV"), speaks_of_new_pipe("TOP CURB")
    (True, False, False)
    """
    plain = description.replace("_", " ").replace("-", " ")
    return bool(_NEW_PIPE.search(plain)) and not _OLD.search(plain)


def speaks_of_something_else(description: str) -> bool:
    """Whether a description names a thing other than new pipe: a curb, a tree, the ground, what existed before.

    It is a hint and no more: where a shot lies, and how high, decides.

    Parameters
    ----------
    description : str
        As in the list of shots.

    Returns
    -------
    bool
        False for a description that says nothing.

    Examples
    --------
    >>> speaks_of_something_else("TOP CURB"), speaks_of_something_else("INV AT WALL"), speaks_of_something_else("7")
    (True, False, False)
    """
    plain = description.replace("_", " ").replace("-", " ")
    return bool(_OLD.search(plain)) or (bool(_OTHER.search(plain)) and not speaks_of_new_pipe(description))


def stands_off_ground(description: str) -> bool:
    """Whether a description names something that does not lie on the ground: a benchmark, a step, a floor, a pipe.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    bool
        False for a description that says nothing.

    Examples
    --------
    >>> stands_off_ground("BM NAIL FRONT STEP"), stands_off_ground("HOUSE SW / DS1 GROUND")
    (True, False)
    """
    thing = thing_of(description)
    if thing is not None and thing.part == "top":
        return True
    return bool(_OFF_GROUND.search(description)) and not re.search(r"\b(?:GROUND|GR)\b", description, re.IGNORECASE)


def is_curb_top(description: str) -> bool:
    """Whether a shot is coded as the top of a curb.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    bool
        True for TC, TBC and the words for them.
    """
    return bool(_CURB_TOP.search(description))


def is_flow_line(description: str) -> bool:
    """Whether a shot is coded as a flow line, a gutter's or another.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    bool
        True for FL, flow line and gutter.
    """
    return bool(_FLOW_LINE.search(description))


def break_code(description: str) -> str | None:
    """What a shot on a breakline is called, the same for all shots of one line.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    str or None
        None when the description names no breakline.

    Examples
    --------
    >>> break_code("TC 2"), break_code("GR TOE OF BANK"), break_code("GR")
    ('TC 2', 'TOE OF BANK', None)
    """
    if not _BREAK.search(description):
        return None
    return " ".join(_FILLER.sub("", description.strip()).upper().replace("-", " ").split())


def coded_lines(points: Sequence[ListedPoint]) -> tuple[tuple[int, int], ...]:
    """Pairs of shots that one breakline joins.

    A code with a number (FL2) joins all its shots in the list's order. A code without one joins a shot to the
    one before it, with only shots of other breaklines between: curbs are shot across, top and flow line in turn.

    Parameters
    ----------
    points : sequence of ListedPoint
        In the order of the list.

    Returns
    -------
    tuple of (int, int)
        Places in the sequence.
    """
    last: dict[str, int] = {}
    pairs = []
    for at, point in enumerate(points):
        code = break_code(point.description)
        if code is None:
            last = {name: where for name, where in last.items() if name[-1:].isdigit()}
            continue
        before = last.get(code)
        if before is not None:
            a = points[before]
            if ((a.northing - point.northing) ** 2 + (a.easting - point.easting) ** 2) ** 0.5 <= CODE_GAP:
                pairs.append((before, at))
        last[code] = at
    return tuple(pairs)
