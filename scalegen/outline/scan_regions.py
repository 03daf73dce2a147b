"""Dark and light told apart, and the connected regions of what lies on the ground."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scalegen.errors import PatternError
from scalegen.outline.pieces import BoolArray, IntArray
from scalegen.outline.scan_load import Grey
from scalegen.sources import Tone

_MOST_RUNS = 2_000_000
_LEAST_CONTRAST = 25.0
_LEAST_CLEAR = 0.55


@dataclass(frozen=True, kw_only=True, eq=False)
class Tones:
    """A picture with what lies on it bright and the ground dark.

    Attributes:
        grey: uint8 (h, w), lightly smoothed; turned to its negative when the tang is dark.
        level: Grey level between the two.
        dark_tang: The tang was the dark part.
    """

    grey: Grey
    level: float
    dark_tang: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Region:
    """Pixels that hang together by their sides.

    Attributes:
        runs: int (k, 3): row, first column and the column after the last.
        area_px: Number of pixels.
        box_px: First column, first row, last column, last row.
    """

    runs: IntArray
    area_px: int
    box_px: tuple[int, int, int, int]

    @property
    def mask(self) -> BoolArray:
        """Bool (h, w) over the box with one empty pixel all round."""
        x0, y0, x1, y1 = self.box_px
        steps = np.zeros((y1 - y0 + 3, x1 - x0 + 4), dtype=np.int8)
        row = self.runs[:, 0] - y0 + 1
        steps[row, self.runs[:, 1] - x0 + 1] += 1
        steps[row, self.runs[:, 2] - x0 + 1] -= 1
        mask: BoolArray = np.cumsum(steps, axis=1, dtype=np.int8)[:, :-1] > 0
        return mask


def tell_apart(grey: Grey, tang: Tone, threshold: float | None, where: str) -> Tones:
    """Smooth lightly, find the level between dark and light, and which of the two is the ground.

    The ground is what most of the picture's border shows.

    Args:
        grey: uint8 (h, w).
        tang: Whether the tang is "dark" or "light" against its ground, or "auto".
        threshold: Grey level 0 to 255 between the two, None to find it.
        where: Named in errors.

    Raises:
        PatternError: Everything is of one tone.
    """
    smooth = smoothed_grey(grey)
    counts = np.bincount(smooth.ravel(), minlength=256).astype(np.float64)
    level, low, high, clear = otsu(counts)
    if threshold is not None:
        level = threshold
    elif high - low < _LEAST_CONTRAST or clear < _LEAST_CLEAR:
        raise PatternError(
            "there is no clear difference between dark and light in the picture",
            where=where,
            remedy="lay the tang on plain white or black paper and scan it without shadows",
        )
    border = np.concatenate([smooth[0], smooth[-1], smooth[:, 0], smooth[:, -1]])
    dark_tang = float(np.median(border)) > level if tang == "auto" else tang == "dark"
    # A level between two whole ones, so that no pixel lies on it.
    level = float(np.floor(level)) + 0.5
    if dark_tang:
        return Tones(grey=255 - smooth, level=255.0 - level, dark_tang=True)
    return Tones(grey=smooth, level=level, dark_tang=False)


def smoothed_grey(grey: Grey) -> Grey:
    """A picture blurred by the binomial weights 1, 4, 6, 4, 1 both ways: a standard deviation of 1 pixel."""
    table = grey.astype(np.uint16)
    for axis in (0, 1):
        ends = [(2, 2) if k == axis else (0, 0) for k in (0, 1)]
        wide, size = np.pad(table, ends, mode="edge"), table.shape[axis]
        parts = [wide[k : k + size] if axis == 0 else wide[:, k : k + size] for k in range(5)]
        table = parts[2] * np.uint16(6)
        table += (parts[1] + parts[3]) * np.uint16(4)
        table += parts[0] + parts[4]
    # The sums stay below 256 * 256: both weights together add up to 256.
    smooth: Grey = ((table // np.uint16(2) + np.uint16(64)) // np.uint16(128)).clip(0, 255).astype(np.uint8)
    return smooth


def otsu(counts: npt.NDArray[np.float64]) -> tuple[float, float, float, float]:
    """The level that parts a histogram so that the two halves differ most.

    Args:
        counts: float64 (256,) how many pixels have each grey level.

    Returns:
        (level, mean below, mean above, share of the variance that the two means explain).

    Source: N. Otsu, "A threshold selection method from gray-level histograms", IEEE Trans. Systems, Man
    and Cybernetics 9 (1979), 62-66; from memory. Of several equally good levels the middle one is taken.
    """
    grey = np.arange(len(counts), dtype=np.float64)
    total, mean = counts.sum(), float((counts * grey).sum() / counts.sum())
    below = np.cumsum(counts)
    moment = np.cumsum(counts * grey)
    with np.errstate(divide="ignore", invalid="ignore"):
        between = total * (mean * below - moment) ** 2 / (below * (total - below))
    between = np.where((below > 0) & (below < total), between, 0.0)
    best = np.flatnonzero(between >= between.max() * (1 - 1e-12))
    k = int(best[len(best) // 2])
    spread = float((counts * (grey - mean) ** 2).sum())
    low = float(moment[k] / max(below[k], 1.0))
    high = float((moment[-1] - moment[k]) / max(total - below[k], 1.0))
    return (low + high) / 2, low, high, float(between[k]) / spread if spread > 0 else 0.0


def regions_of(tones: Tones, least_px: int, where: str) -> tuple[list[Region], int]:
    """Regions brighter than the level.

    Args:
        tones: The picture.
        least_px: Smaller regions are specks.
        where: Named in errors.

    Returns:
        (regions, largest first; number of specks).

    Raises:
        PatternError: The picture is nothing but specks.
    """
    starts, ends, width = _runs(tones, where)
    if not len(starts):
        return [], 0
    label = _labels(starts, ends, width)
    order = np.argsort(label, kind="stable")
    starts, ends, label = starts[order], ends[order], label[order]
    first = np.flatnonzero(np.concatenate([[True], label[1:] != label[:-1]]))
    areas = np.add.reduceat(ends - starts, first)
    stops = np.append(first[1:], len(label))
    large = np.flatnonzero(areas >= least_px)
    regions = [
        _region(starts[a:b], ends[a:b], width) for a, b in zip(first[large], stops[large], strict=True)
    ]
    regions.sort(key=lambda region: (-region.area_px, region.box_px))
    return regions, len(areas) - len(large)


def _runs(tones: Tones, where: str) -> tuple[IntArray, IntArray, int]:
    """First pixel of each run of bright pixels and the pixel after it, in a table one column wider."""
    height, width = tones.grey.shape
    bright = np.zeros((height, width + 2), dtype=np.int8)
    bright[:, 1:-1] = tones.grey > tones.level
    change = np.diff(bright.ravel())
    starts, ends = np.flatnonzero(change == 1) + 1, np.flatnonzero(change == -1) + 1
    if len(starts) > _MOST_RUNS:
        raise PatternError(
            "the picture is full of specks, so that no shape stands out",
            where=where,
            remedy="clean the glass, use plain paper, and save the scan in grey or colour",
        )
    return starts, ends, width + 2


def _labels(starts: IntArray, ends: IntArray, width: int) -> IntArray:
    """A number for each run; runs that touch by their sides share it."""
    low = np.searchsorted(ends, starts + width, side="right")
    high = np.searchsorted(starts, ends + width, side="left")
    counts = np.maximum(high - low, 0)
    i = np.repeat(np.arange(len(starts)), counts)
    j = np.arange(len(i)) - np.repeat(np.cumsum(counts) - counts, counts) + low[i]
    label = np.arange(len(starts))
    while True:
        a, b = label[i], label[j]
        apart = a != b
        if not apart.any():
            return label
        np.minimum.at(label, np.maximum(a, b)[apart], np.minimum(a, b)[apart])
        while (label[label] != label).any():
            label = label[label]


def _region(starts: IntArray, ends: IntArray, width: int) -> Region:
    """A region from its runs."""
    row, first = np.divmod(starts, width)
    last = first + (ends - starts)
    runs = np.column_stack([row, first - 1, last - 1])
    box = int(first.min()) - 1, int(row.min()), int(last.max()) - 2, int(row.max())
    return Region(runs=runs, area_px=int((ends - starts).sum()), box_px=box)
