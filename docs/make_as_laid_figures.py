"""Writes the figures of docs/as-laid-check.md from invented laid lines; a test fails when the page is stale.

A seed in; lines with shots of known doubt, half with a belly, half good: what the as-laid check is measured by.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.laid.fit import fit_laid
from siteplan.laid.water_in import bellies

PAGE = Path(__file__).parent / "as-laid-check.md"
START, END = "<!-- figures: python docs/make_as_laid_figures.py -->", "<!-- end of figures -->"


Floats = NDArray[np.float64]

HALF_INCH = 0.5 * units.INCH
SEED = 20260501
GRADES = (0.005, 0.01, 0.02)
STEPS = (5 * units.FOOT, 10 * units.FOOT)
DOUBTS = (0.01 * units.FOOT, 0.02 * units.FOOT)
DEEPEST = 3.0 * units.INCH  # of standing water; a belly that fills the bore is found by anybody


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LaidCase:
    """A line as it lies, and as it was shot. `water` is the greatest depth that stands in it at the shots [m]."""

    station: Floats
    design: Floats
    true: Floats
    shot: Floats
    doubt: float
    water: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What the check made of the cases."""

    bellied: int
    found: int
    good: int
    false_alarms: int
    depth_error: float  # root mean square, of the bellies found [m]


def cases(count: int, seed: int = SEED) -> list[LaidCase]:
    """Invented lines of 40 to 120 ft at 0.5, 1 and 2 %, shots every 5 or 10 ft with a doubt of 0.01 to 0.02 ft.

    Every second one has a belly of half an inch of water or more.
    """
    pick = np.random.default_rng(seed)
    out: list[LaidCase] = []
    while len(out) < count:
        step, grade = float(pick.choice(STEPS)), float(pick.choice(GRADES))
        number = int(pick.integers(40, 121) * units.FOOT // step) + 1
        station: Floats = np.arange(number, dtype=np.float64) * step
        design: Floats = 29.0 + grade * station
        doubt = float(pick.uniform(*DOUBTS))
        true, water = design.copy(), 0.0
        if len(out) % 2:
            water = float(pick.uniform(HALF_INCH, DEEPEST))
            half = float(pick.uniform(10, 20)) * units.FOOT
            middle = float(pick.uniform(half, max(half + 0.1, station[-1] - half)))
            sunk = _sunk(design, _dip(station, middle, half, round_=bool(pick.random() < 0.5)), water)
            if sunk is None:
                continue
            true = sunk
        shot = true + pick.normal(0.0, doubt, number)
        out.append(LaidCase(station=station, design=design, true=true, shot=shot, doubt=doubt, water=water))
    return out


def _dip(station: Floats, middle: float, half: float, *, round_: bool) -> Floats:
    """Shape of a settlement: a broken back, or a round one."""
    away = np.abs(station - middle)
    if round_:
        return np.where(away < half, 0.5 + 0.5 * np.cos(np.pi * away / half), 0.0)
    return np.asarray(np.maximum(0.0, 1 - away / half), np.float64)


def standing(inverts: Floats) -> Floats:
    """Depth of water that stands at each place: below the highest invert downstream.

    Inverts from the outlet upstream.
    """
    return np.asarray(np.maximum.accumulate(inverts) - inverts, np.float64)


def _sunk(design: Floats, shape: Floats, water: float) -> Floats | None:
    """The line let down so far that this depth of water stands at some shot.

    None where the dip meets no shot but the last.
    """
    low, high = 0.0, 1.0
    if standing(design - high * shape).max() < water:
        return None
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if standing(design - middle * shape).max() < water else (low, middle)
    return np.asarray(design - high * shape, np.float64)


def tally(laid: list[LaidCase]) -> Tally:
    """Run the check over invented lines.

    A belly is found when one is reported whose water covers the place where most stands.
    """
    bellied = found = good = false = 0
    errors = []
    for case in laid:
        told = bellies(fit_laid(case.station, case.shot, case.design))
        if not case.water:
            good += 1
            false += bool(told)
            continue
        bellied += 1
        deepest = float(case.station[int(np.argmax(standing(case.true)))])
        hit = [belly for belly in told if belly.station_from - 0.01 <= deepest <= belly.station_to + 0.01]
        found += bool(hit)
        errors += [belly.depth - case.water for belly in hit[:1]]
    error = float(np.sqrt(np.mean(np.square(errors)))) if errors else 0.0
    return Tally(bellied=bellied, found=found, good=good, false_alarms=false, depth_error=error)


def figures() -> str:
    """The table, from 300 invented lines and, to see how sure it is, from 3000."""
    rows = ["| lines | bellies of 1/2 in or more | good lines | depth, error (rms) |", "|---|---|---|---|"]
    for count, seed in ((300, SEED), (3000, SEED + 1)):
        one = tally(cases(count, seed))
        error = f"{units.from_metres(one.depth_error, 'ft'):.3f} ft"
        rows.append(
            f"| {count} (seed {seed}) | {one.found} of {one.bellied} bellies found "
            f"({one.found / one.bellied * 100:.1f} %) | "
            f"{one.false_alarms} of {one.good} good lines called bad ({one.false_alarms / one.good * 100:.1f} "
            f"%) | {error} |"
        )
    return "\n".join(rows)


def main() -> None:
    """Put the table between its marks."""
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(START)
    _, tail = rest.split(END)
    PAGE.write_text(f"{head}{START}\n\n{figures()}\n\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
