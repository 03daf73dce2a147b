"""The smallest sheet: any turn has a narrowest width, and what the search cannot mind is refused."""

import math

import pytest

from scalegen.errors import UsageError
from scalegen.model import JobSpec, KeepOut, Pad
from scalegen.model.job import TURNS
from scalegen.outline.blank import box_rows
from scalegen.outline.ring import Ring
from scalegen.outline.transform import moved
from scalegen.smallest import _narrowest_mm, _Task, require_plain

BAR = moved(Ring.from_rows([(0, 0), (60, 0), (60, 20), (0, 20)]), 0.0, 0.0, math.radians(17))


def test_any_turn_has_a_narrowest_width() -> None:
    """A bar of 60 x 20 mm drawn aslant by 17 degrees is 20 mm wide once it may be turned as it likes."""
    task = _Task(
        pattern="bar",
        rings={"left": BAR, "right": BAR},
        shapes=(),
        bodies=(),
        pairs=1,
        spacing_mm=0.0,
        ring_mm=0.0,
    )
    free = _narrowest_mm(task, JobSpec(turns_rad=TURNS["free"]))
    assert free == pytest.approx(20.0, abs=0.02)
    aslant = 60 * math.sin(math.radians(17)) + 20 * math.cos(math.radians(17))
    assert _narrowest_mm(task, JobSpec()) == pytest.approx(aslant, abs=0.03)


@pytest.mark.parametrize(
    ("spec", "where"),
    [
        (JobSpec(grain_rad=0.3), "grain"),
        (JobSpec(pad=Pad(second="upper-right")), "second"),
        (JobSpec(keep_out=(KeepOut(rows=box_rows(1, 1, 9, 9)),)), "keep_out"),
    ],
)
def test_what_it_cannot_mind_is_refused(spec: JobSpec, where: str) -> None:
    """A batch file with a grain aslant, a second pad or a flaw is not answered as if it had none."""
    with pytest.raises(UsageError, match="plain rectangle") as caught:
        require_plain(spec)
    assert where in caught.value.where
    require_plain(JobSpec())
