"""The code of a shot in; the buried or standing thing that it marks out.

A wall, a fence, a service, a tank, a tree, a pavement's edge.

A code comes first in a description: a word for place or material, the thing, a number where there are several; what
follows is a remark and decides nothing. A description that does not begin so is no code.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from siteplan import units
from siteplan.survey.files import NOTE_CAP

LINES = ("wall", "fence", "utility")  # what a run of shots can be drawn as


class Thing(NamedTuple):
    """What a code names.

    Attributes
    ----------
    kind : str
        'wall', 'fence', 'utility', 'tree', 'no_dig' (a tank, a well) or 'paving' (a pavement's edge).
    title : str
        What people call it.
    service : str
        Of a utility, by the words of `books.services`.
    part : str
        'top' or 'toe' of a wall; 'mark' of a valve, meter or pole, which shows that a service is there and not where it
        runs.
    number : str
        The code's own number, '' without one.
    turn : str
        'start' or 'end' where the code says that a line begins or ends there.
    trunk : float or None
        Diameter of a tree's trunk [m], where the code gives one with its unit.
    bare : bool
        Whether the description is the code and nothing else.
    """

    kind: str
    title: str
    service: str = ""
    part: str = ""
    number: str = ""
    turn: str = ""
    trunk: float | None = None
    bare: bool = True


_WALLS = ("WALL", "RETAINING WALL", "RETWALL", "STEM WALL", "SEA WALL", "SEAWALL", "BULKHEAD")
_SERVICES = {
    "power": ("POWER", "ELEC", "ELECTRIC", "ELECTRICAL", "ELECTRICITY", "PWR", "UGE", "UGP"),
    "gas": ("GAS", "UGG", "PROPANE", "NATURAL GAS"),
    "telecom": (
        "TEL",
        "TELE",
        "TELEPHONE",
        "PHONE",
        "TELECOM",
        "COMM",
        "CABLE",
        "CATV",
        "CABLE TV",
        "FIBER",
        "FIBRE",
        "FIBER OPTIC",
        "UGT",
    ),
    "water": ("WATER", "WTR", "UGW", "DOMESTIC WATER"),
    "irrigation": ("IRRIGATION", "IRR", "SPRINKLER LINE", "RECLAIMED WATER"),
    "sewer": ("SEWER", "SAN", "SANITARY", "SANITARY SEWER", "SAN SEWER", "SEWER LATERAL", "HOUSE SEWER", "FORCE MAIN"),
    "drain": ("STORM", "STORM DRAIN", "STORM SEWER"),
}
_TITLES = {
    "power": "power line",
    "gas": "gas line",
    "telecom": "communication line",
    "water": "water line",
    "irrigation": "irrigation line",
}
_TANKS = {
    "septic system": (
        "SEPTIC",
        "SEPTIC TANK",
        "SEPTIC FIELD",
        "SEPTIC LID",
        "SEPTIC COVER",
        "SEPTIC VENT",
        "DRAINFIELD",
        "DRAIN FIELD",
        "LEACH FIELD",
        "LEACHFIELD",
        "CESSPOOL",
    ),
    "well": ("WELL", "WELLHEAD", "WELL HEAD", "WELL CASING", "WATER WELL"),
    "buried tank": ("OIL TANK", "FUEL TANK", "PROPANE TANK", "GAS TANK", "CISTERN", "BURIED TANK"),
}
_SURFACES = (
    "PAVEMENT",
    "PVMT",
    "ASPHALT",
    "ASPH",
    "CONCRETE",
    "CONC",
    "DRIVE",
    "DRIVEWAY",
    "WALK",
    "SIDEWALK",
    "ROAD",
    "PATIO",
    "PAVING",
)
_PIPES = ("LINE", "MAIN", "SERVICE", "PIPE", "LATERAL", "CONDUIT", "DUCT", "MARK", "MARKS", "PAINT", "LOCATE", "FLAG")
_MARKS = (
    "METER",
    "METRE",
    "MTR",
    "VALVE",
    "VLV",
    "BOX",
    "POLE",
    "PEDESTAL",
    "PED",
    "CABINET",
    "TRANSFORMER",
    "HANDHOLE",
    "VAULT",
    "STOP",
    "SHUTOFF",
    "SHUT",
    "TAP",
    "HYDRANT",
    "MH",
    "MANHOLE",
    "CO",
    "CLEANOUT",
    "RISER",
    "VENT",
    "PANEL",
    "POST",
    "CURB",
)
_NOT = (
    "WATER SURFACE",
    "WATER LEVEL",
    "WATER EDGE",
    "WATER HEATER",
    "GAS GRILL",
    "WALL LIGHT",
    "TREE LINE",
    "WELL POINT",
    "WINDOW WELL",
    "STORM WINDOW",
    "STORM DOOR",
    "CABLE RAIL",
    "PHONE POLE GUY",
)
_PLACE = (
    "EX",
    "EXIST",
    "EXISTING",
    "OLD",
    "FND",
    "FOUND",
    "CL",
    "CENTER",
    "CENTRE",
    "CENTERLINE",
    "CENTRELINE",
    "CORNER",
    "COR",
    "FACE",
    "BACK",
    "OF",
    "THE",
    "ANGLE",
)
_TOP, _TOE = ("TOP", "T"), ("TOE", "BOTTOM", "BOT", "BASE")
_SORT = (
    "STONE",
    "ROCK",
    "BOULDER",
    "CONC",
    "CONCRETE",
    "BLOCK",
    "CMU",
    "BRICK",
    "TIMBER",
    "TIE",
    "GABION",
    "RET",
    "RETAINING",
    "GARDEN",
    "WOOD",
    "WOODEN",
    "BOARD",
    "CHAIN",
    "LINK",
    "PICKET",
    "WIRE",
    "IRON",
    "VINYL",
    "PRIVACY",
    "STEEL",
    "UG",
    "UNDERGROUND",
    "BURIED",
    "PAINT",
    "MARK",
    "LOCATE",
    "FLAG",
    "MARKED",
    "PAINTED",
    "OAK",
    "MAPLE",
    "PINE",
    "SPRUCE",
    "ELM",
    "ASH",
    "BIRCH",
    "CEDAR",
    "FIR",
)
_STARTS, _ENDS = ("START", "BEGIN", "BEG"), ("END",)


def _table() -> dict[tuple[str, ...], tuple[str, str, str, str]]:
    """Code words to kind, title, service and part. Words of the trade; common practice, no source."""
    rows: dict[tuple[str, ...], tuple[str, str, str, str]] = {}

    def enter(codes: Iterable[str], kind: str, title: str, service: str = "", part: str = "") -> None:
        rows.update({tuple(code.split()): (kind, title, service, part) for code in codes})

    enter(_WALLS, "wall", "retaining wall")
    enter(("TW", "TOW", "TRW"), "wall", "retaining wall", "", "top")
    enter(("BW", "BRW"), "wall", "retaining wall", "", "toe")
    enter(("FENCE", "FNC", "FEN", "FENCELINE"), "fence", "fence")
    for word, codes in _SERVICES.items():
        for code in codes:
            enter((code, *(f"{code} {pipe}" for pipe in _PIPES)), "utility", _TITLES.get(word, word), word)
            enter((f"{code} {mark}" for mark in _MARKS), "utility", _TITLES.get(word, word), word, "mark")
    for title, codes in _TANKS.items():
        enter(codes, "no_dig", title)
    enter(("TREE", "TRUNK"), "tree", "tree")
    edges = (f"EDGE {of}{surface}" for of in ("", "OF ") for surface in _SURFACES)
    enter(("EP", "EOP", *edges), "paving", "edge of pavement")
    return rows


_CODES = _table()
_LONGEST = max(map(len, _CODES))
_NO_CODE = {tuple(words.split()) for words in _NOT}
_TOKENS = re.compile(r"[A-Z]+|\d+(?:\.\d+)?")
_TRUNK = re.compile(r"(\d+(?:\.\d+)?) ?(\"|IN\b|INCH(?:ES)?\b|CM\b|MM\b)")
_UNIT = {'"': "in", "I": "in", "C": "cm", "M": "mm"}


def thing_of(description: str) -> Thing | None:
    """What the code of a shot names.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    Thing or None
        None for a description that begins with no code of this table: the ground, a corner of the house, a remark.

    Examples
    --------
    >>> thing_of("TW 2").part, thing_of("CONC WALL").kind, thing_of("GAS METER").part, thing_of("GROUND AT WALL")
    ('top', 'wall', 'mark', None)
    """
    words = _words(description)
    at, part, turn = 0, "", ""
    while at < len(words) and not _code_at(words, at):
        word = words[at]
        if word in _TOP or word in _TOE:
            part = "top" if word in _TOP else "toe"
        elif word in _STARTS or word in _ENDS:
            turn = "start" if word in _STARTS else "end"
        elif word not in _PLACE and word not in _SORT:
            return None
        at += 1
    long = _code_at(words, at)
    if not long or any(tuple(words[at : at + n]) in _NO_CODE for n in (2, 3)):
        return None
    kind, title, word, own = _CODES[tuple(words[at : at + long])]
    rest = words[at + long :]
    number = ""
    if rest and rest[0][0].isdigit() and kind in (*LINES, "no_dig"):
        number, rest = rest[0], rest[1:]
    if rest and kind == "wall" and (rest[0] in _TOP or rest[0] in _TOE):
        part, rest = "top" if rest[0] in _TOP else "toe", rest[1:]
    if rest and rest[0] in (*_STARTS, *_ENDS):
        turn, rest = "start" if rest[0] in _STARTS else "end", rest[1:]
    return Thing(
        kind=kind,
        title=title,
        service=word,
        part=own or (part if kind == "wall" else ""),
        number=number,
        turn=turn,
        trunk=_trunk(description.upper()) if kind == "tree" else None,
        bare=not rest,
    )


def spoken_of(description: str) -> str | None:
    """What a description that is no code speaks of, if it is something that a trench must not meet unseen.

    It decides nothing: people are told to look.

    Parameters
    ----------
    description : str
        As in the point list.

    Returns
    -------
    str or None
        The thing's title.

    Examples
    --------
    >>> spoken_of("GR BY STONE WALL"), spoken_of("GR")
    ('retaining wall', None)
    """
    words = _words(description)
    for at in range(1, len(words)):
        long = _code_at(words, at)
        found = _CODES[tuple(words[at : at + long])] if long else None
        if (
            found
            and found[0] in ("wall", "utility", "no_dig")
            and not found[3]
            and len("".join(words[at : at + long])) > 2
        ):
            return found[1]
    return None


def _words(description: str) -> list[str]:
    return _TOKENS.findall(description.upper()[:NOTE_CAP])


def _code_at(words: list[str], at: int) -> int:
    """How many words from there make the longest code, 0 for none."""
    return next((n for n in range(min(_LONGEST, len(words) - at), 0, -1) if tuple(words[at : at + n]) in _CODES), 0)


def _trunk(text: str) -> float | None:
    found = _TRUNK.search(text)
    if found is None:
        return None
    unit = _UNIT[found[2][0]]
    return float(found[1]) * {"in": units.INCH, "cm": 10 * units.MILLIMETRE, "mm": units.MILLIMETRE}[unit]
