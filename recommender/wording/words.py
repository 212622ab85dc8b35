"""Statements in words, in the reader's language and tooth numbering."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Literal

from recommender.domain.case import Case
from recommender.domain.catalogue import load as catalogue
from recommender.domain.decision import Decision
from recommender.domain.fields import asked_in_vain, get_field
from recommender.domain.labels import field_label, word_label
from recommender.domain.measures import Interval
from recommender.domain.numbering import display
from recommender.domain.statement import (
    Arg,
    Choice,
    Field,
    Name,
    Quantity,
    Said,
    Several,
    Statement,
    Teeth,
    Word,
    Work,
    count,
    say,
)
from recommender.wording.templates import DEFAULT, Language, Template, language

Numbering = Literal["iso", "universal"]
_KEPT = 50_000


class _Rendered(str):
    """An argument in words, with how many things it names."""

    number: int = 1
    article: str = ""


@dataclass(frozen=True)
class Words:
    """Says statements. ``numbering`` is ``iso`` or ``universal``; ``language`` one of ``templates.languages()``.

    What another language lacks is said in English. ``mark`` puts a pair of characters round every tooth, for tests
    that read the teeth back out of what was said.

    >>> from recommender.domain.statement import say, teeth
    >>> Words("universal").text(say("said_of_teeth", teeth=teeth([14, 25]), what=say("rule", why=Said("No room."))))
    '5, 13: No room.'
    """

    numbering: str = "iso"
    language: str = DEFAULT
    mark: tuple[str, str] = ("", "")
    _known: dict[Statement, str] = field(default_factory=dict, compare=False, repr=False)

    def text(self, statement: Statement) -> str:
        """The statement in words.

        Raises ``KeyError`` for a code that no template says, or an argument that is lacking.
        """
        found = self._known.get(statement)
        if found is None:
            found = self._say(statement)
            if len(self._known) >= _KEPT:
                self._known.clear()
            self._known[statement] = found
        return found

    def told(self, code: str, **args: Arg | str | int | Path) -> str:
        """What the template of that code says of these values; a text is passed on as it stands, a number counts.

        >>> Words().told("and_more", n=3)
        'and 3 more'
        """
        given = tuple((name, _as_arg(value)) for name, value in args.items() if value is not None)
        return self.text(Statement(code, given))

    def said(self, value: Arg) -> str:
        """One argument of a statement in words."""
        return self._plain(value)

    def lines(self, statements: Iterable[Statement]) -> list[str]:
        """Several statements, each in words; what sounds the same stands once."""
        return list(dict.fromkeys(self.text(statement) for statement in statements))

    def tooth(self, number: int) -> str:
        """A tooth as the reader writes it."""
        return f"{self.mark[0]}{display(number, self.numbering)}{self.mark[1]}"

    def teeth(self, numbers: Iterable[int], joint: str = "comma") -> str:
        """Teeth as the reader writes them."""
        return self.joined([self.tooth(number) for number in numbers], joint)

    def option(self, kind: str, option: str | None) -> str:
        """What an option is called; ``nothing`` for ``None``."""
        if option is None:
            return self.term("nothing", "nothing")
        own = self._language.labels.get(kind, {}).get(option)
        if own is not None:
            return own
        known = catalogue().options.get(kind, {}).get(option)
        return known.label if known is not None else option.replace("_", " ")

    def choice(self, decision: Decision) -> str:
        """What a decision is called: ``retainer on 14``, ``major connector``."""
        template = self._template(f"decision.{decision.kind}", f"decision.{decision.kind}")
        return self._filled(
            template, {"tooth": Teeth((decision.tooth,))} if decision.tooth else {}, decision.kind
        )

    def title(self, decision: Decision) -> str:
        """As :meth:`choice`, with a capital."""
        return capital(self.choice(decision))

    def step(self, tooth: int, surface: str, action: str) -> str:
        """Preparation of a tooth: ``guiding plane on 14, distal``."""
        code = "work" if surface else "work_of_tooth"
        args: dict[str, Arg] = {"tooth": Teeth((tooth,)), "action": Word("preparation_action", action)}
        if surface:
            args["surface"] = Word("surface", surface)
        return self._filled(self._template(code, code), args, code)

    def path(self, path: str) -> str:
        """A field of the case in words: ``tooth 14, mobility``."""
        return field_label(path, self.numbering, self.tooth)

    def gap(self, case: Case, path: str) -> str:
        """A field that waits for an answer: whether it was asked in vain, or is known within bounds only."""
        if asked_in_vain(case, path):
            return self.text(say("field.asked_in_vain", field=Field(path)))
        try:
            found = get_field(case, path)
        except ValueError:
            return self.path(path)
        if isinstance(found, Interval):
            return self.text(say("field.within_bounds", field=Field(path), found=Said(str(found))))
        return self.path(path)

    def term(self, kind: str, word: str) -> str:
        """A word of a closed list: the language's own terms first, then the labels of the case format."""
        if kind == "criterion":
            return self._criterion(word)
        for known in (self._language, language(DEFAULT)):
            found = known.terms.get(kind, {}).get(word)
            if found is not None:
                return str(found)
        return word_label(kind, word).replace("_", " ")

    def _criterion(self, name: str) -> str:
        own = self._language.terms.get("criterion", {}).get(name)
        return own or _criteria().get(name) or language(DEFAULT).terms["criterion"].get(name, name)

    def number(self, value: float, digits: int) -> str:
        """A number as it is written, without a minus sign before zero."""
        text = f"{round(value, digits) + 0.0:.{digits}f}"
        return text.replace(".", self._language.style.decimal)

    def joined(self, parts: list[str], joint: str) -> str:
        """Parts in a row."""
        between, last = self._language.style.joints[joint]
        return parts[0] if len(parts) == 1 else between.join(parts[:-1]) + last + parts[-1] if parts else ""

    @property
    def _language(self) -> Language:
        return language(self.language)

    def _template(self, code: str, what: str) -> Template:
        for known in (self._language, language(DEFAULT)):
            found = known.templates.get(code)
            if found is not None:
                return found
        raise KeyError(f"no template says {what}")

    def _say(self, statement: Statement) -> str:
        args = dict(statement.args)
        code = statement.code
        if code == "rule" and statement.rule is not None:
            own = self._language.templates.get(f"rule.{statement.rule}")
            if own is not None:
                return self._filled(own, args, code)
            why = args["why"]
            if isinstance(why, Said) and "{" not in why.text and len(args) == 1:
                return why.text
        return self._filled(self._template(code, code), args, code)

    def _filled(self, template: Template, args: Mapping[str, Arg], code: str) -> str:
        lacking = template.needed - args.keys()
        if lacking:
            raise KeyError(f"{code}: {', '.join(sorted(lacking))} not given")
        dropped = {
            piece.group for piece in template.pieces if piece.name is not None and piece.name not in args
        }
        said: dict[str, _Rendered] = {}
        out: list[str] = []
        for piece in template.pieces:
            if piece.group and piece.group in dropped:
                continue
            if piece.name is None:
                out.append(piece.text)
                continue
            if piece.name not in said:
                said[piece.name] = self._argument(args[piece.name])
            out.append(self._formatted(said[piece.name], piece.spec))
        return "".join(out)

    def _formatted(self, value: _Rendered, spec: str) -> str:
        if not spec:
            return str(value)
        if "|" in spec:
            one, _, many = spec.partition("|")
            return one if value.number == 1 else many
        if spec == "cap":
            return capital(value)
        if spec == "low":
            return value if value[1:2].isupper() or value[1:2] == "-" else value[:1].lower() + value[1:]
        if spec == "clause":
            return ended(self._formatted(value, "low"))
        if spec == "ended":
            return ended(capital(value))
        if spec == "signed":
            return value if value.startswith("-") else f"+{value}"
        if spec == "a":
            return f"{self._article(value)} {value}".lstrip()
        raise KeyError(f"{spec} is no way to write an argument")

    def _article(self, value: str) -> str:
        articles = self._language.style.articles
        for article, starts in articles.items():
            if value.casefold().startswith(tuple(start.casefold() for start in starts)):
                return article
        return next(iter(articles))

    def _argument(self, value: Arg) -> _Rendered:
        text = self._plain(value)
        found = _Rendered(text)
        if isinstance(value, Teeth):
            found.number = len(value.numbers)
        elif isinstance(value, Several):
            found.number = len(value.items)
        elif isinstance(value, Quantity) and value.low == value.high and value.low is not None:
            found.number = 1 if value.low == 1 else 2
        return found

    def _plain(self, value: Arg) -> str:
        match value:
            case Teeth(numbers):
                return self.teeth(numbers)
            case Choice(kind, option):
                return self.option(kind, option)
            case Quantity():
                return self._quantity(value)
            case Field(path):
                return self.path(path)
            case Word(kind, word):
                return self.term(kind, word)
            case Work(tooth, surface, action):
                return self.step(tooth, surface, action)
            case Said(text) | Name(text):
                return text
            case Decision():
                return self.choice(value)
            case Statement():
                return self.text(value)
            case Several(items, joint):
                return self.joined([self._plain(item) for item in items], joint)
            case None:
                return ""

    def _quantity(self, value: Quantity) -> str:
        scale, digits = (100.0, 0) if value.unit == "share" else (1.0, value.digits)
        low = None if value.low is None else self.number(value.low * scale, digits)
        high = None if value.high is None else self.number(value.high * scale, digits)
        if low is None:
            code = "at_most" if high is not None else "not_known"
        elif high is None:
            code = "at_least"
        else:
            code = "exactly" if low == high else "between"
        band = self.term("band", code).format(low=low, high=high)
        if not value.unit or code == "not_known":
            return band
        unit = f"{value.unit}_one" if low == high == "1" else value.unit
        return self.term("unit", unit if unit in language(DEFAULT).terms["unit"] else value.unit).format(
            band=band
        )


def _as_arg(value: Arg | str | int | Path) -> Arg:
    if isinstance(value, (str, Path)):
        return Said(str(value))
    return count(value) if isinstance(value, int) else value


class StatedError(ValueError):
    """Something that cannot be done; ``statement`` says why, the message in English with ISO 3950 numbers."""

    def __init__(self, statement: Statement) -> None:
        super().__init__(words_in().text(statement))
        self.statement = statement


@cache
def words_in(numbering: str = "iso", language: str = DEFAULT) -> Words:
    """The words of a numbering and language, kept so that what was said once is not built again."""
    return Words(numbering, language)


@cache
def _criteria() -> Mapping[str, str]:
    from recommender.knowledge.in_force import knowledge
    from recommender.knowledge.model import HOUSE

    return {**knowledge().criteria.labels, HOUSE: "the house's own hand"}


def ended(text: str) -> str:
    """With a full stop at its end, unless it ends in one."""
    return text if text.endswith((".", "!", "?")) else f"{text}."


def capital(text: str) -> str:
    """With a capital at the beginning."""
    return text[:1].upper() + text[1:]
