"""No sentence about a case is built outside the room ``wording``: a walk through the code of every other room.

What counts as one, and what is let through, stands at the head of ``walk``.
"""

from functools import cache
from pathlib import Path

import pytest

import recommender
from tests.wording.walk import Constants, capitals, chosen, files, joined

PACKAGE = Path(recommender.__file__).parent
# No words are joined to a value in these rooms, and no sentence is chosen there.
HELD = ("mechanics", "survey", "facts", "advice", "documents", "curation", "screens", "cli", "api")
# Below the words, what is no statement about a case may be joined to counts and names of files: why a database cannot
# be read, which words of an order are asked about. Never to a tooth, an option or a decision.
BELOW = ("orders", "precedents")
# Names by which rows of the solver and lots of judgement are told apart, never shown; conditions of rules as they are
# written; comments of a file; shapes of markup; what marks may be.
NAMES = {
    "advice/confidence/judgement.py",
    "advice/explanation/counterfactuals/links.py",
    "advice/frameworks/assemble.py",
    "advice/frameworks/metal.py",
    "curation/evaluation/calibration.py",
    "curation/evaluation/generated_houses.py",
    "curation/evaluation/worth.py",
    "curation/house/conditions.py",
    "curation/house/in_folder.py",
    "curation/house/predicting.py",
    "screens/session/drawings.py",
    "survey/pictures/arch.py",
    "survey/pictures/ink.py",
    "survey/marks.py",
}
# Messages for whoever writes rules or calls a function wrongly; a pattern that finds what the typesetter complains of.
FOR_WRITERS = {"advice/frameworks/rules/book.py", "documents/typesetting.py"}


def _told(path: Path, line: int, text: str) -> str:
    return f"{path.relative_to(PACKAGE).as_posix()}:{line}: {text[:80]}"


@cache
def _known() -> Constants:
    return capitals(path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py")))


@pytest.mark.parametrize("room", HELD)
def test_no_words_are_joined_to_what_is_said_of_a_case(room: str) -> None:
    looked_at = [p for p in files(PACKAGE, room) if p.relative_to(PACKAGE).as_posix() not in NAMES]
    assert looked_at
    assert not [
        _told(path, each.line, each.text)
        for path in looked_at
        for each in joined(path.read_text(encoding="utf-8"), _known())
    ]


@pytest.mark.parametrize("room", HELD)
def test_no_sentence_of_a_case_is_chosen_in_code(room: str) -> None:
    looked_at = [p for p in files(PACKAGE, room) if p.relative_to(PACKAGE).as_posix() not in FOR_WRITERS]
    assert not [
        _told(path, line, text)
        for path in looked_at
        for line, text in chosen(path.read_text(encoding="utf-8"))
    ]


@pytest.mark.parametrize("room", BELOW)
def test_no_tooth_option_or_decision_is_joined_to_words(room: str) -> None:
    looked_at = files(PACKAGE, room)
    assert len(looked_at) > 10
    assert not [
        _told(path, each.line, each.text)
        for path in looked_at
        for each in joined(path.read_text(encoding="utf-8"), _known())
        if each.clinical
    ]


HIDDEN = {
    "an f-string": 'def f(x):\n    return f"there is no rest at {x}"',
    "two words": 'def f(x):\n    return f"no rest {x}"',
    "a unit after a value": 'def f(x):\n    return f"{x} more arms"',
    "added": 'def f(x):\n    return "there is no rest at " + x',
    "added on": 'def f(x):\n    text = x\n    text += " has no rest"',
    "per cent": 'def f(x):\n    return "there is no rest at %s" % x',
    "format": 'def f(x):\n    return "there is no rest at {}".format(x)',
    "a constant, formatted": 'LACKING = "there is no rest at {}"\ndef f(x):\n    return LACKING.format(x)',
    "a constant in an f-string": 'LACKING = "there is no rest at"\ndef f(x):\n    return f"{LACKING} {x}"',
    "a constant added": 'LACKING = "there is no rest at "\ndef f(x):\n    return LACKING + x',
    "a constant, per cent": 'LACKING = "no rest at %s"\ndef f(x):\n    return LACKING % x',
    "a name in a function": 'def f(x):\n    said = "there is no rest at"\n    return f"{said} {x}"',
    "a default": 'def f(x, said="there is no rest at"):\n    return f"{said} {x}"',
    "a default by keyword": 'def f(x, *, said="no rest at {}"):\n    return said.format(x)',
    "a default of a lambda": 'f = lambda x, said="no rest at {}": said.format(x)',
    "a table": 'SAID = {"rest": "there is no rest at"}\ndef f(x, y):\n    return f"{SAID[y]} {x}"',
    "a table, asked": 'SAID = {"rest": "no rest at {}"}\ndef f(x, y):\n    return SAID.get(y).format(x)',
    "a choice": 'def f(x, y):\n    return f"{x} " + ("has no rest" if y else "has a rest")',
    "joined": 'def f(x):\n    return " ".join(["there is no rest at", x])',
    "a joint of words": 'def f(x):\n    return " and also ".join(x)',
    "replaced": 'def f(x):\n    return "there is no rest at TOOTH".replace("TOOTH", x)',
    "substituted": 'def f(x):\n    return Template("no rest at $x").substitute(x=x)',
    "printed in a row": 'def f(x):\n    st.write("there is no rest at", x)',
    "in markup": 'def f(x):\n    return f"<b>There is no rest</b> <i>{x}</i>"',
    "handed to a statement": 'def f(x):\n    return say("rule", why=Said("there is no rest"))',
    "handed to a template": 'def f(x):\n    return words.told("rule", why="there is no rest")',
    "a constant handed over": 'WHY = "there is no rest"\ndef f(x):\n    return words.told("rule", why=WHY)',
    "of another module": "def f(x):\n    return ELSEWHERE.format(x)",
}
CHOSEN = {
    "by a condition": 'def f(x):\n    return st.write("there is no rest on it" if x else "it has a rest")',
    "as an outcome": 'def f(x):\n    return "there is no rest on it"',
    "under a name": 'def f(x):\n    told = "there is no rest on it"\n    st.write(told)',
    "for want of another": 'def f(x):\n    st.write(x or "there is no rest on it")',
    "as a default": 'def f(x, told="there is no rest on it"):\n    st.write(told)',
    "in a table": 'def f(x):\n    return {"rest": "there is no rest on it"}[x]',
}
LET_THROUGH = (
    'def f(x):\n    st.button("Put all the weights back", help="A trial for this session alone.")',
    'def f(x):\n    return f"To ask: {x}", f"{x}: {x}", f"retainers.{x}", f"derived.{x}_mm"',
    'def f(x):\n    raise ValueError(f"there is no tooth {x} in this arch")',
    'def f(x):\n    """There is no rest at all on it."""\n    return f\'<b class="casebook-flag">{x}</b>\'',
    'def f(x):\n    return words.told("review.verdict", verdict=x, reason="small")',
    'HEADS = ("what the library did", "of all the cases")\ndef f(x):\n    return table(HEADS, x)',
)


@pytest.mark.parametrize("source", HIDDEN.values(), ids=HIDDEN)
def test_hidden_words_are_found(source: str) -> None:
    elsewhere = {"ELSEWHERE": frozenset({"there is no rest at {}"})}
    assert joined(source, elsewhere)


@pytest.mark.parametrize("source", CHOSEN.values(), ids=CHOSEN)
def test_a_chosen_sentence_is_found(source: str) -> None:
    assert chosen(source)


@pytest.mark.parametrize("source", LET_THROUGH)
def test_what_is_no_sentence_about_a_case_is_let_through(source: str) -> None:
    assert not joined(source)
    assert not chosen(source)


@pytest.mark.parametrize(
    "value", ["words.tooth(t)", "state.tooth(t)", "words.option(kind, o)", "words.choice(d)"]
)
def test_a_clinical_value_is_known(value: str) -> None:
    (found,) = joined(f'def f(t, kind, o, d):\n    return f"there is nothing on {{{value}}}"')
    assert found.clinical
    assert not joined('def f(n):\n    return f"{n} cases are kept"')[0].clinical
