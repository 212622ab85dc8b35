"""The ``rules`` verb over the packaged rules."""

from pathlib import Path

import orjson
import pytest
from click.testing import CliRunner, Result

from recommender.cli.rules.verbs import rules
from recommender.knowledge.in_force import knowledge


def run(*arguments: str) -> Result:
    return CliRunner().invoke(rules, list(arguments))


def documents(*arguments: str) -> list[dict[str, object]]:
    result = run(*arguments, "--json")
    assert result.exit_code == 0, result.output
    return [orjson.loads(line) for line in result.stdout.splitlines()]


def test_list_gives_every_rule_once_as_json_lines() -> None:
    assert [each["id"] for each in documents("list")] == [rule.id for rule in knowledge().rules]


@pytest.mark.parametrize(
    ("filters", "holds"),
    [
        (("--decision", "connector"), lambda d: d["decision"] == "connector"),
        (("--effect", "blocks"), lambda d: d["effect"] == "blocks" and d["block"]),
        (("--disputed",), lambda d: d["disputed"]),
        (("--fact", "arch"), lambda d: "arch" in d["facts"]),
        (("--source", "mccracken"), lambda d: "mccracken" in str(d["source"]).lower()),
        (
            ("--option", "u_shaped"),
            lambda d: "u_shaped" in d["options"] or (d["decision"] == "connector" and not d["options"]),
        ),
    ],
)
def test_filters_keep_exactly_what_fits(filters: tuple[str, ...], holds: object) -> None:
    kept = {each["id"] for each in documents("list", *filters)}
    assert kept == {each["id"] for each in documents("list") if holds(each)}  # type: ignore[operator]
    assert kept


def test_filters_add_up() -> None:
    both = {each["id"] for each in documents("list", "--decision", "connector", "--effect", "blocks")}
    one = {each["id"] for each in documents("list", "--decision", "connector")}
    other = {each["id"] for each in documents("list", "--effect", "blocks")}
    assert both == one & other


def test_a_rule_is_shown_with_its_reason_and_source() -> None:
    rule = knowledge().rules[0]
    result = run("show", rule.id)
    assert result.exit_code == 0
    assert rule.why.split()[0] in result.output
    assert rule.id in result.output
    (document,) = documents("show", rule.id)
    assert document["why"] == rule.why
    assert document["source"] == rule.source


@pytest.mark.parametrize(
    "arguments",
    [("show", "no_such_rule"), ("why", "i_bra"), ("unlocks", "i_bra"), ("list", "--fact", "patient.agee")],
)
def test_a_name_that_is_not_known_is_misuse(arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert "unknown" in result.output


def test_a_misspelt_name_gets_a_suggestion() -> None:
    assert "Did you mean i_bar" in run("why", "i_bra").output
    assert "Did you mean patient.age" in run("list", "--fact", "patient.agee").output


def test_why_unlocks_facts_and_sources_answer_in_both_forms() -> None:
    for arguments in (("why", "u_shaped"), ("facts", "--decision", "connector"), ("facts",), ("sources",)):
        assert run(*arguments).exit_code == 0
        assert documents(*arguments)
    assert {each["effect"] for each in documents("why", "u_shaped")} <= {"favours", "discourages", "blocks"}
    for each in documents("unlocks", "i_bar"):
        assert each["unlocked_by"]
    total = sum(len(each["rules"]) for each in documents("sources"))  # type: ignore[arg-type]
    assert total >= len(knowledge().rules)


def test_the_way_from_a_fact_to_an_option() -> None:
    (document,) = documents("path", "arch", "u_shaped")
    assert document["path"][0] == ["fact", "arch"]  # type: ignore[index]
    assert document["path"][-1] == ["option", "connector/u_shaped"]  # type: ignore[index]


def test_check_tells_errors_by_exit_status(tmp_path: Path) -> None:
    draft = tmp_path / "draft.yaml"
    draft.write_text(
        "format: 1\nrules:\n- id: x_rule\n  decision: retainer\n  when: nonsense(\n", encoding="utf-8"
    )
    result = run("check", "--folder", str(tmp_path))
    assert result.exit_code == 1
    assert "draft.yaml:5" in result.output
    lines = run("check", "--folder", str(tmp_path), "--json").stdout.splitlines()
    assert any(orjson.loads(line)["subject"] == "rules[x_rule].when" for line in lines)
    assert run("check", "--folder", str(tmp_path), "--write-compiled").exit_code == 2


@pytest.mark.parametrize("form", ["json", "graphml"])
def test_export_writes_the_file(tmp_path: Path, form: str) -> None:
    target = tmp_path / "graph.out"
    assert run("export", "--format", form, "-o", str(target)).exit_code == 0
    assert target.stat().st_size > 10_000
    assert run("export", "--format", form, "-o", str(tmp_path / "none" / "x")).exit_code == 1
