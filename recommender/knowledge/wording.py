"""Conditions in plain words, for readers who do not write rules."""

from collections.abc import Callable

from recommender.domain.labels import word_label
from recommender.knowledge.atoms import Atom, Join, Node, number_text
from recommender.knowledge.registry import FactSpec, Registry

_OPS = {
    "==": "is", "!=": "is not", "<": "is less than", "<=": "is at most", ">": "is more than",
    ">=": "is at least", "in": "is one of", "not in": "is none of",
}  # fmt: skip
_GROUPS = {"abutment": "abutment", "span": "tooth to be replaced", "standing": "standing tooth"}
_MANY = {"abutment": "abutments", "span": "teeth to be replaced", "standing": "standing teeth"}
_MEASURED = frozenset({"mm", "cm2", "degrees", "years", "months", "N", "g"})
Words = Callable[[str, str], str]


def plain(fact: str, word: str) -> str:
    """A word of a closed list as it is read: its label where the vocabulary has one under the fact's name."""
    label = word_label(fact.rsplit(".", 1)[-1], word)
    return label.replace("_", " ")


def in_words(node: Node, registry: Registry, words: Words = plain) -> str:
    """The condition as a sentence part, e.g. ``the ridge is flat, and recession is at least 2 mm``."""
    return _words(node, registry, words, False)


def _words(node: Node, registry: Registry, words: Words, inside: bool) -> str:
    if isinstance(node, Join):
        text = f", {node.op} ".join(_words(part, registry, words, True) for part in node.parts)
        return f"({text})" if inside else text
    return _atom(node, registry, words)


def _atom(atom: Atom, registry: Registry, words: Words) -> str:
    if atom.kind == "always":
        return "always" if atom.op == "==" else "never"
    if atom.inner is not None:
        inner = _words(atom.inner, registry, words, False)
        if atom.kind == "count":
            number = number_text(float(atom.values[0]))
            return f"the number of {_MANY[atom.group]} at which [{inner}] {_OPS[atom.op]} {number}"
        every = "at any" if atom.kind == "any" else "at every"
        return f"{every} {_GROUPS[atom.group]}: [{inner}]"
    fact = _label(atom.fact, registry)
    spec = registry.facts.get(atom.fact)
    if atom.kind == "recorded":
        return f"“{fact}” is {'recorded' if atom.op == '==' else 'not recorded'}"
    if atom.kind == "member":
        named = words(atom.fact, str(atom.values[0]))
        return f"“{fact}” {'includes' if atom.op == 'in' else 'does not include'} {named}"
    if atom.kind == "against":
        return f"“{fact}” {_OPS[atom.op]} “{_label(atom.other, registry)}”"
    said = " or ".join(_value(atom.fact, value, spec, words) for value in atom.values)
    op = _OPS[atom.op]
    if atom.kind == "among" and len(atom.values) > 1:
        op = "is" if atom.op == "in" else "is not"
        said = said if atom.op == "in" else said.replace(" or ", " nor ")
    return f"“{fact}” {op} {said}"


def _value(fact: str, value: object, spec: FactSpec | None, words: Words) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        # what is counted needs no unit: the label says what is counted
        unit = spec.unit if spec is not None and spec.unit in _MEASURED else ""
        return f"{number_text(float(value))} {unit}".strip()
    return words(fact, str(value))


def _label(fact: str, registry: Registry) -> str:
    spec = registry.facts.get(fact)
    return spec.label if spec is not None and spec.label else fact
