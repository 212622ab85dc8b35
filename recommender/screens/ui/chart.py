"""The arch that is clicked: a Streamlit component around the drawing of ``documents``.

The drawing is made in Python (the same that is printed); the script only attaches handlers. Every tooth is a
button of its own with a name that tells its state. One tab stop for the whole arch; the arrow keys move along it
and stop at its ends, Home and End go there, Enter or Space marks the tooth, Shift with a click or with Enter
marks the run from the tooth marked before. Focus is put back after every redraw.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import streamlit as st

from recommender.domain.case import Case
from recommender.screens.ui import numbered, words

_HTML = """
<div class="arch" role="group"></div>
<p class="hint"></p>
"""
_CSS = """
.arch { width: 100%; color: var(--st-text-color); --rpd-font: var(--st-font);
  --rpd-selected: color-mix(in srgb, var(--st-primary-color) 30%, transparent); }
.arch svg { width: 100%; height: auto; max-height: 23rem; display: block; }
.arch [data-tooth] { cursor: pointer; outline: none; }
.arch [data-tooth]:focus-visible { outline: 3px solid var(--st-primary-color); outline-offset: 1px; }
.arch [data-tooth]:hover path:first-of-type { fill: var(--st-primary-color); fill-opacity: .14; }
.hint { font: .86rem/1.35 var(--st-font); color: var(--st-text-color); margin: .3rem 0 0; }
"""
_JS = (
    numbered.OUTBOX
    + """
export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const arch = parentElement.querySelector('.arch');
  const hint = parentElement.querySelector('.hint');
  const root = arch.getRootNode();
  const held = root.activeElement && root.activeElement.closest ? root.activeElement.closest('[data-tooth]') : null;
  const heldTooth = held ? held.dataset.tooth : (arch.dataset.last || null);
  const hadFocus = held !== null;
  // Only teeth that changed are drawn anew, so that a click on another one is not lost under the pointer.
  if (arch.drawing !== data.svg) {
    const fresh = document.createElement('div');
    fresh.innerHTML = data.svg;
    const groups = Array.from(fresh.querySelectorAll('[data-tooth]'));
    const old = arch.drawn || {};
    const same = groups.length === Object.keys(old).length && groups.every((g) => g.dataset.tooth in old);
    const drawn = {};
    groups.forEach((g) => { drawn[g.dataset.tooth] = g.outerHTML; });
    if (same) {
      groups.forEach((g) => {
        const tooth = g.dataset.tooth;
        if (old[tooth] !== drawn[tooth]) { arch.querySelector(`[data-tooth="${tooth}"]`).replaceWith(g); }
      });
    } else {
      arch.replaceChildren(...fresh.childNodes);
    }
    arch.drawn = drawn;
    arch.drawing = data.svg;
  }
  arch.setAttribute('aria-label', data.label);
  hint.textContent = data.hint;
  const teeth = Array.from(arch.querySelectorAll('[data-tooth]'));
  teeth.sort((a, b) => data.order.indexOf(Number(a.dataset.tooth)) - data.order.indexOf(Number(b.dataset.tooth)));
  if (teeth.length === 0) { return; }
  const current = teeth.find((t) => t.dataset.tooth === heldTooth) || teeth[0];
  teeth.forEach((t) => t.setAttribute('tabindex', t === current ? '0' : '-1'));
  if (hadFocus) { current.focus(); }
  outbox(arch, data.seen, (clicks, turn) => { setTriggerValue('clicked', { clicks, turn }); });
  arch.teeth = teeth;
  // The handlers stay for good: a key that comes while the page is drawn anew finds them, and they ask what stands now.
  if (arch.handled) { return; }
  arch.handled = true;
  const mark = (tooth, run) => {
    arch.dataset.last = tooth.dataset.tooth;
    arch.put({ tooth: Number(tooth.dataset.tooth), run: run });
  };
  const move = (to) => {
    arch.teeth.forEach((t) => t.setAttribute('tabindex', t === to ? '0' : '-1'));
    arch.dataset.last = to.dataset.tooth;
    to.focus();
  };
  const onClick = (event) => {
    const tooth = event.target.closest ? event.target.closest('[data-tooth]') : null;
    if (!tooth) { return; }
    move(tooth);
    mark(tooth, event.shiftKey);
  };
  const onKey = (event) => {
    const tooth = event.target.closest ? event.target.closest('[data-tooth]') : null;
    if (!tooth || event.altKey || event.ctrlKey || event.metaKey) { return; }
    const teeth = arch.teeth, at = teeth.indexOf(tooth);
    const keys = {
      ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: teeth.length - 1,
    };
    if (event.key in keys) {
      event.preventDefault();
      event.stopPropagation();
      move(teeth[Math.min(teeth.length - 1, Math.max(0, keys[event.key]))]);
    } else if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault();
      event.stopPropagation();
      mark(tooth, event.shiftKey);
    }
  };
  arch.addEventListener('click', onClick);
  arch.addEventListener('keydown', onKey);
}
"""
)
_component = st.components.v2.component("casebook_arch", html=_HTML, css=_CSS, js=_JS)


@dataclass(frozen=True, slots=True)
class Click:
    """A tooth that was marked; ``run``: together with all from the tooth marked before."""

    tooth: int
    run: bool


def clicks_after(value: Any, seen: int) -> list[tuple[int, Click]]:
    """The clicks in what the component sent that were not seen yet, by their number, in order.

    Anything that is no list of clicks gives none.
    """
    return numbered.after(value, "clicks", seen, lambda one: Click(int(one["tooth"]), bool(one["run"])))


_HINT = "Arrow keys move, Enter marks a tooth, Shift with a click or Enter marks the run since the last one."


def arch_chart(
    case: Case, numbering: str, on_click: Callable[[Click], None], key: str, hint: str = _HINT
) -> None:
    """Draw the arch of a case; ``on_click`` is called with every tooth that is marked, in order. ``hint``: what a click
    and the keys do."""
    from recommender.domain.dentition import ARCH_ORDER

    def mark(click: Click) -> None:
        if click.tooth in ARCH_ORDER[case.arch]:
            on_click(click)

    _component(
        key=key,
        data={
            "svg": drawing(case, numbering),
            "order": list(ARCH_ORDER[case.arch]),
            "seen": numbered.seen(key),
            "label": "The arch, seen facing the patient: the patient's right is on the left.",
            "hint": words.told("screen.arch_hint", hint=hint),
        },
        on_clicked_change=numbered.take(key, "clicked", clicks_after, mark),
    )


def drawing(case: Case, numbering: str) -> str:
    """The arch as SVG with one button for each tooth."""
    from recommender.documents.chart import chart

    return chart(case, [abutment.tooth for abutment in case.abutments or ()], numbering)
