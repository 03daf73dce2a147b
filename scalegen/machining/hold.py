"""What holds each part after a stage, and what comes loose.

A blank is cut from above, so whatever material is left over a cell stands on the bed there. Cells that touch
side by side belong together; what no longer belongs to the frame, the largest piece of waste, is held by the
bed alone, by tape or vacuum on the area it stands on.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.machining.dry_run import SAME_MM, DryRun
from scalegen.machining.field import BoolGrid, HeightField
from scalegen.machining.tabs import tab_cells
from scalegen.machining.target import Target

LabelGrid = npt.NDArray[np.int32]

TABS_CUT = "tabs cut by hand"
"""What follows the last stage of a job with tabs."""

LEAST_OFFCUT_MM2 = 0.25
"""Smaller crumbs go with the dust."""


@dataclass(frozen=True, kw_only=True)
class HeldPart:
    """One part after a stage.

    Attributes:
        label: Of its placement.
        area_mm2: Area that it stands on the bed with.
        in_blank: Whether it still hangs together with the frame.
        joined: Labels of other parts that it hangs together with.
    """

    label: str
    area_mm2: float
    in_blank: bool
    joined: tuple[str, ...]

    @property
    def is_loose(self) -> bool:
        """Whether nothing but the bed holds it."""
        return not self.in_blank and not self.joined


@dataclass(frozen=True, kw_only=True)
class Offcut:
    """A piece of waste that nothing but the bed holds: a place on it, and the area it stands on."""

    at_mm: tuple[float, float]
    area_mm2: float


@dataclass(frozen=True, kw_only=True)
class Hold:
    """Everything about hold-down after one stage.

    Attributes:
        stage: Its name.
        parts: Every part.
        offcuts: Loose pieces of waste, from large to small, the pad's own among them.
        loosened: Labels of the parts that this stage set free.
        pad_mm2: Area that the piece with the reference pad stands on the bed with; of several pads the least.
        pad_in_blank: Whether every pad still hangs together with the frame. A pad that may shift is no
            reference any more.
    """

    stage: str
    parts: tuple[HeldPart, ...]
    offcuts: tuple[Offcut, ...]
    loosened: tuple[str, ...]
    pad_mm2: float
    pad_in_blank: bool


def holds(run: DryRun) -> tuple[Hold, ...]:
    """Hold-down after every stage of a dry run."""
    found: list[Hold] = []
    loose: frozenset[str] = frozenset()
    for shot in run.shots:
        found.append(held(shot.name, shot.field, run.target, loose))
        loose |= frozenset(found[-1].loosened)
    return tuple(found)


def tabbed(run: DryRun) -> frozenset[str]:
    """Labels of the parts that a tab begins or ends at; where patterns share a blank, some may have none."""
    numbers: set[int] = set()
    for tab in run.tabs:
        window, cells = tab_cells(run.last, tab, run.shots[-1].shape.radius_mm if run.shots else 0.0)
        numbers |= set(np.unique(run.target.parts[window][cells]).tolist())
    return frozenset(run.target.labels[number] for number in numbers if number >= 0)


def freed(run: DryRun) -> Hold | None:
    """Hold-down once every tab is cut by hand; None for a job without tabs.

    What goes with a tab is all that the cutter left in the corners beside it.
    """
    if not run.tabs or not run.shots:
        return None
    heights = run.last.heights_mm.copy()
    radius = run.shots[-1].shape.radius_mm
    for tab in run.tabs:
        window, cells = tab_cells(run.last, tab, radius, beside_mm=2 * radius)
        web = cells & (run.target.parts[window] < 0) & (heights[window] <= tab.height_mm + SAME_MM)
        heights[window][web] = 0.0
    before = frozenset(part.label for part in holds(run)[-1].parts if part.is_loose)
    return held(TABS_CUT, run.last.changed(heights), run.target, before)


def held(stage: str, field: HeightField, target: Target, loose: frozenset[str] = frozenset()) -> Hold:
    """Parts and loose off-cuts of a blank.

    Args:
        stage: Named in the answer.
        field: Heights left.
        target: Which cells belong to which part, and where the pad is.
        loose: Labels of parts that were free before.
    """
    stands = field.heights_mm > SAME_MM
    labels, count = components(stands)
    sizes = np.bincount(labels[stands], minlength=count)
    frame = _commonest(labels[target.parts < 0])
    pads = [_commonest(labels[field.window(pad)]) for pad in target.pads]
    cells = [(target.parts == number) & stands for number in range(len(target.labels))]
    pieces = [_commonest(labels[own]) for own in cells]
    parts = tuple(
        HeldPart(
            label=label,
            area_mm2=float(np.count_nonzero(cells[number])) * field.cell_mm2,
            in_blank=pieces[number] == frame >= 0,
            joined=tuple(
                other
                for k, other in enumerate(target.labels)
                if k != number and pieces[k] == pieces[number] >= 0
            ),
        )
        for number, label in enumerate(target.labels)
    )
    return Hold(
        stage=stage,
        parts=parts,
        offcuts=_offcuts(field, labels, sizes, {frame, *pieces}),
        loosened=tuple(part.label for part in parts if part.is_loose and part.label not in loose),
        pad_mm2=min(float(sizes[pad]) * field.cell_mm2 if pad >= 0 else 0.0 for pad in pads),
        pad_in_blank=all(pad == frame >= 0 for pad in pads),
    )


def components(mask: BoolGrid) -> tuple[LabelGrid, int]:
    """Number the pieces of a mask; cells belong together when they share a side.

    Args:
        mask: (rows, cols).

    Returns:
        int32 (rows, cols) number of the piece from 0, -1 outside the mask; how many pieces there are.

    Source: labelling by runs of cells in a row and a forest of equal labels, as in textbooks on image
    processing.
    """
    cols = mask.shape[1]
    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    row, first = np.nonzero(edges == 1)
    last = np.nonzero(edges == -1)[1]
    labels = np.full(mask.shape, -1, dtype=np.int32)
    if not len(row):
        return labels, 0
    # Runs of the next row that begin before this one ends and end after it begins.
    pitch = cols + 1
    low = np.searchsorted(row * pitch + last, (row + 1) * pitch + first, side="right")
    high = np.searchsorted(row * pitch + first, (row + 1) * pitch + last, side="left")
    links = np.maximum(high - low, 0)
    one = np.repeat(np.arange(len(row)), links)
    other = np.arange(len(one)) - np.repeat(np.cumsum(links) - links, links) + low[one]
    root = _roots(len(row), one, other)
    names, number = np.unique(root, return_inverse=True)
    labels[mask] = np.repeat(number.astype(np.int32), last - first)
    return labels, len(names)


def _roots(count: int, one: npt.NDArray[np.intp], other: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    """The smallest member of each set, for pairs that belong together."""
    root = np.arange(count)
    while True:
        a, b = root[one], root[other]
        if (a == b).all():
            return root
        np.minimum.at(root, np.maximum(a, b), np.minimum(a, b))
        while not np.array_equal(root, root[root]):
            root = root[root]


def _commonest(labels: LabelGrid) -> int:
    there = labels[labels >= 0]
    return int(np.bincount(there).argmax()) if there.size else -1


def _offcuts(
    field: HeightField, labels: LabelGrid, sizes: npt.NDArray[np.intp], known: set[int]
) -> tuple[Offcut, ...]:
    found = []
    for piece in np.argsort(-sizes, kind="stable").tolist():
        area = float(sizes[piece]) * field.cell_mm2
        if piece in known or area < LEAST_OFFCUT_MM2:
            continue
        # A cell in the middle of its list lies on the piece, whatever its shape.
        rows, cols = np.nonzero(labels == piece)
        row, col = int(rows[len(rows) // 2]), int(cols[len(cols) // 2])
        found.append(Offcut(at_mm=(float(field.xs_mm[col]), float(field.ys_mm[row])), area_mm2=area))
    return tuple(found)
