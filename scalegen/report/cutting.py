"""How many pieces come out of what is bought: blanks out of sheets, pins out of rods."""

from collections.abc import Sequence

from scalegen.model import SheetStock

_SLACK_MM = 1e-6


def blanks_per_sheet(sheet: SheetStock, length_mm: float, width_mm: float, kerf_mm: float) -> int:
    """Count the blanks that one sheet gives, grain along grain.

    Args:
        sheet: Sheet as bought.
        length_mm: Size of a blank along the grain.
        width_mm: Size across the grain.
        kerf_mm: Lost to the saw between two blanks.

    Returns:
        0 where the sheet is smaller than the blank.
    """
    along = _fit(sheet.length_mm, length_mm, kerf_mm)
    across = _fit(sheet.width_mm, width_mm, kerf_mm)
    return along * across


def share_out(pieces_mm: Sequence[float], rod_mm: float, kerf_mm: float) -> tuple[tuple[float, ...], ...]:
    """Share pieces out over rods: the longest first, each into the first rod with room for it.

    Args:
        pieces_mm: Lengths to cut, none longer than a rod.
        rod_mm: Length of a rod.
        kerf_mm: Lost to the saw between two pieces.

    Returns:
        The pieces of each rod. For pieces of one length, the fewest rods there can be.

    Raises:
        ValueError: A piece is longer than a rod.

    Source: first fit decreasing, D. S. Johnson, Near-optimal bin packing algorithms (MIT, 1973), from memory.
    """
    rods: list[list[float]] = []
    free: list[float] = []
    for piece in sorted(pieces_mm, reverse=True):
        if piece > rod_mm + _SLACK_MM:
            raise ValueError(f"a piece of {piece:g} mm is longer than the rod of {rod_mm:g} mm")
        # One kerf more than there are cuts, in the rod as in its pieces: the last cut may be none.
        place = next((i for i, room in enumerate(free) if piece + kerf_mm <= room + _SLACK_MM), None)
        if place is None:
            place = len(rods)
            rods.append([])
            free.append(rod_mm + kerf_mm)
        rods[place].append(piece)
        free[place] -= piece + kerf_mm
    return tuple(tuple(rod) for rod in rods)


def _fit(room_mm: float, size_mm: float, kerf_mm: float) -> int:
    """Pieces of one size in a room, with a kerf between them."""
    return int((room_mm + kerf_mm + _SLACK_MM) // (size_mm + kerf_mm))
