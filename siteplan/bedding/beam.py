"""A pipe as a beam on ground that pushes and never pulls: stiffness, ground and load in; sag, moment and reactions out.

EI w'''' + k(x) max(w - s(x), 0) = q, with w the sag (down), s the free settlement of the bed, q the load.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
AlongLine = Callable[[Array], object]  # positions in, values out; a scalar is spread
End = Literal["fixed", "guided", "free", "pinned"]

FINENESS = 0.2  # lambda times element, at the stiffest ground: sag within 0.01 %, moment within 1 %
_MERGED = 0.002  # m: marks nearer than this are one; shorter elements drown the ground's springs in rounding
_BALANCE = 1e-6  # of the load: what loads and reactions of a line that is solved may differ by
_NOTHING_HOLDS = "nothing holds the pipe: no ground under it and its ends and joints give way"
_FAR = 100.0  # times what a cantilever of the whole line would sag: a mechanism goes farther
_MOST_ELEMENTS = 200_000
_LEAST_PER_STRETCH = 24
_MOST_ROUNDS = 200
_PLAIN_ROUNDS = 40  # whole Newton steps nearly always end sooner; after that the energy is watched
_SHARE = (1 + np.array([-math.sqrt(0.6), 0.0, math.sqrt(0.6)])) / 2  # three Gauss points on 0..1
_WEIGHT = np.array([5.0, 8.0, 5.0]) / 18
_ROW, _COLUMN = np.triu_indices(4)  # an element's matrix is symmetric: its upper entries are enough


class UnsettledError(ValueError):
    """No answer can be vouched for: nothing holds the pipe, or loads and reactions are out of balance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bent:
    """How a line lies. Positions from its first end; forces up positive, moments sagging positive."""

    at: Array  # (n,) nodes [m]
    sag: Array  # (n,) [m]
    slope: Array  # (n, 2) just before and just after a node; they differ at a joint that turns [-]
    moment: Array  # (n,) [N m]
    ground_at: Array  # (m, 3) where the ground was asked [m]
    ground: Array  # (m, 3) its push per length, 0 or above [N/m]
    turns: tuple[tuple[float, float], ...]  # (position [m], turn [radians]) of the joints


def characteristic(bending: float, modulus: float) -> float:
    """Lambda of a beam on springs.

    Parameters
    ----------
    bending : float
        EI of the pipe [N m2].
    modulus : float
        Stiffness of the ground per length of pipe [Pa].

    Returns
    -------
    float
        One over the characteristic length [1/m].

    References
    ----------
    Hetenyi: (k/4EI)^(1/4).
    """
    return float((modulus / (4 * bending)) ** 0.25)


def line_mesh(length: float, element: float, breaks: Sequence[float] = ()) -> Array:
    """Nodes of a line: a node at every break, or within `MERGED` of it, and no element longer than asked.

    Parameters
    ----------
    length : float
        Length of the line [m], above 0.
    element : float
        Longest element [m].
    breaks : sequence of float
        Where ground, load or pipe change, and joints [m]; those outside the line are left out.

    Returns
    -------
    ndarray
        (n,) rising from 0 to the length [m]. No element is shorter than `MERGED` unless all are.

    Raises
    ------
    ValueError
        If the length or the element is not above 0, or the mesh would be too fine to solve.

    Notes
    -----
    The stiffness of an element grows with 1/h^3 and the ground's share with h: at h of some micrometres the ground's
    share lies below the last digit of a double. A break that moves by less than 2 mm moves no figure that is printed.
    """
    if not (length > 0 and element > 0 and math.isfinite(length)):
        raise ValueError("a line and its elements need a length above 0")
    near = min(_MERGED, length / 8)
    marks = [0.0]
    for mark in sorted(b for b in breaks if near < b < length - near):
        if mark - marks[-1] > near:
            marks.append(mark)
    marks.append(length)
    fewest = _LEAST_PER_STRETCH if len(marks) < 50 else 2
    counts = [
        max(math.ceil((b - a) / element), min(fewest, max(1, math.floor((b - a) / (4 * near)))))
        for a, b in pairwise(marks)
    ]
    if sum(counts) > _MOST_ELEMENTS:
        raise ValueError(f"the line would need {sum(counts)} elements; shorten it, or check stiffness and ground")
    # as np.linspace of each stretch gives them, all at once
    start, many = np.array(marks[:-1]), np.array(counts)
    number = np.arange(sum(counts)) - np.repeat(np.cumsum(many) - many, many)
    nodes = number * np.repeat(np.diff(marks) / many, many) + np.repeat(start, many)
    return np.concatenate([nodes, [length]])


def bent_line(
    length: float,
    *,
    bending: float | AlongLine,
    modulus: float | AlongLine,
    load: float | AlongLine,
    drop: float | AlongLine = 0.0,
    ends: tuple[End, End] = ("fixed", "fixed"),
    joints: Sequence[float] = (),
    points: Sequence[tuple[float, float]] = (),
    breaks: Sequence[float] = (),
    element: float | None = None,
    pull: bool = False,
) -> Bent:
    """How a line lies on ground that changes along it.

    Parameters
    ----------
    length : float
        Length of the line [m].
    bending : float or callable
        EI along the line [N m2].
    modulus : float or callable
        Stiffness of the ground per length of pipe, 0 over a void [Pa].
    load : float or callable
        Load down [N/m]; negative lifts.
    drop : float or callable
        Free settlement of the bed [m]; negative: it stands proud.
    ends : tuple of str
        How each end is held: fixed (neither sinks nor turns), guided (sinks, does not turn), pinned (turns, does
        not sink), free.
    joints : sequence of float
        Positions of joints that turn freely [m].
    points : sequence of tuple
        (position [m], force down [N]).
    breaks : sequence of float
        Where ground, load or pipe change abruptly [m].
    element : float, optional
        Longest element [m]; from `FINENESS` at the stiffest ground when absent.
    pull : bool
        True: springs that also pull, for comparison with closed forms.

    Returns
    -------
    Bent
        The settled line.

    Raises
    ------
    ValueError
        If the ground is softer than 0, the pipe has no stiffness, or a place lies off the line.
    UnsettledError
        If nothing holds the pipe, or what was found is not in balance to `BALANCE` of the load.

    References
    ----------
    Winkler's springs under a slender beam; cubic (Hermite) elements, three Gauss points, banded solve. Springs in
    tension are dropped and taken up again until the set stops changing (Newton's method on a convex energy, with
    the step halved when the energy would rise).
    Valid for: small slopes, elastic pipe, springs that do not act on one another.
    """
    outside = [place for place in (*joints, *(at for at, _ in points)) if not 0 <= place <= length]
    if outside:
        raise ValueError(f"a joint or load at {outside[0]:g} m lies off the line")
    marks = [*breaks, *joints, *(at for at, _ in points)]
    if element is None:
        probe = line_mesh(length, length / 500, marks)
        middle = (probe[1:] + probe[:-1]) / 2
        stiffest = float(np.max(_along(modulus, middle)))
        limpest = float(np.min(_along(bending, middle)))
        element = length / 100
        if stiffest > 0 and limpest > 0:
            element = min(element, FINENESS / characteristic(limpest, stiffest))
    nodes = line_mesh(length, element, marks)
    size = np.diff(nodes)
    gauss = nodes[:-1, None] + size[:, None] * _SHARE
    index = np.clip(np.searchsorted(nodes, [at for at, _ in points]), 0, len(nodes) - 1)
    near = [
        int(i) - 1 if i and abs(nodes[i - 1] - at) < abs(nodes[i] - at) else int(i)
        for i, (at, _) in zip(index, points, strict=True)
    ]
    hinge = np.zeros(len(nodes), dtype=bool)
    for at in joints:
        hinge[int(np.argmin(np.abs(nodes - at)))] = True
    hinge[[0, -1]] = False
    return solve_beam(
        nodes,
        _along(bending, gauss[:, 1]),
        _along(modulus, gauss),
        _along(drop, gauss),
        _along(load, gauss),
        ends=ends,
        hinge=hinge,
        points=[(i, force) for i, (_, force) in zip(near, points, strict=True)],
        pull=pull,
    )


def solve_beam(
    nodes: Array,
    bending: Array,
    modulus: Array,
    drop: Array,
    load: Array,
    *,
    ends: tuple[End, End],
    hinge: NDArray[np.bool_],
    points: Sequence[tuple[int, float]] = (),
    pull: bool = False,
) -> Bent:
    """The kernel of `bent_line`: plain arrays in.

    Parameters
    ----------
    nodes : ndarray
        (n,) rising [m].
    bending : ndarray
        (n - 1,) EI of each element [N m2].
    modulus, drop, load : ndarray
        (n - 1, 3) at the Gauss points of each element [Pa], [m], [N/m].
    ends : tuple of str
        See `bent_line`.
    hinge : ndarray
        (n,) whether a joint turns at a node.
    points : sequence of tuple
        (node, force down [N]).
    pull : bool
        See `bent_line`.

    Returns
    -------
    Bent
        The settled line.

    Raises
    ------
    ValueError
        See `bent_line`.

    References
    ----------
    See `bent_line`.
    """
    if (
        np.any(bending <= 0)
        or np.any(modulus < 0)
        or not all(np.all(np.isfinite(a)) for a in (bending, modulus, drop, load))
    ):
        raise ValueError("the pipe needs a stiffness above 0, and the ground one at or above 0, all finite")
    size = np.diff(nodes)
    shape = _shapes(size)
    own = _element_stiffness(size, bending)
    weight = _WEIGHT * size[:, None]
    along = np.ascontiguousarray(shape.transpose(1, 2, 0))
    dof, count, first, last = _numbering(hinge)
    held = _held(dof, ends)
    force = _gathered(dof, _pressed(load * weight, along), count)
    for node, down in points:
        force[first[node]] += down
    total = float(np.sum(load * weight)) + sum(down for _, down in points)

    def energy(u: Array) -> float:
        local = u[dof]
        squeeze = np.maximum(np.einsum("ega,ea->eg", shape, local) - drop, 0)
        return float(
            np.einsum("ea,eab,eb->", local, own, local) / 2 + np.sum(modulus * weight * squeeze**2) / 2 - force @ u
        )

    pairs = along[:, _ROW] * along[:, _COLUMN]
    own_pairs = own[:, _ROW, _COLUMN].T
    bands = _bands(dof, count)
    touch = np.ones(modulus.shape, dtype=bool)
    current: Array | None = None
    rounds = 0
    while True:
        stiff = np.where(touch, modulus, 0.0) * weight
        right = force + _gathered(dof, _pressed(stiff * drop, along), count)
        found = _banded_solve(own_pairs + _pressed(stiff, pairs), right, bands, held)
        whole = True
        if current is not None and rounds >= _PLAIN_ROUNDS:
            step, before = found - current, energy(current)
            share = 1.0
            while energy(current + share * step) > before + 1e-9 * abs(before) and share > 1e-6:
                share /= 2
            whole = share == 1.0
            found = current + share * step
        squeeze = np.einsum("ega,ea->eg", shape, found[dof]) - drop
        now = squeeze > 0
        rounds += 1
        settled = pull or (whole and _same_touch(now, touch, modulus * weight * squeeze, total))
        current = found
        if settled:
            break
        if rounds >= _MOST_ROUNDS:
            raise UnsettledError("the ground in touch with the pipe does not settle; check ground and load")
        touch = now
    push = modulus * (squeeze if pull else np.maximum(squeeze, 0.0))
    inner = np.einsum("eab,eb->ea", own, current[dof]) - _pressed((load - push) * weight, along).T
    residual = _gathered(dof, inner.T, count)
    for node, down in points:
        residual[first[node]] -= down
    carried = float(np.sum((np.abs(load) + np.abs(push)) * weight)) + sum(abs(down) for _, down in points)
    _balanced(residual, held, first, float(nodes[-1]), carried)
    held_up = float(np.sum(np.where(push > 0, modulus, 0.0) * weight))
    farthest = carried * float(nodes[-1]) ** 3 / float(np.min(bending)) + float(np.max(np.abs(drop)))
    farthest += carried / held_up if held_up > 0 else 0.0
    if not float(np.max(np.abs(current[first]))) <= _FAR * farthest + _FAR * _MERGED:
        raise UnsettledError(_NOTHING_HOLDS)
    moment = np.concatenate([inner[:1, 1], -inner[:, 3]])
    slope = np.stack([current[last], current[last + np.where(hinge, 1, 0)]], axis=1)
    return Bent(
        at=nodes,
        sag=current[first],
        slope=slope,
        moment=moment,
        ground_at=nodes[:-1, None] + size[:, None] * _SHARE,
        ground=push,
        turns=tuple((float(nodes[i]), float(slope[i, 1] - slope[i, 0])) for i in np.flatnonzero(hinge)),
    )


def _along(value: float | AlongLine, at: Array) -> Array:
    """Values at positions, always floating point: an integer from a callable would truncate what is added to it."""
    found = value(at) if callable(value) else value
    return np.array(np.broadcast_to(np.asarray(found, dtype=np.float64), at.shape))


def _shapes(size: Array) -> Array:
    """(m, 3, 4) Hermite cubics of each element at its Gauss points."""
    t = _SHARE
    shape = np.empty((len(size), 3, 4))
    shape[:, :, 0] = 1 - 3 * t**2 + 2 * t**3
    shape[:, :, 1] = size[:, None] * (t - 2 * t**2 + t**3)
    shape[:, :, 2] = 3 * t**2 - 2 * t**3
    shape[:, :, 3] = size[:, None] * (t**3 - t**2)
    return shape


def _element_stiffness(size: Array, bending: Array) -> Array:
    """(m, 4, 4) of the pipe alone."""
    one = np.ones_like(size)
    rows = [
        [12 * one, 6 * size, -12 * one, 6 * size],
        [6 * size, 4 * size**2, -6 * size, 2 * size**2],
        [-12 * one, -6 * size, 12 * one, -6 * size],
        [6 * size, 2 * size**2, -6 * size, 4 * size**2],
    ]
    matrix = np.moveaxis(np.array(rows), 2, 0)
    found: Array = matrix * (bending / size**3)[:, None, None]
    return found


def _numbering(hinge: NDArray[np.bool_]) -> tuple[NDArray[np.intp], int, NDArray[np.intp], NDArray[np.intp]]:
    """Unknowns of each element, how many there are, and each node's sag and first slope; a hinge has two slopes."""
    before = np.concatenate([[0], np.cumsum(hinge)[:-1]])
    first = (2 * np.arange(len(hinge)) + before).astype(np.intp)
    slope = first + 1
    after = slope + hinge
    dof = np.stack([first[:-1], after[:-1], first[1:], slope[1:]], axis=1)
    return dof, int(2 * len(hinge) + hinge.sum()), first, slope


def _held(dof: NDArray[np.intp], ends: tuple[End, End]) -> list[int]:
    held: list[int] = []
    for end, sag, turn in ((ends[0], dof[0, 0], dof[0, 1]), (ends[1], dof[-1, 2], dof[-1, 3])):
        if end not in {"fixed", "guided", "free", "pinned"}:
            raise ValueError(f"an end is fixed, guided, free or pinned, not {end!r}")
        if end in {"fixed", "pinned"}:
            held.append(int(sag))
        if end in {"fixed", "guided"}:
            held.append(int(turn))
    return held


def _pressed(push: Array, shape: Array) -> Array:
    """(a, m) what pushes (m, 3) at the Gauss points come to on shapes (3, a, m)."""
    first, middle, last = np.ascontiguousarray(push.T)
    found: Array = first * shape[0] + middle * shape[1] + last * shape[2]
    return found


def _gathered(dof: NDArray[np.intp], parts: Array, count: int) -> Array:
    """Sum of what elements give (4, m) to each of their unknowns (m, 4)."""
    found: Array = np.bincount(dof.T.ravel(), weights=parts.ravel(), minlength=count).astype(np.float64)
    return found


def _bands(dof: NDArray[np.intp], count: int) -> tuple[int, int, NDArray[np.intp]]:
    """How far from the diagonal the band reaches, how many unknowns, and each upper entry's place in it.

    As one number.
    """
    row, column = dof.T[_ROW], dof.T[_COLUMN]
    width = int(np.max(column - row))
    return width, count, (column * (width + 1) + width + row - column).ravel()


def _banded_solve(upper: Array, right: Array, bands: tuple[int, int, NDArray[np.intp]], held: list[int]) -> Array:
    """Sags and slopes, from the upper entries (10, m) of the elements; what the ends hold is struck out."""
    from scipy.linalg.lapack import dpbsv

    width, count, places = bands
    # unknown by unknown, as the library keeps a band: it is solved in place
    band = np.bincount(places, weights=upper.ravel(), minlength=(width + 1) * count).reshape(count, width + 1).T
    for place in held:
        band[:, place] = 0
        for away in range(1, width + 1):
            if place + away < count:
                band[width - away, place + away] = 0
        band[width, place] = 1
        right[place] = 0
    _, found, singular = dpbsv(band, right, overwrite_ab=True, overwrite_b=True)
    if singular or not np.all(np.isfinite(found)):
        raise UnsettledError(_NOTHING_HOLDS)
    solved: Array = found
    return solved


def _balanced(residual: Array, held: list[int], first: NDArray[np.intp], length: float, carried: float) -> None:
    """Refuse what is no equilibrium: forces and moments left over at nodes that nothing holds."""
    loose = np.array(residual)
    loose[held] = 0.0
    off = max(float(np.sum(np.abs(loose[first]))), float(np.max(np.abs(np.delete(loose, first)), initial=0.0)) / length)
    if not off <= _BALANCE * carried:
        raise UnsettledError("loads and reactions of the line differ: it cannot be solved as it stands")


def _same_touch(now: NDArray[np.bool_], touch: NDArray[np.bool_], push: Array, total: float) -> bool:
    """Whether the same springs are in touch; a spring that carries next to nothing may be counted either way."""
    changed = now != touch
    return not np.any(np.abs(push[changed]) > 1e-12 * max(abs(total), float(np.max(np.abs(push), initial=0.0))))
