"""Sources and the outlets that their water leaves by in; findings on whether the place lets it leave that way, out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from types import MappingProxyType

from siteplan.books import rules
from siteplan.books.kinds import OUTLETS, pumped
from siteplan.books.rules import VERDICTS, Rule
from siteplan.checks.flows import entry_of
from siteplan.checks.report import Broken, plain
from siteplan.checks.scene import Scene
from siteplan.checks.verdict import Answer
from siteplan.values.told import Finding


def verdict_of(scene: Scene, rule: Rule) -> str | None:
    """What the place says.

    Parameters
    ----------
    scene : Scene
        For the rules in force.
    rule : Rule
        One whose setting is a verdict.

    Returns
    -------
    str or None
        'allow', 'flag' or 'fail'; None where the site says that it is not known.
    """
    limit = scene.limit(rule)
    return None if limit is None else VERDICTS[int(limit)]


def broken_by(verdict: str) -> Broken:
    """How hard a verdict that does not allow speaks.

    Parameters
    ----------
    verdict : str
        'flag' or 'fail'.

    Returns
    -------
    str
        The status.
    """
    return "flag" if verdict == "flag" else "fail"


def way_out(scene: Scene, source_kind: str, outlet_kind: str, rule: Rule) -> list[Finding]:
    """Whether sources of a kind may leave by outlets of a kind.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    source_kind, outlet_kind : str
        The kinds.
    rule : Rule
        What is asked of them.

    Returns
    -------
    list of Finding
        One for each source of the kind whose water comes to such an outlet.

    References
    ----------
    The site's [rules] or its profile; city rules say opposite things.
    """
    verdict, found = verdict_of(scene, rule), []
    for source in scene.site.sources:
        place = entry_of(scene, source) if source.kind == source_kind else None
        outlet = None if place is None else scene.way_out(place[0])[0]
        if place is None or outlet is None or outlet.kind != outlet_kind:
            continue
        how = "pumps" if pumped(source.kind) else "drains"
        text = f"{source.name or source.id} {how} {OUTLETS[outlet.kind].to} at {outlet.name or outlet.id}"
        if verdict is None:
            found.append(
                plain(
                    rule, source.id, "cannot tell", f"{text}; whether it may is not known here: ask", where=place[0].id
                )
            )
            continue
        more = {
            "allow": "allowed",
            "flag": f"some places forbid it and some ask for it: ask {OUTLETS[outlet.kind].owner}",
            "fail": "not allowed here: another outlet",
        }
        said: Answer = "kept" if verdict == "allow" else "broken"
        found.append(
            plain(rule, source.id, said, f"{text}: {more[verdict]}", where=place[0].id, broken=broken_by(verdict))
        )
    return found


WAY_CHECKS: MappingProxyType[str, Callable[[Scene], list[Finding]]] = MappingProxyType(
    {
        rule.id: partial(way_out, source_kind=pair[0], outlet_kind=pair[1], rule=rule)
        for pair, rule in rules.WAYS.items()
    }
)
