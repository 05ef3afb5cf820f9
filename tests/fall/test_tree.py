"""Lines that join: the highest inverts are the linear programme's over the whole tree; wyes are kept."""

import numpy as np
import pytest
from scipy.optimize import linprog

from siteplan.fall.band import LEGAL, Band, Profile, Shortfall, invert_at, worst_breach
from siteplan.fall.highest import highest_profile
from siteplan.fall.tree import pinched, settle

FREE = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


def lp_tree(bands, joins, grade, grade_max, extra):
    """Greatest sum of areas under all lines with every branch ending at or above its trunk; None when impossible."""
    columns, weights, bounds, rows, limits = {}, [], [], [], []
    for line, band in bands.items():
        wyes = [station for trunk, station in joins.values() if trunk == line]
        at = np.sort(np.concatenate((np.union1d(np.union1d(band.station, extra.get(line, [])), wyes), wyes)))
        top, low = np.interp(at, band.station, band.ceiling), np.interp(at, band.station, band.floor)
        first = len(weights)
        # At a wye two samples: the lower takes the branch, a drop may stand between them.
        columns[line] = {float(s): first + k for k, s in reversed(list(enumerate(at)))}
        weight = np.zeros(at.size)
        weight[:-1] += np.diff(at) / 2
        weight[1:] += np.diff(at) / 2
        weights += weight.tolist()
        bounds += list(zip(low, top, strict=True))
        for k in range(at.size - 1):
            rows.append({first + k: 1.0, first + k + 1: -1.0})
            limits.append(-grade * (at[k + 1] - at[k]))
            if grade_max is not None:
                rows.append({first + k: -1.0, first + k + 1: 1.0})
                limits.append(grade_max * (at[k + 1] - at[k]))
    for line, (trunk, station) in joins.items():
        rows.append({columns[trunk][station]: 1.0, columns[line][0.0]: -1.0})
        limits.append(0.0)
    if any(low > top for low, top in bounds):
        return None
    matrix = np.zeros((len(rows), len(weights)))
    for number, row in enumerate(rows):
        for column, value in row.items():
            matrix[number, column] = value
    best = linprog(-np.array(weights), A_ub=matrix, b_ub=limits, bounds=bounds, method="highs", options=FREE)
    return -best.fun if best.status == 0 else None


def tree(rng):
    """Three or four lines: one or two branches on a trunk, one branch with a branch of its own."""
    bands = {}
    for line in ("main", "east", "west", "far"):
        length = float(rng.integers(8, 25))
        station = np.linspace(0, length, int(rng.integers(4, 9)))
        base = {"main": 5.0, "east": 5.15, "west": 5.15, "far": 5.3}[line]
        ceiling = base + 0.3 + 0.012 * station + rng.normal(0, 0.06, station.size)
        bands[line] = Band(station=station, ceiling=ceiling, floor=ceiling - rng.uniform(0.15, 0.6))
    joins = {
        "east": ("main", float(np.round(rng.uniform(1, bands["main"].length), 2))),
        "west": ("main", float(bands["main"].station[-2])),
        "far": ("east", float(np.round(rng.uniform(1, bands["east"].length), 2))),
    }
    return bands, joins


@pytest.mark.parametrize("grade_max", [None, 0.04])
def test_settled_trees_dig_what_the_linear_programme_digs(grade_max):
    rng = np.random.default_rng(13)
    legal = impossible = 0
    for _ in range(60):
        bands, joins = tree(rng)
        settled = settle(bands, joins, grade=0.01, grade_max=grade_max)
        assert list(settled) == list(bands)
        whole = all(isinstance(result, Profile) for result in settled.values())
        extra = {line: result.station for line, result in settled.items() if isinstance(result, Profile)}
        area = lp_tree(bands, joins, 0.01, grade_max, extra)
        if not whole:
            assert area is None
            impossible += 1
            continue
        legal += 1
        assert sum(np.trapezoid(p.invert, p.station) for p in settled.values()) == pytest.approx(area, abs=1e-6)
        for line, profile in settled.items():
            assert worst_breach(profile, bands[line], grade=0.01, grade_max=grade_max) <= LEGAL
        few = settle(
            bands, joins, grade=0.01, grade_max=grade_max, breaks={line: b.station for line, b in bands.items()}
        )
        for line, profile in few.items():
            assert worst_breach(profile, bands[line], grade=0.01, grade_max=grade_max) <= LEGAL
            assert profile.runs <= settled[line].runs
        for line, (trunk, station) in joins.items():
            for lines in (settled, few):
                assert lines[line].invert[0] >= invert_at(lines[trunk], [station])[0] - LEGAL
    assert legal >= 15
    assert impossible >= 5


def level(length, ceiling, floor):
    return Band(station=[0, length], ceiling=[ceiling, ceiling], floor=[floor, floor])


def test_a_low_branch_lowers_the_trunk_at_the_wye_and_no_further_up():
    bands = {"main": level(20, 6.0, 4.0), "side": Band(station=[0, 10], ceiling=[6.0, 5.5], floor=[4.0, 4.0])}
    settled = settle(bands, {"side": ("main", 8.0)}, grade=0.01)
    assert settled["side"].invert.tolist() == pytest.approx([5.4, 5.5])
    assert invert_at(settled["main"], [0, 8]).tolist() == pytest.approx([5.32, 5.4])
    assert invert_at(settled["main"], [8, 20], side="upper").tolist() == pytest.approx([5.88, 6.0])


def test_a_trunk_that_does_not_fit_with_what_arrives_takes_its_branches_with_it():
    bands = {
        "main": Band(station=[0, 20], ceiling=[6.0, 6.0], floor=[5.5, 4.0]),
        "side": level(10, 6.0, 4.0),
        "twig": Band(station=[0, 10], ceiling=[6.0, 5.6], floor=[4.0, 4.0]),
    }
    settled = settle(bands, {"side": ("main", 8.0), "twig": ("side", 5.0)}, grade=0.01)
    # 5.6 at the twig's start, 10 + 5 + 8 m down at 1 %: 5.37 under a control of 5.5
    assert settled["main"].missing == pytest.approx(0.13)
    assert settled["side"] == settled["twig"] == settled["main"]
    without = settle({"main": bands["main"], "side": bands["side"]}, {"side": ("main", 8.0)}, grade=0.01)
    assert all(isinstance(profile, Profile) for profile in without.values())


def test_a_branch_that_fails_by_itself_lowers_nobody():
    bands = {"main": level(20, 6.0, 5.7), "side": level(10, 4.0, 4.5)}
    settled = settle(bands, {"side": ("main", 8.0)}, grade=0.01)
    assert isinstance(settled["side"], Shortfall)
    alone = highest_profile(bands["main"], grade=0.01)
    assert settled["main"].invert.tolist() == alone.invert.tolist()


@pytest.mark.parametrize(
    ("joins", "message"),
    [
        ({"side": ("main", 8.0), "main": ("side", 2.0)}, "circle"),
        ({"side": ("nowhere", 8.0)}, "no band"),
        ({"side": ("main", 21.0)}, "off a line"),
    ],
)
def test_joins_that_make_no_tree_are_refused(joins, message):
    with pytest.raises(ValueError, match=message):
        settle({"main": level(20, 6.0, 4.0), "side": level(10, 5.5, 4.0)}, joins, grade=0.01)


def test_pinching_at_samples_jumps_and_ends():
    band = Band(station=[0, 10, 10, 20], ceiling=[5.0, 5.0, 6.0, 6.0], floor=[3.0, 3.0, 4.0, 4.0])
    assert pinched(band, 15.0, 7.0) is band
    for station, ceiling in ((15.0, 5.5), (10.0, 4.5), (0.0, 4.4), (20.0, 4.6)):
        narrow = pinched(band, station, ceiling)
        profile = highest_profile(narrow, grade=0.0)
        assert invert_at(profile, [station])[0] == pytest.approx(ceiling)
        assert narrow.control == 3.0
        for other in (2.5, 12.5, 17.5):
            free = invert_at(highest_profile(band, grade=0.0), [other])[0]
            assert invert_at(profile, [other])[0] == pytest.approx(free if other > station else min(free, ceiling))
