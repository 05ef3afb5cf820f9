"""The beam on ground that only pushes: closed forms, two other methods, and the laws it must keep."""

import math

import numpy as np
import pytest
from closed_forms import rock_under, step_moment, step_slope
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import solve_banded

from siteplan import units as u
from siteplan.bedding.beam import UnsettledError, bent_line, characteristic, line_mesh, solve_beam

IN, FT, PSI, LBF, EI = u.INCH, u.FOOT, u.PSI, u.POUND_FORCE, u.POUND_INCH2
STIFF, LIMP = 2.893e6 * EI, 200 * EI  # 4 in solid wall at once; single-wall corrugated after 50 years
LOAD = 6.25 * LBF / IN
LONG = 60 * FT


def _statics(bent, load, points=()):
    """Reactions at both ends and the moment at every node, from the loads.

    The ground's push and the end moments alone.
    """
    weights = np.diff(bent.at)[:, None] * np.array([5, 8, 5]) / 18
    at = [*bent.ground_at.ravel(), *(place for place, _ in points)]
    net = [*((load - bent.ground) * weights).ravel(), *(force for _, force in points)]
    at, net, length = np.array(at), np.array(net), bent.at[-1]
    first = (bent.moment[-1] - bent.moment[0] + net @ (length - at)) / length
    arm = np.maximum(bent.at[:, None] - at, 0.0)
    return (first, net.sum() - first), bent.moment[0] + first * bent.at - arm @ net


@pytest.mark.parametrize(
    ("ends", "sag", "middle", "at_end"),
    [
        (("pinned", "pinned"), 5 / 384, 1 / 8, 0.0),
        (("fixed", "fixed"), 1 / 384, 1 / 24, -1 / 12),
        (("guided", "pinned"), 5 / 24, None, 1 / 2),  # half of a simple beam of twice the span
        (("free", "fixed"), 1 / 8, None, 0.0),
    ],
)
def test_spans_in_air(ends, sag, middle, at_end):
    span = 10 * FT
    bent = bent_line(span, bending=STIFF, modulus=0.0, load=LOAD, ends=ends, breaks=[span / 2])
    assert bent.sag.max() == pytest.approx(sag * LOAD * span**4 / STIFF, rel=1e-4)
    assert bent.moment[0] == pytest.approx(at_end * LOAD * span**2, rel=1e-4, abs=1e-3)
    if middle is not None:
        place = int(np.argmin(np.abs(bent.at - span / 2)))
        assert bent.moment[place] == pytest.approx(middle * LOAD * span**2, rel=1e-4)
    assert bent.moment == pytest.approx(_statics(bent, LOAD)[1], abs=1e-6 * LOAD * span**2)


def test_point_load_on_endless_ground():
    k, force = 200 * PSI, 1000 * LBF
    lam = characteristic(STIFF, k)
    bent = bent_line(
        LONG, bending=STIFF, modulus=k, load=0.0, points=[(LONG / 2, force)], ends=("free", "free"), pull=True
    )
    x = np.abs(bent.at - LONG / 2)
    shape = np.exp(-lam * x)
    near = lam * x < 3
    sag = force * lam / (2 * k) * shape * (np.cos(lam * x) + np.sin(lam * x))
    moment = force / (4 * lam) * shape * (np.cos(lam * x) - np.sin(lam * x))
    assert np.max(np.abs(bent.sag - sag)[near]) < 0.005 * sag.max()
    assert np.max(np.abs(bent.moment - moment)[near]) < 0.005 * moment.max()


def test_even_load_on_a_patch_of_endless_ground():
    k, half = 200 * PSI, 20 * IN
    lam = characteristic(STIFF, k)
    a, b = LONG / 2 - half, LONG / 2 + half
    bent = bent_line(
        LONG,
        bending=STIFF,
        modulus=k,
        load=lambda x: np.where((x > a) & (x < b), LOAD, 0),
        ends=("free", "free"),
        breaks=[a, LONG / 2, b],
        pull=True,
    )
    middle = int(np.argmin(np.abs(bent.at - LONG / 2)))
    fade = math.exp(-lam * half)
    assert bent.sag[middle] == pytest.approx(LOAD / k * (1 - fade * math.cos(lam * half)), rel=0.005)
    assert bent.moment[middle] == pytest.approx(LOAD / (2 * lam**2) * fade * math.sin(lam * half), rel=0.005)


def test_step_of_the_bed():
    k, step = 2000 * PSI, 1 * IN
    bent = bent_line(
        LONG,
        bending=STIFF,
        modulus=k,
        load=0.0,
        drop=lambda x: np.where(x > LONG / 2, step, 0),
        breaks=[LONG / 2],
        ends=("free", "free"),
        pull=True,
    )
    assert bent.slope.max() == pytest.approx(step_slope(STIFF, k, step), rel=0.005)
    assert np.abs(bent.moment).max() == pytest.approx(step_moment(STIFF, k, step), rel=0.005)
    assert bent.sag[int(np.argmin(np.abs(bent.at - LONG / 2)))] == pytest.approx(step / 2, rel=0.005)


def test_integer_from_a_callable_does_not_truncate():
    spread = bent_line(
        LONG, bending=STIFF, modulus=2000 * PSI, load=lambda x: x * 0 + LOAD, drop=lambda x: np.where(x > LONG, 1, 0)
    )
    middle = int(np.argmin(np.abs(spread.at - LONG / 2)))  # far from the held ends, which make it overshoot beside them
    assert spread.sag[middle] == pytest.approx(LOAD / (2000 * PSI), rel=1e-4)


def test_against_a_symbolic_beam():
    beam_module = pytest.importorskip("sympy.physics.continuum_mechanics.beam")
    sympy = pytest.importorskip("sympy")
    x = sympy.symbols("x")
    r1, m1, r2, m2 = sympy.symbols("R1 M1 R2 M2")
    span, half = sympy.Integer(6), sympy.Integer(2)
    beam = beam_module.Beam(span, sympy.Rational(8000), 1)  # E I = 8000 N m2
    beam.apply_load(r1, 0, -1)
    beam.apply_load(m1, 0, -2)
    beam.apply_load(r2, span, -1)
    beam.apply_load(m2, span, -2)
    beam.apply_load(-300, 0, 0)  # even load down
    beam.apply_load(-900, half, -1)  # point load down
    beam.bc_deflection = [(0, 0), (span, 0)]
    beam.bc_slope = [(0, 0), (span, 0)]
    beam.solve_for_reaction_loads(r1, m1, r2, m2)
    ours = bent_line(6.0, bending=8000.0, modulus=0.0, load=300.0, points=[(2.0, 900.0)])
    ends, _ = _statics(ours, 300.0, [(2.0, 900.0)])
    assert ends == pytest.approx([float(beam.reaction_loads[r]) for r in (r1, r2)], rel=1e-6)
    line, moment = beam.deflection(), beam.bending_moment()
    for place in (0.75, 2.0, 3.3, 5.1):
        n = int(np.argmin(np.abs(ours.at - place)))
        at = float(ours.at[n])
        assert ours.sag[n] == pytest.approx(-float(line.subs(x, at)), rel=1e-4)
        assert ours.moment[n] == pytest.approx(
            -float(moment.subs(x, at - 1e-9)), rel=2e-3, abs=0.5
        )  # hogging is positive there


def _by_differences(bending, modulus, drop, load, length, count):
    """The same line by five-point differences on even nodes, clamped ends, springs dropped in tension.

    A second method.
    """
    x = np.linspace(0, length, count + 1)
    h = length / count
    k, s, q = modulus(x), drop(x), load(x)
    touch = np.ones(count + 1, dtype=bool)
    stiff = bending / h**4
    before = None
    for _ in range(100):
        ka = np.where(touch, k, 0.0)
        band = np.zeros((5, count + 1))
        right = q + ka * s
        for offset, factor in ((-2, 1), (-1, -4), (0, 6), (1, -4), (2, 1)):
            band[2 - offset, max(offset, 0) : count + 1 + min(offset, 0)] = factor * stiff
        band[2] += ka
        band[2, [1, count - 1]] += stiff  # no slope at a clamped end: the node beyond mirrors the one before
        for end, side in ((0, 1), (count, -1)):
            right[end] = 0.0
            band[2, end] = 1.0
            for away in (1, 2):
                band[2 - side * away, end + side * away] = 0.0
        w = solve_banded((2, 2), band, right)
        if before is not None and np.max(np.abs(w - before)) < 1e-6 * np.max(np.abs(w)):
            break
        before, touch = w, w > s
    else:
        pytest.fail("the differences did not settle")
    return x, w


@pytest.mark.parametrize(
    ("bending", "soft", "drop"),
    [(STIFF, 50, 0.0), (0.35 * STIFF, 200, 1.0), (61000 * EI, 20, 0.0), (12200 * EI, 200, 1.0)],
)
def test_against_finite_differences(bending, soft, drop):
    a, b = LONG / 2 - 5 * FT, LONG / 2 + 5 * FT

    def ground(x):
        middle = np.where((x > a) & (x < b), soft, 2000)
        return np.where(np.isclose(x, a) | np.isclose(x, b), (soft + 2000) / 2, middle) * PSI

    def bed(x):  # a smooth bowl, which differences see as well as elements
        return np.where((x > a) & (x < b), drop * IN / 2 * (1 - np.cos(2 * np.pi * (x - a) / (b - a))), 0.0)

    ours = bent_line(LONG, bending=bending, modulus=ground, drop=bed, load=LOAD, breaks=[a, b])
    x, w = _by_differences(bending, ground, bed, lambda x: np.full(x.shape, LOAD), LONG, 2880)
    assert np.max(np.abs(np.interp(ours.at, x, w) - ours.sag)) < 0.005 * ours.sag.max()


def test_finer_elements_change_next_to_nothing():
    a, b = 25 * FT, 35 * FT

    def line(element):
        return bent_line(
            LONG,
            bending=STIFF,
            modulus=lambda x: np.where((x > a) & (x < b), 200, 2000) * PSI,
            drop=lambda x: np.where((x > a) & (x < b), IN, 0.0),
            load=LOAD,
            breaks=[a, b],
            element=element,
        )

    usual, fine = line(None), line(0.01)
    assert usual.sag.max() == pytest.approx(fine.sag.max(), rel=5e-4)
    assert np.abs(usual.moment).max() == pytest.approx(np.abs(fine.moment).max(), rel=0.01)


def test_pipe_that_lifts_off_is_not_held_down():
    """Uplift in the middle of a line.

    Where it rises the ground does not pull, and the line rises more than if it did.
    """
    a, b = 25 * FT, 35 * FT

    def load(x):
        return np.where((x > a) & (x < b), -LOAD, LOAD)

    free = bent_line(LONG, bending=STIFF, modulus=200 * PSI, load=load, breaks=[a, b])
    glued = bent_line(LONG, bending=STIFF, modulus=200 * PSI, load=load, breaks=[a, b], pull=True)
    assert free.ground.min() >= 0
    assert glued.ground.min() < 0
    assert free.sag.min() < glued.sag.min() < 0
    lifted = free.sag < 0
    assert lifted.any()
    off = np.repeat((free.sag[:-1] < 0) & (free.sag[1:] < 0), 3).reshape(free.ground.shape)
    assert np.all(free.ground[off] == 0)


def test_line_over_a_rock_lifts_as_the_closed_form_says():
    """A narrow proud spot on a hard bed against the lift-off beam."""
    middle, half = LONG / 2, 0.25 * IN
    hard = 2e5 * PSI
    bent = bent_line(
        LONG,
        bending=STIFF,
        modulus=hard,
        drop=lambda x: np.where(np.abs(x - middle) < half, -0.5 * IN, 0.0),
        load=LOAD,
        breaks=[middle - half, middle, middle + half],
        element=0.25 * IN,
    )
    known = rock_under(STIFF, LOAD, 0.5 * IN)
    push = bent.ground * np.diff(bent.at)[:, None] * np.array([5, 8, 5]) / 18
    on_rock = float(push[np.abs(bent.ground_at - middle) < half].sum())
    assert on_rock == pytest.approx(known.force, rel=0.03)
    off = bent.at[(bent.at > middle + 2 * IN) & (bent.sag < -1e-6)]
    assert off.max() - middle == pytest.approx(known.reach, rel=0.05)


def test_joint_turns_freely_and_carries_no_moment():
    span = 6.0
    bent = bent_line(span, bending=STIFF, modulus=0.0, load=LOAD, joints=[span / 2])
    middle = int(np.argmin(np.abs(bent.at - span / 2)))
    assert bent.moment[middle] == pytest.approx(0.0, abs=1e-6 * LOAD * span**2)
    assert bent.sag[middle] == pytest.approx(LOAD * (span / 2) ** 4 / (8 * STIFF), rel=1e-4)  # two cantilevers
    ((at, turn),) = bent.turns
    assert at == pytest.approx(span / 2)
    assert turn == pytest.approx(-2 * LOAD * (span / 2) ** 3 / (6 * STIFF), rel=1e-4)


def test_pipe_of_two_kinds_along_a_line():
    a = 5.0
    bent = bent_line(
        10.0,
        bending=lambda x: np.where(x < a, STIFF, 2 * STIFF),
        modulus=0.0,
        load=LOAD,
        breaks=[a],
        ends=("pinned", "pinned"),
    )
    place = int(np.argmax(bent.sag))
    assert bent.at[place] < a  # the softer half sags more
    assert bent.moment.max() == pytest.approx(LOAD * 100 / 8, rel=1e-3)


def test_nothing_holds_the_pipe():
    with pytest.raises(ValueError, match="nothing holds the pipe"):
        bent_line(10.0, bending=STIFF, modulus=0.0, load=LOAD, ends=("free", "free"))


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"bending": 0.0}, "stiffness above 0"),
        ({"modulus": -1.0}, "at or above 0"),
        ({"load": math.nan}, "all finite"),
        ({"joints": [99.0]}, "lies off the line"),
        ({"ends": ("fixed", "loose")}, "fixed, guided, free or pinned"),
    ],
)
def test_what_cannot_be_solved_is_said(change, text):
    given_ = {"bending": STIFF, "modulus": 1e6, "load": LOAD} | change
    with pytest.raises(ValueError, match=text):
        bent_line(10.0, **given_)


def test_mesh_has_every_break_and_no_long_element():
    nodes = line_mesh(10.0, 0.3, [2.5, 7.0, 12.0, 2.5])
    assert {0.0, 2.5, 7.0, 10.0} <= set(nodes.tolist())
    assert np.diff(nodes).max() <= 0.3 + 1e-12
    assert np.all(np.diff(nodes) > 0)
    with pytest.raises(ValueError, match="above 0"):
        line_mesh(0.0, 0.1)


ground_strategy = st.tuples(
    st.floats(0.1, 0.6),  # where the weak stretch begins, share of the line
    st.floats(0.05, 0.35),  # its share
    st.floats(0.0, 300.0),  # psi
    st.floats(-1.0, 3.0),  # in
    st.sampled_from([STIFF, 61000 * EI, 1000 * EI]),
    st.sampled_from([("fixed", "fixed"), ("guided", "pinned"), ("free", "fixed"), ("pinned", "free")]),
    st.floats(-3.0, 8.0),  # load there, lbf/in
    st.booleans(),
)


@settings(max_examples=25, derandomize=True, deadline=None)
@given(ground_strategy)
def test_laws(case):
    """Ground and ends together carry the load; ground never pulls; the energy is a minimum."""
    start, share, soft, drop, bending, ends, there, jointed = case
    length = 12.0
    a, b = start * length, (start + share) * length

    def inside(x):
        return (x > a) & (x < b)

    made = {
        "bending": bending,
        "modulus": lambda x: np.where(inside(x), soft, 2000) * PSI,
        "drop": lambda x: np.where(inside(x), drop * IN, 0.0),
        "load": lambda x: np.where(inside(x), there * LBF / IN, LOAD),
        "breaks": [a, b],
        "ends": ends,
        "joints": [3.0, 6.0, 9.0] if jointed else [],
    }
    bent = bent_line(length, **made)
    forces, moment = _statics(bent, np.where(inside(bent.ground_at), there * LBF / IN, LOAD))
    scale = LOAD * length + float(np.abs(bent.ground).max()) * length
    assert bent.moment == pytest.approx(moment, abs=1e-6 * scale * length)
    assert bent.ground.min() >= 0
    for end, force in zip(ends, forces, strict=True):
        if end in {"free", "guided"}:
            assert force == pytest.approx(0.0, abs=1e-6 * scale)
    for n, end in ((0, ends[0]), (-1, ends[1])):
        if end in {"fixed", "pinned"}:
            assert bent.sag[n] == pytest.approx(0.0, abs=1e-12)
        if end in {"fixed", "guided"}:
            assert bent.slope[n].tolist() == pytest.approx([0.0, 0.0], abs=1e-12)
        if end in {"free", "pinned"}:
            assert bent.moment[n] == pytest.approx(0.0, abs=1e-5 * np.abs(bent.moment).max() + 1e-6)
    # work of the load on the settled line equals what pipe and ground took up, twice over: Clapeyron with the bed at
    # rest
    weights = np.diff(bent.at)[:, None] * np.array([5, 8, 5]) / 18
    sag = np.interp(bent.ground_at, bent.at, bent.sag)
    load = np.where(inside(bent.ground_at), there * LBF / IN, LOAD)
    work = float(np.sum((load - bent.ground) * sag * weights))
    stored = float(np.trapezoid(bent.moment**2 / bending, bent.at))
    assert work == pytest.approx(stored, rel=0.03, abs=1e-3)


@settings(max_examples=15, derandomize=True, deadline=None)
@given(st.floats(0.5, 2.0), st.floats(0.0, 2.0))
def test_a_stiffer_ground_never_sinks_more(factor, drop):
    a, b = 4.0, 7.0

    def deepest(soft):
        bent = bent_line(
            12.0,
            bending=STIFF,
            modulus=lambda x: np.where((x > a) & (x < b), soft, 2000) * PSI,
            drop=lambda x: np.where((x > a) & (x < b), drop * IN, 0.0),
            load=LOAD,
            breaks=[a, b],
        )
        return bent.sag[int(np.argmin(np.abs(bent.at - 5.5)))]

    soft = 100 * factor
    assert deepest(2 * soft) <= deepest(soft) * (1 + 1e-9)


def _close_marks(rng, count):
    """Marks at 3 m, each with another some micrometres to millimetres off, as two units make them."""
    at = 3.0 + 2.7 * np.arange(count)
    gaps = 10 ** rng.uniform(-8, -2.75, count)
    return [*at.tolist(), *(at + gaps).tolist()]


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("bending", [STIFF, 61000 * EI, LIMP])
def test_marks_that_nearly_meet_change_nothing(seed, bending):
    rng = np.random.default_rng(seed)
    soft = (6.0 + rng.uniform(0, 2), 10.0 + rng.uniform(0, 2))
    given_ = {
        "bending": bending,
        "modulus": lambda x: np.where((x > soft[0]) & (x < soft[1]), 100 * PSI, 2000 * PSI),
        "drop": lambda x: np.where((x > soft[0]) & (x < soft[1]), 0.8 * IN, 0.0),
        "load": LOAD,
        "joints": [3.0 + 2.7 * 3],
    }
    marks = _close_marks(rng, 5)
    merged = bent_line(LONG, breaks=[*marks[:5], *soft], **given_)
    close = bent_line(LONG, breaks=[*marks, *soft, *(edge + 10 ** rng.uniform(-8, -2.75) for edge in soft)], **given_)
    assert np.max(np.abs(np.interp(merged.at, close.at, close.sag) - merged.sag)) < 0.003 * merged.sag.max()
    assert np.abs(close.moment).max() == pytest.approx(np.abs(merged.moment).max(), rel=0.02)
    assert close.moment == pytest.approx(_statics(close, LOAD)[1], abs=1e-6 * LOAD * LONG**2)


@pytest.mark.parametrize(
    ("at", "mark"),
    [(30 * FT, 30 * u.US_SURVEY_FOOT), (30 * u.US_SURVEY_FOOT, 30 * FT), (30 * FT, 30 * FT - 0.0015)],
    ids=["mark just past it", "mark just before it", "mark 1.5 mm before it"],
)
def test_a_joint_stays_where_a_mark_nearly_meets_it(at, mark):
    bent = bent_line(
        LONG,
        bending=STIFF,
        modulus=100 * PSI,
        drop=lambda x: np.where(x > at, IN, 0.0),
        load=LOAD,
        joints=[at],
        breaks=[mark],
    )
    ((turned_at, turn),) = bent.turns
    assert turned_at == pytest.approx(at, abs=0.002)
    assert abs(turn) > 0.001


def test_a_mesh_given_too_fine_is_refused_or_right():
    """The kernel itself, with nodes that `bend` would have merged: an answer is right or there is none."""
    right = bent_line(
        6.0, bending=STIFF, modulus=200 * PSI, load=LOAD, drop=lambda x: np.where(x > 3.0, IN, 0.0), breaks=[3.0]
    )
    refused = 0
    for gap in (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 1e-7):
        nodes = np.sort([*np.linspace(0, 6, 161), 3.0 + gap, 3.0 + 2 * gap, 3.0 + 3 * gap])
        at = nodes[:-1, None] + np.diff(nodes)[:, None] * np.array([0.1127, 0.5, 0.8873])
        one = np.ones_like(at)
        try:
            found = solve_beam(
                nodes,
                np.full(len(at), STIFF),
                200 * PSI * one,
                np.where(at > 3.0, IN, 0.0),
                LOAD * one,
                ends=("fixed", "fixed"),
                hinge=np.zeros(len(nodes), dtype=bool),
            )
        except UnsettledError:
            refused += 1
            continue
        assert found.sag.max() == pytest.approx(right.sag.max(), rel=0.01), gap
        assert found.moment == pytest.approx(_statics(found, LOAD)[1], abs=1e-5 * LOAD * 36)
    assert refused


@pytest.mark.parametrize("joints", [(2.0, 5.0, 8.0), (1.0, 3.3, 6.7, 9.1), (2.0, 2.5, 8.0)])
def test_a_chain_of_joints_over_a_void_is_no_answer(joints):
    with pytest.raises(UnsettledError):
        bent_line(10.0, bending=STIFF, modulus=0.0, load=LOAD, joints=joints)
