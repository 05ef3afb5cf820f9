"""Lines that come into an old pipe in; findings on the join out.

Its level, the old pipe's size, and what it can still take.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import into_pipe
from siteplan.books.practice import SAME_SIZE
from siteplan.checks.carrying import FLOW_SLACK
from siteplan.checks.flows import brought_by, lines_at, pieces_of
from siteplan.checks.outlet_ends import join_lift
from siteplan.checks.report import plain
from siteplan.checks.scene import Scene
from siteplan.checks.walk import Walk
from siteplan.site import Feature
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet

_EXACT = 1e-6  # m


def _ties(scene: Scene) -> Iterator[tuple[Walk, Outlet, Feature]]:
    """Walked lines that end at an old pipe that the survey knows."""
    for walk in scene.walks.values():
        outlet = scene.outlets.get(walk.line.end)
        feature = None if outlet is None else scene.feature_of(outlet)
        if outlet is not None and feature is not None and into_pipe(outlet.kind):
            yield walk, outlet, feature


def tie_in_level(scene: Scene) -> list[Finding]:
    """Whether lines come into old pipes high enough.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a tie-in.

    References
    ----------
    The rule: a point at a share of the line's depth is no lower than the same point of the old pipe.
    """
    rule, words, found = rules.TIE_IN_LEVEL, scene.words, []
    for walk, outlet, feature in _ties(scene):
        old, end = float(feature.attributes["invert"]), float(walk.inverts[0])
        asked = old + join_lift(scene, outlet, walk.line.pipe_at(0.0))
        title, where, name = outlet.name or outlet.id, words.station(0.0), walk.line.id
        if end < asked - _EXACT:
            text = (
                f"comes into {title} at {words.elevation(end)}, {words.drop(asked - end)} below the "
                f"{words.elevation(asked)} at which the two are level: the old pipe stands back in it"
            )
            found.append(plain(rule, name, "broken", text, where=where, value=end, limit=asked))
        elif "diameter" not in feature.attributes:
            text = f"the inside of {title} is not known, so how high a line has to come into it is not: measure it"
            found.append(plain(rule, name, "cannot tell", text, where=where, value=end, limit=asked, broken="flag"))
        else:
            text = f"comes into {title} at {words.elevation(end)}, {words.elevation(asked)} or more asked"
            found.append(plain(rule, name, "kept", text, where=where, value=end, limit=asked))
    return found


def tie_in_size(scene: Scene) -> list[Finding]:
    """Whether old pipes are as large as what comes into them.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a tie-in.
    """
    rule, words, found = rules.TIE_IN_SIZE, scene.words, []
    for walk, outlet, feature in _ties(scene):
        laid, title, where, name = walk.line.pipe_at(0.0), outlet.name or outlet.id, words.station(0.0), walk.line.id
        wide = feature.attributes.get("diameter")
        if wide is None:
            text = f"the inside of {title} is not known: measure it before {words.size(laid)} comes into it"
            found.append(plain(rule, name, "cannot tell", text, where=where, broken="flag"))
            continue
        smaller = laid.bore - float(wide) > SAME_SIZE * laid.bore
        text = f"{words.size(laid)} comes into {title}, {words.small(float(wide))} inside"
        if smaller:
            text += ": what passes the larger lodges in the smaller"
        found.append(
            plain(
                rule,
                name,
                "broken" if smaller else "kept",
                text,
                where=where,
                value=float(wide),
                limit=laid.bore,
            )
        )
    return found


def tie_in_takes(scene: Scene) -> list[Finding]:
    """Whether old pipes can still take what comes to them.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each tie-in that lines end at; its subject is the first of them.
    """
    rule, words, found = rules.TIE_IN_TAKES, scene.words, []
    pieces = pieces_of(scene)
    for outlet in scene.outlets.values():
        feature = scene.feature_of(outlet) if into_pipe(outlet.kind) else None
        fallen = lines_at(scene, outlet)
        lifted = tuple(line for line in scene.plan.pressed if line.end == outlet.id)
        lines = (*fallen, *lifted)
        if feature is None or not lines:
            continue
        flow, takes = brought_by(pieces, fallen) if fallen else 0.0, feature.attributes.get("takes_flow")
        if flow is not None and lifted:
            pumps = [line.pumped.flow if line.pumped is not None else 0.0 for line in lifted]
            flow = flow + math.fsum(pumps) if all(pumps) else None
        title, where, name = outlet.name or outlet.id, words.station(0.0), lines[0].id
        comes = "what comes to it is not known" if flow is None else f"{words.flow(flow)} comes"
        if len(lines) > 1:
            comes += f" of {', '.join(line.id for line in lines)} together"
        if takes is None:
            text = f"what {title} can still take is not given, {comes}: ask its owner, and look into it"
            found.append(plain(rule, name, "cannot tell", text, where=where, broken="flag"))
            continue
        limit = float(takes)
        text = f"{title} can still take {words.flow(limit)}, {comes}"
        if flow is None:
            found.append(plain(rule, name, "cannot tell", text, where=where, broken="flag"))
            continue
        kept = flow <= limit * (1 + FLOW_SLACK)
        if not kept:
            text += ": take less there, or another outlet"
        found.append(
            plain(
                rule,
                name,
                "kept" if kept else "broken",
                text,
                where=where,
                value=flow / units.LITRE,
                unit="lps",
                limit=limit / units.LITRE,
            )
        )
    return found
