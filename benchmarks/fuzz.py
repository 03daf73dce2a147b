"""Damaged files by the thousand: every one must be answered or refused, in time, and never fail otherwise.

Each small seed file is changed at random by bytes, lines, numbers, swaps, cuts and repeats, and read. The
same kind, count and seed give the same files again.
"""

import argparse
import re
import resource
import shutil
import signal
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random

from benchmarks.fuzz_seeds import SEEDS
from scalegen.errors import PatternError
from scalegen.model import OutlineSource
from scalegen.outline.read import outline_of, survey

LIMIT_S = 10
SLOW_S = 5.0

_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
_ODD_NUMBERS = (
    *(b"0", b"-1", b"1", b"2", b"nan", b"inf", b"1e400", b"-1e308", b"1e-320", b"1e6", b"99999999999"),
    *(b"0.0000001", b"65535", b"-0.0", b"1e300", b"3000", b"6.28318", b"360", b"1,5", b""),
)
_ODD_LINES = (
    *(b"", b"0", b"ENDSEC", b"SECTION", b"INSERT", b"BLOCK", b"SPLINE", b"LWPOLYLINE", b"  0", b"\xff\xfe"),
    *(b"<g>", b"</g>", b"<path d='M0 0a1 1 0 0 1 5 5z'/>", b"1;2;3", b"x,y", b"#", b"\x00", b'"'),
)

Mutation = Callable[[Random, bytes], bytes]


class _TooSlowError(BaseException):
    """Raised by the alarm; no handler for ordinary errors may catch it."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of one file: "answered", "refused", or the name of anything else."""

    name: str
    seconds: float
    trace: str = ""

    @property
    def fine(self) -> bool:
        """It was answered or refused."""
        return self.name in {"answered", "refused"}


# ------------------------------------------------------------------------------------------- changes


def _span(random: Random, data: bytes, longest: int) -> tuple[int, int]:
    """Start and stop of a random part."""
    start = random.randrange(max(1, len(data)))
    return start, min(len(data), start + random.randint(1, longest))


def some_bytes(random: Random, data: bytes) -> bytes:
    """Overwrite, put in or take out single bytes."""
    out = bytearray(data)
    for _ in range(random.randint(1, 8)):
        k = random.randrange(max(1, len(out)))
        chance = random.random()
        if chance < 0.6 and out:
            out[k] = random.randrange(256)
        elif chance < 0.8:
            out.insert(k, random.randrange(256))
        elif out:
            del out[k]
    return bytes(out)


def some_lines(random: Random, data: bytes) -> bytes:
    """Replace, take out, put in or copy lines."""
    lines = data.split(b"\n")
    for _ in range(random.randint(1, 12)):
        k = random.randrange(len(lines))
        match random.randrange(4):
            case 0:
                lines[k] = random.choice(_ODD_LINES)
            case 1 if len(lines) > 1:
                del lines[k]
            case 2:
                lines.insert(k, random.choice(_ODD_LINES))
            case _:
                lines[k] = random.choice(lines)
    return b"\n".join(lines)


def some_numbers(random: Random, data: bytes) -> bytes:
    """Put odd numbers, or other numbers of the file, where numbers stand."""
    found = list(_NUMBER.finditer(data))
    if not found:
        return some_bytes(random, data)
    chosen = sorted(random.sample(found, min(len(found), random.randint(1, 8))), key=lambda m: -m.start())
    for match in chosen:
        new = random.choice(found).group() if random.random() < 0.4 else random.choice(_ODD_NUMBERS)
        data = data[: match.start()] + new + data[match.end() :]
    return data


def swaps(random: Random, data: bytes) -> bytes:
    """Exchange two runs of lines."""
    lines = data.split(b"\n")
    a, b = sorted(random.randrange(len(lines)) for _ in range(2))
    long = random.randint(1, 20)
    c = min(a + long, b)
    d = min(b + random.randint(1, 20), len(lines))
    return b"\n".join([*lines[:a], *lines[b:d], *lines[c:b], *lines[a:c], *lines[d:]])


def cuts(random: Random, data: bytes) -> bytes:
    """Take a part out, or everything after a place."""
    a, b = _span(random, data, 2000)
    return data[:a] if random.random() < 0.4 else data[:a] + data[b:]


def repeats(random: Random, data: bytes) -> bytes:
    """Say a part, or a run of lines, many times over."""
    if random.random() < 0.5:
        a, b = _span(random, data, 400)
        return data[:a] + data[a:b] * random.randint(2, 200) + data[b:]
    lines = data.split(b"\n")
    a = random.randrange(len(lines))
    b = min(len(lines), a + random.randint(1, 60))
    return b"\n".join([*lines[:a], *lines[a:b] * random.randint(2, 60), *lines[b:]])


MUTATIONS: tuple[Mutation, ...] = (some_bytes, some_lines, some_numbers, some_numbers, swaps, cuts, repeats)


def mutated(random: Random, data: bytes) -> bytes:
    """One to three changes, one after the other."""
    for _ in range(random.choice((1, 1, 2, 3))):
        data = random.choice(MUTATIONS)(random, data)
    return data


# ------------------------------------------------------------------------------------------- reading


@contextmanager
def _alarm(seconds: float) -> Iterator[None]:
    """Break off what takes too long."""

    def ring(*_: object) -> None:
        raise _TooSlowError

    before = signal.signal(signal.SIGPROF, ring)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def judge(path: Path) -> Verdict:
    """Read a file, take the outline of what was found, and say what came of it."""
    start = time.process_time()
    name, trace = "answered", ""
    source = OutlineSource(path=path)
    try:
        with _alarm(LIMIT_S):
            try:
                found = survey(source, units="mm")
                outline_of(found, where=path.name)
                if found.reason:
                    name = "survey and reading differ"
            except PatternError as error:
                name = "refused" if error.message else "refused without a word"
    except _TooSlowError:
        name, trace = "too slow", traceback.format_exc(limit=-6)
    except (Exception, RecursionError) as error:  # noqa: BLE001 - whatever it is, it is what is looked for
        name, trace = type(error).__name__, traceback.format_exc(limit=-6)
    return Verdict(name=name, seconds=time.process_time() - start, trace=trace)


def run(words: Sequence[str]) -> str:
    """Change and read files as the command says.

    Args:
        words: Kind, count and options of the command line.

    Returns:
        The table.
    """
    asked = _asked(words)
    seeds = [*SEEDS[asked.kind](), *((path.suffix, path.read_bytes()) for path in asked.files)]
    counts: Counter[str] = Counter()
    slowest, slow = Verdict(name="none", seconds=0.0), "none"
    traces: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.count):
            random = Random(f"{asked.kind} {asked.seed} {number}")  # noqa: S311 - no secret
            suffix, data = random.choice(seeds)
            path = Path(folder) / f"{asked.kind}-{asked.seed}-{number}{suffix}"
            path.write_bytes(mutated(random, data))
            verdict = judge(path)
            counts[verdict.name] += 1
            if verdict.seconds > slowest.seconds:
                slowest, slow = verdict, path.name
            if not verdict.fine or verdict.seconds > SLOW_S:
                _keep(path, asked.keep)
                traces.setdefault(verdict.trace.strip().split("\n")[-1], f"{path.name}\n{verdict.trace}")
            path.unlink()
    return _table(counts, f"{slowest.seconds:.2f} s ({slow})", traces)


def _asked(words: Sequence[str]) -> argparse.Namespace:
    """The command line in parts."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks fuzz", description=__doc__)
    parser.add_argument("kind", choices=sorted(SEEDS))
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="folder for files that fail or take long")
    parser.add_argument("files", type=Path, nargs="*", help="more seed files")
    return parser.parse_intermixed_args(words)


def _keep(path: Path, folder: Path | None) -> None:
    """Save an offender."""
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copy(path, folder / path.name)


def _table(counts: Counter[str], slowest: str, traces: dict[str, str]) -> str:
    """Counts, the longest time, the most memory, and one trace for each kind of failure."""
    lines = [f"{name:<28} {count:>7}" for name, count in counts.most_common()]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    lines += [f"longest                      {slowest}", f"most memory                  {peak:.0f} MB"]
    return "\n".join([*lines, *traces.values()])
