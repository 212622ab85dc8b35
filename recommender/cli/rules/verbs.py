"""``rules``: list, filter, explain, check and export the rules."""

import sys
from collections.abc import Callable, Iterable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.rules.text import (
    effect_of,
    few,
    line_document,
    points_of,
    possible,
    print_lines,
    rule_document,
    table_of,
)
from recommender.domain.errors import CaseError

if TYPE_CHECKING:
    from recommender.knowledge.graph import Graph, Node
    from recommender.knowledge.model import Knowledge, Rule

_DECISIONS = ("retainer", "rest", "connector", "replacement", "indirect_retainer", "framework", "case")
_EFFECTS = ("favours", "discourages", "blocks", "prepares", "step", "caution", "question")
_GENERAL = "every option"


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def rules() -> None:
    """List, filter, explain, check and export the rules.

    How a rule is written stands in shared/rules/README.md. The rules are a help to a qualified person; the
    prescribing dentist decides.
    """


def _knowledge() -> "Knowledge":
    from recommender.knowledge.in_force import knowledge

    try:
        return knowledge()
    except CaseError as error:
        output.report(error, as_json=False)
        sys.exit(output.INVALID)


def _graph() -> "Graph":
    from recommender.knowledge.graph import concept_graph

    return concept_graph(_knowledge())


def _option_nodes(graph: "Graph", option: str, decision: str | None = None) -> list["Node"]:
    from recommender.knowledge.queries import concepts, options_named

    found = options_named(graph, option, decision)
    if not found:
        names = {name.split("/")[1] for name in concepts(graph, "option")}
        raise click.UsageError(f"unknown option {option}.{_meant(option, names)}")
    return found


def _meant(text: str, known: Iterable[str]) -> str:
    close = get_close_matches(text, list(known), n=3, cutoff=0.5)
    return (" " + output.told("rulebook.did_you_mean", close=", ".join(close))) if close else ""


def _known_fact(knowledge: "Knowledge", fact: str) -> str:
    if fact not in knowledge.registry:
        raise click.UsageError(f"unknown fact {fact}.{_meant(fact, knowledge.registry.facts)}")
    return fact


def _chosen(knowledge: "Knowledge", wanted: Mapping[str, Any]) -> list["Rule"]:
    tests: dict[str, Callable[[Rule, Any], bool]] = {
        "decision": lambda rule, value: rule.decision == value,
        "option": lambda rule, value: rule.speaks_of(value),
        "fact": lambda rule, value: value in rule.when.facts,
        "source": lambda rule, value: value.casefold() in rule.source.casefold(),
        "effect": lambda rule, value: rule.effect == value,
        "disputed": lambda rule, value: rule.disputed is not None,
    }
    asked = {key: value for key, value in wanted.items() if value}
    return [rule for rule in knowledge.rules if all(tests[key](rule, value) for key, value in asked.items())]


@rules.command("list")
@click.option("--decision", type=click.Choice(_DECISIONS), help="Only rules of this decision.")
@click.option("--option", "option", help="Only rules that speak of this option.")
@click.option("--fact", help="Only rules that read this fact.")
@click.option("--source", help="Only rules whose source holds this text.")
@click.option("--effect", type=click.Choice(_EFFECTS), help="Only rules with this effect.")
@click.option("--disputed", is_flag=True, help="Only rules on which schools differ.")
@output.json_option()
def list_rules(as_json: bool, **wanted: Any) -> None:
    """The rules, or those that fit every filter given."""
    knowledge = _knowledge()
    if wanted["fact"]:
        _known_fact(knowledge, wanted["fact"])
    if wanted["option"]:
        _option_nodes(_graph(), wanted["option"])
        decided = {d for d, known in knowledge.catalogue.options.items() if wanted["option"] in known}
        found = [rule for rule in _chosen(knowledge, wanted) if rule.decision in decided or rule.options]
    else:
        found = _chosen(knowledge, wanted)
    if as_json:
        for rule in found:
            output.emit(rule_document(rule))
        return
    table = table_of(
        output.told("rulebook.rules_a", found=len(found)), "rule", "decision", "effect", "of", "when"
    )
    for rule in found:
        of = few(rule.options) or _GENERAL
        moves = (
            f"\n{points_of(rule.points)} {knowledge.criteria.labels[rule.criterion]}" if rule.points else ""
        )
        table.add_row(rule.id, rule.decision, effect_of(rule) + moves, of, rule.when.text)
    output.console().print(table)


@rules.command()
@click.argument("rule_id", metavar="ID")
@output.json_option()
def show(rule_id: str, as_json: bool) -> None:
    """One rule in full: condition, facts, effect, reason and source."""
    knowledge = _knowledge()
    try:
        rule = knowledge.rule(rule_id)
    except KeyError:
        hint = _meant(rule_id, [each.id for each in knowledge.rules])
        raise click.UsageError(f"unknown rule {rule_id}.{hint}") from None
    if as_json:
        output.emit(rule_document(rule))
        return
    table = table_of(rule.id, "", "")
    table.show_header = False
    criterion = knowledge.criteria.labels.get(rule.criterion, "")
    lines = {
        "decision": output.told("rulebook.stage", decision=rule.decision, stage=rule.stage),
        "of": ", ".join(rule.options) or _GENERAL,
        "when": rule.when.text,
        "effect": effect_of(rule),
        "moves": f"{criterion} {points_of(rule.points)}" if rule.points else criterion,
        "removed by": ", ".join(f"{each.action} ({each.surface})" for each in rule.unlocked_by),
        "asks for": f"{rule.preparation.action} ({rule.preparation.surface})" if rule.preparation else "",
        "why": rule.why,
        "disputed": rule.disputed or "",
        "source": f"{rule.source} [{rule.found.replace('_', ' ')}]",
        "stands in": rule.place,
    }
    for name, text in lines.items():
        if text:
            table.add_row(name, text)
    output.console().print(table)
    facts = table_of("Facts that it reads", "fact", "meaning", "can be", "known for")
    for name in sorted(rule.when.facts):
        spec = knowledge.registry[name]
        can_be = possible(spec)
        facts.add_row(name, spec.label, can_be, spec.scope)
    if rule.when.facts:
        output.console().print(facts)


@rules.command()
@click.argument("option")
@click.option("--decision", type=click.Choice(_DECISIONS[:5]), help="Where one identifier answers several.")
@output.json_option()
def why(option: str, decision: str | None, as_json: bool) -> None:
    """What can speak for an option, and what against it. OPTION: i_bar, or rest/mesial."""
    from recommender.knowledge import queries

    graph = _graph()
    for node in _option_nodes(graph, option, decision):
        speaks_for, against = queries.why(graph, node), queries.why_not(graph, node)
        if as_json:
            for line in (*speaks_for, *against):
                output.emit(line_document(node[1], line))
            continue
        print_lines(output.told("rulebook.speaks", what=node[1]), speaks_for)
        print_lines(output.told("rulebook.speaks_against", what=node[1]), against)
        alike = ", ".join(
            f"{name} ({share:g}, {family})" for name, share, family in queries.related(graph, node)
        )
        click.echo(output.told("rulebook.related", alike=alike or "none"))


@rules.command()
@click.argument("option")
@click.option("--decision", type=click.Choice(_DECISIONS[:5]), help="Where one identifier answers several.")
@output.json_option()
def unlocks(option: str, decision: str | None, as_json: bool) -> None:
    """The blocks of an option that a preparation of the tooth removes."""
    from recommender.knowledge import queries

    graph = _graph()
    for node in _option_nodes(graph, option, decision):
        found = queries.what_unlocks(graph, node)
        if as_json:
            for each in found:
                steps = [{"action": action, "surface": surface} for action, surface in each.preparations]
                output.emit({**line_document(node[1], each.rule), "unlocked_by": steps})
            continue
        table = table_of(
            output.told("rulebook.blocks_preparation_removes", what=node[1]),
            "preparation",
            "removes",
            "which blocks when",
            "why",
        )
        for each in found:
            removing = ", ".join(f"{action} ({surface})" for action, surface in each.preparations)
            table.add_row(removing, each.rule.id, each.rule.condition, each.rule.why)
        output.console().print(table)


@rules.command()
@click.option("--decision", type=click.Choice(_DECISIONS), help="Only facts that can change this decision.")
@output.json_option()
def facts(decision: str | None, as_json: bool) -> None:
    """The facts that rules may read, and how many rules read each."""
    from recommender.knowledge.queries import facts_that_can_change

    knowledge, graph = _knowledge(), _graph()
    if decision:
        read = facts_that_can_change(graph, ("decision", decision))
    else:
        read = {spec.name: () for spec in knowledge.registry}
        for rule in knowledge.rules:
            for name in rule.when.facts:
                read[name] = (*read[name], rule.id)
    table = table_of(
        output.told("rulebook.facts", read=len(read)), "fact", "meaning", "can be", "known for", "read by"
    )
    for name, readers in read.items():
        spec = knowledge.registry[name]
        if as_json:
            output.emit({
                "format": 1, "fact": name, "label": spec.label, "scope": spec.scope, "type": spec.type,
                "unit": spec.unit, "values": list(spec.values), "read_by": list(readers),
            })  # fmt: skip
            continue
        can_be = possible(spec)
        table.add_row(name, spec.label, can_be, spec.scope, str(len(readers)))
    if not as_json:
        output.console().print(table)


@rules.command()
@click.option("--holding", default="", metavar="TEXT", help="Only sources that hold this text.")
@output.json_option()
def sources(holding: str, as_json: bool) -> None:
    """Every source, with the rules that rest on it."""
    from recommender.knowledge import queries

    graph = _graph()
    table = table_of("Sources", "source", "rules", "which", whole=False)
    for source in queries.sources_like(graph, holding):
        resting = queries.rules_resting_on(graph, source)
        if as_json:
            output.emit({"format": 1, "source": source, "rules": list(resting)})
        else:
            shown = ", ".join(resting[:5]) + (", …" if len(resting) > 5 else "")
            table.add_row(source, str(len(resting)), shown)
    if not as_json:
        output.console().print(table)


@rules.command()
@click.argument("fact")
@click.argument("option")
@output.json_option()
def path(fact: str, option: str, as_json: bool) -> None:
    """The shortest way in which a fact bears on an option."""
    from recommender.knowledge.queries import path_between

    graph = _graph()
    _known_fact(_knowledge(), fact)
    for node in _option_nodes(graph, option):
        steps = path_between(graph, fact, node)
        if as_json:
            output.emit(
                {"format": 1, "fact": fact, "option": node[1], "path": [list(step) for step in steps]}
            )
        elif steps:
            click.echo(" → ".join(f"{kind} {name}" for kind, name in steps))
        else:
            click.echo(output.told("rulebook.does_not_bear", fact=fact, what=node[1]))


@rules.command()
@click.option(
    "--folder",
    type=click.Path(exists=True, path_type=Path),
    help="A draft: a rule file, or a folder of them.",
)
@click.option("--all", "everything", is_flag=True, help="Also what is merely good to know.")
@click.option(
    "--write-compiled", is_flag=True, help="Without errors, write the compiled form of the packaged data."
)
@output.json_option()
def check(folder: Path | None, everything: bool, write_compiled: bool, as_json: bool) -> None:
    """What is wrong with the rules, with file, rule and place. Exit status 1 if there is any error."""
    from dataclasses import asdict

    from recommender.knowledge.check import LEVELS, check_folder

    if write_compiled and folder:
        raise click.UsageError("--write-compiled is for the packaged rules, without --folder")
    try:
        found = check_folder(folder)
    except CaseError as error:
        output.report(error, as_json)
        sys.exit(output.INVALID)
    counts = {level: sum(finding.level == level for finding in found) for level in LEVELS}
    for finding in found:
        if as_json:
            output.emit({"format": 1, **asdict(finding)})
        elif everything or finding.level != "information":
            where = f"{finding.place}: " if finding.place else ""
            click.echo(f"{where}{finding.level}: {finding.subject}: {finding.message} [{finding.kind}]")
    if not as_json:
        click.echo(
            output.told(
                "rulebook.errors_warnings_know",
                error=counts["error"],
                warning=counts["warning"],
                information=counts["information"],
            )
        )
    if counts["error"]:
        sys.exit(output.INVALID)
    if write_compiled:
        from recommender.knowledge.packaged import write_compiled as write

        output.warn(f"wrote {write()}")


@rules.command()
@click.option("--format", "form", type=click.Choice(["json", "graphml", "turtle", "jsonld"]), required=True)
@click.option("-o", "--output", "target", type=click.Path(path_type=Path, dir_okay=False), required=True)
def export(form: str, target: Path) -> None:
    """The concept graph as node-link JSON, GraphML, or RDF (SKOS) in Turtle or JSON-LD."""
    from recommender.knowledge.export import write

    try:
        write(_graph(), form, target)
    except ModuleNotFoundError:
        raise click.ClickException(f"{form} needs the extra rdf: pip install 'rpd-casebook[rdf]'") from None
    except OSError as error:
        raise click.ClickException(f"cannot write {target}: {error.strerror}") from None
