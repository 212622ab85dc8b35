"""From an analysed case to the stock of its frameworks: everything is asked here, once, and never again later on."""

from collections.abc import Iterable, Mapping, Sequence
from weakref import WeakKeyDictionary

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.alloy import frame_alloy
from recommender.advice.frameworks.building import Build, Unbuildable, build, seat_sites
from recommender.advice.frameworks.further_teeth import end_rests, further_teeth
from recommender.advice.frameworks.parts import Part, Stock, told_apart
from recommender.advice.frameworks.replacements import replacements_of
from recommender.advice.frameworks.seats import chosen_seats
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.advice.frameworks.tooth_sites import tooth_sites
from recommender.advice.model import USABLE, Decision, DecisionResult, OptionResult, Seat
from recommender.domain.dentition import mirror, opposite, side_of
from recommender.domain.options import Option
from recommender.facts.axis import terminal_pair
from recommender.facts.derive import CaseFacts

# Words of an assembly on which a rule between parts turns.
_TOLD_APART = frozenset(
    (
        "retentive_internal",
        "retentive_proximal",
        "rest",
        "rigid",
        "on_root_or_implant",
        "nothing_facial",
        "tip_on_neighbour",
    )
)


_STOCKS: WeakKeyDictionary[CaseAnalysis, Stock] = WeakKeyDictionary()


def stock_of(
    analysis: CaseAnalysis, results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...]
) -> Stock:
    """The stock of a case in which nothing is chosen yet, gathered once for each analysis."""
    if analysis not in _STOCKS:
        _STOCKS[analysis] = gather(analysis, results, seats)
    return _STOCKS[analysis]


def gather(
    analysis: CaseAnalysis,
    results: Mapping[Decision, DecisionResult],
    seats: tuple[Seat, ...],
    rests: Mapping[int, str] | None = None,
    leading: Mapping[Decision, DecisionResult] | None = None,
) -> Stock:
    """The stock of a case.

    Options that are open, or open after preparation, and that can be made. What is advised against comes in only
    where nothing else would do; excluded options never come in. ``rests`` are rests that a designer has settled;
    ``leading`` are the results that say what leads, where ``results`` hold only what a designer chose.
    """
    facts, base = analysis.facts, analysis.engine.knowledge
    replacements = replacements_of(facts.spaces, results, base.figures.frameworks.mixed_space)
    sites = tooth_sites(analysis, replacements)
    leads = {d.tooth: r.ranked[0] for d, r in (leading or results).items() if d.kind == "retainer"}
    found = Gathering(analysis, sites, rests or {}, leads)
    for decision, result in results.items():
        if decision.kind == "retainer":
            found.add(decision.tooth, result, further=False)
    for tooth in further_teeth(facts, found.parts, base.figures.frameworks.further_tooth):
        found.add(tooth, analysis.decide(Decision("retainer", tooth)), further=True)
    connector = results[Decision("connector")]
    connectors = _connectors(analysis, connector)
    settled = chosen_seats(facts.classification.number or "", seats)
    if any("needs_rests_at_ends" in option.parts for option, _ in connectors):
        rules = base.figures.frameworks.rules
        places = (
            rules["left_alone"].figures["foremost_position"],
            rules["plate_ends"].figures["rearmost_position"],
        )
        for tooth in end_rests(facts, found.parts, (seat.tooth for seat in settled), places):
            found.add(tooth, analysis.decide(Decision("retainer", tooth)), further=True, only="rest_only")
    found.make_do(results)
    teeth = list(found.parts)
    touching = frozenset(
        frozenset((tooth, other))
        for tooth in teeth
        for other in sites[tooth].touching.values()
        if other in found.parts
    )
    alloy, blocks = frame_alloy(analysis)
    patient, records = analysis.case.patient, analysis.case.records
    number = facts.classification.number or ""
    floor = analysis.case.floor
    return Stock(
        arch=analysis.case.arch,
        number=number,
        modifications=facts.classification.modifications,
        both_sides=bool(facts.case_layer["derived.spaces_both_sides"].value),
        spaces=facts.spaces,
        teeth=sites,
        retainers=found.parts,
        leads=leads,
        rest_leads={d.tooth: r.ranked[0].option for d, r in results.items() if d.kind == "rest"},
        unbuilt=found.unbuilt,
        connectors=connectors,
        connector_lead=connector.ranked[0],
        replacements=replacements,
        replaced={d.tooth: r.ranked for d, r in results.items() if d.kind == "replacement"},
        seats=settled,
        other_seats=seats,
        alloy=alloy,
        alloy_blocks=blocks,
        allergies_recorded=patient is not None and patient.allergy is not None,
        matching=_matching(facts, sites, teeth),
        touching=touching,
        rooms=_rooms(sites, touching),
        support=tuple(dict.fromkeys(tooth for space in facts.spaces for tooth in space.borders)),
        ends=tuple(dict.fromkeys(t for s in facts.spaces if s.support == "extension" for t in s.borders)),
        axis=terminal_pair(facts.classification, facts.standing),
        spaced_front=floor.spaces_between_anteriors if floor else None,
        standing=facts.standing,
        prepared_cast=records is not None and records.cast == "after_preparation",
        scope=facts.case_scope,
        rules=analysis.engine.rule_set("framework").rules,
        figures=base.figures.frameworks,
    )


class Gathering:
    """The parts of each tooth as they are collected, and why other options make none."""

    def __init__(
        self,
        analysis: CaseAnalysis,
        sites: Mapping[int, ToothSite],
        rests: Mapping[int, str],
        leads: Mapping[int, OptionResult],
    ) -> None:
        self.analysis = analysis
        self.sites = sites
        self.rests = rests
        self.leads = leads
        self.catalogue = analysis.engine.knowledge.catalogue.options["retainer"]
        self.figures = analysis.engine.knowledge.figures.frameworks
        self.parts: dict[int, tuple[Part, ...]] = {}
        self.unbuilt: dict[tuple[int, str], Unbuildable] = {}

    def add(self, tooth: int, result: DecisionResult, *, further: bool, only: str | None = None) -> None:
        """The parts of one tooth; a further tooth for which there are none is not drawn in. ``only``: one assembly."""
        made = [p for p in self._made(tooth, result, USABLE, further) if only in (None, p.option.id)]
        if made or not further:
            self.parts[tooth] = told_apart(made)

    def make_do(self, results: Mapping[Decision, DecisionResult]) -> None:
        """What is advised against, where a side has nothing to hold by or a base nothing to stand on."""
        lacking = [
            side
            for side in ("right", "left")
            if not any(p.clasps for t, parts in self.parts.items() if side_of(t) == side for p in parts)
        ]
        ends = {tooth for space in self.analysis.facts.spaces for tooth in space.borders}
        for decision, result in results.items():
            tooth = decision.tooth
            if decision.kind != "retainer":
                continue
            unrested = tooth in ends and not any(part.rested for part in self.parts[tooth])
            if unrested or side_of(tooth) in lacking:
                extra = self._made(tooth, result, ("advised_against",), further=False)
                self.parts[tooth] += tuple(p for p in extra if p.retentive or (unrested and p.rested))

    def _made(self, tooth: int, result: DecisionResult, statuses: Sequence[str], further: bool) -> list[Part]:
        parts: list[Part] = []
        made_already: set[object] = set()
        for option in self._ways(tooth, result):
            # A further tooth that carries nothing is simply not drawn in.
            if option.status not in statuses or (further and option.option == "none"):
                continue
            alike = self._alike(option)
            if alike in made_already or self._needless(option, result.ranked[0], parts):
                continue
            made = self.made(tooth, result, option, further)
            if isinstance(made, Part) and len(result.ranked) > 1 and self._unmeasured(made, option.approach):
                made = Unbuildable("not_measured")  # a designer may still choose it
            if isinstance(made, Part):
                parts.append(made)
                made_already.add(alike)
                self.unbuilt.pop((tooth, option.option), None)
            elif not any(part.option.id == option.option for part in parts):
                self.unbuilt.setdefault((tooth, option.option), made)
        return parts

    def _needless(self, option: OptionResult, lead: OptionResult, parts: Sequence[Part]) -> bool:
        """Whether an option lies far behind the leading one while there are enough better parts that do the same."""
        figures = self.figures.far_behind
        behind = max(0.0, lead.score - option.score)
        behind += self.figures.after_preparation if option.status == "needs_preparation" else 0.0
        holds = any(word.startswith("retentive") for word in self.catalogue[option.option].parts)
        others = sum(1 for part in parts if part.retentive == holds)
        return behind > figures.points and others >= figures.enough

    def _alike(self, option: OptionResult) -> object:
        """What the rules between parts could tell two options of a tooth apart by, as far as is known before
        building.
        """
        made = self.catalogue[option.option]
        words = frozenset(made.parts) & _TOLD_APART
        own = option.option if "partner" in made.parts or "tip_on_neighbour" in made.parts else ""
        releasing = "stress_releasing" in made.families or "flexing_arm" not in made.families
        kind = next((name for name in self.figures.retainer_kinds if name in made.families), "other")
        origin = made.arm.origin if made.arm else ""
        return (
            kind,
            own,
            words,
            releasing,
            option.status,
            option.approach,
            origin,
            "arm.force_n" in option.facts,
        )

    def _ways(self, tooth: int, result: DecisionResult) -> Iterable[OptionResult]:
        """The ranked options, each from every approach, the better one first."""
        examination = self.analysis.examine(Decision("retainer", tooth))
        for option in result.ranked:
            yield option
            if option.approach is None or option.status not in USABLE or option.option == "none":
                continue
            seen = examination.seen_from(option.option, opposite(option.approach))
            if seen is not None and seen.status in USABLE:
                yield seen

    def made(
        self, tooth: int, result: DecisionResult, option: OptionResult, further: bool
    ) -> Part | Unbuildable:
        """An option as a part of its tooth, or why it cannot be made from the approach from which it was judged."""
        made, site = self.catalogue[option.option], self.sites[tooth]
        if not site.covered and made.id != "none":
            return Unbuildable("not_covered")
        side = option.approach or "mesial"
        partner = site.touching.get(side) if "partner" in made.parts else None
        beyond = site.touching.get(opposite(side)) if "tip_on_neighbour" in made.parts else None
        if beyond is not None and self.sites[beyond].bears is False:
            beyond = None
        rests = self._rests(tooth, option.option) if "rest" in made.parts else ()
        built = build(
            made, site, self.sites[beyond] if beyond else None, option.approach, rests, partner,
            {(step.surface, str(step.action)) for step in (*option.unlocked_by, *option.preparation)}, self.figures,
        )  # fmt: skip
        if isinstance(built, Unbuildable):
            # Attachments and double crowns may bear on their own parts.
            if not (built.reason == "no_rest" and "none" in made.rests):
                return built
            # without a base beside it, a minor connector of its own carries it
            reached = () if site.based else ((tooth, "lingual"),)
            built = Build(plates=tuple(sorted(site.based)), uprights=reached)
        lead = self.leads.get(tooth, result.ranked[0])
        waits = option.status == "needs_preparation" or built.made or bool(built.cuts)
        price = self.figures.after_preparation if waits else 0.0
        return Part(
            tooth, made, option, built, min(option.score, lead.score) - price, waits, site.extension,
            _force(option), _crosses(made, site, built), partner, further, beyond or tooth,
            next((name for name in self.figures.retainer_kinds if name in made.families), "other"),
            shown_of(made, option), _work(site, option, built),
        )  # fmt: skip

    def _unmeasured(self, part: Part, near: str | None) -> bool:
        """Whether a part holds by a hollow beside the space that nobody measured: no proposal rests on that.

        Under a tooth that leans toward the space there is one.
        """
        leans = self.analysis.facts.tooth(part.tooth).fact("abutment.tilt").value == near
        return "retentive_proximal" in part.option.parts and part.build.depth_mm is None and not leans

    def _rests(self, tooth: int, assembly: str) -> tuple[str, ...]:
        settled = self.rests.get(tooth)
        found = self.analysis.usable_rests(tooth, assembly)
        return found if settled is None else tuple(rest for rest in found if rest == settled) or (settled,)


def _connectors(analysis: CaseAnalysis, result: DecisionResult) -> tuple[tuple[Option, OptionResult], ...]:
    """Connectors that may be used; where none may, those against which the fewest rules speak."""
    catalogue = analysis.engine.knowledge.catalogue.options["connector"]
    left = [option for option in result.ranked if option.status in USABLE]
    if not left:
        possible = [option for option in result.ranked if option.status != "excluded"]
        fewest = min((len(option.blocked_by) for option in possible), default=0)
        left = [option for option in possible if len(option.blocked_by) == fewest]
    return tuple((catalogue[option.option], option) for option in left)


def _force(option: OptionResult) -> tuple[float, float] | None:
    force = option.facts.get("arm.force_n")
    if isinstance(force, (int, float)):
        return float(force), float(force)
    if isinstance(force, list) and force[0] is not None and force[1] is not None:
        return float(force[0]), float(force[1])
    return None


def shown_of(option: Option, result: OptionResult) -> float | None:
    """The share of its arm that a smile shows: the middle of the computed band."""
    if option.arm is None or not any(word.startswith("retentive") for word in option.parts):
        return 0.0
    share = result.facts.get("arm.visible_share")
    if isinstance(share, list) and None not in share:
        return (float(share[0]) + float(share[1])) / 2
    return float(share) if isinstance(share, (int, float)) else None


def _work(site: ToothSite, option: OptionResult, built: Build) -> int:
    """How many preparations a part asks for: those of the option, seats that are not there yet, passages to be
    opened.
    """
    steps = {
        (s.surface, s.action) for s in (*option.unlocked_by, *option.preparation) if s.action != "rest_seat"
    }
    seats = seat_sites(built.rest, option.approach, None) if built.rest not in (None, "onlay") else ()
    return len(steps) + len(
        {seat for seat in seats if site.seats is None or seat not in site.seats} | set(built.cuts)
    )


def _crosses(option: Option, site: ToothSite, built: Build) -> tuple[str, ...]:
    """The side, with a standing neighbour, over which metal passes to the facial."""
    if built.start is None or "nothing_facial" in option.parts or built.start in site.based:
        return ()
    return (built.start,) if built.start in site.touching else ()


def _rooms(sites: Mapping[int, ToothSite], touching: Iterable[frozenset[int]]) -> dict[frozenset[int], float]:
    """The recorded room between two neighbours: the smaller of what was recorded on either."""
    found: dict[frozenset[int], float] = {}
    for pair in touching:
        for tooth in pair:
            for side, other in sites[tooth].touching.items():
                room = sites[tooth].embrasures[side].high
                if other in pair and room is not None:
                    found[pair] = min(room, found.get(pair, room))
    return found


def _matching(
    facts: CaseFacts, sites: Mapping[int, ToothSite], teeth: list[int]
) -> tuple[tuple[int, int], ...]:
    """Teeth of the right side with the tooth of the left that should carry the same kind of retainer."""
    # A tooth beside an extension and one that is not are held differently by right.
    pairs = {
        tuple(sorted((t, mirror(t))))
        for t in teeth
        if mirror(t) in teeth and sites[t].extension == sites[mirror(t)].extension
    }
    ends = terminal_pair(facts.classification, facts.standing)
    if facts.classification.number == "I" and ends and all(t in teeth for t in ends):
        matched = {tooth for pair in pairs for tooth in pair}
        if not matched & set(ends):
            pairs.add(tuple(sorted(ends)))
    return tuple(sorted((pair[0], pair[1]) for pair in pairs))
