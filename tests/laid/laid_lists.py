"""Invented lists of shots, good pipe and bad, in many kinds.

How often the as-laid check accepts what it must not, or condemns what it should leave.

`python tests/laid/laid_lists.py 400` runs 400 bad and 400 good lists and prints one line for each kind.
Figures are in feet, as the lists are. Nothing here is computed by the code under test.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

DOUBT = 0.008  # ft, one standard deviation of a shot
RISE4, BELL4 = (4.215 + 3.975) / 24, (4.8 + 3.975) / 24  # ft over the invert; ASTM D3034 SDR 35, bell from memory
RISE6, BELL6 = (6.275 + 5.915) / 24, (7.0 + 5.915) / 24
HI = 103.0


@dataclass
class Job:
    """A line of somebody's list, and what was shot: (station, northing, easting, elevation, name)."""

    rng: np.random.Generator
    grade: float
    length: float
    bend: float  # east over north beyond the wye
    design: list[tuple[float, str]] = field(default_factory=list)
    off: Callable[[float], float] = lambda _: 0.0  # of the laid pipe against the design
    step: float = 10.0
    noise: float = DOUBT
    grades: list[tuple[float, float]] = field(default_factory=list)  # station from which, grade
    fixed: list[tuple[float, float, float, str]] = field(default_factory=list)
    shots: list[list] = field(default_factory=list)
    options: dict[str, str] = field(default_factory=dict)
    rods: bool = False

    def invert(self, s: float) -> float:
        z, at, grade = 95.5, 0.0, self.grade
        for start, then in self.grades:
            if s > start:
                z, at, grade = z + grade * (start - at), start, then
        return z + grade * (s - at)

    def place(self, s: float) -> tuple[float, float]:
        wye = 30.0
        north = 5010 + min(s, wye) + max(0.0, s - wye) * (1 - self.bend**2) ** 0.5
        return north, 2040 + max(0.0, s - wye) * self.bend

    def plan(self) -> str:
        rows = [(*self.place(s), self.invert(s), name) for s, name in self.design]
        return "".join(
            f"{i},{n:.3f},{e:.3f},{z:.3f},{name}\n" for i, (n, e, z, name) in enumerate(rows + self.fixed, 1)
        )

    def lay(self) -> None:
        """Shots on the pipe every step and at each fitting, and on the fixed objects."""
        named = {round(s, 3): name for s, name in self.design}
        stations = sorted({*np.arange(0, self.length + 0.01, self.step).round(3), *named})
        stations = [s for s in stations if s in named or all(abs(s - other) > 2 for other in named)]
        for s in stations:
            z = self.invert(s) + self.off(s) + self.rng.normal(0, self.noise)
            self.shots.append([s, *self.place(s), z, named.get(s, "INV")])
        for n, e, z, name in self.fixed:
            self.shots.append([None, n, e, z + self.rng.normal(0, 0.004), name])

    def text(self) -> str:
        if self.rods:
            rows = [
                f"{int(s // 100)}+{s % 100:04.1f},{HI - z:.2f},{name if name != 'INV' else ''}"
                for s, _, _, z, name in self.shots
                if s is not None
            ]
            return "sta,rod,name\n" + "\n".join(rows) + "\n"
        return "".join(f"{i},{n:.2f},{e:.2f},{z:.2f},{name}\n" for i, (_, n, e, z, name) in enumerate(self.shots, 1))


def job(rng: np.random.Generator, **more) -> Job:
    """A good line of 70 to 110 ft with a wye, a cleanout, and three fixed objects."""
    length = float(rng.integers(7, 12) * 10)
    made = Job(
        rng=rng,
        grade=float(rng.choice([0.01, 0.0125, 0.015, 0.02])),
        length=length,
        bend=float(rng.choice([0.0, 0.38])),
        **more,
    )
    made.design = [(0.0, "OUTLET INV"), (30.0, "WYE-1"), (60.0, "CO-1"), (length, "DS START")]
    made.fixed = [(5000, 2030, 99.10, "SLAB CORNER"), (5012, 2052, 97.00, "GUTTER FL"), (5070, 2021, 100.0, "BM NAIL")]
    return made


def dip(middle: float, half: float, depth: float) -> Callable[[float], float]:
    """A broken back."""
    return lambda s: -depth * max(0.0, 1 - abs(s - middle) / half)


def _middle(j: Job) -> float:
    return float(j.rng.integers(2, int(j.length / 10) - 1) * 10)


def bad_belly(j: Job) -> None:
    half = float(j.rng.uniform(10, 15))
    j.off = dip(_middle(j), half, j.grade * half + float(j.rng.uniform(0.06, 0.2)))
    j.rods = bool(j.rng.random() < 0.3)
    j.lay()


def bad_whole_low(j: Job) -> None:
    by = float(j.rng.choice([-1, 1]) * j.rng.uniform(0.15, 0.3))
    j.off = lambda _: by
    j.lay()


def bad_bells(j: Job) -> None:
    """A 6 in line laid low by what separates the bells of 6 and 4 in, rods on bells."""
    j.options = {"size": "6", "on": "bell"}
    by = float(j.rng.uniform(0.15, 0.2))
    j.off = lambda _: BELL6 - by
    j.lay()
    _bells(j)


def _bells(j: Job) -> None:
    for shot in j.shots:
        shot[4] = shot[4].replace("OUTLET INV", "OUTLET").replace("INV", "BELL")


def bad_mirrored(j: Job) -> None:
    """Pipe bends the other way; the fixed objects stand right."""
    j.bend = 0.38
    j.lay()
    for shot in j.shots:
        if shot[0] is not None:
            shot[2] = 2 * 2040 - shot[2]
    if j.rng.random() < 0.5:  # or the whole pipe on the other side of the lot
        for shot in j.shots:
            if shot[0] is not None:
                shot[2] += 22


def bad_aside(j: Job) -> None:
    """The whole line some feet beside its place."""
    by = float(j.rng.choice([-1, 1]) * j.rng.uniform(6, 14))
    if j.rng.random() < 0.5:
        j.fixed = j.fixed[: int(j.rng.integers(0, 2))]
    j.lay()
    for shot in j.shots:
        if shot[0] is not None:
            shot[2] += by


def bad_contradiction(j: Job) -> None:
    """A station shot twice; one of the two says that the pipe lies low."""
    j.lay()
    at = _middle(j)
    near = next(shot for shot in j.shots if shot[0] is not None and abs(shot[0] - at) < 3)
    by = float(j.rng.uniform(0.08, 0.2))
    j.shots.insert(j.shots.index(near), [*near[:3], near[3] - by, "INV"])


def bad_gap(j: Job) -> None:
    """A stretch never shot, in which the pipe sags."""
    j.design = [row for row in j.design if row[1] != "CO-1"]
    j.lay()
    first = float(j.rng.integers(4, int(j.length / 10) - 1) * 10)
    j.shots = [shot for shot in j.shots if shot[0] is None or not first - 1 < shot[0] < first + 9.5]
    for shot in j.shots:  # 24 ft between the two
        if shot[0] is not None and first + 9.5 <= shot[0] < first + 12:
            shot[0] += 4
            shot[1], shot[2] = j.place(shot[0])
            shot[3] = j.invert(shot[0])


def bad_far_apart(j: Job) -> None:
    j.length = 100.0
    j.design = [(0.0, "OUTLET INV"), (100.0, "DS START")]
    j.step = float(j.rng.choice([20, 25]))
    j.lay()


def bad_high_cleanout(j: Job) -> None:
    """The pipe humps at the cleanout, and the shot there is called CO."""
    up = float(j.rng.uniform(0.26, 0.45))
    j.off = lambda s: up if abs(s - 60) < 1 else 0.0
    j.rods = bool(j.rng.random() < 0.5)
    j.lay()


def bad_lone_benchmark(j: Job) -> None:
    """One benchmark, and it and the pipe read low together."""
    j.fixed = [j.fixed[2]]
    by = float(j.rng.choice([-1, 1]) * j.rng.uniform(0.12, 0.4))
    j.off = lambda _: by
    j.lay()
    for shot in j.shots:
        if shot[0] is None:
            shot[3] += by


def bad_flat(j: Job) -> None:
    """The upper part lies flat."""
    j.off = lambda s: -(j.grade * max(0.0, s - 30))
    j.lay()


def bad_missing(j: Job) -> None:
    j.lay()
    j.shots = [shot for shot in j.shots if shot[4] != "CO-1"]


def bad_named_sag(j: Job) -> None:
    """A sag at a shot that bears the name of something else."""
    at = _middle(j)
    j.off = dip(at, 10.0, j.grade * 10 + float(j.rng.uniform(0.06, 0.2)))
    j.rods = bool(j.rng.random() < 0.5)
    j.lay()
    for shot in j.shots:
        if shot[0] is not None and abs(shot[0] - at) < 1 and shot[4] == "INV":
            shot[4] = str(j.rng.choice(["WALK", "EDGE OF DRIVE", "BY TREE", "WATER CROSSING", "TOP CURB"]))


def bad_below_gutter(j: Job) -> None:
    """The lower end lies low: the outlet ends below the gutter."""
    j.off = lambda s: -0.14 * max(0.0, 1 - s / 20)
    j.fixed.append((5009.5, 2038.5, 95.46, "FL AT OUTLET"))
    j.lay()


def good_plain(j: Job) -> None:
    j.rods = bool(j.rng.random() < 0.5)
    j.step = float(j.rng.choice([5, 10]))
    j.lay()


def good_flat_design(j: Job) -> None:
    """Laid as a list below 1 % designed it."""
    j.grade = float(j.rng.choice([0.005, 0.006, 0.0075, 0.009]))
    j.rods = bool(j.rng.random() < 0.3)
    j.lay()


def good_broken_grade(j: Job) -> None:
    """One stretch of the list below 1 %, the rest above."""
    j.grade, j.grades = 0.02, [(30.0, float(j.rng.choice([0.004, 0.005, 0.007])))]
    if j.rng.random() < 0.5:
        j.grades.append((60.0, 0.03))
    j.lay()


def good_objects(j: Job) -> None:
    """Other things shot in the same list."""
    j.lay()
    names = [
        "TOP CURB",
        "TOP CURB",
        "GR",
        "EXIST INV WATER",
        "EDGE WALK",
        "TREE 12",
        "HYDRANT",
        "EXIST MH RIM",
        "FENCE POST",
        "VALVE",
    ]
    for _ in range(int(j.rng.integers(2, 6))):
        s = float(j.rng.uniform(1, j.length - 1))
        north, east = j.place(s)
        away = float(j.rng.uniform(0, 4))
        j.shots.insert(
            int(j.rng.integers(0, len(j.shots))),
            [None, north, east + away, j.invert(s) + float(j.rng.uniform(0.45, 3.0)), str(j.rng.choice(names))],
        )


def good_curb(j: Job) -> None:
    """Gutter and top of curb half a foot from each other, in the crew's own words."""
    up = float(j.rng.choice([0.0, 0.0, 0.3, -0.25]))
    j.fixed = [*j.fixed[:1], (5009.6, 2038.0, 95.40, "GUTTER FL"), (5009.2, 2038.0, 95.90, "TOP OF CURB")]
    j.lay()
    words = {
        "GUTTER FL": j.rng.choice(["FL", "GUTTER", "FLOWLINE", "GUTTER FL"]),
        "TOP OF CURB": j.rng.choice(["TC", "TOP CURB", "T/C", "TOP OF CURB"]),
    }
    for shot in j.shots:
        shot[4] = str(words.get(shot[4], shot[4]))
        shot[3] += up
        if shot[0] is None:
            shot[1] += float(j.rng.uniform(-0.2, 0.2))
            shot[2] += float(j.rng.uniform(-0.2, 0.2))


def good_other_names(j: Job) -> None:
    """Fittings shot under other words."""
    j.lay()
    words = {
        "WYE-1": ["Y", "JUNCTION", "LATERAL", "INV"],
        "CO-1": ["RISER", "INV", "CLEAN OUT", "STACK"],
        "DS START": ["END", "INV", "DOWNSPOUT"],
    }
    for shot in j.shots:
        if shot[4] in words:
            shot[4] = str(j.rng.choice(words[shot[4]]))


def good_swapped(j: Job) -> None:
    j.lay()
    for shot in j.shots:
        shot[1], shot[2] = shot[2], shot[1]


def good_datum(j: Job) -> None:
    up = float(j.rng.choice([-1, 1]) * j.rng.uniform(0.1, 2.0))
    j.lay()
    for shot in j.shots:
        shot[3] += up


def good_bells(j: Job) -> None:
    size, bell = [("4", BELL4), ("6", BELL6)][int(j.rng.integers(2))]
    j.options = {"size": size, "on": "bell"}
    j.off = lambda _: bell
    j.lay()
    _bells(j)


def good_cap(j: Job) -> None:
    """The cleanout's cap shot, and the pipe beside it."""
    j.lay()
    j.shots.append([60.0, *j.place(60.0), j.invert(60.0) + float(j.rng.uniform(1.2, 2.5)), "CO-1 CAP"])


def good_one_mirror(j: Job) -> None:
    """The whole list, fixed objects and all, a mirror image."""
    j.bend = 0.38
    j.lay()
    for shot in j.shots:
        shot[2] = 4100 - shot[2]


BAD = [one for name, one in sorted(globals().items()) if name.startswith("bad_")]
GOOD = [one for name, one in sorted(globals().items()) if name.startswith("good_")]


def lists(count: int, kinds: list, seed: int = 20260503) -> Iterator[tuple[str, Job]]:
    """`count` jobs, the kinds in turn."""
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        kind = kinds[i % len(kinds)]
        made = job(rng)
        kind(made)
        yield kind.__name__, made


def judged(made: Job, folder: Path) -> dict:
    """What the product says of a job."""
    from siteplan.laid.asbuilt_text import asbuilt_as_json
    from siteplan.laid.asbuilt_typed import checked_from_typed

    plan, shots = folder / "plan.csv", folder / "shots.csv"
    plan.write_text(made.plan(), encoding="utf-8")
    shots.write_text(made.text(), encoding="utf-8")
    typed = {"plan": str(plan), "shots": str(shots), **made.options}
    if made.rods:
        typed |= {"hi": f"{HI:.2f}", "on": "invert"}
    design, result = checked_from_typed(typed)
    return json.loads(asbuilt_as_json(result, design))


def main(count: int) -> None:
    """Print one line for each kind."""
    with tempfile.TemporaryDirectory() as folder:
        for title, kinds in (("bad", BAD), ("good", GOOD)):
            told: dict[str, dict[str, int]] = {}
            for kind, made in lists(count, kinds):
                one = told.setdefault(kind, {})
                verdict = judged(made, Path(folder))["verdict"]
                one[verdict] = one.get(verdict, 0) + 1
            wrong = {"bad": ("accept", "fix-paper"), "good": ("re-dig",)}[title]
            for kind, one in told.items():
                sys.stdout.write(f"{kind:22} {one}\n")
            sys.stdout.write(
                f"{title}: {sum(one.get(v, 0) for one in told.values() for v in wrong)} of {count} wrong "
                f"({', '.join(wrong)}); "
                f"cannot tell {sum(one.get('cannot-tell', 0) for one in told.values())}\n"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
