"""Single parts of a framework: what is advised against, alloy, one kind of replacement in a space, enamel,
weak teeth.
"""

from recommender.advice.explanation.contrast import contrast, grouped_by_criterion
from recommender.advice.frameworks.parts import Choice, Part
from recommender.advice.frameworks.replacements import suits_all, usable_of
from recommender.advice.frameworks.rules.base import BetweenParts, Breach, Finding, Programme
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import USABLE, WORTH_SAYING, OptionResult, PreparationStep
from recommender.domain.statement import Choice as Option
from recommender.domain.statement import Several, Statement, Word, Work, quantity, say, several, teeth, tooth

_REASONS_TOLD = 3


class Accepted(BetweenParts):
    """No part that is advised against; every tooth of a space is replaced."""

    id = "accepted"

    def rows(self, p: Programme) -> None:
        for part in p.everyone:
            if part.advised_against:
                p.at_most([(1.0, p.x(part)), (-1.0, p.gives_way(self))], 0)
        for option, result in p.stock.connectors:
            if result.status not in USABLE:
                p.at_most([(1.0, p.y(option.id)), (-1.0, p.gives_way(self))], 0)

    def breaches(self, choice: Choice) -> list[Breach]:
        found = [
            Breach((p.tooth,), _against("retainer", p.tooth, p.result))
            for p in choice.retainers.values()
            if p.advised_against
        ]
        if choice.connector_result.status not in USABLE:
            found.append(Breach((), _against("connector", 0, choice.connector_result)))
        return found

    def tell(self, whole: Whole) -> Finding:
        said = [b.said for b in self.breaches(whole.choice) if b.said]
        for space in whole.stock.spaces:
            for number in space.teeth:
                chosen = whole.stock.replacements.get(number)
                ranked = whole.stock.replaced[number]
                if chosen is None:
                    said.append(say("nothing_can_replace", tooth=tooth(number), why=_blocks(ranked[0])))
                elif chosen.status not in USABLE:
                    said.append(_against("replacement", number, chosen))
        return Finding("failed" if said else "passed", tuple(said))


def _against(kind: str, number: int, result: OptionResult) -> Statement:
    where = tooth(number) if number else None
    return say("part_against_advice", tooth=where, option=Option(kind, result.option), why=_blocks(result))


def _blocks(result: OptionResult) -> Several | None:
    return several((block.statement for block in result.blocked_by), "space")


class OneAlloy(BetweenParts):
    id = "one_alloy"

    def tell(self, whole: Whole) -> Finding:
        stock = whole.stock
        if stock.alloy is None:
            return Finding("failed", (say("every_alloy_barred"),))
        said = [say("frame_of", alloy=Option("alloy", stock.alloy))]
        if not stock.allergies_recorded:
            said.append(say("allergies_not_recorded"))
        said += [
            say("alloy_barred", alloy=Option("alloy", name), why=why)
            for name, why in stock.alloy_blocks.items()
        ]
        return Finding("passed" if stock.allergies_recorded else "not_checked", tuple(said))


class OneBase(BetweenParts):
    """Where a space takes more than one kind, the reason of the tooth that differs."""

    id = "one_base"

    def tell(self, whole: Whole) -> Finding:
        said: list[Statement] = []
        stock = whole.stock
        for space in stock.spaces:
            chosen = {t: stock.replacements[t] for t in space.teeth if t in stock.replacements}
            if len({result.option for result in chosen.values()}) < 2:
                continue
            common = suits_all({t: usable_of(stock.replaced[t]) for t in chosen})
            said += [
                _of_its_own(number, result, common, stock.replaced[number])
                for number, result in chosen.items()
                if result.option != common
            ]
        return Finding("failed" if said else "passed", tuple(said))


def _of_its_own(
    number: int, result: OptionResult, common: str | None, ranked: tuple[OptionResult, ...]
) -> Statement:
    mine = Option("replacement", result.option)
    if common is None:
        return say("no_kind_suits_all", tooth=tooth(number), option=mine)
    other = next(one for one in ranked if one.option == common)
    return say(
        "own_kind_scores_more", tooth=tooth(number), option=mine, other=Option("replacement", common),
        points=quantity(result.score - other.score, "points"), why=better_in(result, other),
    )  # fmt: skip


class Spared(BetweenParts):
    """A part that waits for preparation although an open one could do the same carries its reason."""

    id = "spared"

    def tell(self, whole: Whole) -> Finding:
        said = [_cut_for(whole, part) for part in whole.retainers.values() if part.waits]
        result = whole.choice.connector_result
        if result.status == "needs_preparation":
            said.append(
                say(
                    "connector_needs",
                    option=Option("connector", result.option),
                    work=_works(result.unlocked_by),
                )
            )
        return Finding("passed_with_preparation" if said else "passed", tuple(said))


def _cut_for(whole: Whole, part: Part) -> Statement:
    where, option, work = tooth(part.tooth), Option("retainer", part.option.id), _works(needed_for(part))
    open_ones = [
        other
        for other in whole.stock.retainers[part.tooth]
        if not other.waits
        and not other.advised_against
        and other.retentive == part.retentive
        and other.partner is None
    ]
    if not open_ones:
        return say("needs_work_nothing_open", tooth=where, option=option, work=work)
    best = max(open_ones, key=lambda other: (other.value, other.option.id))
    gain = part.value - best.value
    if gain <= 0:
        return say(
            "cut_for_other_rules",
            tooth=where,
            option=option,
            work=work,
            other=Option("retainer", best.option.id),
        )
    return say(
        "cut_for_more", tooth=where, option=option, work=work, other=Option("retainer", best.option.id),
        points=quantity(gain, "points"), why=better_in(part.result, best.result),
    )  # fmt: skip


def needed_for(part: Part) -> tuple[PreparationStep, ...]:
    """The preparation without which a part cannot be made."""
    cuts = tuple(PreparationStep(part.tooth, side, "rest_seat") for side in part.build.cuts)
    return tuple(dict.fromkeys((*part.result.unlocked_by, *cuts)))


def _works(steps: tuple[PreparationStep, ...]) -> Several | None:
    return several((Work(step.tooth, step.surface, step.action) for step in steps), "comma")


def better_in(first: OptionResult, second: OptionResult) -> Several | None:
    """The criteria in which the first does better, largest first."""
    found = grouped_by_criterion(contrast(first, second), str)
    better = [
        say("frameworks.criterion", criterion=Word("criterion", name), points=quantity(points))
        for name, points in found
        if points > WORTH_SAYING
    ]
    return several(better[:_REASONS_TOLD], "comma")


class Bears(BetweenParts):
    id = "bears"

    def tell(self, whole: Whole) -> Finding:
        stock = whole.stock
        carrying = whole.carrying
        carrying += [p.grips for p in whole.choice.held if p.grips != p.tooth]
        loaded = [number for number in carrying if stock.teeth[number].bears is False]
        if loaded:
            return Finding("failed", (say("weak_teeth_carry", teeth=teeth(loaded)),))
        unknown = [number for number in carrying if stock.teeth[number].bears is None]
        if unknown:
            return Finding("not_checked", (say("bearing_not_recorded", teeth=teeth(unknown)),))
        return Finding("passed")


CHOOSING = (Accepted, OneAlloy, OneBase, Spared, Bears)
