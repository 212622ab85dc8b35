"""The look that Streamlit's own theme file cannot give: the strip at the top, badges, dense tables, print.

Colours are those of ``.streamlit/config.toml`` through Streamlit's own variables; here only weights, lines and
spacing, and ``currentColor``, so that light and dark follow by themselves.
"""

import html
import re
from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.elements.lib.mutable_expander_container import ExpanderContainer

_INKS = {"light": "#1c2529", "dark": "#e9e7e1"}
_STYLE = """
<style>
.block-container, [data-testid="stMainBlockContainer"] {padding: 2.3rem 2.2rem 1.6rem;}
[data-testid="stHeader"] {height: 2.2rem; min-height: 2.2rem;}
[data-testid="stHeading"] h1 {padding: 0; font-size: 1.45rem; white-space: nowrap;}
[data-testid="stHtml"] p {margin: 0 0 .4rem;}
.casebook-cautions ul {margin: 0; padding-left: 1.1rem; font-size: .93rem; line-height: 1.35;}
.st-key-casebook_strip {position: sticky; top: 2.2rem; z-index: 90; padding: .35rem .1rem .3rem;
  border-bottom: 1px solid color-mix(in srgb, currentColor 30%, transparent); backdrop-filter: blur(10px);
  background: GROUND;}
.st-key-casebook_strip p {margin: 0;}
.st-key-casebook_strip button {min-height: 1.9rem; padding: .1rem .6rem;}
.casebook-parts table.casebook {font-size: .86rem; line-height: 1.28;}
.casebook-parts thead th {white-space: nowrap;}
@media (min-width: 640px) {.st-key-casebook_strip [data-testid="stHorizontalBlock"] {flex-wrap: nowrap;}}
.casebook-caution {font-size: .86rem; line-height: 1.3;}
.casebook-caution b {font-weight: 600;}
.casebook-decision {font-size: 1.05rem; line-height: 1.4;}
.casebook-refused {font-size: .86rem; line-height: 1.3; border-left: 3px solid currentColor; padding-left: .45rem;}
[class*="st-key-casebook_slot"] {height: 9.2rem; overflow-y: auto; overflow-x: hidden;}
[class*="st-key-casebook_slot"] label {min-height: 2.7em; align-items: flex-end;}
[class*="st-key-casebook_slot"] .casebook-caution {height: 2.6em; overflow: hidden; margin: 0;}
.casebook-flag {display: inline-block; border: 2px solid currentColor; border-radius: .25rem; padding: 0 .45rem;
  font-weight: 700; letter-spacing: .04em; font-size: .86rem;}
.casebook-badge {display: inline-block; border: 1px solid currentColor; border-radius: 1rem; padding: 0 .5rem;
  font-size: .86rem; white-space: nowrap;}
table.casebook {border-collapse: collapse; width: 100%; font-size: .93rem; line-height: 1.35;}
table.casebook caption {text-align: left; font-weight: 600; padding: .2rem 0;}
table.casebook th, table.casebook td {text-align: left; vertical-align: top; padding: .28rem .55rem .28rem 0;
  border-bottom: 1px solid color-mix(in srgb, currentColor 20%, transparent); font-weight: 400;}
table.casebook thead th {font-weight: 600; border-bottom: 2px solid currentColor;}
table.casebook td.number, table.casebook th.number {text-align: right; font-variant-numeric: tabular-nums;
  white-space: nowrap; padding-right: 1rem;}
table.casebook tr.lead th, table.casebook tr.lead td {font-weight: 600;}
.casebook-scroll {overflow-x: auto;}
.casebook-drawing > div {position: relative; width: fit-content; max-width: 100%; margin: 0 auto;}
.casebook-drawing span {position: absolute; inset: 0;}
.casebook-drawing span:hover {background: color-mix(in srgb, currentColor 22%, transparent);}
.casebook-drawing img {max-width: 100%; width: 100%; height: auto; display: block; margin: 0 auto;
  border: 1px solid color-mix(in srgb, currentColor 25%, transparent); border-radius: .35rem;}
.casebook-small img {max-height: 20rem; width: auto;}
.casebook-lip {display: flex; gap: .8rem; align-items: center; margin-bottom: .3rem;}
.casebook-lip img {width: 4.6rem; border: 1px solid color-mix(in srgb, currentColor 25%, transparent);}
[data-testid="stButtonGroup"] p {color: INK;}
[data-testid="stSelectbox"] [aria-label="Clear value"] {min-width: 24px; min-height: 24px;}
@media (max-width: 1000px) {
  [data-testid="stHorizontalBlock"]:has(> [data-testid="stColumn"]) {flex-wrap: wrap;}
  [data-testid="stColumn"] {min-width: min(13rem, 100%);}
  [class*="st-key-casebook_wrap"] [data-testid="stColumn"] {min-width: 100%;}
}
@media (max-width: 900px), (max-height: 560px) {.st-key-casebook_strip {position: static;}}
@media print {
  [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stToolbar"], button {display: none !important;}
  .st-key-casebook_strip {position: static; background: none;}
  [data-testid="stMainBlockContainer"] {padding: 0;}
  .stApp, .stApp *:not(svg *) {color: #000 !important; background-color: transparent !important;}
  html, body, .stApp, [data-testid="stAppViewContainer"], [data-testid="stMain"] {background-color: #fff !important;}
  /* pages break only between blocks, not between the items of a flexible row */
  [data-testid="stVerticalBlock"], [data-testid="stHorizontalBlock"], [data-testid="stLayoutWrapper"] {
    display: block !important; height: auto !important;}
  [data-testid="stColumn"] {width: 100% !important; min-width: 100%;}
  .casebook-drawing, .casebook-lip, [data-testid="stVegaLiteChart"], tr {break-inside: avoid;}
  .casebook-drawing img {max-width: 15cm;}
  h2, h3, caption {break-after: avoid;}
  PRINT
}
</style>
"""


def kind() -> str:
    """``light`` or ``dark``, as the visitor has it."""
    return "dark" if getattr(st.context.theme, "type", None) == "dark" else "light"


def ink() -> str:
    """The colour of writing in the current theme, for pictures: what is read there is as dark as any text."""
    return _INKS[kind()]


def colours() -> tuple[str, str]:
    """Lines and ground of a drawing in the current theme: black on white, or turned round."""
    return ("#ffffff", "#000000") if kind() == "dark" else ("#000000", "#ffffff")


def style() -> None:
    """Put the style sheet into the page."""
    now = kind()
    ground = st.get_option(f"theme.{now}.backgroundColor") or "Canvas"
    written = st.get_option(f"theme.{now}.textColor") or "CanvasText"
    # charts and drawings are painted in the colours of the screen: on paper those of a dark one are turned round
    turned = (
        '[data-testid="stVegaLiteChart"], .casebook-drawing img {filter: invert(1) hue-rotate(180deg);}'
        if now == "dark"
        else ""
    )
    st.html(_STYLE.replace("GROUND", str(ground)).replace("INK", str(written)).replace("PRINT", turned))


def escape(text: object) -> str:
    """Text as it may stand inside HTML."""
    return html.escape(str(text), quote=True)


_MARKUP = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>~$:&])")


def literal(text: object) -> str:
    """Free text as it may stand in Markdown: read as it was typed, never as a link, a picture or a colour."""
    return _MARKUP.sub(r"\\\1", str(text)).replace("\n", " ")


def table(
    heads: list[str],
    rows: list[list[object]],
    *,
    caption: str = "",
    name: str = "",
    numbers: tuple[int, ...] = (),
    lead: int | None = None,
    css: str = "",
) -> None:
    """A real table (readable by a screen reader, printable), its text escaped.

    ``name`` is what it is called where no caption is seen; ``numbers`` are the columns set flush right; ``lead`` is the
    row set in bold; the first column heads its row; ``css`` is a class of its own.
    """

    def cell(tag: str, column: int, value: object, scope: str = "") -> str:
        kind = ' class="number"' if column in numbers else ""
        return f"<{tag}{kind}{scope}>{escape(value)}</{tag}>"

    head = "".join(cell("th", i, h, ' scope="col"') for i, h in enumerate(heads))
    body = []
    for index, row in enumerate(rows):
        cells = [cell("th", 0, row[0], ' scope="row"')] if row else []
        cells += [cell("td", column, value) for column, value in enumerate(row) if column]
        body.append(f"<tr{' class=lead' if index == lead else ''}>{''.join(cells)}</tr>")
    titled = f"<caption>{escape(caption)}</caption>" if caption else ""
    st.html(
        f'<div class="casebook-scroll {css}" tabindex="0" role="region" aria-label="'
        f'{escape(caption or name or ", ".join(heads))}"><table class="casebook">{titled}<thead><tr>{head}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def fold(label: str, key: str) -> "ExpanderContainer":
    """What is folded away until somebody opens it, and is drawn only then; it stays open whatever its label says.

    Ask ``.open`` before drawing into it.
    """
    return st.expander(label, key=key, on_change="rerun")


def note(text: str) -> None:
    """A remark in small print, as dark as any other text."""
    st.html(f'<p class="casebook-caution">{escape(text)}</p>')


def refusal(text: str) -> None:
    """Why an entry was not taken over, at its field."""
    st.html(f'<p class="casebook-refused" role="alert">{escape(text)}</p>')


def flag(text: str) -> str:
    """HTML of a word that has to be seen, e.g. PROVISIONAL."""
    return f'<span class="casebook-flag">{escape(text)}</span>'
