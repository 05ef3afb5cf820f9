"""What became of one lot, as values and the words said of it, in and out of a small file."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Literal, get_args

LotState = Literal["fault", "bad-input", "fails", "cannot-tell", "sure"]
LOT_STATES: tuple[LotState, ...] = get_args(LotState)  # worst first
CODES: Mapping[str, int] = {"fault": 3, "bad-input": 2, "fails": 1, "cannot-tell": 0, "sure": 0}
Ring2 = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRecord:
    """One lot of a batch.

    Attributes
    ----------
    name : str
        Of the lot, and of its folder under lots/.
    key : str
        Digest of all that its plan hangs on.
    state : str
        Of `LOT_STATES`.
    code : int
        What `siteplan plan` gives for it alone; 1 where a check fails, a lot in doubt and a sure one give 0.
    title, unit, crs : str
        Name of the site, its length unit, the plan's system.
    sources, sure, unsure, failing, undrained : int
        Sources in all, and how their ways out stand.
    fails, flags : int
        Findings.
    margin : float or None
        Least fall to spare of all sources [m]; under 0: short by so much; None: not to be measured.
    chance : float or None
        Of the least sure line to fall everywhere.
    trench : float
        Length in all [m].
    why, flip : str
        What makes it what it is; what would change that.
    ring : tuple
        Outer ring of the lot, longitude and latitude; in the site's own metres where it has no place on earth.
    files : mapping of str to str
        Digests of what stands in lots/NAME.
    broken : tuple of (str, str)
        Rule and subject of every fail, by names.
    """

    name: str
    key: str
    state: LotState
    code: int
    title: str = ""
    unit: str = ""
    crs: str = ""
    sources: int = 0
    sure: int = 0
    unsure: int = 0
    failing: int = 0
    undrained: int = 0
    fails: int = 0
    flags: int = 0
    margin: float | None = None
    chance: float | None = None
    trench: float = 0.0
    why: str = ""
    flip: str = ""
    ring: Ring2 = ()
    files: Mapping[str, str]
    broken: tuple[tuple[str, str], ...] = ()

    @property
    def placed(self) -> bool:
        """Whether it has a place on earth."""
        return bool(self.ring) and self.crs != "local"

    @property
    def rank(self) -> tuple[float, ...]:
        """Worst first: by state, then what cannot be measured, then by fall to spare."""
        return LOT_STATES.index(self.state), -math.inf if self.margin is None else round(self.margin, 4)


def record_bytes(record: LotRecord) -> bytes:
    """A record as a file holds it.

    Parameters
    ----------
    record : LotRecord
        What became of a lot.

    Returns
    -------
    bytes
        JSON, the same for the same record.
    """
    return json.dumps(asdict(record), ensure_ascii=True, allow_nan=False, separators=(",", ":")).encode() + b"\n"


def stored_record(path: Path) -> LotRecord | None:
    """A record that a file holds.

    Parameters
    ----------
    path : Path
        Under records/.

    Returns
    -------
    LotRecord or None
        None where there is none, or none that can be read: the lot is planned again then.
    """
    try:
        held: Any = json.loads(path.read_bytes())
        known = {one.name for one in fields(LotRecord)}
        if not isinstance(held, dict) or set(held) != known or held["state"] not in LOT_STATES:
            return None
        held["ring"] = tuple((float(x), float(y)) for x, y in held["ring"])
        held["broken"] = tuple((str(rule), str(subject)) for rule, subject in held["broken"])
        return LotRecord(**held)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
