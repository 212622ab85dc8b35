"""A small invented knowledge base: enough options, families and rules to ask questions of."""

from recommender.domain.options import Catalogue, Family, Option
from recommender.knowledge.load import RuleDocument, assemble, read_rules
from recommender.knowledge.model import Criteria, Knowledge
from recommender.knowledge.registry import registry
from recommender.knowledge.rulefile import Setting

STARTS = {"retention": 50.0, "appearance": 50.0, "hygiene": 50.0}


def option(decision: str, name: str, *families: str) -> Option:
    return Option(
        name, decision, name.replace("_", " "), f"Invented text on {name}.", families, STARTS, "Book A"
    )


CATALOGUE = Catalogue(
    {
        "retainer": {
            each.id: each
            for each in (
                option("retainer", "i_bar", "infrabulge"),
                option("retainer", "t_bar", "infrabulge"),
                option("retainer", "ring", "suprabulge"),
                option("retainer", "rest_only", "no_arm"),
            )
        },
        "connector": {"u_shaped": option("connector", "u_shaped", "open_behind")},
    },
    {
        "holds": Family("holds", "retainer", "holds", 0.1),
        "infrabulge": Family("infrabulge", "retainer", "bars", 0.5, "holds"),
        "suprabulge": Family("suprabulge", "retainer", "clasps", 0.3, "holds"),
        "no_arm": Family("no_arm", "retainer", "no arm", 0.0),
        "open_behind": Family("open_behind", "connector", "open behind", 0.2),
    },
)
CRITERIA = Criteria(
    {"retention": "retention", "appearance": "appearance", "hygiene": "hygiene"},
    {"retainer": {"retention": 2, "appearance": 1}, "connector": {"hygiene": 1}},
    (),
)
CITED = "Author A. An invented citation for tests. Invented J 2000;1:1-2"


def entry(name: str, when: str, effect: str = "favours", **more: object) -> dict[str, object]:
    found: dict[str, object] = {
        "id": name, "decision": "retainer", "when": when, "effect": effect, "why": f"Why {name}.",
        "source": CITED, "found": "memory",
    }  # fmt: skip
    if effect in ("favours", "discourages", "prepares"):
        found |= {"criterion": "retention", "points": 5 if effect == "favours" else -5}
    return found | more


RULES: list[dict[str, object]] = [
    entry("bar_likes_depth", "derived.mid_facial_mm >= 0.25", options=["family:infrabulge"]),
    entry(
        "bar_needs_room", "abutment.tissue_undercut == true", "blocks", options=["family:infrabulge"],
        block="impossible", unlocked_by=[{"action": "remove_undercut", "surface": "facial"}],
    ),
    entry("grip", "arm.engaged_mm < arm.least_mm", "blocks", options=["family:holds"], block="impossible",
          unlocked_by=[{"action": "create_undercut", "surface": "tip"}]),
    entry("ring_covers", "patient.caries_risk == high or patient.hygiene == poor", "discourages",
          options=["ring"]),
    entry("ring_on_molars", "derived.tooth_type == molar", options=["ring"], disputed="Others avoid it."),
    entry("loose_tooth", "abutment.mobility == 3", "caution"),
    entry("several_loose", "count_abutments(abutment.mobility >= 2) >= 2", options=["rest_only"],
          source="common practice, no source", found="common_practice"),
    entry("seat", "derived.near_rest_seat == false", "prepares",
          preparation={"action": "rest_seat", "surface": "near_occlusal"}),
    entry("open_is_clean", "patient.hygiene == poor", decision="connector", criterion="hygiene",
          options=["u_shaped"], source=f"{CITED}; Book B, chapter 2"),
]  # fmt: skip


def build(*entries: dict[str, object]) -> Knowledge:
    """Knowledge with these rules; fails if one cannot be read."""
    problems: list[object] = []
    document = RuleDocument("rules.yaml", {"format": 1, "rules": list(entries)}, lambda path: "rules.yaml")
    setting = Setting(registry(), CATALOGUE, CRITERIA.labels)
    rules = read_rules([document], setting, problems)  # type: ignore[arg-type]
    assert problems == []
    return assemble(rules, CATALOGUE, CRITERIA)


def small() -> Knowledge:
    return build(*RULES)
