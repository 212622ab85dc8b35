"""One case, advised: what the recommendation says, as tables, words, a drawing and papers."""

from dataclasses import dataclass
from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.model import Framework, Recommendation
from recommender.advice.recommend import recommendation
from recommender.api import libraries
from recommender.api.explaining import Explained
from recommender.domain.case import Case
from recommender.domain.decision import Decision
from recommender.domain.designs import Design, Prescription
from recommender.wording.words import Words, words_in

if TYPE_CHECKING:
    import pandas as pd

    from recommender.advice.confidence.answers import Confidence
    from recommender.documents.proposal import Origin, Proposal

PURPOSE = (
    "A proposal for a qualified person: the prescribing dentist decides; local regulation and the licensed "
    "technician stand above it."
)


class NothingToAdviseError(ValueError):
    """A case without a Kennedy class: there is nothing to advise. The message says why."""


def recommend(
    case: Case | str | Path,
    library: str | Path | None = libraries.CONFIGURED,
    *,
    frameworks: int = 3,
    drafts: bool = False,
    numbering: str = "iso",
    language: str = "en",
) -> "Advice":
    """Advice on one case.

    Parameters
    ----------
    case
        A case, or the path of a case file.
    library
        Where precedents come from: ``"demo"`` (packaged and invented), ``None`` (rules alone), a database URL or a
        folder of cases. Left out: the configured library, else the demo.
    frameworks
        How many whole frameworks at most.
    drafts
        Whether draft cases speak as precedents too.
    numbering, language
        How teeth are numbered in words (``iso`` or ``universal``), and the language.

    Returns
    -------
    Advice

    Raises
    ------
    CaseError
        For a case file that cannot be used, or a folder library with one.
    LibraryError
        For a library that cannot be opened.
    NothingToAdviseError
        For an arch without a Kennedy class.

    Examples
    --------
    >>> from recommender.resources import demo_library
    >>> advice = recommend(demo_library() / "harbour-0012.yaml", library="demo")
    >>> advice.kennedy
    'Class I, modification 1'
    >>> len(advice.frameworks) > 1
    True
    """
    from recommender.domain.reader import read_case

    read = case if isinstance(case, Case) else read_case(case)
    words = words_in(numbering, language)
    held = libraries.recommender(library, approved_only=not drafts)
    try:
        return Advice(held.work(read), words, frameworks, libraries.address(library))
    except NoAdviceError as nothing:
        raise NothingToAdviseError(f"{read.id}: {words.text(nothing.statement)}") from None


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing as SVG, and the same in words."""

    svg: str
    alt_text: str

    def save(self, path: str | Path) -> Path:
        """Write the SVG, whole or not at all."""
        from recommender.domain.writing import write_whole

        write_whole(Path(path), self.svg.encode())
        return Path(path)

    def __repr__(self) -> str:
        return f"<drawing: {self.alt_text[:60]}…>"

    def _repr_svg_(self) -> str:
        return self.svg


class ProposedFramework:
    """One whole framework of an answer. ``parts`` is a table; ``design`` its form in the case format."""

    def __init__(self, framework: Framework, words: Words) -> None:
        self._framework = framework
        self._words = words

    @property
    def score(self) -> float:
        """Its score; it orders frameworks of one case and is no probability."""
        return self._framework.score

    @property
    def design(self) -> Design:
        """The whole proposal as a design, ready to be stored in a case."""
        return self._framework.design

    @property
    def parts(self) -> "pd.DataFrame":
        """Every part, one row each: kind, tooth, where, option, name."""
        from recommender.api.tables import parts_table

        return parts_table(self._framework, self._words)

    @property
    def preparation(self) -> list[str]:
        """The work on teeth that it needs from the dentist, in the order in which it is done."""
        return [self._words.step(s.tooth, s.surface, s.action) for s in self._framework.preparation]

    @property
    def checks(self) -> "pd.DataFrame":
        """The rules between parts, with their outcome and source."""
        import pandas as pd

        rows = [
            [check.id, check.outcome, self._words.text(check.statement), check.source]
            for check in self._framework.checks
        ]
        return pd.DataFrame(rows, columns=["rule", "outcome", "text", "source"])

    def __repr__(self) -> str:
        retainers = ", ".join(
            f"{self._words.tooth(tooth)} {self._words.option('retainer', part)}"
            for tooth, part in self._framework.retainers.items()
        )
        return f"<framework: {self._words.option('connector', self._framework.connector)}; {retainers}>"

    def _repr_html_(self) -> str:
        return str(self.parts.to_html(index=False))


class Advice:
    """The answer for one case. Everything is worked out when it is first asked for.

    Parameters
    ----------
    analysis
        The case, worked out.
    words
        How it is said.
    frameworks
        How many whole frameworks at most.
    library
        The address of the library, for the foot of papers.
    """

    def __init__(self, analysis: CaseAnalysis, words: Words, frameworks: int, library: str) -> None:
        self._analysis = analysis
        self._words = words
        self._count = frameworks
        self._library = library

    @property
    def case(self) -> Case:
        """The case that was advised on."""
        return self._analysis.case

    @property
    def kennedy(self) -> str:
        """Its Kennedy class with modifications."""
        return self._analysis.facts.classification.label

    @cached_property
    def confidence(self) -> "Confidence":
        """How sure each choice is: in how many plausible worlds it comes first (``confidence.decisions``)."""
        from recommender.advice.confidence.answers import Confidence

        return Confidence(self._analysis)

    @cached_property
    def answer(self) -> Recommendation:
        """The whole recommendation as typed values; what is provisional there is not firm."""
        from recommender.advice.confidence.attach import with_standing

        return with_standing(recommendation(self._analysis, self._count), self.confidence)

    @cached_property
    def frameworks(self) -> tuple[ProposedFramework, ...]:
        """Whole frameworks, best first; empty where none can be made (``answer.no_framework`` says why)."""
        return tuple(ProposedFramework(framework, self._words) for framework in self.answer.frameworks)

    @property
    def decisions(self) -> list[str]:
        """What was decided: ``connector``, ``retainer:14``, ``rest:14``, ``replacement:15`` …"""
        return [decision.key for decision in self._analysis.decisions()]

    @property
    def cautions(self) -> list[str]:
        """Warnings and questions, in words."""
        return self._words.lines(self.answer.cautions)

    def table(self, decision: str) -> "pd.DataFrame":
        """Every option of one decision, best first.

        Parameters
        ----------
        decision
            One of :attr:`decisions`, teeth by ISO 3950.

        Returns
        -------
        pandas.DataFrame
            One row an option; scores are on 0-100 and are no probabilities.

        Raises
        ------
        KeyError
            For a decision that this case does not have.
        """
        from recommender.api.tables import options_table

        return options_table(self._analysis.decide(self._decision(decision)), self._words)

    def explain(self, decision: str, option: str | None = None, why_not: str | None = None) -> Explained:
        """Why an option (the leading one, if none is named), and why not another.

        Parameters
        ----------
        decision
            One of :attr:`decisions`.
        option, why_not
            Identifiers of options.

        Returns
        -------
        Explained
            Prints as text; its tables hold the lines of the scores.

        Raises
        ------
        KeyError
            For a decision or an option that is not known there.
        """
        from recommender.advice.explanation.explain import explain

        asked = self._decision(decision)
        return Explained(explain(self._analysis, asked, option, why_not, changes=False), self._words)

    def review(self, asked: Prescription | Design | None = None) -> "pd.DataFrame":
        """The prescription held against the proposal, item by item (the case's own prescription, else its design)."""
        from recommender.advice.review import review
        from recommender.api.tables import review_table

        subject = asked or self.case.prescription or self.case.design
        return review_table(review(self._analysis, subject), self._words)

    def draw(self, framework: int = 1) -> "Picture":
        """The arch with a framework, drawn;

        Shows itself in a notebook. Raises ``NoDesignError`` where there is none.
        """
        from recommender.documents.drawing import arch_drawing
        from recommender.documents.proposal import faults_in

        found = self._proposal(framework)
        drawn = arch_drawing(
            self.case, found.design, numbering=self._words.numbering, provisional=found.provisional,
            faults=faults_in(self._analysis, found.design, asked_too=True),
        )  # fmt: skip
        return Picture(drawn.svg, drawn.alt_text)

    def letter(self, path: str | Path, framework: int = 1, paper: str = "a4") -> Path:
        """Write the letter to the dentist as PDF (``paper``: ``a4`` or ``us-letter``), whole or not at all."""
        from recommender.documents.letter import letter_about
        from recommender.documents.typesetting import pdf
        from recommender.domain.writing import write_whole

        document = letter_about(
            self._analysis, self.answer, self._origin(), words=self._words, framework=framework
        )
        write_whole(Path(path), pdf(document, paper))
        return Path(path)

    def document(self, top: int | None = None) -> dict[str, Any]:
        """The answer in the result format, as ``rpd-casebook recommend --json`` prints it, without ``without_this``."""
        from recommender.documents.results.confidence import with_confidence
        from recommender.documents.results.recommendation import recommendation_document

        document = recommendation_document(self._words, self.answer, top)
        return with_confidence(self._words, document, self.answer, self.confidence)

    def _decision(self, key: str) -> Decision:
        for decision in self._analysis.decisions():
            if decision.key == key:
                return decision
        raise KeyError(f"{key}: {self.case.id} has {', '.join(self.decisions)}")

    def _proposal(self, framework: int) -> "Proposal":
        from recommender.documents.proposal import proposal_of

        return proposal_of(self.answer, framework)

    def _origin(self) -> "Origin":
        from recommender.documents.proposal import origin_of

        return origin_of(libraries.open_source(self._library).version(), demo=self._library == "demo")

    def __repr__(self) -> str:
        first = repr(self.frameworks[0]) if self.frameworks else "<no framework>"
        flag = ", provisional" if self.answer.provisional else ""
        return f"<advice on {self.case.id}: {self.kennedy}{flag}; {len(self.frameworks)} frameworks, first {first}>"

    def _repr_html_(self) -> str:
        head = f"<p><b>{escape(self.case.id)}</b>: {escape(self.kennedy)}. {escape(PURPOSE)}</p>"
        if not self.frameworks:
            return head
        return head + self.draw().svg + self.frameworks[0]._repr_html_()


__all__ = ["Advice", "NothingToAdviseError", "Picture", "ProposedFramework", "recommend"]
