"""Linear programmes and brute force that say what the fall room should have found, and bands to ask about."""

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.sparse import coo_matrix

from siteplan.fall.band import Band

TIGHT = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


def closed_samples(band, extra=()):
    """Samples (station, ceiling, floor) in plain python: at a jump one between its sides where both limits hold."""
    rows = []
    groups = {}
    for s, c, f in zip(band.station.tolist(), band.ceiling.tolist(), band.floor.tolist(), strict=True):
        groups.setdefault(s, []).append((c, f))
    stations = sorted(groups)
    for s in stations:
        both = (min(c for c, _ in groups[s]), max(f for _, f in groups[s]))
        if len(groups[s]) == 1:
            rows.append((s, *both))
            continue
        if s > 0:
            rows.append((s, *groups[s][0]))
        rows.append((s, *both))
        if s < stations[-1]:
            rows.append((s, *groups[s][-1]))
    for e in extra:
        if e in groups:
            continue
        place = next(i for i, row in enumerate(rows) if row[0] > e)
        (s0, c0, f0), (s1, c1, f1) = rows[place - 1], rows[place]
        share = (e - s0) / (s1 - s0)
        rows.insert(place, (e, c0 + (c1 - c0) * share, f0 + (f1 - f0) * share))
    return np.array(rows).T


def rows_matrix(entries, width):
    if not entries:
        return coo_matrix((0, width))
    rows, columns, values = [], [], []
    for number, entry in enumerate(entries):
        for column, value in entry:
            rows.append(number)
            columns.append(column)
            values.append(value)
    return coo_matrix((values, (rows, columns)), shape=(len(entries), width))


@pytest.fixture
def lp_highest():
    """(area under the highest legal profile, least slack of the floors) by linear programme; one is None."""

    def solve(band, grade, grade_max, extra=()):
        s, c, f = closed_samples(band, extra)
        n = s.size
        entries, limits = [], []
        for i in range(n - 1):
            step = s[i + 1] - s[i]
            entries.append([(i, 1.0), (i + 1, -1.0)])
            limits.append(-grade * step)
            if grade_max is not None:
                entries.append([(i + 1, 1.0), (i, -1.0)])
                limits.append(grade_max * step)
        weight = np.zeros(n)
        weight[:-1] += np.diff(s) / 2
        weight[1:] += np.diff(s) / 2
        if (f <= c).all():
            bounds = np.column_stack((f, c))
            best = linprog(
                -weight, A_ub=rows_matrix(entries, n), b_ub=limits, bounds=bounds, method="highs", options=TIGHT
            )
            if best.status == 0:
                return -best.fun, None
        floors = [[(i, -1.0), (n, -1.0)] for i in range(n)]
        bounds = [(None, top) for top in c] + [(0, None)]
        slack = linprog(
            np.append(np.zeros(n), 1.0),
            A_ub=rows_matrix(entries + floors, n + 1),
            b_ub=np.concatenate((limits, -f)),
            bounds=bounds,
            method="highs",
            options=TIGHT,
        )
        assert slack.status == 0
        return None, slack.fun

    return solve


@pytest.fixture
def lp_grades():
    """(fewest runs, greatest area under the profile) over all subsets of breaks, each by linear programme."""
    from itertools import combinations

    def solve(band, grade, grade_max, breaks, *, most=99):
        inner = sorted({b for b in breaks if 0 < b < band.length})
        s, c, f = closed_samples(band, inner)
        for count in range(min(len(inner), most - 1) + 1):
            found = None
            for chosen in combinations(inner, count):
                knots = np.array([0.0, *chosen, band.length])
                k = knots.size
                entries, limits = [], []
                for at, top, low in zip(s, c, f, strict=True):
                    j = min(int(np.searchsorted(knots, at, side="right")) - 1, k - 2)
                    share = (at - knots[j]) / (knots[j + 1] - knots[j])
                    entries += [[(j, 1 - share), (j + 1, share)], [(j, share - 1), (j + 1, -share)]]
                    limits += [top, -low]
                for j in range(k - 1):
                    entries.append([(j, 1.0), (j + 1, -1.0)])
                    limits.append(-grade * (knots[j + 1] - knots[j]))
                    if grade_max is not None:
                        entries.append([(j + 1, 1.0), (j, -1.0)])
                        limits.append(grade_max * (knots[j + 1] - knots[j]))
                weight = np.zeros(k)
                weight[:-1] += np.diff(knots) / 2
                weight[1:] += np.diff(knots) / 2
                best = linprog(
                    -weight,
                    A_ub=rows_matrix(entries, k),
                    b_ub=limits,
                    bounds=[(None, None)] * k,
                    method="highs",
                    options=TIGHT,
                )
                if best.status == 0 and (found is None or -best.fun > found):
                    found = -best.fun
            if found is not None:
                return count + 1, found
        return None, None

    return solve


@pytest.fixture
def random_band():
    """A band over rough ground with a zone at the outlet, sometimes with jumps; tight ones and wide ones."""

    def draw(rng, samples, *, jumps=True, room=1.0):
        length = rng.uniform(8, 40)
        station = np.concatenate(([0.0], np.sort(rng.uniform(0, length, samples - 2)), [length]))
        ground = 30 + station * rng.uniform(-0.005, 0.04) + rng.normal(0, rng.choice([0.0, 0.03, 0.1]), samples)
        cover, depth = 0.4, 0.4 + room * rng.uniform(0.1, 0.8)
        ceiling, floor = ground - cover, ground - depth
        floor[0] = ground[0] - rng.uniform(0.2, 0.7)
        ceiling[station < rng.uniform(0, 5)] += 0.3
        if jumps and samples > 6 and rng.random() < 0.7:
            twice = np.sort(rng.choice(np.arange(1, samples - 1), 2, replace=False))
            station, ceiling, floor = (np.insert(x, twice, x[twice]) for x in (station, ceiling, floor))
            ceiling[twice[0] + 1 : twice[1] + 1] -= rng.uniform(0, 0.15)
            if rng.random() < 0.3:
                floor[twice[0] + 1 : twice[1] + 1] += rng.uniform(0, 0.1)
        return Band(station=station, ceiling=ceiling, floor=floor)

    return draw


@pytest.fixture
def plainly_legal():
    """Worst breach of a profile by dense sampling in plain arithmetic that shares nothing with the room's."""

    def look(profile, band, grade, grade_max):
        s, z = profile.station.tolist(), profile.invert.tolist()
        worst = 0.0
        for i in range(len(s) - 1):
            run, rise = s[i + 1] - s[i], z[i + 1] - z[i]
            worst = max(worst, grade * run - rise)
            if grade_max is not None:
                worst = max(worst, rise - grade_max * run)
        bs = band.station.tolist()
        for k in range(len(bs) - 1):
            if bs[k + 1] == bs[k]:
                continue
            for part in (1e-9, 0.1, 0.25, 0.5, 0.75, 0.9, 1 - 1e-9):
                t = bs[k] + (bs[k + 1] - bs[k]) * part
                top = band.ceiling[k] + (band.ceiling[k + 1] - band.ceiling[k]) * part
                low = band.floor[k] + (band.floor[k + 1] - band.floor[k]) * part
                for i in range(len(s) - 1):
                    if s[i] <= t <= s[i + 1] and s[i + 1] > s[i]:
                        here = z[i] + (z[i + 1] - z[i]) * (t - s[i]) / (s[i + 1] - s[i])
                        worst = max(worst, here - top, low - here)
        return worst

    return look
