"""Which rules speak, and which cannot tell, for the options of one decision.

All options of a decision share the facts of the case and of the tooth or space; only a thin layer differs
from one to the next. A rule that reads nothing of that layer is evaluated once and its answer shared.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from recommender.facts.values import Fact, Scope
from recommender.knowledge.comparisons import Truth
from recommender.knowledge.model import Knowledge, Rule

Layer = Mapping[str, Fact]


@dataclass(frozen=True, slots=True)
class Outcome:
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


class RuleSet:
    """Rules of one decision, arranged for many evaluations. Never changed after it is made."""

    def __init__(self, rules: Iterable[Rule]) -> None:
        self.rules: tuple[Rule, ...] = tuple(rules)
        self._by_option: dict[str, tuple[int, ...]] = {}
        self._reading: dict[tuple[str, str], tuple[Rule, ...]] = {}

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
        return {option: self.option(option, layer) for option, layer in options.items()}

    @property
    def flat(self) -> Mapping[str, Fact]:
        """The facts of the base scope in one mapping."""
        return self._flat

    def option(self, option: str, layer: Layer) -> Outcome:
        """The outcome for one option with its own layer of facts."""
        rules, truths, groups = self._rules.rules, self._truths, self._groups
        get = {**self._flat, **layer}.get
        base_get = self._flat.get
        own = layer.keys()
        fired: list[Rule] = []
        undecided: list[Rule] = []
        for index in self._rules.naming(option):
            rule = rules[index]
            if rule.when.own_facts.isdisjoint(own):
                if index not in truths:
                    truths[index] = rule.when.run(base_get, groups)
                truth = truths[index]
            else:
                truth = rule.when.run(get, groups)
            if truth:
                fired.append(rule)
            elif truth is None:
                undecided.append(rule)
        return Outcome(tuple(fired), tuple(undecided))
