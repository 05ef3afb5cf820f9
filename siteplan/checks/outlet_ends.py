"""The walked lines in; findings on where they end out: control elevation, fall to spare, distances of outlets."""

from __future__ import annotations

import itertools
import math

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import at_curb, into_pipe, on_ground, pumped
from siteplan.books.pipes import heavy, smallest
from siteplan.books.practice import BURIED_END
from siteplan.books.rules import Rule
from siteplan.checks.places import ON_LINE
from siteplan.checks.report import DISTANCE, plain, ruled
from siteplan.checks.sampling import lowest_near, nearest_known_ground
from siteplan.checks.scene import Scene
from siteplan.checks.verdict import answer, status
from siteplan.checks.walk import Floats, Walk
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet

_GUTTER = 0.6  # m round a curb outlet; the gutter's flow line is the lowest ground in it
_KNOWN_WITHIN = 2.0  # m; the contract's reach of the nearest known ground
AT_OUTLET = 0.05  # m; a line that ends farther away does not end there
TWO_SCANS = 0.02  # m; two scans of one curb at different places agree to this
_EXACT = 1e-6  # m
SPARE = 0.002  # m; a stated fall to spare may be more than the recheck's by what samples take
SPARE_LESS = 0.02  # m; and less by the wall of a heavier pipe that the planner reckons with
BELOW_FACE = 0.006  # m; below the ground at a daylight face by more than a printed digit
EASEMENT_EDGE = 0.05  # m


def control_of(scene: Scene, outlet: Outlet) -> tuple[float, bool]:
    """Lowest invert at which a line may end at an outlet, from the survey.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    outlet : Outlet
        An outlet of the plan; only its kind, name and place are believed.

    Returns
    -------
    tuple of (float, bool)
        Elevation [m] and whether the site gives it. Tie-in: where the smallest pipe laid here is level with the old
        one; curb: the lowest ground within 0.6 m plus the curb allowance; daylight: the ground at the face plus the
        daylight allowance. NaN where no ground is known within 2 m.
    """
    feature = scene.feature_of(outlet)
    given = feature.attributes.get("invert") if feature is not None else None
    if given is not None:
        told = scene.site.sizing
        laid = smallest(told.pipe, told.smallest, told.own_pipes)
        return float(given) + join_lift(scene, outlet, laid), True
    if at_curb(outlet.kind):
        low = lowest_near(scene.site.grid, outlet.x, outlet.y, _GUTTER)
        if not math.isfinite(low):
            low = nearest_known_ground(scene.site.grid, outlet.x, outlet.y, _KNOWN_WITHIN)
        return low + rules.needed(scene.site.rules, rules.CURB_ALLOWANCE), False
    face = nearest_known_ground(scene.site.grid, outlet.x, outlet.y, _KNOWN_WITHIN)
    return face + rules.needed(scene.site.rules, rules.DAYLIGHT_ALLOWANCE), False


def join_lift(scene: Scene, outlet: Outlet, laid: Pipe) -> float:
    """How far above an old pipe's invert a line has to come into it.

    Parameters
    ----------
    scene : Scene
        For the rules in force and the survey.
    outlet : Outlet
        Where it ends.
    laid : Pipe
        The line's, there.

    Returns
    -------
    float
        What brings the line's point at a share of its depth to the old pipe's at the same share of its own [m]; 0 at
        any other outlet, at an old pipe whose diameter is not known, and where the line is the larger.

    References
    ----------
    The rule `tie-in-level`: share x (inside of the old pipe - inside of the line).
    """
    feature = scene.feature_of(outlet)
    wide = feature.attributes.get("diameter") if feature is not None and into_pipe(outlet.kind) else None
    share = rules.needed(scene.site.rules, rules.TIE_IN_LEVEL)
    return 0.0 if wide is None or wide <= laid.bore else share * float(wide) - share * laid.bore


def highest_allowed(scene: Scene, walk: Walk) -> Floats:
    """The highest invert that cover allows at each sample; no ceiling where the pipe may show.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        The walked line.

    Returns
    -------
    ndarray, shape (n,) [m]
        Infinite where nothing limits it or the ground is not known.
    """
    lawn = rules.needed(scene.site.rules, rules.MIN_COVER)
    asked = np.where((walk.s >= walk.zone) & (walk.s <= walk.head), lawn, 0.0)
    asked[(walk.s < walk.zone)] = rules.needed(scene.site.rules, rules.OUTLET_ZONE_COVER)
    free = walk.s < walk.stretch
    plain_cover, relieved = rules.pavement_covers(scene.site.rules)
    covers = [] if plain_cover is None else [plain_cover]
    stronger = heavy(walk.line.pipe)
    if relieved is not None and stronger is not None:
        # what heavy pipe would ask for, whichever pipe lies there: its top is higher by so much
        covers.append(relieved + max(0.0, stronger.rise - walk.rise))
    if covers:
        below = walk.beneath("vehicles")
        asked[below] = max(lawn, min(covers))
        free = free & ~below
    top = walk.ground - asked - walk.rise
    top[free | ~np.isfinite(top)] = np.inf
    source = next((source for source in scene.site.sources if source.id == walk.line.start), None)
    if source is not None and source.invert_limit is not None:
        top[-1] = min(top[-1], source.invert_limit)
    return top


def fall_to_spare(scene: Scene, line: Line) -> float | None:
    """Fall that a line's way to its outlet has beyond the least grade, at the line's tightest place.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    line : Line
        A line; for one that joins another the way on counts as its own does, with the covers over it.

    Returns
    -------
    float or None
        Least of (highest invert that cover allows - least grade x way to the outlet), less the control elevation [m];
        None when it ends at no outlet or nothing limits it.

    References
    ----------
    Fall available minus fall needed, taken at every place: common practice, no source.
    """
    outlet, way = scene.way_out(line)
    if outlet is None or any(part.id not in scene.walks for part in way):
        return None
    grade = scene.limit(rules.MIN_GRADE) or 0.0
    walks = [scene.walks[part.id] for part in way]
    uses = [walks[0].length, *(joined_at(walk, trunk) for walk, trunk in itertools.pairwise(walks))]
    least, below = math.inf, sum(uses)
    for walk, upto in zip(walks, uses, strict=True):
        below -= upto
        allowed = highest_allowed(scene, walk) - grade * (walk.s + below)
        least = min(least, float(np.min(allowed[walk.s <= upto + _EXACT])))
    control, _ = control_of(scene, outlet)
    return least - control if math.isfinite(least) and math.isfinite(control) else None


def settled_spare(scene: Scene, line: Line) -> float | None:
    """Fall to spare as it is printed everywhere.

    The plan's own figure where the recheck finds the same, else the recheck's.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    line : Line
        A line of the plan.

    Returns
    -------
    float or None
        [m]; None as from `fall_to_spare`.
    """
    found = fall_to_spare(scene, line)
    return found if found is None or not math.isfinite(line.spare) or spares_differ(line.spare, found) else line.spare


def spares_differ(stated: float, found: float) -> bool:
    """Whether a stated fall to spare is not the one found: samples and the wall of heavy pipe move it by less.

    Parameters
    ----------
    stated, found : float
        By the plan, by the recheck [m].

    Returns
    -------
    bool
        A plan may state less than the recheck, which lets pass what it does not ask itself, by more than it may state
        more.
    """
    return stated > found + SPARE or stated < found - SPARE_LESS


def joined_at(walk: Walk, trunk: Walk) -> float:
    """Station of the trunk's vertex that a line joins.

    Parameters
    ----------
    walk : Walk
        The line that joins.
    trunk : Walk
        The line it joins.

    Returns
    -------
    float
        Station of the trunk's nearest vertex [m].
    """
    return float(trunk.at[int(np.argmin(np.hypot(*(trunk.corners - walk.corners[0]).T)))])


def outlet_control(scene: Scene) -> list[Finding]:
    """Whether lines end at their outlets, at or above the control elevation, and with fall to spare beyond the doubt.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each thing wrong at the outlet, else one a line with its spare; a line that joins another is
        judged by its spare alone.
    """
    found = []
    for name, walk in scene.walks.items():
        outlet = scene.outlets.get(walk.line.end)
        out = _at_the_outlet(scene, walk, outlet) if outlet is not None else []
        found += out
        if not any(finding.status == "fail" for finding in out):
            found += _spare(scene, name, walk, quiet=bool(out))
    return found


def end_held(scene: Scene) -> list[Finding]:
    """Whether lines under pressure end at their outlets, at or above the control elevation; no fall is asked of them.

    Parameters
    ----------
    scene : Scene
        Of lines under pressure.

    Returns
    -------
    list of Finding
        One for each thing wrong at the outlet, else one a line that ends at one.
    """
    found = []
    for name, walk in scene.walks.items():
        outlet = scene.outlets.get(walk.line.end)
        if outlet is None:
            continue
        text = f"ends at {outlet.name or outlet.id}, {scene.words.elevation(float(walk.inverts[0]))}"
        found += _at_the_outlet(scene, walk, outlet) or [
            plain(rules.OUTLET_CONTROL, name, "kept", text, where=scene.words.station(0.0))
        ]
    return found


def _at_the_outlet(scene: Scene, walk: Walk, outlet: Outlet) -> list[Finding]:
    rule, words, name = rules.OUTLET_CONTROL, scene.words, walk.line.id
    title, where = outlet.name or outlet.id, words.station(0.0)
    out = []
    astray = math.hypot(walk.corners[0, 0] - outlet.x, walk.corners[0, 1] - outlet.y)
    if astray > AT_OUTLET:
        out.append(
            plain(rule, name, "broken", f"ends {words.far(astray)} away from {title}", where=where, value=astray)
        )
    control, given = control_of(scene, outlet)
    # larger pipe than the smallest comes in lower: `tie_in_level` asks of the pipe that lies there
    if into_pipe(outlet.kind):
        control = float(outlet.control if outlet.invert is None else outlet.invert)
    end = float(walk.inverts[0])
    if not given and (not math.isfinite(control) or not math.isfinite(walk.ground[0])):
        out.append(
            plain(
                rule,
                name,
                "cannot tell",
                f"the ground at {title} is not known: shoot it before ordering pipe",
                where=where,
            )
        )
    elif end < control - (_EXACT if given else TWO_SCANS):
        text = (
            f"ends at {words.elevation(end)}, {words.drop(control - end)} below the {words.elevation(control)} "
            f"that {title} asks for"
        )
        out.append(plain(rule, name, "broken", text, where=where, value=end))
    face = float(walk.ground[0])
    if on_ground(outlet.kind) and math.isfinite(face) and end < face - BELOW_FACE and not out:
        text = f"the end is {words.drop(face - end)} below the ground at its face: dig the face free, or shoot it again"
        # a given invert a little under the survey's ground may be a ditch the survey missed; far under, water cannot
        # leave
        missed = given and face - end <= BURIED_END + 2 * scene.site.accuracy
        out.append(plain(rule, name, "broken", text, where=where, value=end, broken="flag" if missed else "fail"))
    return out


def _spare(scene: Scene, name: str, walk: Walk, *, quiet: bool) -> list[Finding]:
    """Fall to spare against its doubt.

    That of the line's whole way, or that of two elevations where none is worked out.
    """
    spare = settled_spare(scene, walk.line)
    rule, words, stated = rules.OUTLET_CONTROL, scene.words, walk.line.doubt
    if spare is None:
        return []
    doubt = math.sqrt(2) * scene.site.accuracy if stated is None else stated.fall
    said_of = answer(spare, 0.0, "at least", doubt=doubt, slack=_EXACT)
    have = words.spare(spare, doubt)
    if said_of == "kept":
        text = f"reaches its outlet: {have}"
    elif said_of == "broken":
        text = f"{have}: cover and least grade cannot both be kept on this way"
    else:
        shots = stated.shots_wanted if stated is not None else ()
        ask = "take the shots wanted of this line" if shots else "shoot the ground at the start and at the outlet"
        text = f"cannot tell: {have}: {ask} before ordering pipe"
    if quiet and said_of == "kept":
        return []
    return [
        Finding(
            rule=rule.id,
            subject=name,
            value=spare,
            limit=0.0,
            unit="m",
            doubt=doubt,
            status=status(said_of, "flag"),
            where=str(words.stations(0.0, walk.length)),
            place=words.stations(0.0, walk.length).value(name),
            message=text,
        )
    ]


def outlet_foundation(scene: Scene) -> list[Finding]:
    """Distance of outlets on the lot's own surface from foundations.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a daylight outlet on the lot, outside easements.
    """
    return _from_foundation(scene, rules.OUTLET_FOUNDATION, sump=False)


def sump_outlet_foundation(scene: Scene) -> list[Finding]:
    """Distance from foundations of outlets on the lot's own surface that carry a sump.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each such line.
    """
    return _from_foundation(scene, rules.SUMP_OUTLET_FOUNDATION, sump=True)


def outlet_lot_line(scene: Scene) -> list[Finding]:
    """Distance of outlets on the lot's own surface from lot lines.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a daylight outlet on the lot, outside easements.
    """
    from shapely.geometry import Point

    rule = rules.OUTLET_LOT_LINE
    found = []
    lot = scene.areas.get("lot")
    for name, outlet in on_the_lot(scene):
        if lot is not None:
            away = (
                float(lot.boundary.distance(Point(outlet.x, outlet.y)))
                if lot.covers(Point(outlet.x, outlet.y))
                else 0.0
            )
            found.append(_distance(scene, rule, name, outlet, away, "a lot line"))
    return found


def _from_foundation(scene: Scene, rule: Rule, *, sump: bool) -> list[Finding]:
    from shapely.geometry import Point

    building = scene.areas.get("building")
    sumps = {source.id for source in scene.site.sources if pumped(source.kind)}
    found = []
    for name, outlet in on_the_lot(scene):
        if building is None or building.is_empty or (sump and not sumps & set(carried(scene, scene.lines[name]))):
            continue
        found.append(
            _distance(scene, rule, name, outlet, float(building.distance(Point(outlet.x, outlet.y))), "a foundation")
        )
    return found


def _distance(scene: Scene, rule: Rule, name: str, outlet: Outlet, away: float, what: str) -> Finding:
    return ruled(
        scene,
        rule,
        f"{name}:outlet {outlet.name or outlet.id}",
        away,
        measure=DISTANCE,
        limit=scene.limit(rule),
        said=f"outlet {outlet.name or outlet.id}, distance from {what}",
        where=scene.words.station(0.0),
    )


def on_the_lot(scene: Scene) -> list[tuple[str, Outlet]]:
    """Lines that end at a daylight outlet on the lot's own surface, outside easements.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of (str, Outlet)
        Ids of the lines with their outlets.
    """
    from shapely.geometry import Point

    lot, easement = scene.areas.get("lot"), scene.areas.get("easement")
    found = []
    for name, walk in scene.walks.items():
        outlet = scene.outlets.get(walk.line.end)
        if outlet is None or not on_ground(outlet.kind):
            continue
        place = Point(outlet.x, outlet.y)
        if lot is not None and lot.distance(place) > ON_LINE:
            continue
        if easement is not None and easement.distance(place) <= EASEMENT_EDGE:
            continue
        found.append((name, outlet))
    return found


def carried(scene: Scene, line: Line) -> tuple[str, ...]:
    """Ids of the sources whose water a line carries: those it lists, and those of every line that joins it.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    line : Line
        A line.

    Returns
    -------
    tuple of str
        Without repeats, its own first.
    """
    ids = list(line.sources) or [line.start]
    for other in scene.plan.lines:
        if other is not line and line in scene.way_out(other)[1][1:]:
            ids += [*other.sources, other.start]
    return tuple(dict.fromkeys(ids))
