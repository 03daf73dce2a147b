"""Plain first layouts: one body after the other to the free place nearest a side or corner."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from scalegen.nest.poses import Pose
from scalegen.nest.raster import IntArray
from scalegen.nest.table import Piece, Table

# How much a step along x and along y counts against a place.
WAYS = ((1000, 1), (1, 1000), (-1000, -1), (-1, -1000), (3, 5), (-2, -5), (1000, -1), (-1, 1000))


class Heap:
    """A board being filled from one side.

    Args:
        table: The board.
        way: What a step to the right and a step up cost; negative numbers fill from the far side.
    """

    def __init__(self, table: Table, way: tuple[int, int]) -> None:
        self._table = table
        self._way = way
        self._blocked: dict[int, IntArray] = {}
        self._seen: dict[int, Pose] = {}
        self._price: dict[int, npt.NDArray[np.int64]] = {}
        self.pieces: tuple[Piece, ...] = ()

    def put(self, bodies: Sequence[int]) -> bool:
        """Place a group of bodies, all of them or none.

        Args:
            bodies: Numbers of the bodies.

        Returns:
            Whether there was room.
        """
        before = self.pieces
        blocked = {kind: costs.copy() for kind, costs in self._blocked.items()}
        for body in bodies:
            piece = self._cheapest(body)
            if piece is None:
                self.pieces, self._blocked = before, blocked
                return False
            self.pieces = (*self.pieces, piece)
            self._block(piece)
        return True

    def _cheapest(self, body: int) -> Piece | None:
        """The free place of a body that costs least, over all poses."""
        found: tuple[int, Piece] | None = None
        for number in self._table.usable[body]:
            pose = self._table.poses[body][number]
            price = np.where(
                self._costs(body, number) == 0, self._prices(body, number), np.iinfo(np.int64).max
            )
            at = int(price.argmin())
            cost = int(price.flat[at])
            if cost < np.iinfo(np.int64).max and (found is None or cost < found[0]):
                columns = self._table.allows(pose).shape[1]
                found = cost, Piece(body=body, pose=number, x=at % columns, y=at // columns)
        return None if found is None else found[1]

    def _costs(self, body: int, number: int) -> IntArray:
        """Above 0 where a pose may not lie."""
        pose = self._table.poses[body][number]
        if pose.kind not in self._blocked:
            costs = self._table.costs(pose, self.pieces, [1] * len(self.pieces))
            self._blocked[pose.kind] = costs
            self._seen[pose.kind] = pose
        return self._blocked[pose.kind]

    def _prices(self, body: int, number: int) -> npt.NDArray[np.int64]:
        """What each place of a pose costs: how far its box's middle is from the side."""
        pose = self._table.poses[body][number]
        if pose.kind not in self._price:
            rows, columns = self._table.allows(pose).shape
            along, across = self._way
            middle = [int(side / self._table.step_mm) for side in pose.size_mm]
            x = 2 * np.arange(columns, dtype=np.int64)[None, :] + middle[0]
            y = 2 * np.arange(rows, dtype=np.int64)[:, None] + middle[1]
            self._price[pose.kind] = along * x + across * y
        return self._price[pose.kind]

    def _block(self, piece: Piece) -> None:
        """Let a new piece block places of every pose looked at so far."""
        for kind, costs in self._blocked.items():
            self._table.add(costs, self._seen[kind], (piece,), (1,))
