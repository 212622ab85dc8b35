"""How the letter argues: reasons, remarks, how sure it is, cautions of this case, alternatives, earlier cases.

In the dentist's words: no points, no likeness, no ids of other cases.
"""

from collections.abc import Iterator

from recommender.advice.frameworks.choices import AGAINST_ADVICE
from recommender.advice.frameworks.rules.choosing import Accepted
from recommender.advice.model import Contribution, Framework, Recommendation
from recommender.advice.summary import plain
from recommender.documents.departures import Departure
from recommender.documents.proposal import Origin, Proposal
from recommender.domain.statement import Arg, Choice, Field, Statement, Word, say, several
from recommender.knowledge.in_force import knowledge

_TELLING = 3
_ALTERNATIVES = 2
_ASKS = "not_recorded({})"  # how a rule that asks for a field says so
_NOTHING = ("none", "leave_open", "rest_only")
_INSTEAD = ("frameworks.connector_instead", "frameworks.retainer_instead")
_WORK = ("frameworks.more_work", "frameworks.less_work")


def because(proposal: Proposal) -> list[Statement]:
    """The strongest rule in favour of the connector, of a retainer, and of a replacement tooth."""
    lines = []
    for kind in ("connector", "retainer", "replacement"):
        best: tuple[float, str, Statement] | None = None
        for decision, result in sorted(proposal.chosen.items()):
            if decision.kind != kind or result.option in _NOTHING:
                continue
            for line in result.contributions:
                if line.kind == "rule" and line.points > 0 and (best is None or line.points > best[0]):
                    best = (line.points, result.option, line.statement)
        if best is not None:
            lines.append(say("letter.because", option=Choice(kind, best[1]), why=plain(best[2])))
    return lines


def reasons(proposal: Proposal) -> dict[str, Statement]:
    """One sentence for each part that the drawing shows, by its decision: the strongest rule in its favour."""
    found = {}
    for decision, result in proposal.chosen.items():
        rules = [line for line in result.contributions if line.kind == "rule" and line.points > 0]
        if rules and result.option not in _NOTHING:
            found[decision.key] = plain(max(rules, key=lambda line: line.points).statement)
    for seat in proposal.framework.indirect_retainers if proposal.framework else ():
        if seat.reasons:
            found[f"indirect_retainer:{seat.tooth}"] = plain(seat.reasons[0])
    return found


def remarks(found: tuple[Departure, ...]) -> list[Statement]:
    """Reservations about what is followed all the same."""
    return [
        say(
            "letter.remark", item=item.decision, asked=Choice(item.decision.kind, item.asked),
            why=several((say("papers.ended", what=plain(line)) for line in item.why), "space"),
        )
        for item in found
        if not item.departs and item.why
    ]  # fmt: skip


def standing(proposal: Proposal) -> list[Statement]:
    """How the proposal stands beside what was not recorded: one sentence, in words, without figures."""
    known = proposal.framework.standing if proposal.framework else None
    if known is None:
        named = several(Field(path) for path in proposal.unverified[:_TELLING])
        if not proposal.provisional or named is None:
            return []
        return [say("letter.provisional", standing=say("confidence.letter_open", fields=named))]
    fields = [answer.field for answer in known.answers] or proposal.unverified[:_TELLING]
    named = several(Field(path) for path in fields)
    if known.firm:
        return [say("confidence.letter_firm")]
    told = say(f"confidence.letter_{known.word}", fields=named)
    return [say("letter.provisional", standing=told) if proposal.provisional else told]


def cautions(answer: Recommendation, proposal: Proposal) -> list[Statement]:
    """What this case asks to be careful of. What holds for every case stands in the closing words; what is asked
    before metal is asked there.
    """
    rules = {rule.id: rule for rule in knowledge().rules}
    asked = [each.field for each in proposal.before_metal]

    def of_this_case(line: Statement) -> bool:
        rule = rules.get(line.rule or "")
        if rule is None:
            return True
        condition = str(rule.when)
        return condition != "always" and not any(_ASKS.format(field) in condition for field in asked)

    framework = proposal.framework
    # Each part that was chosen against advice has a caution of its own.
    chosen = framework is not None and any(line.code == AGAINST_ADVICE for line in framework.cautions)
    checks = [
        say("letter.check_failed", check=check.statement)
        for check in (framework.checks if framework else ())
        if check.outcome == "failed" and not (chosen and check.id == Accepted.id)
    ]
    told = [*(framework.cautions if framework else ()), *answer.cautions]
    unmade = [say("letter.cannot_be_made", what=fault.said) for fault in proposal.faults]
    return [*unmade, *(line for line in dict.fromkeys(told) if of_this_case(line)), *checks]


def alternatives(answer: Recommendation, framework: int) -> Iterator[Statement]:
    """Other whole frameworks, with what each gives up and gains, in words."""
    first = answer.frameworks[framework - 1]
    others = [other for place, other in enumerate(answer.frameworks, start=1) if place != framework]
    told = several((_alternative(first, other) for other in others[:_ALTERNATIVES]), "semicolon")
    if told is not None:
        yield say("letter.alternatives", alternatives=told)


def _alternative(first: Framework, other: Framework) -> Statement:
    differs: list[Arg] = [line for line in other.gives_up if line.code in _INSTEAD]
    differs += [line for line in other.gives_up if line.code in _WORK]
    if not differs:
        differs = [Choice("connector", other.connector)]
    weaker, stronger = _criteria(other, "frameworks.gives_up"), _criteria(other, "frameworks.gains")
    code = "letter.alternative_both" if weaker and stronger else "letter.alternative"
    return say(code, what=several(differs, "comma"), weaker=weaker, stronger=stronger)


def _criteria(other: Framework, code: str) -> Arg:
    """The criteria that a line of a comparison names, without their points."""
    named: list[Arg] = []
    for line in other.gives_up:
        if line.code != code:
            continue
        value = line.arg("criteria")
        items = getattr(value, "items", (value,))
        for item in items:
            criterion = item.arg("criterion") if isinstance(item, Statement) else item
            if criterion != Word("criterion", "precedents"):
                named.append(criterion)
    return several(named, "and")


def earlier(proposal: Proposal, origin: Origin) -> Iterator[Statement]:
    """How the most alike earlier cases with the same choice fared; the nearest that went badly stands beside them."""
    if origin.library == "none":
        yield say("letter.no_library")
        return
    ranked: dict[str, list[tuple[float, str, str, Contribution]]] = {}
    for decision, result in sorted(proposal.chosen.items()):
        for line in result.contributions:
            if line.kind == "precedent" and line.same:
                entry = (line.similarity or 0.0, line.id, result.option, line)
                ranked.setdefault(decision.kind, []).append(entry)
    cases: dict[str, Statement] = {}
    for kind in ("retainer", "connector"):
        found = [entry for entry in _nearest(ranked.get(kind, [])) if entry[1] not in cases]
        for _, case_id, option, line in [*found[:1], *[entry for entry in found if entry[3].points < 0][:1]]:
            fared = _fared(line.statement.arg("fared"))
            cases.setdefault(case_id, say("letter.earlier_case", option=Choice(kind, option), fared=fared))
    told = several(cases.values(), "semicolon")
    if told is not None:
        yield say("letter.earlier_demo" if origin.demo else "letter.earlier", cases=told)


def _fared(told: Arg) -> Arg:
    """How a case fared, without the reviewer's reason for vouching for it."""
    if isinstance(told, Statement) and told.code == "fared.vouched":
        return told.arg("fared")
    return told


def _nearest(
    entries: list[tuple[float, str, str, Contribution]],
) -> list[tuple[float, str, str, Contribution]]:
    """The most alike first, each stored case once."""
    ordered = sorted(entries, key=lambda entry: (-entry[0], entry[1]))
    return list({entry[1]: entry for entry in reversed(ordered)}.values())[::-1]
