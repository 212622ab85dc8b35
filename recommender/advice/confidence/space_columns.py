"""The facts of a space in every world, as ``recommender.facts.space`` works them out."""

from recommender.advice.confidence.columns import Column, combine
from recommender.advice.confidence.world_fields import CaseColumns, bare
from recommender.domain.case import Case
from recommender.domain.findings import Patient
from recommender.facts.figures import display_figures
from recommender.facts.logic import test
from recommender.facts.space import shows_in_smile, weakest_bone
from recommender.facts.values import UNKNOWN, Fact, between, known


def of_space(base: CaseColumns, tooth: int, name: str, fact: Fact) -> Column:
    """The column of a fact of a space, at one missing tooth."""
    scope = base.space(tooth)
    if name == "derived.span_shows":
        lower = base.lips(tooth)[1]
        last = base.case_layer.column("patient.last_tooth_in_smile")
        return combine(
            lambda a, b: _span_shows(tooth, base.case.arch, a, b),
            lower,
            last,
            how=("span shows", tooth, base.case.arch),
        )
    if name == "derived.weakest_border_bone":
        space = base.facts.space_of(tooth)
        bones = [
            base.tooth_layer(t).column("abutment.bone_support") for t in (space.borders if space else ())
        ]
        return combine(lambda *found: weakest_bone(list(found)), *bones, how="weakest bone")
    if name == "derived.width_per_tooth_mm":
        number = scope.column("span.set_teeth")
        return combine(_width_each, scope.column("span.width_mm"), number, how="width each")
    if name in ("derived.closing_contact", "derived.gliding_contact"):
        words = {"closing"} if "closing" in name else {"protrusive", "lateral"}
        return combine(
            lambda f: known(bool(words & f.value)) if isinstance(f.value, frozenset) else UNKNOWN,
            base.field(f"occlusion.contacts[{tooth}]"),
            how=name,
        )
    if name == "derived.recent_extraction":
        limit = float(display_figures()["recent_extraction_months"])
        months = scope.column("span.months_since_extraction")

        def recent(found: Fact) -> Fact:
            answer = test(found, lambda value: float(str(value)) < limit)
            return found if answer is None else known(answer)

        return combine(recent, months, how="recent")
    return base.gap(fact, name)


def _word(fact: Fact) -> str | None:
    return None if fact.value is None else str(fact.value)


def _span_shows(tooth: int, arch: str, lower: Fact, last: Fact) -> Fact:
    patient = bare(
        Patient,
        last_tooth_in_smile=None if last.value is None else int(str(last.value)),
        lower_display=_word(lower),
    )
    return shows_in_smile(tooth, bare(Case, arch=arch, patient=patient))


def _width_each(width: Fact, number: Fact) -> Fact:
    if width.low is None or width.high is None:
        return UNKNOWN
    if not isinstance(number.value, (int, float)) or not number.value:
        return between(None, width.high, unit="mm")
    return between(width.low / number.value, width.high / number.value, unit="mm")
