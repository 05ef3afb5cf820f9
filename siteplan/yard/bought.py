"""A layout in; the same lines with margins to their limits and grades that a crew sets, each at its price, out.

Each limit has a target: the limit, and what the doubt of survey or setting-out asks for the certainty wanted. Margins
are held where there is fall for them and where they are worth their price. Where not, they are given up in this order:
whole steps of grade first, then the margin of grade, of the outlet, of lines that cross, and last that of cover.
docs/margins.md says why.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np

from siteplan.books import rules
from siteplan.books.practice import FEWER_GRADES, MARGIN_WORTH, READING_SPREAD, SET_GRADE_FEET, SET_GRADE_METRES
from siteplan.fall.band import Band, Profile, invert_at
from siteplan.fall.margins import grade_margin, margin_for, off_the_ceiling
from siteplan.fall.tree import settle
from siteplan.site import Site
from siteplan.values.lines import Margin
from siteplan.values.water_ends import Outlet
from siteplan.yard.apart import SLACK, between, clashes, crossed
from siteplan.yard.costs import trench_cost
from siteplan.yard.trees import WITHIN, Limit, Tree, TreeBands, YardScene, carries, tree_bands

Wanted = Literal["grade", "outlet", "clearance", "cover"]
GIVEN_UP: tuple[Wanted, ...] = ("grade", "outlet", "clearance", "cover")  # the first goes first
_RULE: Mapping[Wanted, str] = {
    "grade": rules.MIN_GRADE.id,
    "outlet": rules.OUTLET_CONTROL.id,
    "clearance": rules.LINES_CROSS.id,
    "cover": rules.MIN_COVER.id,
}
_HELD = 1e-6  # m
_STEP = 1e-6  # of a step: a grade this near to a whole number of them is one


class _Option(NamedTuple):
    """Inverts of a tree and what each of its lines costs with them, grades to set counted."""

    profiles: tuple[Profile, ...]
    costs: tuple[float, ...]
    runs: int
    steep: bool  # a line is steeper than the rules ask for, for its flow
    way: tuple[
        float | None, float
    ]  # the step of its grades, and the depth under the least digging in which they were looked for

    @property
    def cost(self) -> float:
        return round(sum(self.costs), 6)


def with_margins(scene: YardScene, trees: Sequence[Tree]) -> list[Tree]:
    """Trees with their margins bought.

    Parameters
    ----------
    scene : YardScene
        The yard.
    trees : sequence of Tree
        The layout, lines that cross parted.

    Returns
    -------
    list of Tree
        Lines that a person drew, and those that have their margins, stay as they are; so do all where the new inverts
        would bring lines that cross nearer.
    """
    now = list(trees)
    for t, tree in enumerate(trees):
        if not tree.bought and not any(one.drawn for one in tree.laid):
            now[t] = _with_margins(scene, now, t)
    return now if clashes(scene, now) <= clashes(scene, trees) else list(trees)


def set_grade(site: Site) -> float:
    """The step of grades that a crew sets on a site.

    Parameters
    ----------
    site : Site
        For its unit.

    Returns
    -------
    float
        [-]
    """
    return float(SET_GRADE_METRES if site.length_unit == "m" else SET_GRADE_FEET)


def outlet_doubt(site: Site, outlet: Outlet) -> float:
    """One standard deviation of an outlet's height: the ground's, or a shot's where the site gives its invert.

    Parameters
    ----------
    site : Site
        For its accuracy and its shots.
    outlet : Outlet
        The outlet.

    Returns
    -------
    float
        [m]
    """
    return site.accuracy if outlet.invert is None else min([one.accuracy for one in site.shots] or [site.accuracy])


def _with_margins(scene: YardScene, trees: Sequence[Tree], t: int) -> Tree:
    tree, certainty = trees[t], scene.site.laying.certainty
    limits = _limits(scene, trees, t)
    if limits is None:
        return tree
    of_tree = _Settling(scene, tree, limits)
    wanted: set[Wanted] = set(GIVEN_UP) if certainty > 0.5 else set()
    if not any(limits.values()):
        wanted.discard("clearance")
    dear: set[Wanted] = set()
    left = [one for one in GIVEN_UP if one in wanted]
    chosen = of_tree.settled(wanted)
    gone: list[Wanted] = []
    while chosen is None and left:
        gone.append(left.pop(0))
        wanted.discard(gone[-1])
        chosen = of_tree.settled(wanted)
    if chosen is None:
        return tree
    for one in reversed(gone[:-1]):  # what went first may be held where only the next could not be
        again = of_tree.settled(wanted | {one})
        if again is not None:
            chosen, wanted = again, wanted | {one}
    saved: dict[Wanted, tuple[float, ...]] = {}
    for one in [one for one in GIVEN_UP if one in wanted]:
        without = of_tree.settled(wanted - {one}, (chosen.way,))
        if without is None:
            continue
        if chosen.cost - without.cost > MARGIN_WORTH * chosen.cost:
            chosen, dear = without, dear | {one}
            wanted.discard(one)
            continue
        saved[one] = tuple(max(0.0, a - b) for a, b in zip(chosen.costs, without.costs, strict=True))
    bought = tuple(
        tuple(
            Margin(
                rule=_RULE[one],
                held=0.0,
                asked=0.0,
                cost=saved[one][k] if one in saved else 0.0,
                station=None,
                short_of="price" if one in dear else "flow" if chosen.steep else None,
            )
            for one in GIVEN_UP
        )
        for k in range(len(tree.laid))
    )
    return replace(tree, profiles=chosen.profiles, bought=bought)


def _limits(scene: YardScene, trees: Sequence[Tree], t: int) -> dict[int, list[tuple[float, float, bool]]] | None:
    """By number of a line.

    Station, height from the other's invert and whether it lies under it, where it crosses lines of other trees.

    None where its inverts cannot be moved by themselves: lines of one tree that cross, or that run beside others.
    """
    found: dict[int, list[tuple[float, float, bool]]] = {}
    for c in crossed(scene, trees):
        if t not in {c.one[0], c.other[0]}:
            continue
        if c.one[0] == c.other[0] or not c.meet or c.clear < scene.terms.apart - SLACK:
            return None
        mine = c.one[0] == t
        k = c.one[1] if mine else c.other[1]
        at, here, there = (
            (c.at_one, c.invert_one, c.invert_other) if mine else (c.at_other, c.invert_other, c.invert_one)
        )
        found.setdefault(k, []).append((at, there, here < there))
    return found


class _Settling(NamedTuple):
    """A tree whose inverts are settled with one or another set of margins."""

    scene: YardScene
    tree: Tree
    limits: Mapping[int, Sequence[tuple[float, float, bool]]]

    def settled(self, wanted: set[Wanted], ways: Sequence[tuple[float | None, float]] | None = None) -> _Option | None:
        """The cheapest inverts that hold what is wanted, fewer grades where they cost little more; None.

        There are none.

        `ways` are the steps of grade and depths tried, all of them when absent.
        """
        scene, tree, certainty = self.scene, self.tree, self.scene.site.laying.certainty
        apart = between(scene) + scene.terms.apart + SLACK / 2
        if "clearance" in wanted:
            apart += margin_for(READING_SPREAD, certainty)
        asked = tree_bands(
            scene,
            tree.laid,
            tree.outlet,
            {
                k: [
                    Limit(at, z - apart, -math.inf) if under else Limit(at, math.inf, z + apart)
                    for at, z, under in each
                ]
                for k, each in self.limits.items()
            },
        )
        margin = margin_for(scene.site.accuracy, certainty) if "cover" in wanted else 0.0
        arrive = margin_for(outlet_doubt(scene.site, tree.outlet), certainty) if "outlet" in wanted else 0.0
        steepest = self._steepest()
        tried = ways or tuple(itertools.product((set_grade(scene.site), None), WITHIN))
        for least in self._least_grades():
            bands = off_the_ceiling(asked.bands, asked.joins, grade=least, margin=margin)
            grades = self._grades(bands, asked.joins, steepest, least, raised="grade" in wanted)
            found = None if grades is None else self._cheapest(asked, bands, grades, steepest, arrive, tried)
            if found is not None:
                return found._replace(steep=max(least.values()) > scene.terms.grade)
        return None

    def _least_grades(self) -> list[dict[str, float]]:
        """The least grade of the rules for all lines.

        Then, where one is too flat for its flow in its size, what that asks of it, and of all.
        """
        asked = self.scene.terms.grade
        own = {str(k): max(asked, one.grade) for k, one in enumerate(self.tree.laid)}
        found: list[dict[str, float]] = []
        for grades in (dict.fromkeys(own, asked), own, dict.fromkeys(own, max(own.values()))):
            if grades not in found:
                found.append(grades)
        return found

    def _steepest(self) -> float | None:
        """The greatest grade, or that of a drop where the line as it is passes it."""
        worst = max(float(_grades_of(profile).max()) for profile in self.tree.profiles)
        most = self.scene.terms.grade_max
        return most if most is None or worst <= most + _STEP else self.scene.terms.drop

    def _grades(
        self,
        bands: Mapping[str, Band],
        joins: Mapping[str, tuple[str, float]],
        steepest: float | None,
        least: Mapping[str, float],
        *,
        raised: bool,
    ) -> dict[str, float] | None:
        """Least grade of each line, with its margin where the fall bears it.

        None where there is not even the least grade.
        """
        grades = dict(least)
        if raised:
            certainty, rules_own = self.scene.site.laying.certainty, self.scene.terms.grade
            for key, band in bands.items():
                wanted = max(least[key], rules_own + grade_margin(band.length, certainty))
                grades[key] = wanted if steepest is None else min(wanted, max(steepest, least[key]))
        for _ in range(len(bands) + 2):
            settled = settle(bands, joins, grade=grades, grade_max=steepest)
            short = [key for key, profile in settled.items() if not isinstance(profile, Profile)]
            if not short:
                return grades
            raised_still = [key for key in grades if grades[key] > least[key]]
            if not raised_still:
                return None
            for key in [key for key in raised_still if key in short] or raised_still:
                grades[key] = least[key]
        return None

    def _cheapest(
        self,
        asked: TreeBands,
        bands: Mapping[str, Band],
        grades: Mapping[str, float],
        steepest: float | None,
        arrive: float,
        ways: Sequence[tuple[float | None, float]],
    ) -> _Option | None:
        highest = settle(bands, asked.joins, grade=grades, grade_max=steepest)
        options: list[_Option] = []
        for step, within in ways:
            held = {}
            for key, band in bands.items():
                top = highest[key]
                assert isinstance(top, Profile)
                low = np.minimum(invert_at(top, band.station) - within, band.ceiling)
                held[key] = replace(band, floor=np.maximum(band.floor, low))
            settled = settle(
                held,
                asked.joins,
                grade=grades,
                grade_max=steepest,
                breaks=asked.breaks,
                elsewhere=within == WITHIN[0],
                step=step,
                arrive=arrive,
            )
            profiles = tuple(profile for profile in settled.values() if isinstance(profile, Profile))
            if len(profiles) == len(bands) and self._arrives(profiles[0], arrive) and self._carry(profiles):
                options.append(self._option(profiles, (step, within)))
        if not options:
            return None
        cheapest = min(options, key=lambda option: option.cost)
        most = cheapest.cost * (1 + FEWER_GRADES)
        return min((o for o in options if o.cost <= most), key=lambda option: (option.runs, option.cost))

    def _carry(self, profiles: tuple[Profile, ...]) -> bool:
        """Whether every run carries its water in its line's size, where it does so now."""
        return carries(self.scene, replace(self.tree, profiles=profiles)) or not carries(self.scene, self.tree)

    def _arrives(self, trunk: Profile, arrive: float) -> bool:
        """Whether the outlet could lie so much higher with the run that ends there still at the least grade."""
        up = float(trunk.invert[1] - self.scene.terms.grade * trunk.station[1])
        return arrive <= 0 or up >= self.tree.outlet.control + arrive - _HELD

    def _option(self, profiles: tuple[Profile, ...], way: tuple[float | None, float]) -> _Option:
        step, price = set_grade(self.scene.site), self.scene.prices.grade_break
        costs, runs = [], 0
        for one, profile in zip(self.tree.laid, profiles, strict=True):
            grades = _grades_of(profile) / step
            odd = int(np.count_nonzero(np.abs(grades - np.round(grades)) > _STEP))
            runs += len(grades)
            costs.append(trench_cost(self.scene, one, profile) + price * (len(grades) + odd))
        return _Option(profiles, tuple(costs), runs, steep=False, way=way)


def _grades_of(profile: Profile) -> np.ndarray:
    run, rise = np.diff(profile.station), np.diff(profile.invert)
    return np.asarray(rise[run > 0] / run[run > 0])
