"""Conditions: reading, three-valued logic, and what they say decided them."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.facts.values import Fact, Scope, between, known, not_recorded, one_of
from recommender.knowledge.conditions import Condition, ConditionError, parse
from tests.ends import ends_soon

from .condition_strategies import conditions, narrowing

TRUTHS = (True, False, None)


def scope(**facts: Fact) -> Scope:
    return Scope(({name.replace("__", "."): fact for name, fact in facts.items()},))


def truth_fact(truth: bool | None) -> Fact:
    return Fact() if truth is None else known(truth)


# Strong Kleene connectives as Kleene, Introduction to Metamathematics (1952), section 64, tabulates them
# (tables recalled from memory; written out independently of the evaluator: U between f and t).
def kleene_and(p: bool | None, q: bool | None) -> bool | None:
    rank = {False: 0, None: 1, True: 2}
    return min((p, q), key=rank.__getitem__)


def kleene_or(p: bool | None, q: bool | None) -> bool | None:
    rank = {False: 0, None: 1, True: 2}
    return max((p, q), key=rank.__getitem__)


def kleene_not(p: bool | None) -> bool | None:
    return None if p is None else not p


@pytest.mark.parametrize(("p", "q"), list(itertools.product(TRUTHS, TRUTHS)))
def test_connectives_follow_strong_kleene_tables(p: bool | None, q: bool | None) -> None:
    here = scope(x__p=truth_fact(p), x__q=truth_fact(q))
    assert parse("x.p and x.q").evaluate(here) is kleene_and(p, q)
    assert parse("x.p or x.q").evaluate(here) is kleene_or(p, q)
    assert parse("not x.p").evaluate(here) is kleene_not(p)
    assert parse("not (x.p and x.q)").evaluate(here) is kleene_not(kleene_and(p, q))
    assert parse("not (x.p or x.q)").evaluate(here) is kleene_not(kleene_or(p, q))


@settings(max_examples=150, deadline=None)
@given(conditions, narrowing())
def test_more_information_never_flips_a_decided_condition(text: str, pair: tuple[Scope, Scope]) -> None:
    condition = parse(text)
    before, after = condition.evaluate(pair[0]), condition.evaluate(pair[1])
    assert before is None or after is before
    assert parse(f"not ({text})").evaluate(pair[1]) is kleene_not(after)


@settings(max_examples=150, deadline=None)
@given(conditions, narrowing())
def test_normal_form_reads_back_the_same(text: str, pair: tuple[Scope, Scope]) -> None:
    condition = parse(text)
    again = parse(condition.text)
    assert again.text == condition.text
    assert again == condition
    assert again.atoms == condition.atoms  # the same objects: atoms are shared
    for here in pair:
        assert again.evaluate(here) is condition.evaluate(here)


@settings(max_examples=100, deadline=None)
@given(conditions, narrowing())
def test_reasons_alone_decide_the_condition(text: str, pair: tuple[Scope, Scope]) -> None:
    condition, here = parse(text), pair[0]
    truth = condition.evaluate(here)
    reasons = condition.reasons(here)
    assert (truth is None) <= (reasons == {})
    if truth is not None and not any(atom.inner for atom in condition.atoms):
        assert condition.evaluate(Scope((reasons,))) is truth


# ---- single comparisons


@pytest.mark.parametrize(
    ("fact", "text", "truth"),
    [
        (between(0.25, None), "x.a >= 0.25", True),  # one zone measured proves the largest is at least that
        (between(0.25, None), "x.a < 0.25", False),
        (between(0.25, None), "x.a >= 0.5", None),
        (between(0.1, 0.3), "x.a < 0.3", None),
        (between(0.1, 0.3), "x.a <= 0.3", True),
        (between(0.1, 0.3), "x.a == 0.4", False),
        (between(0.1, 0.3), "x.a != 0.4", True),
        (between(0.1, 0.3), "x.a == 0.2", None),
        (between(None, -0.5), "x.a < 0", True),
        (between(1, 2), "x.a in [1, 2]", None),
        (between(1.2, 1.8), "x.a in [1, 2]", False),
        (known(14), "x.a in [14, 24]", True),
        (one_of(["tooth", "none"]), "x.a == extension", False),
        (one_of(["tooth", "none"]), "x.a in [tooth, none]", True),
        (one_of(["tooth", "none"]), "x.a == tooth", None),
        (one_of(["tooth", "none"]), "x.a != extension", True),
        (known(True), "x.a == 1", None),  # yes-or-no is not a number
        (known(1), "x.a == true", None),
        (known("low"), "x.a < 2", None),
        (known(frozenset({"nickel"})), "nickel in x.a", True),
        (known(frozenset()), "nickel in x.a", False),
        (known(frozenset()), "nickel not in x.a", True),
        (not_recorded("p"), "nickel in x.a", None),
        (not_recorded("p"), "recorded(x.a)", False),
        (not_recorded("p"), "not_recorded(x.a)", True),
        (between(1, 2), "recorded(x.a)", False),
        (known(0), "recorded(x.a)", True),
        (not_recorded("p"), "always", True),
        (not_recorded("p"), "not always", False),
    ],
)
def test_one_comparison(fact: Fact, text: str, truth: bool | None) -> None:
    assert parse(text).evaluate(scope(x__a=fact)) is truth


@pytest.mark.parametrize(
    ("left", "right", "truth"),
    [
        (known(0.1), known(0.25), True),
        (between(0, 0.2), between(0.25, 0.5), True),
        (between(0, 0.25), between(0.25, 0.5), None),
        (between(0.5, 1), between(0.25, 0.5), False),
        (Fact(), known(0.25), None),
    ],
)
def test_fact_against_fact(left: Fact, right: Fact, truth: bool | None) -> None:
    assert (
        parse("arm.engaged_mm < arm.least_mm").evaluate(scope(arm__engaged_mm=left, arm__least_mm=right))
        is truth
    )


def members(*mobilities: int | None) -> Scope:
    each = [
        scope(abutment__mobility=not_recorded(f"abutments[{14 + i}].mobility") if m is None
              else known(m, f"abutments[{14 + i}].mobility"))
        for i, m in enumerate(mobilities)
    ]  # fmt: skip
    return Scope(({},), {"abutment": each})


@pytest.mark.parametrize(
    ("mobilities", "text", "truth"),
    [
        ((), "any_abutment(abutment.mobility >= 2)", False),
        ((), "all_abutments(abutment.mobility >= 2)", True),
        ((), "count_abutments(abutment.mobility >= 2) == 0", True),
        ((2, None), "any_abutment(abutment.mobility >= 2)", True),
        ((0, None), "any_abutment(abutment.mobility >= 2)", None),
        ((0, None), "all_abutments(abutment.mobility >= 2)", False),
        ((2, None), "count_abutments(abutment.mobility >= 2) >= 1", True),
        ((2, None), "count_abutments(abutment.mobility >= 2) >= 2", None),
        ((2, None), "count_abutments(abutment.mobility >= 2) >= 3", False),
        ((2, None), "count_abutments(abutment.mobility >= 2) < 3", True),
    ],
)
def test_groups(mobilities: tuple[int | None, ...], text: str, truth: bool | None) -> None:
    assert parse(text).evaluate(members(*mobilities)) is truth


def test_a_group_that_was_not_given_is_not_an_empty_one() -> None:
    assert parse("any_abutment(abutment.mobility >= 2)").evaluate(Scope(({},))) is None


def test_reasons_and_gaps_name_only_the_deciding_branches() -> None:
    condition = parse("(x.a >= 1 or x.b >= 1) and x.c == tooth")
    here = scope(x__a=known(2, "path.a"), x__b=known(0, "path.b"), x__c=known("tooth", "path.c"))
    assert set(condition.reasons(here)) == {"x.a", "x.c"}
    vague = scope(x__a=not_recorded("path.a"), x__b=known(0, "path.b"), x__c=not_recorded("path.c"))
    assert condition.reasons(vague) == {}
    assert condition.gaps(vague) == ("path.a", "path.c")
    assert condition.gaps(here) == ()


def test_reasons_of_a_group_keep_the_fields_of_every_member() -> None:
    reasons = parse("count_abutments(abutment.mobility >= 2) >= 2").reasons(members(2, 3, 0))
    fields = {f"abutments[{tooth}].mobility" for tooth in (14, 15, 16)}
    assert set(reasons["abutment.mobility"].fields) == fields
    assert parse("any_abutment(abutment.mobility >= 2)").reasons(members(2, 3, 0))[
        "abutment.mobility"
    ].fields == ("abutments[14].mobility", "abutments[15].mobility")
    assert parse("any_abutment(abutment.mobility >= 2)").gaps(members(0, None)) == ("abutments[15].mobility",)


def test_an_absent_case_field_is_its_own_gap() -> None:
    assert parse("patient.age > 60").gaps(Scope(({},))) == ("patient.age",)


@pytest.mark.parametrize(
    ("text", "column", "says"),
    [
        ("", 1, "empty"),
        ("derived.a >", 12, "read"),
        ("x.a == 1 and (x.b", 14, "read"),
        ("2 < x.a", 1, "fact comes first"),
        ("1 < x.a < 3", 11, "one comparison"),
        ("x.a < low", 7, "number"),
        ("x.a == 'low'", 8, "quotation"),
        ("x.a == None", 8, "small letters"),
        ("x.a in []", 8, "empty list"),
        ("x.a in [low, 2]", 8, "not both"),
        ("x.a == x.a", 8, "itself"),
        ("x.a == 1e999", 8, "out of range"),
        ("mobility >= 2", 1, "fact comes first"),
        ("__import__(x.os)", 1, "unknown function"),
        ("x.a.__class__()", 1, "unknown function"),
        ("any_abutment(any_abutment(x.a))", 14, "inside a group"),
        ("count_abutments(x.a)", 1, "needs a comparison"),
        ("recorded(tooth)", 1, "name of one fact"),
        ("x.a if x.b else x.c", 1, "write"),
        ("[x.a for x in y]", 1, "write"),
        ("lambda: x.a", 1, "write"),
        ("x.a == tööth", 9, "not allowed"),
        ("x.a is tooth", 1, "use =="),
        ("(" * 40 + "x.a" + ")" * 40, 21, "nested"),
        ("not " * 400 + "x.a", 1 + 4 * 21, "nested"),
        ("x.a == 1 or " * 200 + "x.a", 1, "characters"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_column(text: str, column: int, says: str) -> None:
    with pytest.raises(ConditionError, match=says) as caught:
        parse(text)
    assert caught.value.column == column


def read_or_refused(text: str) -> tuple[int, Condition | None]:
    """The column of the refusal and nothing, or 1 and the condition; any other error is let through."""
    try:
        return 1, parse(text)
    except ConditionError as error:
        return error.column, None


@settings(max_examples=200, deadline=None)
@given(st.text(st.sampled_from("xa.b ()[]<>=!,-1e9'\"_noti\\#@:;{}*&|^%~`$?/\n\té"), max_size=60))
def test_any_text_is_read_or_refused_with_a_column(text: str) -> None:
    column, condition = read_or_refused(text)
    assert 1 <= column <= len(text) + 2
    assert condition is None or parse(condition.text) == condition


@pytest.mark.parametrize(
    "text",
    ["x" + ".a" * 990, "-" * 1990 + "1", "not " * 499 + "x", "x.a == " + "9" * 1900, "~" * 1999, "x.a\0"],
)
def test_reading_extreme_texts_ends(text: str) -> None:
    with ends_soon():
        read_or_refused(text)
