"""What the screens call things: statuses with a symbol, decisions, options, steps, answers.

A status is always a word with a symbol, never a colour alone.
"""

from typing import TYPE_CHECKING

from recommender.domain.labels import field_label, field_unit
from recommender.screens.session import state

if TYPE_CHECKING:
    from pathlib import Path

    from recommender.advice.model import Decision, OptionResult, PreparationStep
    from recommender.domain.statement import Arg, Statement
    from recommender.wording.words import Words

PURPOSE = "Helps a laboratory designer propose a removable partial denture framework to a dentist."
INTENDED = (
    "Design support for trained laboratory staff working to a dentist's prescription: it drafts a framework and says "
    "why; the dentist decides. Before use on patients the laboratory settles under its local law whether it is a "
    "medical device."
)
CAUTION = (
    "For a qualified person: the prescribing dentist decides; local regulation and the licensed technician stand "
    "above all of this."
)
NO_LOGIN = "The screens have no log-in of their own: whoever can reach this address can read and change what is here."
BY_ROLE = "What you may do follows from your role, and the database holds everybody to it."
INVENTED = "The demo library is invented: no case in it is a patient's."
NO_IDENTITY = (
    "Nothing that could identify a patient belongs in a case: no name, no date of birth, no chart number."
)

# symbols of the closed lists whose words stand in the templates, from the best to the worst
SYMBOLS = {
    "status": {"open": "✓", "needs_preparation": "◐", "advised_against": "△", "excluded": "✕"},
    "outcome": {"passed": "✓", "passed_with_preparation": "◐", "not_checked": "?", "failed": "✕"},
    "verdict": {
        "agrees": "✓", "acceptable": "✓", "better_alternative": "◐", "conflicts": "✕", "left_out": "?", "school": "◐",
    },
    "standing": {
        "favoured": "✓", "acceptable": "✓", "behind": "◔", "needs_preparation": "◐", "uncalled_for": "○",
        "advised_against": "△", "excluded": "✕",
    },
}  # fmt: skip
LIKENESS = {
    "alike": ("=", "alike"),
    "near": ("≈", "near"),
    "differs": ("≠", "different"),
    "not_recorded": ("?", "not recorded"),
}
ANSWERS = {"accepted": "accepted", "declined": "declined", "changed": "changed"}


def marked(table: dict[str, tuple[str, str]], word: str) -> str:
    """A symbol and a word, e.g. ``✓ open``."""
    symbol, text = table[word]
    return f"{symbol} {text}"


def listed(kind: str, word: str) -> str:
    """A word of a closed list with its symbol, e.g. ``✕ excluded`` of the list ``status``."""
    return f"{SYMBOLS[kind][word]} {in_words().term(kind, word)}"


def status(option: "OptionResult") -> str:
    """The status of an option as recorded."""
    return listed("status", option.status)


def decision(asked: "Decision") -> str:
    """``Retainer on 14``, ``Major connector``."""
    return in_words().title(asked)


def option(kind: str, identifier: str | None) -> str:
    """The label of an option of the catalogue, e.g. ``I-bar``."""
    return in_words().option(kind, identifier)


def plain(word: object) -> str:
    """A word of the format as people write it."""
    return str(word).replace("_", " ")


def value(found: object, unit: str = "") -> str:
    """A value of a case as people write it, with its unit; ``None`` is not recorded."""
    from recommender.wording.values import value as in_value

    return in_value(in_words(), found, unit)


def value_at(path: str, found: object) -> str:
    """The value of a field with the unit of that field; of a tooth that its label names, whether it is there."""
    if path.endswith("].tooth"):
        return value(found is not None)
    return value(found, field_unit(path))


def fact(name: str) -> str:
    """The name of a fact that was worked out, as people write it."""
    from recommender.knowledge.registry import registry

    known = registry()
    label = known[name].label if name in known else ""
    return label or plain(name.removeprefix("derived.").replace(".", " "))


def fact_value(name: str, found: object) -> str:
    """The value of such a fact with its unit."""
    from recommender.knowledge.registry import registry

    known = registry()
    return value(found, known[name].unit if name in known else "")


def in_words() -> "Words":
    """What says statements in the user's numbering."""
    from recommender.wording.words import words_in

    return words_in(state.numbering())


def said(statement: "Statement") -> str:
    """A statement in words."""
    return in_words().text(statement)


def told(code: str, **args: "Arg | str | int | Path") -> str:
    """What the template of that code says of these values."""
    return in_words().told(code, **args)


def term(kind: str, word: str) -> str:
    """A word of one of the wording's closed lists, such as the plural of a kind of decision."""
    return in_words().term(kind, word)


def step(prepared: "PreparationStep") -> str:
    """A preparation in words: ``guiding plane on 14, distal``."""
    settled = prepared.permitted is not None or prepared.routine
    return in_words().said(prepared.work) if settled else told("work_to_ask", work=prepared.work)


def field(path: str) -> str:
    """A field of the case in words, with tooth numbers as the user writes them."""
    label = field_label(path, state.numbering())
    return label[:1].upper() + label[1:]


def gap(path: str) -> str:
    """As ``field``, with whether the case in hand says that it was asked in vain, or has it within bounds only."""
    held = state.case()
    label = field_label(path, state.numbering()) if held is None else in_words().gap(held, path)
    return label[:1].upper() + label[1:]


def fared(code: str) -> str:
    """How a stored case fared, from the code that its situation carries."""
    from recommender.precedents.outcome_value import verdict

    return said(verdict(code)) if code else value(None)


def teeth(numbers: "list[int] | tuple[int, ...]") -> str:
    """Tooth numbers as the user writes them, with commas."""
    return ", ".join(state.tooth(number) for number in numbers)


def runs(numbers: "list[int] | tuple[int, ...]") -> str:
    """The same, with three or more neighbours in the arch as a run that no line breaks: ``14, 35–37``."""
    from recommender.domain import dentition

    found = dentition.runs(dentition.arch_of(numbers[0]), numbers) if numbers else []
    return ", ".join(
        f"{state.tooth(run[0])}\u2060–\u2060{state.tooth(run[-1])}" if len(run) > 2 else teeth(run)
        for run in found
    )


def path_title(path: str) -> str:
    """A decision path of the result format in words: ``retainers.14`` → ``retainer on 14``."""
    from recommender.domain.decision import decision_at

    return in_words().choice(decision_at(path))
