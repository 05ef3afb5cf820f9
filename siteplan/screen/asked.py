"""What a screen is asked, and what it finds of one lot: values that any process can be handed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

ScreenState = Literal["short", "cannot-tell", "rear", "street", "both"]
SCREEN_STATES: tuple[ScreenState, ...] = get_args(ScreenState)  # worst first
ScreenWhy = Literal[
    "", "no-outline", "no-ground", "no-corner", "no-way", "no-outlet", "parted", "fault"
]  # what a margin alone does not say

# one standard deviation of public lidar's ground, 0.30 ft: reference sheet of practice, 'public lidar is about +-0.3
# ft'
PUBLIC_ELEVATION_FT = 0.30
# from a street's middle to its gutter: common practice, no source (two lanes and parking)
HALF_STREET = 4.0  # m
SURE_FROM = 0.95  # chance from which a lot drains, or is short, for sure: as a plan's lines (docs/doubt.md)


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenAsked:
    """Files by whole paths, and how they are to be read. Lengths in metres."""

    parcels: str
    elevation: str
    buildings: str | None = None
    streets: str | None = None
    name_field: str | None = None
    elevation_unit: str | None = None  # None: as the files say
    accuracy: float
    half_street: float = HALF_STREET
    min_grade: float | None = None  # percent; None: the default rules'


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceToShoot:
    """A place whose elevation would settle a lot; in the parcels' own coordinates."""

    x: float
    y: float
    what: Literal["outlet", "corner"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotScreen:
    """What the screen finds of one lot.

    Attributes
    ----------
    number : int
        Of the parcel in its file, from 1.
    name : str
        As the file calls it, or its number.
    state : str
        'street', 'rear' or 'both' drain by gravity; 'short'; 'cannot-tell'.
    margin : float or None
        Least fall to spare of the corners, each by its better way [m]; below 0: short by so much; None: not to be
        measured.
    street, rear : float or None
        The same by that way alone.
    chance : float or None
        That the margin is there.
    drawn_house : bool
        Whether a building was drawn on it; else one was assumed.
    why : str
        What the margin does not say.
    shots : tuple of PlaceToShoot
        For a lot that cannot be told.
    ring : tuple
        Outer ring in longitude and latitude.
    own_ring : tuple
        The same in the parcels' own coordinates.
    """

    number: int
    name: str
    state: ScreenState
    margin: float | None = None
    street: float | None = None
    rear: float | None = None
    chance: float | None = None
    drawn_house: bool = False
    why: ScreenWhy = ""
    shots: tuple[PlaceToShoot, ...] = ()
    ring: tuple[tuple[float, float], ...] = ()
    own_ring: tuple[tuple[float, float], ...] = ()
