"""From statements to proposals and questions, before they are sorted by arch."""

from collections.abc import Callable

from recommender.domain import lexicon as lx
from recommender.domain.dentition import arch_of, is_tooth
from recommender.orders.findings import Findings
from recommender.orders.found import label
from recommender.orders.items import Item, beside, is_role, past
from recommender.orders.links import Statement
from recommender.orders.meanings import usual
from recommender.orders.roles import Roles
from recommender.orders.sections import ARCHES, arch_of_connector
from recommender.orders.settle import meant
from recommender.orders.vocabulary import listed

# Connectors named by their form alone, by arch (common practice, no source).
_BARE = {
    ("bar", "mandible"): "lingual_bar",
    ("plate", "mandible"): "linguoplate",
    ("bar", "maxilla"): "palatal_bar",
    ("band", "maxilla"): "palatal_strap",
    ("double_bar", "maxilla"): "anteroposterior_bar",
    ("double_bar", "mandible"): "lingual_bar_cingulum_bar",
}
ONLY_ONE = "the only one of its sort that is made"
THE_USUAL = "a word for the denture, which names no alloy: taken for the one that it usually is"
OTHER_ARCH = "the number lies in the other arch than the one named last"
_BY_FORM = "the connector of this form in this arch"


def _arch(arch: str) -> str:
    return "upper" if arch == "maxilla" else "lower"


class Gatherer(Roles, Findings):
    """Works through the statements of one order."""

    def take(self, statement: Statement) -> None:
        """One statement into proposals or questions; what it does not cover stays unread."""
        if any(ref.by_name for teeth in statement.teeth for ref in teeth.refs):
            self._stand_in(statement.item)  # a number says by itself where it lies
        self._refer(statement)
        if self._waits(statement):
            self._later.append(statement)
        else:
            self._handle(statement)

    def take_contrasts(self) -> None:
        """Keeps the teeth that the order names only to say which others are meant."""
        for item in self._items:
            if (named := item.extra.get("not_these")) is not None:
                teeth = [tooth for one in meant(named, self.arch_at(item), self._settled) for tooth in one.teeth]
                self.found.not_these.append((self._tokens[item.start].start, frozenset(teeth)))

    def _handle(self, statement: Statement) -> None:
        item = statement.item
        arch = self.arch_at(item) if item.kind not in ("alloy", "unsettled") or self._placed(item) else None
        if item.kind == "alloy" and self._of_everything(item):
            arch = None
        if self._bans_elsewhere(statement, arch):
            arch, statement.mark = ({*ARCHES} - {arch}).pop(), statement.mark or OTHER_ARCH
        if statement.doubt and not (statement.denied and statement.doubt == "one or the other?"):
            self._ask(arch, self._span(statement), statement.doubt)
            return
        if item.kind == "bare":
            self._bare(statement, arch)
            return
        if item.kind in ("connector", "alloy", "unsettled") and not statement.teeth:
            self._alone(statement, arch)
            return
        if item.kind == "alloy" or item.kind == "connector":
            self._alone(statement, arch)
            return
        handlers: dict[str, Callable[[Statement, str | None], None]] = {
            "role": self._role,
            "retainer": self._option,
            "rest": self._option,
            "site": self._option,
            "replacement": self._option,
            "unsettled": self._unsettled,
            "fact": self._fact,
            "heading": self._abutments,
        }
        handlers[item.kind](statement, arch)

    def _bans_elsewhere(self, statement: Statement, arch: str | None) -> bool:
        """Whether a line of its own bans clasps on teeth that all lie in the other arch of an order for both."""
        item = statement.item
        clasp = item.kind == "retainer" or is_role(item, "clasp", "nothing")
        bans = clasp and (statement.denied or item.value == "nothing") and bool(statement.teeth)
        if not bans or arch is None or self._settled.system != "iso":
            return False
        refs = [ref for one in statement.teeth for ref in one.refs]
        numbers = [ref.number for ref in refs if ref.number and not (ref.quadrant or ref.side or ref.arch)]
        elsewhere = all(is_tooth(number) and arch_of(number) != arch for number in numbers)
        line = beside(self._items, self._at[id(item)], ("line",))
        both = {*ARCHES} <= set(self._place.values())
        return both and elsewhere and len(numbers) == len(refs) and not any(one.kind == "arch" for one in line)

    def _of_everything(self, item: Item) -> bool:
        """Whether "all" stands right before an alloy ("all of it in titanium"): then it holds for both arches."""
        at = self._at[id(item)] - 1
        at = past(self._items, at, -1, ("filler", "on", "from", "colon", "mark"))
        return at >= 0 and self._items[at].kind in ("all", "them")

    def _alone(self, statement: Statement, arch: str | None) -> None:
        item, words = statement.item, self._span(statement)
        value = str(item.value)
        mark = self._marked(statement.covers)
        if item.kind == "unsettled":
            if not statement.denied:
                kind, _, choice = value.partition(":")
                self._cover(statement)
                if any(one.kind == kind and one.value in choice.split("|") for one in self._items):
                    return  # "Ti frame (titanium grade 4)", "a palatal plate, full coverage"
                if "|" not in choice:
                    self._propose(f"prescription.{kind}", choice, words, (), mark or ONLY_ONE, arch)
                    return
                if one := usual(kind, choice):
                    others = " or ".join(label(kind, other) for other in choice.split("|") if other != one)
                    why = f"taken as {label(kind, one)}, for the order does not say {others}"
                    self._propose(f"prescription.{kind}", one, words, (), why, arch)
                    return
                which = " or ".join(label(kind, one) for one in choice.split("|"))
                self._ask(arch, words, f"which: {which}?", choice=True)
        elif item.kind == "connector":
            self._cover(statement)
            own = arch_of_connector(value)
            if own is not None and arch is not None and own != arch:
                self._ask(
                    arch, words, f"{label('connector', value)} is no connector of the {_arch(arch)} arch"
                )
            elif statement.denied:
                self._propose("prescription.not.connector", [value], words, (), mark, own or arch)
            else:
                self._propose("prescription.connector", value, words, (), mark, own or arch)
        elif not statement.denied:
            self._cover(statement)
            mark = mark or (THE_USUAL if lx.fold(item.phrase) in listed("dentures_by_alloy") else "")
            self._propose("prescription.alloy", value, words, (), mark, arch)

    def _bare(self, statement: Statement, arch: str | None) -> None:
        """A connector by its form alone ("no bar"): which one it is lies with the arch."""
        value = _BARE.get((str(statement.item.value), arch or ""))
        if value is None:
            return
        self._cover(statement)
        words = self._span(statement)
        if statement.denied:
            self._propose("prescription.not.connector", [value], words, (), _BY_FORM, arch)
        else:
            self._propose("prescription.connector", value, words, (), _BY_FORM, arch)

    def _abutments(self, statement: Statement, arch: str | None) -> None:
        teeth, mark = self._teeth_of(statement, arch)
        if teeth and not statement.denied:
            self._cover(statement)
            self._each("abutments[{}].tooth", None, teeth, self._span(statement), mark)
