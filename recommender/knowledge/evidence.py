"""Which rules speak, and which cannot tell, for the options of one decision.

All options of a decision share the facts of the case and of the tooth or space; only a thin layer differs
from one to the next. What of a rule reads nothing of that layer is evaluated once and its answer shared: a whole
condition, or the parts of one, which in Kleene's logic may be joined in any order.
"""

from collections.abc import Iterable, Mapping, Set
from typing import NamedTuple

from recommender.facts.values import Fact, Scope
from recommender.knowledge.atoms import Join, Node, join, node_text, walk
from recommender.knowledge.comparisons import Get, Run, Truth
from recommender.knowledge.model import Knowledge, Rule

Layer = Mapping[str, Fact]


class Outcome(NamedTuple):
    """``fired``: rules whose condition is true; ``undecided``: rules that what is recorded does not decide.

    Both in the order of the rules. A rule that is in neither is false here.
    """

    fired: tuple[Rule, ...]
    undecided: tuple[Rule, ...]


def evaluate(rules: Iterable[Rule], scope: Scope) -> Outcome:
    """The outcome of rules in one scope, whatever options they name."""
    get = flattened(scope).get
    fired: list[Rule] = []
    undecided: list[Rule] = []
    for rule in rules:
        truth = rule.when.run(get, scope.groups)
        if truth:
            fired.append(rule)
        elif truth is None:
            undecided.append(rule)
    return Outcome(tuple(fired), tuple(undecided))


def flattened(scope: Scope) -> dict[str, Fact]:
    """The facts of a scope in one mapping; later layers stand over earlier ones."""
    flat: dict[str, Fact] = {}
    for layer in scope.layers:
        flat.update(layer)
    return flat


class _Step(NamedTuple):
    """A rule in two halves: what all options share (known again by ``key``) and, option by option, what looks at its
    own layer. Either may be missing; ``stop`` is the truth of one half that decides the whole."""

    rule: Rule
    key: int
    shared: Run | None
    stop: bool
    own: tuple[tuple[int, Run | None], ...]


Signature = tuple[tuple[str, tuple[str, ...]], ...]
"""Options with the names of the facts in their own layers."""


class RuleSet:
    """Rules of one decision, arranged for many evaluations. Never changed after it is made."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self.rules: tuple[Rule, ...] = tuple(rules)
        self._by_option: dict[str, tuple[int, ...]] = {}
        self._reading: dict[tuple[str, str], tuple[Rule, ...]] = {}
        self._steps: dict[Signature, tuple[_Step, ...]] = {}
        self._keys: dict[str, int] = {}

    @classmethod
    def for_decision(cls, kind: str, knowledge: Knowledge | None = None) -> "RuleSet":
        """The rules of a decision kind; those of stage ``framework`` only for the kind ``framework``."""
        if knowledge is None:
            from recommender.knowledge.in_force import knowledge as packaged

            knowledge = packaged()
        rules = knowledge.by_decision.get(kind, ())
        return cls(rule for rule in rules if kind == "framework" or rule.stage != "framework")

    def naming(self, option: str) -> tuple[int, ...]:
        """Places in ``rules`` of the rules that speak of an option."""
        found = self._by_option.get(option)
        if found is None:
            found = tuple(i for i, rule in enumerate(self.rules) if rule.speaks_of(option))
            self._by_option[option] = found
        return found

    def reading(self, fact: str, option: str) -> tuple[Rule, ...]:
        """The rules about an option that read a fact."""
        key = (fact, option)
        if key not in self._reading:
            every = (self.rules[place] for place in self.naming(option))
            self._reading[key] = tuple(rule for rule in every if fact in rule.when.facts)
        return self._reading[key]

    def steps(self, options: Signature) -> tuple[_Step, ...]:
        """The rules that speak of these options, in halves; places in ``own`` are those of the options."""
        found = self._steps.get(options)
        if found is None:
            apart: dict[tuple[int, int], tuple[Run | None, bool, list[tuple[int, Run | None]]]] = {}
            for place, (option, own) in enumerate(options):
                names = frozenset(own)
                for index in self.naming(option):
                    key, shared, rest, stop = self._halves(self.rules[index], names)
                    apart.setdefault((index, key), (shared, stop, []))[2].append((place, rest))
            found = tuple(
                _Step(self.rules[index], key, shared, stop, tuple(own))
                for (index, key), (shared, stop, own) in sorted(apart.items(), key=lambda item: item[0])
            )
            self._steps[options] = found
        return found

    def _halves(self, rule: Rule, own: Set[str]) -> tuple[int, Run | None, Run | None, bool]:
        root = rule.when.root
        if rule.when.own_facts.isdisjoint(own):
            return self._key(root), root.run, None, False
        if isinstance(root, Join):
            shared = [part for part in root.parts if _reads(part).isdisjoint(own)]
            if shared:
                rest = join(root.op, [part for part in root.parts if not _reads(part).isdisjoint(own)])
                half = join(root.op, shared)
                return self._key(half), half.run, rest.run, root.op == "or"
        return -1, None, root.run, False

    def _key(self, node: Node) -> int:
        return self._keys.setdefault(node_text(node), len(self._keys))

    def prepare(self, base: Scope) -> "Prepared":
        """The base scope made ready; keep it where the same base is asked about more than once."""
        return Prepared(self, base)

    def evaluate(self, base: Scope, options: Mapping[str, Layer]) -> dict[str, Outcome]:
        """The outcome for each option; a rule is applied only to the options that it names.

        ``base`` is the scope that the options share, ``options`` maps each identifier to its own layer of
        facts. The same as evaluating every rule in ``base.extended(layer)``, only sooner.
        """
        return self.prepare(base).evaluate(options)


class Prepared:
    """A rule set over one base scope, whose facts must not change from here on."""

    __slots__ = ("_flat", "_groups", "_rules", "_truths")

    def __init__(self, rules: RuleSet, base: Scope) -> None:
        self._rules = rules
        self._flat = flattened(base)
        self._groups = base.groups
        self._truths: dict[int, Truth] = {}

    def evaluate(self, options: Mapping[str, Layer]) -> dict[str, Outcome]:
        """The outcome for each option with its own layer of facts."""
        truths, groups, flat = self._truths, self._groups, self._flat
        gets: list[Get | None] = [None] * len(options)
        layers = list(options.values())
        fired: list[list[Rule]] = [[] for _ in layers]
        undecided: list[list[Rule]] = [[] for _ in layers]
        base = flat.get
        steps = self._rules.steps(tuple((option, tuple(layer)) for option, layer in options.items()))
        for rule, key, shared, stop, each in steps:
            both = not stop
            truth: Truth = both
            if shared is not None:
                if key in truths:
                    truth = truths[key]
                else:
                    truth = truths[key] = shared(base, groups)
                if truth is False and both:
                    continue
            for place, own in each:
                whole = truth
                if own is not None and truth is not stop:
                    get = gets[place]
                    if get is None:
                        get = gets[place] = {**flat, **layers[place]}.get
                    half = own(get, groups)
                    if half is not both:
                        whole = half
                if whole:
                    fired[place].append(rule)
                elif whole is None:
                    undecided[place].append(rule)
        return {
            option: Outcome(tuple(fired[place]), tuple(undecided[place]))
            for place, option in enumerate(options)
        }

    @property
    def flat(self) -> Mapping[str, Fact]:
        """The facts of the base scope in one mapping."""
        return self._flat

    def option(self, option: str, layer: Layer) -> Outcome:
        """The outcome for one option with its own layer of facts."""
        return self.evaluate({option: layer})[option]


def _reads(node: Node) -> frozenset[str]:
    """The facts that a part reads in the scope itself, and not from the members of a group."""
    return frozenset(
        name for atom, group in walk(node) if not group and atom.inner is None for name in atom.facts
    )
