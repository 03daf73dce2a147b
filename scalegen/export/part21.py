r"""Part-21 text (the clear form of STEP files) made the same, byte for byte, for the same content.

The kernel numbers entities in the order in which it happens to meet them, lists styles in the order of
their addresses, and counts occurrences through the life of the process. Here entities are told apart by
what they say and by what they are joined to, and numbered from that.

Source: ISO 10303-21, clear text encoding: strings in apostrophes, two of them for one inside a string,
``\X2\hhhh\X0\`` for characters beyond ASCII; white space between tokens means nothing.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

from scalegen.errors import WriteError

_STATEMENT = re.compile(r"#(\d+)\s*=\s*((?:[^';]++|'[^']*+')*+);")
_TOKEN = re.compile(r"'[^']*+'|#\d+|[^'#]++")
_OCCURRENCE = re.compile(r"^NEXT_ASSEMBLY_USAGE_OCCURRENCE\s*\(\s*'(\d+)'")
_NO_COUNTER = "NEXT_ASSEMBLY_USAGE_OCCURRENCE('?'"
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]+")
_KEYWORD = re.compile(r"\(?([A-Z0-9_]*)")
# Entities whose first list of references is a set that the kernel fills in the order of addresses.
_SETS = (
    "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION(",
    "PRESENTATION_LAYER_ASSIGNMENT(",
    "DRAUGHTING_MODEL(",
)


@dataclass(frozen=True, kw_only=True)
class _Graph:
    """Entities by index: text between references, references, how many of those form a set, rank.

    Attributes:
        texts: For each entity, the text pieces around its references.
        refs: For each entity, the indices of the entities it names.
        sets: For each entity, how many of its references come first and in no order (0: none do).
        ranks: Running number of an occurrence, 0 for all other entities.
        order: Indices with every entity after those it names.
        parents: For each entity, (index, place) of those that name it.
    """

    texts: Sequence[tuple[str, ...]]
    refs: Sequence[tuple[int, ...]]
    sets: Sequence[int]
    ranks: Sequence[int]
    order: Sequence[int]
    parents: Sequence[Sequence[tuple[int, int]]]


def canonical_part21(text: str) -> str:
    """Renumber the DATA section by content, one entity a line, all in ASCII.

    Args:
        text: A whole part-21 file with one DATA section.

    Returns:
        The same file; equal for equal content, whatever the numbers and the order of the entities were.

    Raises:
        WriteError: The text has no DATA section, or names an entity that is not there, or goes in circles.
    """
    start = text.find("DATA;")
    end = text.rfind("ENDSEC;")
    if start < 0 or end < start:
        raise WriteError("the STEP text has no DATA section", remedy="please report this")
    graph = _read_graph(text[start + len("DATA;") : end])
    keys = _content_keys(graph)
    header = _ascii("\n".join(line.rstrip() for line in text[:start].splitlines()))
    lines = [f"#{number}={body};" for number, body in enumerate(_numbered(graph, keys), start=1)]
    return "\n".join([header.rstrip(), "DATA;", *lines, "ENDSEC;", "END-ISO-10303-21;", ""])


# -------------------------------------------------------------------------------------------- reading


def _read_graph(data: str) -> _Graph:
    names, texts, named_by, counters = [], [], [], []
    for match in _STATEMENT.finditer(data):
        names.append(match[1])
        counter = _OCCURRENCE.match(match[2])
        counters.append(int(counter[1]) if counter else 0)
        pieces, named = _split(_TOKEN.findall(_OCCURRENCE.sub(_NO_COUNTER, match[2], count=1)))
        texts.append(pieces)
        named_by.append(named)
    refs = _resolved(names, named_by)
    sets = [_set_size(pieces) for pieces in texts]
    parents: list[list[tuple[int, int]]] = [[] for _ in names]
    for i, children in enumerate(refs):
        for place, child in enumerate(children):
            parents[child].append((i, max(place, sets[i] - 1)))
    rank = {c: r for r, c in enumerate(sorted(set(counters) - {0}), start=1)}
    return _Graph(
        texts=texts,
        refs=refs,
        sets=sets,
        ranks=[rank.get(c, 0) for c in counters],
        order=_children_first(refs),
        parents=parents,
    )


def _resolved(names: Sequence[str], named_by: Sequence[Sequence[str]]) -> list[tuple[int, ...]]:
    index = {name: i for i, name in enumerate(names)}
    try:
        return [tuple([index[n] for n in named]) for named in named_by]
    except KeyError as missing:
        raise WriteError(f"a STEP entity names #{missing.args[0]}, which is not there") from None


def _split(tokens: Sequence[str]) -> tuple[tuple[str, ...], list[str]]:
    """Text pieces around the references, white space outside strings dropped; and the references."""
    pieces, named = [""], []
    for token in tokens:
        if token[0] == "#":
            named.append(token[1:])
            pieces.append("")
        elif token[0] == "'":
            pieces[-1] += _ascii(token.replace("\n", "").replace("\r", ""))
        else:
            pieces[-1] += "".join(token.split())
    return tuple(pieces), named


def _ascii(text: str) -> str:
    if text.isascii():
        return text
    return _BEYOND_ASCII.sub(_two_byte, text)


def _two_byte(match: re.Match[str]) -> str:
    if any(ord(c) > 0xFFFF for c in match[0]):
        return "\\X4\\" + "".join(f"{ord(c):08X}" for c in match[0]) + "\\X0\\"
    return "\\X2\\" + "".join(f"{ord(c):04X}" for c in match[0]) + "\\X0\\"


def _set_size(pieces: tuple[str, ...]) -> int:
    if not pieces[0].startswith(_SETS) or len(pieces) < 2:
        return 0
    size = 1
    while size < len(pieces) - 1 and pieces[size] == ",":
        size += 1
    return size


def _children_first(refs: Sequence[tuple[int, ...]]) -> list[int]:
    """Indices with every entity after those it names; no recursion, for chains may be long."""
    state = [0] * len(refs)  # 0 not seen, 1 on the way down, 2 done
    out: list[int] = []
    for root in range(len(refs)):
        stack = [root]
        while stack:
            i = stack[-1]
            if state[i] == 0:
                state[i] = 1
                for child in refs[i]:
                    if state[child] == 1:
                        raise WriteError("the STEP entities name each other in a circle")
                    if state[child] == 0:
                        stack.append(child)
                continue
            stack.pop()
            if state[i] == 1:
                state[i] = 2
                out.append(i)
    return out


# ------------------------------------------------------------------------------------------ numbering


def _digest(*parts: bytes) -> bytes:
    return blake2b(b"|".join(parts), digest_size=12).digest()


def _content_keys(graph: _Graph) -> list[bytes]:
    """A key for each entity that depends on what it says and on all it is joined to, not on numbers.

    Twins, such as two equal points, get the same key from below; looking from above tells those apart
    that are used differently. Both looks are repeated until nothing more is told apart.
    """
    keys = [
        _digest("\0".join(pieces).encode(), str(rank).encode())
        for pieces, rank in zip(graph.texts, graph.ranks, strict=True)
    ]
    told_apart = 0
    while True:
        for i in graph.order:
            keys[i] = _digest(keys[i], *_children_keys(graph, i, keys))
        for i in reversed(graph.order):
            seen = sorted(keys[p] + place.to_bytes(4, "big") for p, place in graph.parents[i])
            keys[i] = _digest(keys[i], *seen)
        count = len(set(keys))
        if count in {told_apart, len(keys)}:
            return keys
        told_apart = count


def _children_keys(graph: _Graph, i: int, keys: Sequence[bytes]) -> list[bytes]:
    found = [keys[child] for child in graph.refs[i]]
    size = graph.sets[i]
    return sorted(found[:size]) + found[size:] if size else found


def _numbered(graph: _Graph, keys: Sequence[bytes]) -> list[str]:
    """Entity bodies in their new order: entities nobody names first, then down through what they name."""
    low = list(graph.ranks)
    for i in graph.order:
        low[i] = max([low[i], *(low[c] for c in graph.refs[i])])
    roots = [i for i in range(len(keys)) if not graph.parents[i]]
    roots.sort(key=lambda i: (_keyword(graph.texts[i][0]), low[i], keys[i]))
    children: list[Sequence[int]] = list(graph.refs)
    for i, size in enumerate(graph.sets):
        if size:
            named = graph.refs[i]
            children[i] = [*sorted(named[:size], key=lambda c: keys[c]), *named[size:]]
    number: dict[int, int] = {}
    stack = roots[::-1]
    while stack:
        i = stack.pop()
        if i not in number:
            number[i] = len(number) + 1
            stack.extend(c for c in reversed(children[i]) if c not in number)
    return [_body(graph, i, [number[c] for c in children[i]]) for i in number]


def _keyword(text: str) -> str:
    match = _KEYWORD.match(text)
    return match[1] if match else text


def _body(graph: _Graph, i: int, numbers: Sequence[int]) -> str:
    pieces = graph.texts[i]
    out = [pieces[0]]
    for number, piece in zip(numbers, pieces[1:], strict=True):
        out += [f"#{number}", piece]
    body = "".join(out)
    rank = graph.ranks[i]
    return body.replace("'?'", f"'{rank}'", 1) if rank else body


# ------------------------------------------------------------------------------------------- checking


def check_part21(text: str) -> list[str]:
    """Faults of a part-21 file, found by reading it letter by letter, apart from the code above.

    Args:
        text: The whole file.

    Returns:
        What is wrong, in plain words; empty when nothing is.
    """
    faults = []
    lines = text.splitlines()
    if not lines or lines[0] != "ISO-10303-21;":
        faults.append("the first line is not ISO-10303-21;")
    if not lines or lines[-1] != "END-ISO-10303-21;":
        faults.append("the last line is not END-ISO-10303-21;")
    if not text.isascii():
        faults.append("a character beyond ASCII")
    statements, rest = _statements(text)
    if rest.strip():
        faults.append("something stands after the last semicolon")
    heads = [s.split("(")[0].strip() for s in statements]
    wanted = ["ISO-10303-21", "HEADER", "FILE_DESCRIPTION", "FILE_NAME", "FILE_SCHEMA", "ENDSEC", "DATA"]
    if heads[: len(wanted)] != wanted:
        faults.append("the header is not FILE_DESCRIPTION, FILE_NAME, FILE_SCHEMA")
    if heads[-2:] != ["ENDSEC", "END-ISO-10303-21"]:
        faults.append("the DATA section is not closed")
    return faults + _reference_faults(statements[len(wanted) : -2])


def _statements(text: str) -> tuple[list[str], str]:
    """Statements without what their strings say, and what follows the last one."""
    found: list[str] = []
    current: list[str] = []
    inside = False
    for letter in text:
        if letter == "'":
            inside = not inside
        elif inside:
            continue
        elif letter == ";":
            found.append("".join(current))
            current = []
        else:
            current.append(letter)
    return found, "".join(current)


def _reference_faults(statements: Sequence[str]) -> list[str]:
    faults, known, used = [], set[str](), set[str]()
    for statement in statements:
        name, equals, body = statement.strip().partition("=")
        name = name.strip()
        if not equals or not name.startswith("#") or not name[1:].isdigit():
            faults.append(f"not an entity: {statement.strip()[:40]}")
            continue
        if name in known:
            faults.append(f"{name} is there twice")
        known.add(name)
        if body.count("(") != body.count(")"):
            faults.append(f"{name} has an open bracket")
        for piece in body.split("#")[1:]:
            digits = piece[: len(piece) - len(piece.lstrip("0123456789"))]
            used.add(f"#{digits}")
    return faults + [f"{name} is named but not there" for name in sorted(used - known)]
