"""What loads, bending and joints ask of a pipe.

Pipes.csv (and a site's own pipes) in, PipeStock out, checked on reading.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

from siteplan import units
from siteplan.books import pipes
from siteplan.errors import InputError, alike_or, raise_gathered
from siteplan.units import INCH
from siteplan.values.laid_pipe import Pipe

_SAME_SIZE = 0.001  # m; an outside or inside diameter of one size differs by less between tables
BASES = ("read", "derived", "memory", "practice", "site")
JOINTS = ("weld", "gasket", "push", "coupler")
# pipe stiffness from which a plain pipe counts as heavy; between SDR 35 (46) and 8 in schedule 40 (104), ours
HEAVY_STIFFNESS = 100 * units.PSI

_LENGTHS = ("od", "id", "wall", "bell_od", "displaced_dia")  # each in one of two columns, in inches or in millimetres
_NUMBERS = (
    *(f"{name}{suffix}" for name in _LENGTHS for suffix, _ in pipes.LENGTH_UNITS), "manning_n", "n_new", "n_aged", "n_low", "n_high",
    "weight_lb_per_ft", "specific_gravity", "E_short_psi",
    "E_long_psi", "pipe_stiffness_psi", "EI_short_lb_in2", "EI_long_lb_in2", "EI_factor", "ring_limit_pct",
    "stress_limit_psi", "lay_length_ft", "joint_turn_deg",
)  # fmt: skip
_SOURCES = ("weight", "material", "modulus", "stiffness", "bending", "roughness", "joint", "limit", "displaced")
_TEXTS = ("kind", "title", "nominal", "standard", "source", "basis", "material", "joints", "plain_wall", "n_source")
COLUMNS = (*_TEXTS, *_NUMBERS, *(f"{name}_source" for name in _SOURCES))
_ALWAYS = (
    "kind",
    "title",
    "standard",
    "nominal",
    "source",
    "basis",
    "od",
    "id",
    "wall",
    "manning_n",
    "roughness_source",
)
_NOMINALS = {"nominal_in": "in", "nominal_mm": "mm"}  # what a site may write for a size with its unit
_AGES = ("n_new", "n_aged", "n_source")  # all or none
_STRENGTHS = (
    "weight_lb_per_ft", "material", "specific_gravity", "E_short_psi", "E_long_psi", "pipe_stiffness_psi", "EI_short_lb_in2",
    "EI_long_lb_in2", "EI_factor", "ring_limit_pct", "joints", "lay_length_ft", "bell_od", "displaced_dia", "plain_wall",
    *(f"{name}_source" for name in _SOURCES if name != "roughness"),
)  # fmt: skip
_SOURCE_OF = {
    "weight_lb_per_ft": "weight", "material": "material", "specific_gravity": "material",
    "E_short_psi": "modulus", "E_long_psi": "modulus", "pipe_stiffness_psi": "stiffness", "EI_short_lb_in2": "bending",
    "EI_long_lb_in2": "bending", "EI_factor": "bending", "manning_n": "roughness", "joints": "joint",
    "lay_length_ft": "joint", "joint_turn_deg": "joint", "bell_od_in": "joint", "ring_limit_pct": "limit",
    "stress_limit_psi": "limit", "displaced_dia_in": "displaced",
    "bell_od_mm": "joint", "displaced_dia_mm": "displaced",
}  # fmt: skip


class PipeStock(NamedTuple):
    """A pipe with all that the ground asks of it. SI; `sources` pairs what is stated with 'basis: source'."""

    pipe: Pipe
    standard: str
    material: str
    weight: float  # of the empty pipe in air [N/m]
    specific_gravity: float
    modulus_short: float  # of the material, at once [Pa]
    modulus_long: float  # after 50 years of load [Pa]
    stiffness: float  # force per length over deflection at 5 % [Pa]
    bending_short: float  # EI of the whole pipe as a beam [N m2]
    bending_long: float
    bending_factor: float  # EI is known to this factor either way
    ring_limit: float  # allowed change of diameter over diameter
    stress_limit: float | None  # bending, long term [Pa]; None: no limit is known
    joints: tuple[str, ...]  # ways it is joined, the usual one first
    lay_length: float
    joint_turn: float | None  # turn that a joint takes [degrees]; None: it takes none
    bell: float  # outside diameter of bell or coupling
    displaced: float  # diameter of the displaced volume
    plain_wall: bool  # False: corrugated, so that fibre stress is not moment over section
    sources: tuple[tuple[str, str], ...]

    @property
    def hinged(self) -> bool:
        """Whether its usual joint turns freely: a gasket bell or a push socket."""
        return self.joints[0] in {"gasket", "push"}

    @property
    def is_heavy(self) -> bool:
        """Whether it counts as heavy pipe: a plain wall and a ring as stiff as schedule 40."""
        return self.plain_wall and self.stiffness >= HEAVY_STIFFNESS

    @property
    def name(self) -> str:
        """Size and title: 4 in solid-wall PVC, schedule 40."""
        return self.named("ft")

    def named(self, unit: str) -> str:
        """Size and title in a site's unit: 4 in (114 mm outside) solid-wall PVC, schedule 40."""
        return f"{units.size_text(self.pipe.nominal, self.pipe.od, unit)} {self.pipe.title}"


def stocks(own: Mapping[str, Mapping[str, Any]] | None = None, where: str = "site.toml") -> tuple[PipeStock, ...]:
    """Every pipe whose strengths are known, with weight, stiffness, joint and sources; a site's own pipes laid on top.

    Parameters
    ----------
    own : mapping of str to mapping, optional
        The site's [pipes] tables, as `read_own` takes them.
    where : str
        File named in error messages.

    Returns
    -------
    tuple of PipeStock
        In file order, then the site's in the order given.

    Raises
    ------
    InputError, InputErrors
        As `read_own`.
    """
    if not own:
        return _book()
    return tuple(_stock_of(row) for row in read_own(own, where) if pipes.has_strength(row))


def read_own(own: Mapping[str, Mapping[str, Any]], where: str = "site.toml") -> tuple[Mapping[str, str], ...]:
    """The book's rows with a site's own pipes laid on top, checked.

    Parameters
    ----------
    own : mapping of str to mapping
        The site's [pipes] table: a label to a table of columns of pipes.csv (`COLUMNS`); a diameter or wall is given in
        inches or in millimetres (`od_in` or `od_mm`), `nominal_in = 5` is short for `nominal = "5 in"`.
        `like = "pvc_sch40 4 in"` takes every value not given from that entry. `source` is required. A table of
        the same kind and size replaces the book's entry.
    where : str
        File named in error messages.

    Returns
    -------
    tuple of mapping
        Column to text, in file order, then the site's in the order given.

    Raises
    ------
    InputError, InputErrors
        For a value that is missing, no number or impossible, strengths given in part, an unknown column (the nearest is
        offered), or a basis that is none of read, derived, memory, practice, site.
    """
    faults: list[InputError] = []
    found = {f"{row['kind']} {row['nominal']}": row for row in pipes.rows()}
    for label, table in own.items():
        place = f"{where}, [pipes] {label}"
        row = _site_row(place, table, found, faults)
        problems = [] if row is None else [*faults_of(row, place), *_other_size(table, row, place)]
        faults.extend(problems)
        if row is not None and not problems:
            found[f"{row['kind']} {row['nominal']}"] = row
    raise_gathered(faults)
    return tuple(found.values())


def _other_size(table: Mapping[str, Any], row: Mapping[str, str], place: str) -> list[InputError]:
    """A size that a site names of a kind of the book is one of that kind, as wide as the book has it."""
    kind, nominal = row["kind"], row["nominal"]
    if "nominal" not in table or kind not in pipes.kinds():
        return []
    offered = {pipe.nominal: pipe for pipe in pipes.sizes(kind)}
    if nominal not in offered:
        mend = f"Sizes of {kind}: {', '.join(offered)}. Give one, or name a kind of your own."
        return [InputError(place, f"nominal is {nominal!r}", mend)]
    faults = []
    for name, said, planned in (("od", "outside", offered[nominal].od), ("id", "inside", offered[nominal].bore)):
        try:
            given = pipes.length_in_book(row, name)
        except (KeyError, ValueError):  # told by `faults_of`
            continue
        if abs(given - planned) > _SAME_SIZE:
            what = (
                f"{said} diameter {given / units.MILLIMETRE:.1f} mm is not the {planned / units.MILLIMETRE:.1f} "
                f"mm of {nominal} in the book of pipes"
            )
            faults.append(InputError(place, what, "Give that, or name a kind of your own."))
    return faults


def stock(
    kind: str = pipes.DEFAULT[0], nominal: str = pipes.DEFAULT[1], among: Sequence[PipeStock] | None = None
) -> PipeStock:
    """One pipe with all that the ground asks of it.

    Parameters
    ----------
    kind : str
        Kind, such as 'pvc_sdr35'.
    nominal : str
        Nominal size, such as '4 in'.
    among : sequence of PipeStock, optional
        Pipes to look in, as `stocks` gives them; the book when absent.

    Returns
    -------
    PipeStock
        The entry.

    Raises
    ------
    KeyError
        If there is no such pipe.
    """
    for entry in stocks() if among is None else among:
        if entry.pipe.kind == kind and entry.pipe.nominal == nominal:
            return entry
    raise KeyError(f"no pipe {kind} {nominal}")


@cache
def _book() -> tuple[PipeStock, ...]:
    rows = pipes.rows()
    raise_gathered([fault for n, row in enumerate(rows, 2) for fault in faults_of(row, f"pipes.csv, row {n}")])
    return tuple(_stock_of(row) for row in rows if pipes.has_strength(row))


def _stock_of(row: Mapping[str, str]) -> PipeStock:
    def number(column: str, unit: float = 1.0) -> float:
        return float(row[column]) * unit

    return PipeStock(
        pipe=pipes.pipe_of(row),
        standard=row["standard"],
        material=row["material"],
        weight=number("weight_lb_per_ft", units.POUND_PER_FOOT),
        specific_gravity=number("specific_gravity"),
        modulus_short=number("E_short_psi", units.PSI),
        modulus_long=number("E_long_psi", units.PSI),
        stiffness=number("pipe_stiffness_psi", units.PSI),
        bending_short=number("EI_short_lb_in2", units.POUND_INCH2),
        bending_long=number("EI_long_lb_in2", units.POUND_INCH2),
        bending_factor=number("EI_factor"),
        ring_limit=number("ring_limit_pct", 0.01),
        stress_limit=number("stress_limit_psi", units.PSI) if row["stress_limit_psi"] else None,
        joints=tuple(row["joints"].split("|")),
        lay_length=number("lay_length_ft", units.FOOT),
        joint_turn=number("joint_turn_deg") if row["joint_turn_deg"] else None,
        bell=pipes.length_in_book(row, "bell_od"),
        displaced=pipes.length_in_book(row, "displaced_dia"),
        plain_wall=row["plain_wall"] == "yes",
        sources=(
            ("dimensions", f"{row['basis']}: {row['source']}"),
            *((name, row[f"{name}_source"]) for name in _SOURCES),
        ),
    )


def _site_row(
    place: str, table: Mapping[str, Any], found: Mapping[str, Mapping[str, str]], faults: list[InputError]
) -> dict[str, str] | None:
    """A site's table as a row of text; None and a fault when it cannot be read as one."""
    before = len(faults)
    if not isinstance(table, Mapping):
        faults.append(InputError(place, "is no table", "Write [pipes.<label>] and one key a line."))
        return None
    given = dict(table)
    like = given.pop("like", None)
    base: dict[str, str] = dict.fromkeys(COLUMNS, "")
    if like is not None:
        if not isinstance(like, str) or like not in found:
            mend = alike_or(str(like), found, "siteplan pipes lists them: kind and size.", mark="'")
            faults.append(InputError(place, f"is like {like!r}, which is no pipe here", mend))
            return None
        base = dict(found[like])
    read: dict[str, str] = {}
    for key, value in given.items():
        _read_key(place, key, value, read, faults)
    if "source" not in read:
        faults.append(InputError(place, "has no source", 'Say where its values come from: source = "...".'))
    if len(faults) > before:
        return None
    read.setdefault("basis", "site")
    for column, name in _SOURCE_OF.items():
        if column in read or like is None:
            read.setdefault(f"{name}_source", f"site: {read['source']}")
    if "n_new" in read or "n_aged" in read:
        read.setdefault("n_source", f"site: {read['source']}")
        base |= {"n_low": "", "n_high": ""}  # the range in print is another pipe's
    for name in _LENGTHS:
        given_in = [f"{name}{suffix}" for suffix, _ in pipes.LENGTH_UNITS]
        if any(column in read for column in given_in):
            base |= dict.fromkeys(given_in, "")
    return {**base, **read}


def _read_key(place: str, key: str, value: object, read: dict[str, str], faults: list[InputError]) -> None:
    if key not in (*COLUMNS, *_NOMINALS):
        mend = alike_or(key, COLUMNS, mark="'")
        faults.append(InputError(place, f"has {key!r}, which is no value of a pipe", mend))
        return
    twice = next((one for one in _same(key) if one in read), None)
    if twice is not None:
        faults.append(InputError(place, f"gives {twice} twice", "Keep one of the two."))
    elif key in _NUMBERS or key in _NOMINALS:
        if isinstance(value, bool) or not isinstance(value, int | float):
            faults.append(InputError(place, f"{key} is {value!r}, not a number", "Write the number alone."))
        elif key in _NUMBERS:
            read[key] = repr(float(value))
        elif not (math.isfinite(value) and value > 0):
            faults.append(InputError(place, f"{key} is {value!r}", "Give a finite number above 0."))
        else:
            read["nominal"] = f"{value:g} {_NOMINALS[key]}"
    elif not isinstance(value, str) or not value.strip():
        faults.append(InputError(place, f"{key} is {value!r}, not text", "Write some text, in quotes."))
    else:
        read[key] = " ".join(value.split()) if key == "nominal" else value


def _same(key: str) -> tuple[str, ...]:
    """Columns that say the same as a key: a length in inches and in millimetres, a size as text and as a number."""
    if key == "nominal" or key in _NOMINALS:
        return ("nominal",)
    name, _, suffix = key.rpartition("_")
    return tuple(f"{name}{unit}" for unit, _ in pipes.LENGTH_UNITS) if name in _LENGTHS and suffix else (key,)


def faults_of(row: Mapping[str, str], place: str) -> list[InputError]:
    """Everything missing or impossible in a row of pipes.

    Parameters
    ----------
    row : mapping
        Column to text.
    place : str
        File and row, as messages name it.

    Returns
    -------
    list of InputError
        Empty when the row can be used.
    """
    strong, aged = (any(_filled(row, column) for column in among) for among in (_STRENGTHS, _AGES))
    asked = (*_ALWAYS, *(_STRENGTHS if strong else ()), *(_AGES if aged else ()))
    missing = [_column(name) for name in asked if not _filled(row, name)]
    if missing:
        return [InputError(place, f"has no {', '.join(missing)}", "Give every value, or start from a like entry.")]
    faults: list[InputError] = []
    value: dict[str, float] = {}
    for column in _NUMBERS:
        text = (row.get(column) or "").strip()
        if not text:
            continue
        try:
            value[column] = float(text)
        except ValueError:
            value[column] = math.nan
        if not (math.isfinite(value[column]) and value[column] > 0):
            faults.append(InputError(place, f"{column} is {text!r}", "Give a finite number above 0."))
    if faults:
        return faults
    laws = [*_laws_of_outline(row, value), *(_laws_of_strength(row, value) if strong else ())]
    faults += [InputError(place, what, mend) for holds, what, mend in laws if not holds]
    for column in (
        *(f"{name}_source" for name in (_SOURCES if strong else ("roughness",))),
        *(("n_source",) if aged else ()),
    ):
        basis, colon, source = row[column].partition(": ")
        if basis not in BASES or not colon or not source.strip():
            mend = f"Write one of {', '.join(BASES)}, a colon, and the source."
            faults.append(InputError(place, f"{column} does not begin with a basis", mend))
    return faults


def _filled(row: Mapping[str, str], name: str) -> bool:
    columns = [f"{name}{suffix}" for suffix, _ in pipes.LENGTH_UNITS] if name in _LENGTHS else [name]
    return any((row.get(column) or "").strip() for column in columns)


def _column(name: str) -> str:
    """What a message calls a value: a length by its column in inches."""
    return f"{name}_in" if name in _LENGTHS else name


def _laws_of_outline(row: Mapping[str, str], value: Mapping[str, float]) -> tuple[tuple[bool, str, str], ...]:
    od, bore, wall = (pipes.length_in_book(row, name) for name in ("od", "id", "wall"))
    ages = [value[name] for name in ("n_low", "n_new", "n_aged", "n_high") if name in value]
    return (
        (od > bore, "the outside diameter is not above the inside", "Check od and id."),
        (2 * wall <= (od - bore) * 1.02, "two walls are thicker than outside less inside diameter", "Check wall, od and id."),
        (0.005 <= value["manning_n"] <= 0.05, f"manning_n {value['manning_n']:g} is no pipe's", "Plastic pipe has 0.009 to 0.025."),
        (all(0.005 <= n <= 0.05 for n in ages), "n_new or n_aged is no pipe's", "Plastic pipe has 0.009 to 0.025."),
        (ages == sorted(ages), "n_low, n_new, n_aged and n_high do not grow", "New pipe is the smoother one."),
        (row["basis"] in BASES, f"basis is {row['basis']!r}", f"Choose from {', '.join(BASES)}."),
    )  # fmt: skip


def _laws_of_strength(row: Mapping[str, str], value: Mapping[str, float]) -> tuple[tuple[bool, str, str], ...]:
    od, bell, displaced = (pipes.length_in_book(row, name) for name in ("od", "bell_od", "displaced_dia"))
    return (
        (value["E_long_psi"] <= value["E_short_psi"], "the long-term modulus is above the short-term one", "Swap them, or check the unit."),
        (value["EI_long_lb_in2"] <= value["EI_short_lb_in2"], "the long-term EI is above the short-term one", "Swap them, or check the unit."),
        (value["EI_factor"] >= 1, "EI_factor is below 1", "1 means exactly known; 3 means to a factor of 3."),
        (value["ring_limit_pct"] <= 15, "ring_limit_pct is above 15", "Flexible pipe is allowed 5 to 7.5."),
        (bell >= od, "the bell is smaller than the pipe", "Check bell_od."),
        (displaced <= od * 1.001, "displaces more than its outside diameter", "Check displaced_dia."),
        (row["plain_wall"] in {"yes", "no"}, f"plain_wall is {row['plain_wall']!r}", "Write yes or no."),
        (row["plain_wall"] != "yes" or _ring_agrees(row, value), "EI_short is not E times the ring of its wall (over 3 % off)", "Check wall, E_short_psi and EI_short_lb_in2."),
        (all(joint in JOINTS for joint in row["joints"].split("|")), f"joints are {row['joints']!r}", f"Choose from {', '.join(JOINTS)}, parted by |."),
    )  # fmt: skip


def _ring_agrees(row: Mapping[str, str], value: Mapping[str, float]) -> bool:
    od, wall = (pipes.length_in_book(row, name) / INCH for name in ("od", "wall"))
    ring = math.pi / 64 * (od**4 - (od - 2 * wall) ** 4)
    return math.isclose(value["EI_short_lb_in2"], value["E_short_psi"] * ring, rel_tol=0.03)
