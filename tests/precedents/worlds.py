"""Small random libraries for the checks of retrieval: invented values, no trade knowledge."""

from hypothesis import strategies as st

from recommender.precedents.model import Situation
from recommender.precedents.search.tables import FeatureSet, Likeness, parse

SIMILARITY = """
format: 1
version: 1
near: 0.25
kinds:
  retainer:
    same: []
    weights:
      depth: {weight: 7, why: measured}
      grade: {weight: 5, why: ordered}
      word: {weight: 4, why: a category}
      flag: {weight: 3, why: yes or no}
      option: {weight: 2, why: taxonomic}
      upper: {weight: 2, arch: maxilla, why: only in the upper arch}
      steep: {weight: 1, why: one way}
  connector:
    same: [arch]
    weights:
      grade: {weight: 5, why: ordered}
      upper: {weight: 2, arch: maxilla, why: only in the upper arch}
features:
  depth: {scale: numeric, from: 0, to: 1, step: 0.05, span: 0.5, unit: mm}
  grade: {scale: graded, values: [a, b, c, d], at: [0, 0.2, 0.7, 1]}
  word: {scale: category, values: [p, q, r], between: [[p, q, 0.4]]}
  flag: {scale: boolean}
  option: {scale: taxonomic, of: retainer}
  upper: {scale: boolean}
  steep: {scale: graded, values: [low, high], toward: [[high, low, 0.3]]}
"""
CREDIT = {frozenset(("i_bar", "t_bar")): 0.6}
OPTIONS = {"retainer": ["i_bar", "t_bar", "none"]}


def likeness() -> Likeness:
    """The small similarity file above."""
    return parse(
        SIMILARITY,
        lambda _, a, b: 1.0 if a == b else CREDIT.get(frozenset((a, b)), 0.0),
        OPTIONS,
        "small.yaml",
    )


LIKENESS = likeness()
FEATURES: FeatureSet = LIKENESS.kinds["retainer"]

_VALUES = {
    "depth": st.integers(0, 20).map(lambda n: n / 20),
    "grade": st.sampled_from("abcd"),
    "word": st.sampled_from("pqr"),
    "flag": st.booleans(),
    "option": st.sampled_from(OPTIONS["retainer"]),
    "upper": st.booleans(),
    "steep": st.sampled_from(["low", "high"]),
}
values = st.fixed_dictionaries({name: st.none() | value for name, value in _VALUES.items()})
weights = st.fixed_dictionaries(
    {}, optional=dict.fromkeys(_VALUES, st.sampled_from([0.0, 0.5, 1.0, 3.0, 10.0]))
)


@st.composite
def libraries(draw: st.DrawFn, most: int = 40) -> list[Situation]:
    """Situations with repeats, ties and gaps, each case and site once."""
    pool = draw(st.lists(values, min_size=1, max_size=8))
    size = draw(st.integers(0, most))
    found = []
    for number in range(size):
        chosen = draw(st.sampled_from(pool)) if draw(st.booleans()) else draw(values)
        case, arch = f"c{draw(st.integers(0, 12)):02d}", draw(st.sampled_from(["maxilla", "mandible"]))
        choice, worth = draw(st.sampled_from(["i_bar", "none"])), draw(st.sampled_from([-1.0, 0.3, 1.0]))
        approved, outcome_known = draw(st.booleans()), draw(st.booleans())
        content = draw(st.sampled_from(["", "aa", "bb"]))
        found.append(
            Situation(
                case,
                "retainer",
                11 + number,
                arch,
                chosen,
                choice,
                worth,
                "",
                approved,
                outcome_known,
                content,
            )
        )
    return draw(st.permutations(found))


@st.composite
def asked(draw: st.DrawFn) -> Situation:
    """A situation to ask about, sometimes with the id or content of a stored one."""
    case = draw(st.sampled_from(["query", "c01", "c05"]))
    arch = draw(st.sampled_from(["maxilla", "mandible"]))
    return Situation(
        case, "retainer", 14, arch, draw(values), fingerprint=draw(st.sampled_from(["", "aa", "zz"]))
    )
