"""What a plan set is made from and what was asked of it, as one frozen value that every part is given."""

from __future__ import annotations

from dataclasses import dataclass

from siteplan.books.phrases import Language
from siteplan.plotting.ground_lines import GroundLines
from siteplan.plotting.paper_sizes import Paper
from siteplan.review.compared import Comparison
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.whole_plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSetAsked:
    """Attributes are as the command's options.

    Attributes
    ----------
    stored : StoredPlan
        The plan as it stands in its folder, with its record.
    identity : str
        What tells this plan from another, from `frame.plan_id`.
    paper : Paper
        On which all of it is drawn.
    scale : int or None
        1 to so many; None: the largest that fits.
    date, revision : str
        As printed in the title block; '' blank.
    ground : GroundLines or None
        Contours and ground along the lines; None: the site folder was not given.
    against : Comparison or None
        What changed since an earlier plan.
    debug : bool
        Whether a fault of ours is raised instead of leaving a part out.
    digest : str
        SHA-256 of plan.json.
    language : str
        Of what the crew reads: 'english' or 'spanish'.
    """

    stored: StoredPlan
    identity: str
    paper: Paper
    scale: int | None = None
    date: str = ""
    revision: str = ""
    ground: GroundLines | None = None
    against: Comparison | None = None
    debug: bool = False
    digest: str = ""
    language: Language = "english"

    @property
    def plan(self) -> Plan:
        """The plan as stored."""
        return self.stored.plan


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLeftOut:
    """A part that is not in the set, and why: a fault of ours by its kind, or the scale at which nothing fits."""

    title: str
    why: str
