"""Path data of SVG: the small language of the ``d`` attribute turned into subpaths."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass

from scalegen.outline.drawing import UnreadableError
from scalegen.outline.svg_segments import Bezier, Line, Point, Segment, Subpath, arc_between, raised
from scalegen.outline.svg_values import NUMBER, number

_NUMBER = re.compile(rf"[\s,]*({NUMBER})")
_FLAG = re.compile(r"[\s,]*([01])")
_COMMAND = re.compile(r"[\s,]*([A-Za-z])")
_MORE = re.compile(r"[\s,]*[^\s,]")
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


@dataclass(frozen=True, kw_only=True)
class PathData:
    """What was read.

    Attributes:
        subpaths: As far as reading went.
        fault: Why and where it stopped early, or nothing.
        too_much: It stopped because there is too much.
    """

    subpaths: tuple[Subpath, ...]
    fault: str
    too_much: bool = False


def read_path(text: str, most: int) -> PathData:
    """Subpaths of path data.

    Args:
        text: The ``d`` attribute.
        most: Largest number of segments.

    Returns:
        The subpaths up to the first fault, in user units.
    """
    pen = _Pen()
    at, command, fault, count = 0, "", "", 0
    try:
        while _MORE.match(text, at) is not None:
            command, values, at = _next(text, at, command)
            pen.draw(command, values)
            command = {"M": "L", "m": "l"}.get(command, command)
            count += 1
            if count > most:
                fault = f"more than {most} segments"
                break
    except UnreadableError as error:
        fault = f"path data, character {at + 1}: {error}"
    return PathData(subpaths=pen.finished(), fault=fault, too_much=count > most)


def _next(text: str, at: int, command: str) -> tuple[str, list[float], int]:
    """The next command, the one before where no letter stands; its numbers; and where reading goes on."""
    found = _COMMAND.match(text, at)
    if found is not None:
        command, at = found[1], found.end()
    if not command or (command in "Zz" and found is None):
        raise UnreadableError("a command is missing")
    values, at = _values(text, at, command.upper())
    return command, values, at


def _values(text: str, at: int, command: str) -> tuple[list[float], int]:
    """The numbers one command needs, and where reading goes on."""
    if command not in _COUNTS:
        raise UnreadableError(f"{command!r} is no command")
    values = []
    for k in range(_COUNTS[command]):
        # Flags of an arc are single digits that need nothing between them.
        pattern = _FLAG if command == "A" and k in {3, 4} else _NUMBER
        found = pattern.match(text, at)
        if found is None:
            what = "a flag 0 or 1" if pattern is _FLAG else "a number"
            raise UnreadableError(f"{what} is missing after {command}")
        values.append(number(found[1]))
        at = found.end()
    return values, at


class _Pen:
    """Where the pen is while path data is read."""

    def __init__(self) -> None:
        self._done: list[Subpath] = []
        self._segments: list[Segment] = []
        self._start: Point | None = None
        self._at: Point = (0.0, 0.0)
        self._cubic: Point | None = None
        self._quadratic: Point | None = None

    def draw(self, command: str, values: list[float]) -> None:
        """Carry out one command.

        Args:
            command: Its letter; a small one counts from where the pen is.
            values: Its numbers.

        Raises:
            UnreadableError: The path does not begin with a move.
        """
        low, kind = command.islower(), command.upper()
        if self._start is None and kind != "M":
            raise UnreadableError("a path must begin with M")
        cubic, quadratic, self._cubic, self._quadratic = self._cubic, self._quadratic, None, None
        if kind == "Z":
            self._end(closed=True)
            return
        if kind == "H":
            end = (values[0] + (self._at[0] if low else 0.0), self._at[1])
        elif kind == "V":
            end = (self._at[0], values[0] + (self._at[1] if low else 0.0))
        else:
            end = self._place(values[-2:], low)
        if kind == "M":
            self._end(closed=False)
            self._start = self._at = end
            return
        self._add(_MAKERS[kind](self, values, low, end, cubic if kind == "S" else quadratic), end)

    def finished(self) -> tuple[Subpath, ...]:
        """All subpaths with at least one segment."""
        self._end(closed=False)
        return tuple(self._done)

    def line(self, _values: list[float], _low: bool, end: Point, _before: Point | None) -> Segment:
        return Line(end=end)

    def cubic(self, values: list[float], low: bool, end: Point, _before: Point | None) -> Segment:
        return self._bezier(self._place(values[:2], low), self._place(values[2:4], low), end)

    def smooth_cubic(self, values: list[float], low: bool, end: Point, before: Point | None) -> Segment:
        return self._bezier(self._mirror(before), self._place(values[:2], low), end)

    def quadratic(self, values: list[float], low: bool, end: Point, _before: Point | None) -> Segment:
        self._quadratic = self._place(values[:2], low)
        return raised(self._at, self._quadratic, end)

    def smooth_quadratic(self, _values: list[float], _low: bool, end: Point, before: Point | None) -> Segment:
        self._quadratic = self._mirror(before)
        return raised(self._at, self._quadratic, end)

    def arc(self, values: list[float], _low: bool, end: Point, _before: Point | None) -> Segment | None:
        rx, ry, turned, large, sweep = values[:5]
        return arc_between(
            self._at, (rx, ry), math.radians(turned % 360), large=large == 1, sweep=sweep == 1, end=end
        )

    def _bezier(self, first: Point, second: Point, end: Point) -> Bezier:
        self._cubic = second
        return Bezier(first=first, second=second, end=end)

    def _place(self, values: list[float], low: bool) -> Point:
        x, y = values
        return (x + self._at[0], y + self._at[1]) if low else (x, y)

    def _mirror(self, before: Point | None) -> Point:
        """The control point before, on the other side of the pen."""
        return self._at if before is None else (2 * self._at[0] - before[0], 2 * self._at[1] - before[1])

    def _add(self, segment: Segment | None, end: Point) -> None:
        if segment is not None:
            self._segments.append(segment)
        self._at = end

    def _end(self, *, closed: bool) -> None:
        """End the subpath; what follows a Z without a move begins where that one began."""
        if self._segments and self._start is not None:
            self._done.append(Subpath(start=self._start, segments=tuple(self._segments), closed=closed))
        self._segments = []
        if closed and self._start is not None:
            self._at = self._start


_Maker = Callable[[_Pen, list[float], bool, Point, Point | None], Segment | None]

_MAKERS: dict[str, _Maker] = {
    "L": _Pen.line,
    "H": _Pen.line,
    "V": _Pen.line,
    "C": _Pen.cubic,
    "S": _Pen.smooth_cubic,
    "Q": _Pen.quadratic,
    "T": _Pen.smooth_quadratic,
    "A": _Pen.arc,
}
