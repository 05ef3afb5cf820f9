"""Flows, grades and the sizes on offer in; the smallest size that fits each run, and on what basis, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from siteplan.books.hydraulics import COLEBROOK, USUAL_KB, code_tables
from siteplan.books.pipes import roughness_of
from siteplan.units import MILLIMETRE, grade_text
from siteplan.values.flows_worked import Held
from siteplan.values.laid_pipe import Pipe
from siteplan.water.capacity import FILL, FILL_OF, FillOf, design_share, full_flow
from siteplan.water.colebrook import flow_part_full
from siteplan.water.trouble import above_zero, at_least_zero, finite

MANNING = "manning"
SMOOTH = 0.013  # printed plumbing tables speak of smooth pipe: the top of the range of n for smooth plastic (HY036)
Age = Literal["design", "new", "aged"]
_SAME = 1e-5  # a grade this close below a printed slope is that slope: plan.json writes grades no finer


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What a capacity is held to.

    Attributes
    ----------
    code : str
        'manning', 'prandtl-colebrook', or the code of a printed table: see `bases`.
    fill, fill_of : float, str
        Design fill for Manning; printed tables are used as printed.
    age : str
        Roughness for Manning: 'design' (the pipe's own n), 'new' or 'aged'.
    kb : float
        Roughness in use for 'prandtl-colebrook' [m].
    own_pipes : mapping
        The site's [pipes] tables.
    """

    code: str = MANNING
    fill: float = FILL
    fill_of: FillOf = FILL_OF
    age: Age = "design"
    kb: float = USUAL_KB * MILLIMETRE
    own_pipes: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacity:
    """What a pipe may carry [m3/s], None where the basis gives no figure, and the basis in one sentence.

    `printed` is the slope of the printed row that gave the figure [-], None where a formula gave it; `held` says what
    did.
    """

    flow: float | None
    basis: str
    printed: float | None = None
    held: Held = "manning"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRun:
    """A run to be sized: id, the run it falls into (None: an outlet), flow [m3/s] or None, grade [-]."""

    id: str
    into: str | None
    flow: float | None
    grade: float


def bases() -> tuple[str, ...]:
    """Codes of every basis a capacity can be held to.

    Returns
    -------
    tuple of str
        'manning' first, 'prandtl-colebrook', then the printed tables.
    """
    return (MANNING, COLEBROOK, *(table.code for table in code_tables()))


def capacity_by(basis: Basis, pipe: Pipe, grade: float) -> Capacity:
    """What a pipe may carry at a grade, by Manning or Prandtl-Colebrook at the design fill, or as a code prints it.

    A printed table is read at the steepest printed slope not above the grade, never between slopes: the codes allow
    that between rates of rain alone. Where the book holds nothing of it for a pipe and grade, Manning at the design
    fill stands in, never above what the table prints for the size at a steeper slope, and the sentence says so.

    Parameters
    ----------
    basis : Basis
        What to hold it to.
    pipe : Pipe
        The pipe; Manning uses its true bore, a table its nominal size.
    grade : float
        Fall over length, above 0 [-].

    Returns
    -------
    Capacity
        Flow [m3/s] and the basis printed.

    Raises
    ------
    ValueError
        If the grade is not above 0 or the basis is not known.

    References
    ----------
    Manning's equation; printed tables with their edition in capacity.csv. Editions of one code differ by half: both are
    kept. Interpolation: Uniform Plumbing Code, appendix D 3, and National Standard Plumbing Code 2006, table 13.6.1
    note 2 speak of the columns of rain alone.
    """
    above_zero("grade", grade, "a pipe without fall carries nothing by gravity; give fall over length")
    if basis.code == MANNING:
        n, whose = _roughness(pipe, basis)
        share = design_share(basis.fill, basis.fill_of)
        said = "depth (y/D)" if basis.fill_of == "depth" else "full flow (Q/Qfull)"
        text = f"Manning, true bore, n {n:g} ({whose}), design fill {basis.fill:g} of the {said}, {share:.3f} of full"
        return Capacity(flow=full_flow(pipe.bore, grade, n) * share, basis=text)
    if basis.code == COLEBROOK:
        return _by_colebrook(basis, pipe, grade)
    for table in code_tables():
        if table.code != basis.code:
            continue
        rows = sorted((row for row in table.rows if row.nominal == pipe.nominal), key=lambda row: row.grade)
        fitting = [row for row in rows if row.grade <= grade + _SAME]
        if pipe.roughness > SMOOTH:
            silent = f"is printed for smooth pipe, not for {pipe.title} (n {pipe.roughness:g})"
        elif not rows:
            silent = f"the book holds none for {pipe.nominal} pipe"
        else:
            silent = (
                f"the book holds none flatter than {grade_text(rows[0].grade)} for {pipe.nominal}, the run has "
                f"{grade_text(grade)}"
            )
        if pipe.roughness > SMOOTH or not fitting:
            instead = capacity_by(replace(basis, code=MANNING), pipe, grade)
            steeper = next((row for row in rows if row.grade >= grade - _SAME), None)
            if steeper is not None and instead.flow is not None and steeper.flow < instead.flow:
                held = f"but no more than its row at {grade_text(steeper.grade)}"
                return Capacity(flow=steeper.flow, basis=f"{table.edition}: {silent}; {instead.basis}, {held}")
            return Capacity(flow=instead.flow, basis=f"{table.edition}: {silent}; {instead.basis}")
        row = fitting[-1]
        note = f"; {row.note}" if row.suspect else ""
        return Capacity(
            flow=row.flow,
            printed=row.grade,
            held="table",
            basis=f"{table.edition}, {pipe.nominal} at {grade_text(row.grade)} ({row.standing}{note})",
        )
    raise ValueError(f"capacity basis {basis.code!r} is not known: take one of {', '.join(bases())}")


def _by_colebrook(basis: Basis, pipe: Pipe, grade: float) -> Capacity:
    if pipe.roughness > SMOOTH:
        instead = capacity_by(replace(basis, code=MANNING), pipe, grade)
        silent = f"Prandtl-Colebrook: kb speaks of smooth pipe, not of {pipe.title} (n {pipe.roughness:g})"
        return Capacity(flow=instead.flow, basis=f"{silent}; {instead.basis}")
    full = flow_part_full(pipe.bore, grade, basis.kb)
    of_depth = basis.fill_of == "depth"
    flow = min(flow_part_full(pipe.bore, grade, basis.kb, basis.fill), full) if of_depth else basis.fill * full
    said = "depth (y/D)" if of_depth else "full flow (Q/Qfull)"
    text = (
        f"Prandtl-Colebrook, true bore, kb {basis.kb / MILLIMETRE:g} mm, water at 10 degrees C, design fill "
        f"{basis.fill:g} of the {said}"
    )
    return Capacity(flow=flow, held="prandtl-colebrook", basis=text)


def _roughness(pipe: Pipe, basis: Basis) -> tuple[float, str]:
    age = basis.age
    if age == "design":
        return pipe.roughness, "the pipe's design value"
    if age not in ("new", "aged"):
        raise ValueError(f"age of the pipe is {age!r}: say 'design', 'new' or 'aged'")
    try:
        entry = roughness_of(pipe.kind, basis.own_pipes)
    except KeyError:  # a pipe of the site's own that says nothing of its age
        return pipe.roughness, "the pipe's design value"
    return (entry.new, "new pipe") if age == "new" else (entry.aged, "aged pipe")


def smallest_fit(flow: float, grade: float, pipes: Sequence[Pipe], basis: Basis) -> tuple[Pipe, Capacity] | None:
    """The smallest pipe on offer whose capacity is not below the flow.

    Parameters
    ----------
    flow : float
        Design flow, 0 or above [m3/s].
    grade : float
        Fall over length, above 0 [-].
    pipes : sequence of Pipe
        What is on offer, in any order.
    basis : Basis
        What to hold capacities to.

    Returns
    -------
    tuple of Pipe and Capacity, or None
        None when nothing on offer fits.

    Raises
    ------
    ValueError
        If the flow is below 0 or the grade is not above 0.
    """
    at_least_zero("flow", flow, "give the flow in m3/s")
    for pipe in sorted(pipes, key=lambda entry: (entry.bore, entry.nominal)):
        capacity = capacity_by(basis, pipe, grade)
        if capacity.flow is not None and capacity.flow >= flow * (1 - 1e-12):
            return pipe, capacity
    return None


def size_runs(runs: Sequence[SizeRun], pipes: Sequence[Pipe], basis: Basis) -> dict[str, Pipe | None]:
    """A size for every run of a tree of lines: the smallest that fits and never smaller than what falls into it.

    Parameters
    ----------
    runs : sequence of SizeRun
        Every run once; `into` names another of them or None.
    pipes : sequence of Pipe
        What is on offer.
    basis : Basis
        What to hold capacities to.

    Returns
    -------
    dict of str to Pipe or None
        By run, in the order given; None where the flow is not known, the run has no fall, or nothing on offer fits.

    Raises
    ------
    ValueError
        If an id appears twice, `into` is unknown, or the runs form a ring.
    """
    by_id = {run.id: run for run in runs}
    done: dict[str, Pipe | None] = {}
    for name in upstream_first({run.id: run.into for run in runs}, len(runs)):
        run = by_id[name]
        feeding = [done[other.id] for other in runs if other.into == name]
        widest = max((pipe.bore for pipe in feeding if pipe is not None), default=0.0)
        offered = [pipe for pipe in pipes if pipe.bore >= widest * (1 - 1e-9)]
        able = run.flow is not None and finite("grade", run.grade, "give fall over length") > 0
        found = smallest_fit(run.flow or 0.0, run.grade, offered, basis) if able else None
        done[name] = None if found is None else found[0]
    return {run.id: done[run.id] for run in runs}


def upstream_first(into: Mapping[str, str | None], count: int) -> tuple[str, ...]:
    """Runs of a tree in an order in which each comes after all that fall into it.

    Parameters
    ----------
    into : mapping
        Run id to the id it falls into, or None at an outlet.
    count : int
        How many runs were given, to notice an id given twice.

    Returns
    -------
    tuple of str
        Ids, each after its feeders; among equals in the order given.

    Raises
    ------
    ValueError
        If an id appears twice, `into` is unknown, or the runs form a ring.
    """
    if len(into) != count:
        raise ValueError("a run id appears twice: give every run its own")
    waiting = dict.fromkeys(into, 0)
    for name, down in into.items():
        if down is None:
            continue
        if down not in into:
            raise ValueError(f"run {name} falls into {down}, which is no run here: name a run or None for an outlet")
        waiting[down] += 1
    ready = [name for name, count_left in waiting.items() if count_left == 0]
    order: list[str] = []
    while ready:
        name = ready.pop(0)
        order.append(name)
        down = into[name]
        if down is not None:
            waiting[down] -= 1
            if waiting[down] == 0:
                ready.append(down)
    if len(order) != len(into):
        ring = sorted(set(into) - set(order))
        raise ValueError(f"runs {', '.join(ring)} fall into each other in a ring: one of them must end at an outlet")
    return tuple(order)
