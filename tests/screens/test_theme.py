"""Free text on the screens is read as it was typed."""

from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from recommender.screens.ui.theme import literal


@given(
    text=st.text(
        alphabet=st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp")), min_size=1
    )
)
def test_literal_text_comes_back_from_markdown_as_typed(text: str) -> None:
    """markdown-it, a parser of CommonMark (spec.commonmark.org 0.31.2, 2.4 backslash escapes), is the judge."""
    (_, inline, _) = MarkdownIt("commonmark").parse(literal(text))
    assert {child.type for child in inline.children} <= {"text", "text_special"}
    assert "".join(child.content for child in inline.children) == text
