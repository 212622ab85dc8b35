"""Facts of one option at its decision in every world: what its tip engages, what of it shows, what room it has.

Follows ``facts.option`` and what it calls; bands of the mechanics stay bands, in a world as in a completed case.
"""

from collections.abc import Callable
from functools import lru_cache

from recommender.advice.confidence.columns import Column, WorldLayer, WorldScope, combine, constant, fold
from recommender.advice.confidence.world_fields import OPTION_ALWAYS, CaseColumns, as_fact, bare
from recommender.advice.model import Decision
from recommender.domain.case import Case
from recommender.domain.dentition import is_anterior, opposite, side_facing
from recommender.domain.findings import Floor, Occlusion, Palate, Span
from recommender.domain.options import Option
from recommender.facts.arm_visible import origin_of_arm, share_in_view
from recommender.facts.case_fields import Layer, rest_room
from recommender.facts.connector_room import connector_facts, less_room
from recommender.facts.logic import largest, least
from recommender.facts.mechanical import arm_loads, space_facts
from recommender.facts.option import anatomical, crossing, rest_sites
from recommender.facts.values import UNKNOWN, Fact, between, known
from recommender.mechanics.figures import remembered


class OptionColumns:
    """The option layers of one case. Columns that several options share are made once."""

    def __init__(self, base: CaseColumns) -> None:
        self.base = base
        self._shared: dict[object, Column] = {}

    def layer(self, decision: Decision, side: str | None, option: Option, facts: Layer) -> WorldLayer:
        """The layer of an option seen from ``side`` in every world; ``facts`` is its layer in the case as it is."""
        tooth = decision.tooth

        def define(name: str, fact: Fact) -> Column:
            if name.startswith("arm."):
                assert side is not None
                return self._arm(tooth, side, option, name, fact)
            if name.startswith("rest."):
                assert side is not None
                return self._rest(tooth, side, option, name, fact)
            if name.startswith("space."):
                return self._space(tooth, option, name, fact)
            if name == "connector.room_left_mm":
                return self._room(option, fact)
            self.base.undefined.add(name)
            return constant(fact)

        return WorldLayer(facts, define, OPTION_ALWAYS)

    # ---- retainers

    def _engaged(self, tooth: int, side: str, option: Option) -> Column | None:
        assert option.tip is not None
        where = self._tip_scope(tooth, side, option)
        if where is None:
            return None
        key = ("engaged", id(where), option.tip.zones)
        if key not in self._shared:
            zones = [where.column(f"derived.{zone}_mm") for zone in option.tip.zones]
            self._shared[key] = fold(lambda a, b: largest((a, b), "mm"), zones, "largest mm")
        return self._shared[key]

    def _tip_scope(self, tooth: int, side: str, option: Option) -> WorldScope | None:
        if option.extra.get("tip_on") != "far_neighbour":
            return self.base.toward(tooth, side)
        beyond = self.base.facts.touching(tooth, opposite(side))
        return None if beyond is None else self.base.toward(beyond, side_facing(beyond, tooth))

    def _arm(self, tooth: int, side: str, option: Option, name: str, fact: Fact) -> Column:
        scope = self.base.toward(tooth, side)
        if name == "arm.contour":
            crosses = crossing(option)
            return scope.column(crosses) if crosses else constant(fact)
        if name == "arm.visible_share":
            return self._visible(tooth, side, option)
        engaged = self._engaged(tooth, side, option) if option.tip is not None else None
        if engaged is None:
            return constant(fact)
        if name == "arm.engaged_mm":
            return engaged
        if name == "arm.level_mm":
            return self._level(tooth, side, option, engaged)
        if name in ("arm.force_n", "arm.stress_ratio"):
            key = (name, option.id, id(engaged))
            if key not in self._shared:
                self._shared[key] = combine(
                    lambda f: _load(name, option, tooth, f), engaged, how=(name, option, tooth)
                )
            return self._shared[key]
        self.base.undefined.add(name)
        return constant(fact)

    def _level(self, tooth: int, side: str, option: Option, engaged: Column) -> Column:
        assert option.tip is not None
        where = self._tip_scope(tooth, side, option)
        assert where is not None
        key = ("level", id(where), option.tip.zones)
        if key not in self._shared:
            near = str(where.column("derived.near_side").first.value)
            names = [f"abutment.undercuts_level_mm.{anatomical(zone, near)}" for zone in option.tip.zones]
            level = fold(
                lambda a, b: largest((a, b), "mm"), [where.column(name) for name in names], "largest mm"
            )
            tilts = [
                self.base.case_layer.column(f"records.{name}") for name in ("tilt_ap_deg", "tilt_lateral_deg")
            ]
            flat = combine(lambda a, b: known(a.value == 0 and b.value == 0), *tilts, how="flat tilt")
            self._shared[key] = combine(
                lambda f, a, b: a if f.value else b, flat, engaged, level, how="level"
            )
        return self._shared[key]

    def _visible(self, tooth: int, side: str, option: Option) -> Column:
        origin = origin_of_arm(option, side)
        line = self.base.toward(tooth, side).column(f"derived.{'near' if origin == side else 'far'}_contour")
        crown = self.base.tooth_layer(tooth).column("abutment.crown_height_mm")
        smile, lower, last = self.base.lips(tooth)
        key = ("visible", tooth, side, option.id)
        if key in self._shared:
            return self._shared[key]
        view = _view(option, tooth, side)

        def shown(*found: Fact) -> Fact:
            words = [None if fact.value is None else str(fact.value) for fact in found[:2]]
            at = None if found[2].value is None else int(str(found[2].value))
            level = None if found[3].value is None else str(found[3].value)
            height = found[4].value
            crown_mm = float(height) if isinstance(height, (int, float)) else None
            return view(words[0], words[1], at, level, crown_mm)

        found = self._shared[key] = combine(
            shown, smile, lower, last, line, crown, how=("shown", option, tooth, side)
        )
        return found

    # ---- rests

    def _rest(self, tooth: int, side: str, option: Option, name: str, fact: Fact) -> Column:
        abutment = self.base.facts.surveyed.get(tooth)
        sites = rest_sites(option.id, side)
        if name == "rest.room_mm":
            rooms = []
            for site in sites:
                room = rest_room(tooth, abutment, site)
                settled = room.value is not None or not room.gaps
                rooms.append(constant(room) if settled else self.base.field(room.gaps[0], "mm"))
            return fold(lambda a, b: least((a, b), "mm"), rooms, "least mm")
        if name == "rest.seat_prepared":
            seats = self.base.tooth_layer(tooth).column("abutment.rest_seats")

            def ready(found: Fact) -> Fact:
                listed = found.value
                return (
                    known(all(site in listed for site in sites)) if isinstance(listed, frozenset) else UNKNOWN
                )

            return combine(ready, seats, how=("ready", tuple(sites)))
        self.base.undefined.add(name)
        return constant(fact)

    # ---- replacements

    def _space(self, tooth: int, option: Option, name: str, fact: Fact) -> Column:
        scope = self.base.space(tooth)
        room, depth = scope.column("span.clearance_mm"), scope.column("span.facial_depth_mm")
        columns = [room]
        if name != "space.left_mm":
            landed = self.base.case.occlusion.contacts if self.base.case.occlusion else None
            given = (landed or {}).get(tooth)
            contact = (
                self.base.field(f"occlusion.contacts[{tooth}]")
                if given is None
                else constant(as_fact(given, ""))
            )
            columns += [depth, contact, self.base.case_layer.column("occlusion.overbite")]
        arch = self.base.case.arch

        def left(*found: Fact) -> Fact:
            span = bare(Span, teeth=[tooth], clearance_mm=_measured(found[0]))
            occlusion = None
            if len(found) > 1:
                span = bare(
                    Span, teeth=[tooth], clearance_mm=_measured(found[0]), facial_depth_mm=_measured(found[1])
                )
                words = found[2].value
                occlusion = bare(
                    Occlusion,
                    contacts={tooth: sorted(words)} if isinstance(words, frozenset) else None,
                    overbite=found[3].value,
                )
            case = bare(Case, arch=arch, missing=[tooth], occlusion=occlusion)
            return space_facts(option, case, tooth, span)[name]

        return combine(left, *columns, how=("space", name, option, tooth, arch))

    # ---- connectors

    def _room(self, option: Option, fact: Fact) -> Column:
        base, case = self.base, self.base.case
        if case.arch == "maxilla":
            names = ("length_mm", "torus", "torus_to_vibrating_line_mm")
            columns = [base.case_layer.column(f"palate.{name}") for name in names]

            def upper(*found: Fact) -> Fact:
                palate = bare(
                    Palate,
                    **{
                        name: _measured(f) if name != "torus" else f.value
                        for name, f in zip(names, found, strict=True)
                    },
                )
                palate_case = bare(Case, arch="maxilla", palate=palate)
                return connector_facts(option.id, palate_case, ())["connector.room_left_mm"]

            return combine(upper, *columns, how=("upper room", option.id))
        if any(gap.startswith("floor.depth") for gap in fact.gaps):
            return combine(
                lambda f: less_room(f, option.id, "floor"),
                base.case_layer.column("floor.depth_mm"),
                how=("floor room", option.id),
            )
        if any(gap.startswith("floor.labial") for gap in fact.gaps):
            sulcus = base.case_layer.column("floor.labial_sulcus_mm")

            def lower(found: Fact) -> Fact:
                floor = bare(Floor, labial_sulcus_mm=_measured(found))
                floor_case = bare(Case, arch="mandible", floor=floor)
                return connector_facts(option.id, floor_case, ())["connector.room_left_mm"]

            return combine(lower, sulcus, how=("sulcus room", option.id))
        front = [tooth for tooth in base.facts.standing if is_anterior(tooth)]
        crowns = [base.tooth_layer(tooth).column("abutment.crown_height_mm") for tooth in front]
        if not crowns:
            return constant(fact)
        return combine(
            lambda f: less_room(f, option.id, "crown"),
            fold(lambda a, b: least((a, b), "mm"), crowns, "least mm"),
            how=("crown room", option.id),
        )


def _measured(fact: Fact) -> float | None:
    return (
        float(fact.value)
        if isinstance(fact.value, (int, float)) and not isinstance(fact.value, bool)
        else None
    )


def _load(name: str, option: Option, tooth: int, engaged: Fact) -> Fact:
    return arm_loads(option, tooth, engaged)[name]


_View = Callable[[str | None, str | None, int | None, str | None, float | None], Fact]


@lru_cache(maxsize=4096)
def _view(option: Option, tooth: int, side: str) -> _View:
    """What is seen of an arm, by the records that it depends on: worked out once for all cases."""

    @remembered(4096)
    def seen(
        smile: str | None, lower: str | None, last: int | None, level: str | None, crown: float | None
    ) -> Fact:
        band = share_in_view(option, tooth, side, smile, lower, last, level, crown)
        return between(band.low, band.high, unit="ratio")

    return seen
