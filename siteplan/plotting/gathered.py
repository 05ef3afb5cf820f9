"""What a drawing gathers while it is made.

Shapes from the ground up, labels, what labels keep off, what the key must explain.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from siteplan.plotting.placing import Label
from siteplan.plotting.shapes import Mark, Spot


@dataclass(slots=True)
class Gathered:
    """Filled by the makers of the sheet in turn.

    Attributes
    ----------
    under, over : list of Mark
        What is drawn first, and what lies over it.
    labels : list of (rank, Label)
        Lower ranks are placed first.
    keep_off : list of rings
        No label covers them [mm].
    pipes, thin : list of runs
        No label covers the first; the second had better not be covered [mm].
    key : dict of str to str
        What the key explains: a look's word to its words, in the order met.
    """

    under: list[Mark] = field(default_factory=list)
    over: list[Mark] = field(default_factory=list)
    labels: list[tuple[int, Label]] = field(default_factory=list)
    keep_off: list[tuple[Spot, ...]] = field(default_factory=list)
    pipes: list[tuple[Spot, ...]] = field(default_factory=list)
    thin: list[tuple[Spot, ...]] = field(default_factory=list)
    key: dict[str, str] = field(default_factory=dict)

    def ordered(self) -> list[Label]:
        """Labels, those placed first in front."""
        return [label for _, label in sorted(self.labels, key=lambda pair: pair[0])]
