"""What cannot be made of a design that was stored, or of a clasp that was asked for, on the teeth as they were
recorded.
"""

from collections.abc import Mapping

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.buildable import metal_faults, mouth_of
from recommender.advice.frameworks.building import Unbuildable
from recommender.advice.frameworks.candidates import Gathering
from recommender.advice.frameworks.metal import Metal
from recommender.advice.frameworks.replacements import replacements_of
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.advice.frameworks.tooth_sites import tooth_sites
from recommender.advice.frameworks.unsaid import said_out
from recommender.advice.model import Decision, OptionResult
from recommender.domain.designs import Design
from recommender.domain.statement import Choice, Statement, Word, say, tooth


def faults_of_design(analysis: CaseAnalysis, design: Design) -> dict[int, tuple[Statement, ...]]:
    """What cannot be made, by tooth (0 for the frame); empty where everything can.

    What the design leaves unsaid is filled in as it can be made best (:mod:`unsaid`).
    """
    metal, sites = metal_of_design(analysis, design)
    found: dict[int, list[Statement]] = {}
    for fault in metal_faults(metal, sites, analysis.engine.knowledge.figures.frameworks):
        found.setdefault(fault.tooth, []).append(fault.said)
    return {number: tuple(said) for number, said in found.items()}


def metal_of_design(analysis: CaseAnalysis, design: Design) -> tuple[Metal, dict[int, ToothSite]]:
    """A stored design as metal (its ``design`` has what was left unsaid), and the teeth that it meets."""
    facts, base = analysis.facts, analysis.engine.knowledge
    sites, figures = tooth_sites(analysis, _set_teeth(analysis)), base.figures.frameworks
    mouth = mouth_of(analysis.case.arch, tuple(t for t, site in sites.items() if site.stands), facts.spaces)
    said = said_out(design, mouth, sites, base.catalogue, figures)
    return Metal(said, mouth, base.catalogue, figures.crown), sites


def cannot_be_made(
    analysis: CaseAnalysis, asked: Mapping[int, str], rests: Mapping[int, str]
) -> dict[int, tuple[Statement, ...]]:
    """Why a retainer that was asked for cannot be made on its tooth from any side; teeth where it can are left out."""
    gathering = Gathering(analysis, tooth_sites(analysis, _set_teeth(analysis)), rests, {})
    found: dict[int, tuple[Statement, ...]] = {}
    for number, option in asked.items():
        decision = Decision("retainer", number)
        if option == "none" or number not in gathering.sites:
            continue
        result = analysis.decide(decision)
        examination = analysis.examine(decision)
        ways = [result.option(option)]
        ways += [
            seen
            for side in ("mesial", "distal")
            if side != ways[0].approach and (seen := examination.seen_from(option, side)) is not None
        ]
        made = [gathering.made(number, result, way, further=False) for way in ways]
        failed = [one for one in made if isinstance(one, Unbuildable)]
        if len(failed) == len(made):
            at = Word("surface", failed[0].at) if failed[0].at else None
            why = say(f"departs.unbuilt_{failed[0].reason}", at=at)
            said = say(
                "metal.cannot_be_made", tooth=tooth(number), option=Choice("retainer", option), why=why
            )
            found[number] = (said,)
    return found


def _set_teeth(analysis: CaseAnalysis) -> dict[int, OptionResult]:
    """The replacement of each missing tooth, by which a base adjoins its teeth."""
    facts = analysis.facts
    decisions = [Decision("replacement", number) for space in facts.spaces for number in space.teeth]
    results = {decision: analysis.decide(decision) for decision in decisions}
    return replacements_of(facts.spaces, results, analysis.engine.knowledge.figures.frameworks.mixed_space)
