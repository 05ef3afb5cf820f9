"""One lot in; its plan written as `siteplan plan` writes it, and what became of it, out.

Runs in a process of its own, here or elsewhere.
"""

from __future__ import annotations

import warnings
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from siteplan.batch.digests import file_digests
from siteplan.batch.record import CODES, LotRecord, LotState, Ring2
from siteplan.errors import InputError, SiteplanError
from siteplan.pool.program import program_digest

if TYPE_CHECKING:
    from siteplan.site import Site
    from siteplan.values.whole_plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTask:
    """A lot to be planned. Paths are whole, so that any process with the same disks finds them."""

    name: str
    folder: str
    out: str  # of its plan
    key: str
    program: str  # digest of the program that asked
    layouts: int
    stamp: str | None


def planned_lot(task: LotTask) -> LotRecord:
    """Plan one lot and write its folder.

    Parameters
    ----------
    task : LotTask
        The lot.

    Returns
    -------
    LotRecord
        Whatever happens: what cannot be read, and a fault of ours, are states of a lot and end no other.
    """
    out = Path(task.out)
    if program_digest() != task.program:
        return _ended(task, out, "fault", "the process that it was given to runs another siteplan or other libraries")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _planned(task, out)
    except SiteplanError as fault:
        state: LotState = "bad-input" if isinstance(fault, ValueError) else "fault"
        return _ended(task, out, state, str(fault))
    except OSError as fault:
        why = fault.strerror or type(fault).__name__
        return _ended(task, out, "fault", f"{fault.filename or task.folder}: {why.lower()}")
    except Exception as fault:  # noqa: BLE001 - a lot ends no other, whatever becomes of it
        return _ended(task, out, "fault", f"a fault of ours ({type(fault).__name__}: {fault})")


def _planned(task: LotTask, out: Path) -> LotRecord:
    from siteplan.offered import made_sheets
    from siteplan.optional import gathering
    from siteplan.plan import plan_site
    from siteplan.sheets.folio import check_folio, write_folio
    from siteplan.values.asked_for import ChoicesAsked

    check_folio(out)
    plan, site = plan_site(Path(task.folder), stamp=task.stamp, choices=ChoicesAsked(count=task.layouts))
    with gathering():
        files = made_sheets(plan, site)
    write_folio(out, files)
    return _told(task, plan, site, file_digests(out))


def _told(task: LotTask, plan: Plan, site: Site, files: dict[str, str]) -> LotRecord:
    from siteplan.sheets.lot_words import lot_flip, lot_margin, lot_why
    from siteplan.sheets.states import source_states
    from siteplan.sheets.wording import counts, names, subject, way

    found, called = counts(plan.findings), names(plan)
    by_ends = called | {line.id: way(line, called) for line in plan.every_line}  # ids change from one plan to the next
    states = Counter(source_states(plan).values())
    state: LotState = "fails" if found["fail"] else "sure" if states["sure"] == states.total() else "cannot-tell"
    chances = [line.doubt.chance_falls for line in plan.lines if line.doubt is not None]
    margin = lot_margin(plan)
    return LotRecord(
        name=task.name,
        key=task.key,
        state=state,
        code=CODES[state],
        title=plan.site_name,
        unit=plan.length_unit,
        crs="local" if plan.crs == "local" else plan.crs,
        sources=states.total(),
        sure=states["sure"],
        unsure=states["cannot-tell"],
        failing=states["fails"],
        undrained=states[None],
        fails=found["fail"],
        flags=found["flag"],
        margin=None if margin is None else round(margin, 6) + 0.0,
        chance=round(min(chances), 6) if chances else None,
        trench=round(sum(line.length for line in plan.every_line), 6),
        why=lot_why(plan, site.rules),
        flip=lot_flip(plan, site.rules),
        ring=_ring(site),
        files=files,
        broken=tuple(dict.fromkeys((one.rule, subject(one, by_ends)) for one in plan.findings if one.status == "fail")),
    )


def _ring(site: Site) -> Ring2:
    """Outer ring of the lot, to a centimetre or so."""
    import numpy as np
    from pyproj import Transformer

    x, y = np.asarray(site.lot.exterior.coords, float)[:, :2].T
    if site.crs == "local":
        return tuple((round(float(a), 3), round(float(b), 3)) for a, b in zip(x, y, strict=True))
    lon, lat = Transformer.from_crs(site.crs, "EPSG:4326", always_xy=True).transform(x, y)
    return tuple((round(float(a), 7), round(float(b), 7)) for a, b in zip(lon, lat, strict=True))


def _ended(task: LotTask, out: Path, state: LotState, why: str) -> LotRecord:
    """A lot without a plan; an earlier plan of it stays where it is, as with `plan`."""
    said = " ".join("".join(c if c.isprintable() else " " for c in why).split())
    old = "An earlier plan of it is kept under lots/, and is not of this survey." if out.is_dir() else ""
    return LotRecord(name=task.name, key=task.key, state=state, code=CODES[state], why=said, flip=old, files={})


def lost_lot(task: LotTask, times: int) -> LotRecord:
    """What is said of a lot under which its process died.

    Parameters
    ----------
    task : LotTask
        The lot.
    times : int
        How often it was tried.

    Returns
    -------
    LotRecord
        A fault, to be tried again by the next run.
    """
    why = f"the process that planned it ended {times} times without a word: out of memory, or ended from outside"
    return _ended(task, Path(task.out), "fault", why)


def unreadable(task: LotTask, fault: InputError | OSError) -> LotRecord:
    """What is said of a lot whose folder cannot be read at all.

    Parameters
    ----------
    task : LotTask
        The lot.
    fault : InputError or OSError
        What the disk said.

    Returns
    -------
    LotRecord
        Bad input.
    """
    why = str(fault) if isinstance(fault, InputError) else f"{task.folder}: {(fault.strerror or '').lower()}"
    return _ended(task, Path(task.out), "bad-input", why)
