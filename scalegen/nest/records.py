"""Plain records of the arrangement: what is laid, on what, and what came of it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

import shapely

from scalegen.outline.ring import FloatArray

Effort: TypeAlias = Literal["quick", "normal", "thorough"]
Progress: TypeAlias = Callable[[int, int, str], None]
Stop: TypeAlias = Callable[[], bool]


@dataclass(frozen=True, kw_only=True, eq=False)
class Shape:
    """The footprint of one kind of part.

    Attributes:
        key: Its name.
        points_mm: float64 (n, 2), a simple polygon that contains the true footprint, in the part's own frame.
    """

    key: str
    points_mm: FloatArray


@dataclass(frozen=True, kw_only=True)
class Part:
    """One shape inside a body: turned about its own origin, then moved.

    Attributes:
        shape: Key of the shape.
        angle_rad: Turn about the shape's origin.
        x_mm: Where the shape's origin lands in the body's frame.
        y_mm: The same across.
    """

    shape: str
    angle_rad: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Body:
    """What is moved as one rigid thing.

    Attributes:
        key: Its name, such as "harrier left".
        parts: One scale, or both of a pair held together.
        group: Bodies that carry the same group belong together: a group is placed whole, on one board, or not
            at all.
        angles_rad: Turns about the body's origin it may take; a fine list where any will do. A quick search
            tries no more than a few of them.
        count: How many of its group are wanted; None is as many as go. The same for all bodies of a group.
        others: Other ways to hold the same parts together, any of which will do.
        free: Any turn will do: the angles listed are only where the search begins. Needs a spacing above 0.
    """

    key: str
    parts: tuple[Part, ...]
    group: str
    angles_rad: tuple[float, ...] = (0.0,)
    count: int | None = None
    others: tuple[tuple[Part, ...], ...] = ()
    free: bool = False

    @property
    def forms(self) -> tuple[tuple[Part, ...], ...]:
        """Every way to hold the parts together, ``parts`` first."""
        return (self.parts, *self.others)


@dataclass(frozen=True, kw_only=True, eq=False)
class Board:
    """Where parts may lie: what is left of a sheet once margin, pad and flaws are taken out.

    Attributes:
        key: Its name.
        region: Polygon or polygons, holes and all, in mm. Parts may touch its edge.
    """

    key: str
    region: shapely.Polygon | shapely.MultiPolygon


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where one body lies.

    Attributes:
        body: Key of the body.
        board: Key of the board.
        number: Which copy of its group it belongs to, from 1, counted through all boards.
        form: Which of the body's ``forms``.
        angle_rad: Turn about the body's origin, counter-clockwise.
        x_mm: Where the body's origin lands.
        y_mm: The same across.
    """

    body: str
    board: str
    number: int
    form: int
    angle_rad: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, kw_only=True)
class Bound:
    """More than this cannot go, and why.

    Attributes:
        groups: Most groups that can be placed.
        reason: In words.
    """

    groups: int
    reason: str


@dataclass(frozen=True, kw_only=True)
class Result:
    """What a search found.

    Attributes:
        spots: Where every body lies: by board, then number, then body.
        found: Whole groups placed.
        wanted: Groups asked for; None where as many as go were.
        boards: Keys of the boards in use.
        bound: Proven limit on the number of groups.
        fewest_boards: Proven limit on the number of boards for what was found.
        moves: Moves spent.
        stopped: Ended by ``stop`` before its budget.
    """

    spots: tuple[Spot, ...]
    found: int
    wanted: int | None
    boards: tuple[str, ...]
    bound: Bound
    fewest_boards: int
    moves: int
    stopped: bool

    @property
    def proven(self) -> bool:
        """Whether nothing better is possible: the limit is reached."""
        if self.wanted is None:
            return self.found == self.bound.groups
        return self.found == min(self.wanted, self.bound.groups) and len(self.boards) <= self.fewest_boards


def silent(found: int, most: int, trying: str) -> None:
    """Tell nobody."""


def onward() -> bool:
    """Never stop."""
    return False
