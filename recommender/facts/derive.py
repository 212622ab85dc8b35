"""Everything that follows from a case, worked out once and looked up by scope.

``derive(case)`` gives a :class:`CaseFacts`. Its scopes are what rules are evaluated in: the case, a tooth, a
tooth toward one space, a missing tooth in its space. Layers are computed when first asked for.
"""

import re
from collections.abc import Sequence
from functools import cached_property

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, in_arch_order, side_facing
from recommender.domain.findings import Abutment
from recommender.domain.kennedy import Classification, Space, classify
from recommender.facts.arch import arch_facts
from recommender.facts.axis import ahead_of_fulcrum
from recommender.facts.case_fields import Layer, case_fields
from recommender.facts.figures import ModelFigures, under_own_figures
from recommender.facts.mechanical import shows_fact
from recommender.facts.space import space_layer
from recommender.facts.tooth import approach_layer, dentate_side, tooth_layer, touching
from recommender.facts.values import Fact, Scope, known


class CaseFacts:
    """The facts of one case.

    ``considered`` are the teeth about which a retainer is decided: those listed as abutments and those that
    border a space, in arch order. ``figures`` are those of the models where they are not the packaged ones.
    ``standing`` are all teeth that stand once planned extractions are done.
    """

    def __init__(self, case: Case, figures: ModelFigures | None = None) -> None:
        self.case = case
        self.figures = figures
        self.classification: Classification = classify(case)
        gone = set(case.missing) | set(case.absent or ()) | set(case.planned_extractions or ())
        self.standing: tuple[int, ...] = tuple(t for t in ARCH_ORDER[case.arch] if t not in gone)
        self._standing = frozenset(self.standing)
        self.surveyed: dict[int, Abutment] = {a.tooth: a for a in case.abutments or ()}
        self.spaces: tuple[Space, ...] = self.classification.spaces
        bordering = {tooth for space in self.spaces for tooth in space.borders}
        listed = {
            tooth
            for tooth, abutment in self.surveyed.items()
            if tooth in self._standing or abutment.kind in ("root", "implant")
        }
        self.considered: tuple[int, ...] = tuple(in_arch_order(case.arch, bordering | listed))
        self._beside: dict[int, dict[str, Space]] = {}
        for space in self.spaces:
            for tooth in space.borders:
                self._beside.setdefault(tooth, {})[side_facing(tooth, _end_nearest(space, tooth))] = space
        self._tooth_layers: dict[int, Layer] = {}
        self._space_layers: dict[int, Layer] = {}
        self._scopes: dict[tuple[object, ...], Scope] = {}
        # what tips that engage alike engage, by tooth, side and zones: filled by ``facts.option``
        self.at_tips: dict[tuple[object, ...], tuple[Fact, Fact]] = {}

    def sides(self, tooth: int) -> tuple[str, ...]:
        """The sides of a tooth that face a space, ``mesial`` first; empty when none does."""
        beside = self._beside.get(tooth, {})
        return tuple(side for side in ("mesial", "distal") if side in beside)

    def approaches(self, tooth: int) -> tuple[str, ...]:
        """The sides from which a tooth is judged: those that face a space, or both when none does."""
        return self.sides(tooth) or ("mesial", "distal")

    def touching(self, tooth: int, side: str) -> int | None:
        """The standing tooth that touches this one on that side."""
        return touching(tooth, side, self._standing, frozenset(self.case.missing) - self._standing)

    def space_beside(self, tooth: int, side: str) -> Space | None:
        """The space on that side of a tooth."""
        return self._beside.get(tooth, {}).get(side)

    def space_of(self, tooth: int) -> Space | None:
        """The space in which a missing tooth lies; ``None`` if it lies in none that is restored."""
        return next((space for space in self.spaces if tooth in space.teeth), None)

    @cached_property
    @under_own_figures
    def case_layer(self) -> Layer:
        """Case-scope facts."""
        teeth = set(self.considered) | set(self.standing)
        layers = {tooth: self._layer(tooth) for tooth in teeth}
        fields = case_fields(self.case)
        return fields | arch_facts(
            self.case, self.classification, self.standing, self.considered, self.surveyed, layers
        )

    @cached_property
    @under_own_figures
    def case_scope(self) -> Scope:
        """The scope of case and connector rules, with groups for rules over several teeth or spaces."""
        base = Scope((self.case_layer,))
        abutments = [base.extended(self._layer(tooth)) for tooth in self.considered]
        standing = [base.extended(self._layer(tooth)) for tooth in self.standing]
        # one for each tooth to be replaced: some facts differ from tooth to tooth of a space
        spans = [base.extended(self._space_layer(tooth)) for space in self.spaces for tooth in space.teeth]
        return Scope((self.case_layer,), {"abutment": abutments, "standing": standing, "span": spans})

    @under_own_figures
    def tooth(self, tooth: int) -> Scope:
        """The scope of one tooth, without a space."""
        return self._cached(("tooth", tooth), (self._layer(tooth),))

    @under_own_figures
    def toward(self, tooth: int, side: str) -> Scope:
        """The scope of one tooth looked at toward its ``mesial`` or ``distal`` side (near = that side)."""
        key = ("toward", tooth, side)
        if key not in self._scopes:
            layer = self._layer(tooth)
            near = approach_layer(
                tooth, side, self.space_beside(tooth, side), self.case, self.surveyed.get(tooth), layer,
                self._standing,
            )  # fmt: skip
            self._cached(key, (layer, near))
        return self._scopes[key]

    @under_own_figures
    def space(self, tooth: int) -> Scope:
        """The scope of one missing tooth in its space; ``KeyError`` if it lies in no restored space."""
        return self._cached(("space", tooth), (self._space_layer(tooth),))

    def _space_layer(self, tooth: int) -> Layer:
        if tooth not in self._space_layers:
            space = self.space_of(tooth)
            if space is None:
                raise KeyError(tooth)
            layers = {border: self._layer(border) for border in space.borders}
            self._space_layers[tooth] = space_layer(tooth, self.case, space, layers)
        return self._space_layers[tooth]

    def _cached(self, key: tuple[object, ...], layers: Sequence[Layer]) -> Scope:
        if key not in self._scopes:
            self._scopes[key] = Scope((*self.case_scope.layers, *layers), self.case_scope.groups)
        return self._scopes[key]

    def _layer(self, tooth: int) -> Layer:
        if tooth not in self._tooth_layers:
            layer = tooth_layer(
                tooth, self.case, self.surveyed.get(tooth), self._beside.get(tooth, {}), self._standing,
                ahead_of_fulcrum(tooth, self.classification, self.standing),
                shows_fact(self.case, tooth),
            )  # fmt: skip
            layer["derived.on_dentate_side"] = dentate_side(tooth, self.classification)
            kind = self.surveyed[tooth].kind if tooth in self.surveyed else None
            if kind is None and tooth in self._standing:
                # A standing tooth about which nothing else is said is a tooth, not an implant.
                layer["abutment.kind"] = known("tooth", "missing")
            self._tooth_layers[tooth] = layer
        return self._tooth_layers[tooth]


def _end_nearest(space: Space, tooth: int) -> int:
    """The end tooth of the space that lies next to a bordering tooth."""
    order = ARCH_ORDER["maxilla" if tooth < 30 else "mandible"]
    place = order.index(tooth)
    return min((space.teeth[0], space.teeth[-1]), key=lambda end: abs(order.index(end) - place))


def derive(case: Case, figures: ModelFigures | None = None) -> CaseFacts:
    """The facts of a case. Cheap: scopes are worked out when asked for. ``figures`` count in place of the packaged
    ones."""
    return CaseFacts(case, figures)


_OF_ONE_TOOTH = re.compile(r"abutments\[(\d+)\]\.(?!kind\b)")


def derive_again(case: Case, before: CaseFacts, changed: str) -> CaseFacts:
    """The facts of a case that differs from ``before`` in the field at path ``changed`` only.

    A field of one abutment leaves the layers of the other teeth as they were; after any other change
    everything is worked out anew.
    """
    facts = CaseFacts(case, before.figures)
    found = _OF_ONE_TOOTH.match(changed)
    if found and facts.considered == before.considered:
        facts._tooth_layers = {t: layer for t, layer in before._tooth_layers.items() if t != int(found[1])}
    return facts
