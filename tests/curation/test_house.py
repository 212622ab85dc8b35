"""A house profile: learned from what a house does, never from what it may not do, and said as its own."""

import json
from math import fsum

import pytest
from click.testing import CliRunner

from benchmarks.house_libraries import by, designed, mouths, unsafe, without_pattern
from benchmarks.house_policies import HOUSES
from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.model import Decision
from recommender.advice.recommend import Recommender
from recommender.advice.scoring.views import main_side
from recommender.api import libraries
from recommender.curation.house import keeping
from recommender.curation.house.learning import (
    families,
    folds_of,
    learn_from,
    one_standard_error,
    paired_bootstrap,
)
from recommender.curation.house.predicting import scores
from recommender.curation.house.table import Reader
from recommender.curation.house.votes import alike
from recommender.domain.fields import without_field
from recommender.knowledge.house import Decided, Habit, Measured, Profile, ProfileError, in_house
from recommender.knowledge.in_force import knowledge
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.situations import all_situations
from recommender.precedents.source import demo_source
from recommender.precedents.store.documents import as_data
from tests.advice.confidence.test_deciding import held_to_completed, thinned

np = pytest.importorskip("numpy")
NOTHING = Measured(decisions=0, before=0, after=0, gain=0, low=0, high=0)
OWN = Profile(
    cases=3,
    decisions={
        "retainer": Decided(
            cases=3, counts=40, neighbours=6, kappa=9, likeness={"undercuts": 2.0}, measured=NOTHING,
            weighs={"appearance": 8, "cost": -3},
            habits=[
                Habit(options=["rpa"], when="abutment.vestibule_depth_mm < 7", points=30, cases=9, chosen=8),
                Habit(options=["i_bar", "t_bar"], points=-20, cases=9, chosen=1),
            ],
        )
    },
)  # fmt: skip


@pytest.fixture(scope="module")
def analyses():
    reader = Reader(knowledge())
    return reader, [reader.work(case) for case in mouths(34, 11)]


@pytest.fixture(scope="module")
def bars(analyses):
    """A library of the house that likes bars."""
    _, worked = analyses
    choose = by(HOUSES[0], slips=0.0)
    return [designed(analysis, choose) for analysis in worked]


@pytest.fixture(scope="module")
def figures():
    return knowledge().figures.house.model_copy(update={"lines": [0, 1, 2, 4], "folds": 3, "inner_folds": 2})


def taught(reader, worked, cases, figures):
    """What cases teach, from analyses that are there already."""
    pairs = enumerate(zip(cases, worked, strict=True))
    made = [one for number, (case, analysis) in pairs for one in reader.decisions(number, case, analysis)]
    return learn_from(reader.tables(made, figures.cuts), families(cases), knowledge(), figures)


@pytest.fixture(scope="module")
def learned(analyses, bars, figures):
    return taught(*analyses, bars, figures)


def test_a_consistent_hand_is_learned(learned) -> None:
    """Published rules put the own retainer first in fewer than seven of ten decisions; the profile in far more."""
    assert learned.profile is not None
    found = learned.profile.decisions["retainer"].measured
    assert found.before <= 0.7
    assert found.after >= found.before + 0.2
    assert found.low > 0


def test_hands_without_a_pattern_teach_nothing(analyses, figures) -> None:
    reader, worked = analyses
    choose = without_pattern(5)
    assert taught(reader, worked, [designed(a, choose) for a in worked], figures).profile is None


def test_what_is_blocked_cannot_be_taught(analyses, figures) -> None:
    """A house that takes what the rules exclude or advise against: no row, no line, no other status."""
    reader, worked = analyses

    choose = by(HOUSES[0], slips=0.0)
    found = taught(reader, worked, [unsafe(designed(analysis, choose), analysis) for analysis in worked], figures)
    assert found.unreachable["retainer"] > 50
    base = knowledge()
    after = Recommender(None, in_house(base, found.profile or OWN))
    for analysis in worked[:5]:
        again = after.work(analysis.case)
        for decision in again.decisions():
            if decision.kind != "rest":
                here = {o.option: o.status for o in again.decide(decision).ranked}
                assert here == {o.option: o.status for o in analysis.decide(decision).ranked}


def test_scores_on_arrays_are_those_of_the_advice(analyses, bars, learned) -> None:
    base = knowledge()
    reader, worked = analyses
    pairs = enumerate(zip(bars, worked, strict=True))
    made = [one for number, (case, analysis) in pairs for one in reader.decisions(number, case, analysis)]
    table = reader.tables(made, base.figures.house.cuts)["retainer"]
    family = np.arange(len(bars))
    near = alike(table, np.arange(len(table.case)), family, base.figures.house.groups)
    decided = learned.profile.decisions["retainer"]
    kept = [habit for habit in decided.habits if all(
        part in {c.text for c in table.conditions} for part in habit.when.split(" and "))]
    assert kept == decided.habits
    found = scores(table, base, near, decided)
    library = PrecedentLibrary.build(all_situations(bars, reader.likeness, reader.outcomes), reader.likeness)
    ours = Recommender(library, in_house(base, learned.profile))
    for place in range(0, len(table.case), 9):
        case = bars[int(table.case[place])]
        examined = ours.work(case.model_copy(update={"design": None})).examine(
            Decision("retainer", int(table.site[place]))
        )
        for row in range(table.start[place], table.start[place + 1]):
            score = examined.scores()[table.options[table.option[row]]]
            assert score == pytest.approx(found[row], abs=0.02)  # likeness is kept in whole numbers there


def test_every_world_is_worked_out_by_the_profile() -> None:
    """Rules, likeness, ``w`` and ``P`` of a world are those of the advice on the completed case with the profile."""
    likeness = Reader(knowledge()).likeness
    library = PrecedentLibrary.build(all_situations(list(demo_source().cases())[:20], likeness), likeness)
    ours = Recommender(library, in_house(knowledge(), OWN))
    case = thinned(demo_source().get("harbour-0060"), 3)
    analysis, plain = ours.work(case), Recommender(library).work(case)
    worlds = Worlds(analysis.facts, 64)
    assert held_to_completed(ours, case, worlds, [37]) > 4
    decision = Decision("retainer", analysis.facts.considered[0])
    by_house, published = WorldCase(analysis, worlds), WorldCase(plain, worlds)
    assert (by_house.ranked(decision).scores != published.ranked(decision).scores).any()
    scope = by_house.rules.scope(decision, main_side(analysis.facts, decision))
    votes = by_house.neighbours.retrieve(decision, scope, None)
    assert votes is not None
    assert (votes.rows.shape[1], votes.kappa) == (6, 9)


@pytest.mark.parametrize("name", ["harbour-0001", "harbour-0025", "harbour-0060"])
def test_lines_add_up_and_a_deletion_only_widens(name) -> None:
    """The invariants hold with a profile: lines add to the score, a deleted field never narrows a range."""
    case = demo_source().get(name)
    library = PrecedentLibrary.build(all_situations(list(demo_source().cases())[:20], Reader(knowledge()).likeness))
    ours = Recommender(library, in_house(knowledge(), OWN))
    analysis = ours.work(case)
    tooth = analysis.facts.considered[0]
    decision = Decision("retainer", tooth)
    result = analysis.decide(decision)
    said = set()
    for option in result.ranked:
        assert fsum(line.points for line in option.contributions) == pytest.approx(option.score, abs=1e-9)
        assert option.low - 1e-9 <= option.score <= option.high + 1e-9
        said |= {line.statement.code for line in option.contributions if line.source == "house"}
    assert {"house.weighs_more", "house.weighs_less", "house.passes_over", "house.middle"} <= said
    published = Recommender(library).work(case).decide(decision)
    assert {o.option: o.status for o in result.ranked} == {o.option: o.status for o in published.ranked}
    tried = 0
    for path in ("patient.smile_line", f"abutments[{tooth}].vestibule_depth_mm", f"abutments[{tooth}].undercuts_mm"):
        try:
            fewer = without_field(case, path)
        except (KeyError, ValueError):
            continue
        tried += 1
        after = ours.work(fewer).decide(decision)
        for option in result.ranked:
            again = after.option(option.option)
            assert again.low <= option.low + 1e-9
            assert again.high >= option.high - 1e-9
    assert tried


def test_the_one_standard_error_rule() -> None:
    """Two columns alike within an error: the first; a clear gain: the second."""
    lots = np.random.default_rng(1)
    noise = lots.normal(size=200)
    family = np.arange(200)
    apart = lots.normal(size=200)
    apart += 0.5 * apart.std(ddof=1) / np.sqrt(200) - apart.mean()  # the second is better by half an error
    assert one_standard_error(np.column_stack((noise, noise - apart)), family) == 0
    assert one_standard_error(np.column_stack((noise, noise - 1 + 0.1 * lots.normal(size=200))), family) == 1


def test_the_paired_bootstrap_knows_the_normal_interval() -> None:
    """A gain in 30 and a loss in 10 of 200 single decisions: 0.1 ± 1.96·0.0300 by the normal formula for paired
    shares (Fleiss JL. Statistical Methods for Rates and Proportions, 2nd ed. Wiley, 1981, chapter 8)."""
    before, after = np.zeros(200, dtype=bool), np.zeros(200, dtype=bool)
    after[:30], before[30:40] = True, True
    low, high, chance = paired_bootstrap(before, after, np.arange(200), 20_000, 0.95)
    error = np.sqrt((0.15 + 0.05 - 0.1**2) / 200)
    assert low == pytest.approx(0.1 - 1.96 * error, abs=0.006)
    assert high == pytest.approx(0.1 + 1.96 * error, abs=0.006)
    assert chance < 0.005


def test_folds_keep_families_together() -> None:
    family = np.array([0, 0, 1, 2, 2, 3, 4, 5])
    fold = folds_of(family, 3)
    assert all(len(set(fold[family == one])) == 1 for one in set(family))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"habits": [Habit(options=["nope"], points=1)]}, "nope"),
        ({"habits": [Habit(options=["rpa"], when="patient.shoe_size > 40", points=1)]}, "shoe_size"),
        ({"habits": [Habit(options=["rpa"], when="recorded(patient.age)", points=1)]}, "recorded"),
        ({"weighs": {"luck": 3}}, "luck"),
        ({"likeness": {"moods": 2}}, "moods"),
    ],
)
def test_a_profile_that_does_not_fit_is_refused(change, told) -> None:
    bad = OWN.model_copy(update={"decisions": {"retainer": OWN.decisions["retainer"].model_copy(update=change)}})
    with pytest.raises(ProfileError, match=told):
        in_house(knowledge(), bad)


def test_adopted_tried_taken_back(tmp_path, monkeypatch, bars) -> None:
    """The whole way on the command line, with a folder library and a profile file."""
    from recommender.cli.main import main

    monkeypatch.setenv(keeping.ENVIRONMENT, str(tmp_path / "profiles"))
    library = tmp_path / "cases"
    library.mkdir()
    for case in bars[:6]:
        (library / f"{case.id}.json").write_text(json.dumps(as_data(case)))
    keeping.write(OWN, tmp_path / "own.yaml")
    asked = str(library / f"{bars[0].id}.json")
    run = CliRunner().invoke

    address, asked_with = str(library), lambda: libraries.recommender(str(library)).engine.knowledge.house
    assert asked_with() is None
    tried = run(main, ["profile", "try", str(tmp_path / "own.yaml"), "--library", address])
    assert "6 cases" in tried.output
    assert run(main, ["profile", "adopt", str(tmp_path / "own.yaml"), "--library", address]).exit_code == 0
    assert asked_with().digest == OWN.digest
    both = []
    for more in ([], ["--profile", "none"]):
        out = json.loads(run(main, ["recommend", asked, "--library", address, "--json", "--top", "1", *more]).stdout)
        both.append([c for d in out["retainers"].values() for o in d["ranked"] for c in o["contributions"]])
    own = [line for line in both[0] if line.get("source") == "house"]
    assert any(line["kind"] == "house" for line in own)
    assert all("The house" in line["text"] or "The share" in line["text"] for line in own)
    assert not any(line.get("source") == "house" for line in both[1])
    shown = run(main, ["profile", "show", "--library", address]).output
    assert "favours RPA" in shown
    assert "learned from 3 cases" in shown
    assert run(main, ["profile", "take-back", "--library", address]).exit_code == 0
    assert asked_with() is None
    assert run(main, ["profile", "adopt", "0001", "--library", address]).exit_code == 0
    assert asked_with().digest == OWN.digest
    (tmp_path / "bad.yaml").write_text("format: 1\ncases: 3\ndecisions: {retainer: {cases: x}}\n")
    refused = run(main, ["profile", "adopt", str(tmp_path / "bad.yaml"), "--library", str(library)])
    assert refused.exit_code == 1
    assert "bad.yaml:3" in refused.output
    (tmp_path / "named.yaml").write_text("format: 1\ncases: 3\ndecisions: {}\nnote: as Mrs Ashcombe likes it\n")
    refused = run(main, ["profile", "adopt", str(tmp_path / "named.yaml"), "--library", str(library)])
    assert (refused.exit_code, "holds a name ('Mrs Ashcombe')" in refused.output) == (1, True)
    learned_nothing = run(main, ["profile", "learn", "--library", str(library), "--json"])
    assert json.loads(learned_nothing.stdout)["profile"] is None

