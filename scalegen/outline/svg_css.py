"""What style sheets, style attributes and plain attributes say about an element, in that order of weight."""

import functools
import re
from dataclasses import dataclass

from scalegen.outline.svg_tree import Node
from scalegen.outline.svg_values import declarations

_COMMENT = re.compile(r"/\*.*?(?:\*/|$)", re.DOTALL)
_SIMPLE = re.compile(r"(\*|[\w-]+)?((?:[.#][\w-]+)*)")
_MARK = re.compile(r"([.#])([\w-]+)")
_MOST_RULES = 300
MATTER = frozenset(
    {"d", "x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "display", "visibility"}
    | {"transform", "transform-origin", "clip-path", "mask"}
)
"""Properties that say where something is, or whether it is shown; the others are only looks."""


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One selector and its properties.

    Attributes:
        tag: Name of the element, empty for any.
        ids: Ids it must have.
        classes: Classes it must have.
        values: Properties.
    """

    tag: str
    ids: frozenset[str]
    classes: frozenset[str]
    values: dict[str, str]

    def weight(self) -> tuple[int, int, int]:
        """Which of two rules wins; of equal ones the later does (CSS selectors, specificity)."""
        return len(self.ids), len(self.classes), 1 if self.tag else 0


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Rules from light to heavy, and how many selectors were too involved to be followed."""

    rules: tuple[Rule, ...] = ()
    unread: int = 0

    @functools.cached_property
    def by_key(self) -> dict[str, list[int]]:
        """Numbers of rules by something an element must have for them to count."""
        found: dict[str, list[int]] = {}
        for k, rule in enumerate(self.rules):
            classes = f".{min(rule.classes)}" if rule.classes else rule.tag
            key = f"#{min(rule.ids)}" if rule.ids else classes
            found.setdefault(key, []).append(k)
        return found

    def values_of(self, tag: str, own_id: str, classes: str) -> dict[str, str]:
        """Properties of an element by its name, id and classes; worked out once for equal ones."""
        own_id = own_id if f"#{own_id}" in self.by_key else ""
        if (known := self._known.get((tag, own_id, classes))) is not None:
            return known
        ids, names = frozenset({own_id}), frozenset(classes.split())
        keys = {"", tag, f"#{own_id}", *(f".{name}" for name in names)}
        found: dict[str, str] = {}
        for k in sorted(k for key in keys for k in self.by_key.get(key, ())):
            rule = self.rules[k]
            if rule.tag in {"", tag} and rule.ids <= ids and rule.classes <= names:
                found.update(rule.values)
        self._known[tag, own_id, classes] = found
        return found

    @functools.cached_property
    def _known(self) -> dict[tuple[str, str, str], dict[str, str]]:
        return {}


def sheet_of(texts: list[str]) -> Sheet:
    """The rules of all style elements of a drawing.

    Args:
        texts: What stands in them.

    Returns:
        Rules about :data:`MATTER`, with selectors made of a name, classes and ids; others are counted.
    """
    rules: list[Rule] = []
    unread = 0
    for text in _COMMENT.sub(" ", " ".join(texts)).split("}"):
        selectors, brace, body = text.rpartition("{")
        if not brace:
            continue
        values = {name: text for name, text in declarations(body).items() if name in MATTER}
        if not values:
            continue
        for selector in selectors.replace("<![CDATA[", "").split(","):
            match = _SIMPLE.fullmatch(selector.strip())
            if match is None or len(rules) >= _MOST_RULES or not selector.strip():
                unread += 1
                continue
            marks = _MARK.findall(match[2])
            rules.append(
                Rule(
                    tag="" if match[1] in {None, "*"} else match[1],
                    ids=frozenset(name for kind, name in marks if kind == "#"),
                    classes=frozenset(name for kind, name in marks if kind == "."),
                    values=values,
                )
            )
    return Sheet(rules=tuple(sorted(rules, key=Rule.weight)), unread=unread)


def style_of(node: Node, sheet: Sheet) -> dict[str, str]:
    """Properties of an element from style sheets and its style attribute."""
    values = node.values
    found: dict[str, str] = {}
    if sheet.rules:
        found |= sheet.values_of(node.tag, values.get("id", ""), values.get("class", ""))
    if "style" in values:
        found |= declarations(values["style"])
    return found
