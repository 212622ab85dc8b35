"""An ink drawing that is clicked: a Streamlit component that answers with the place in the drawing's own units (mm).

The drawing is an SVG made in Python. A click is carried back through the inverse of the drawing's own transformation,
so that neither zoom nor the width of the page comes into it. With the keyboard a cross is moved by the arrow keys (1
mm, with Shift 0.2 mm) and set by Enter.
"""

from collections.abc import Callable
from typing import Any

import streamlit as st

from recommender.screens.ui import numbered

_HTML = """<div class="ink" role="application" tabindex="0"></div><p class="hint"></p>"""
_CSS = """
.ink { width: 100%; outline: none; cursor: crosshair; }
.ink svg { width: 100%; height: auto; max-height: 46rem; display: block; }
.ink:focus-visible { outline: 3px solid var(--st-primary-color); outline-offset: 2px; }
.hint { font: .86rem/1.35 var(--st-font); color: var(--st-text-color); margin: .3rem 0 0; }
"""
_JS = (
    numbered.OUTBOX
    + """
export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const ink = parentElement.querySelector('.ink');
  if (ink.drawing !== data.svg) { ink.innerHTML = data.svg; ink.drawing = data.svg; }
  ink.setAttribute('aria-label', data.label);
  parentElement.querySelector('.hint').textContent = data.hint;
  const svg = ink.querySelector('svg');
  if (!svg) { return; }
  outbox(ink, data.seen, (clicks, turn) => { setTriggerValue('placed', { clicks, turn }); });
  const place = (x, y) => { ink.put({ x: x, y: y }); };
  const box = svg.viewBox.baseVal;
  if (ink.at === undefined) { ink.at = [box.x + box.width / 2, box.y + box.height / 2]; }
  Object.assign(ink, { svg, box, step: data.step });
  // The handlers stay for good: what is clicked while the page is drawn anew finds them, and they ask what stands now.
  if (ink.handled) { return; }
  ink.handled = true;
  const onClick = (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(ink.svg.getScreenCTM().inverse());
    place(at.x, at.y);
  };
  const cross = () => {
    let mark = ink.svg.querySelector('.cross');
    if (!mark) {
      mark = document.createElementNS('http://www.w3.org/2000/svg', 'path');
      mark.setAttribute('class', 'cross');
      mark.setAttribute('fill', 'none');
      mark.setAttribute('stroke', 'currentColor');
      mark.setAttribute('stroke-width', String(ink.box.width / 300));
      ink.svg.appendChild(mark);
    }
    const s = ink.box.width / 40;
    const [x, y] = ink.at;
    mark.setAttribute('d', `M${x - s} ${y}H${x + s}M${x} ${y - s}V${y + s}`);
  };
  const onKey = (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) { return; }
    const step = (event.shiftKey ? 0.2 : 1) * ink.step;
    const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (event.key in moves) {
      event.preventDefault();
      ink.at = [ink.at[0] + moves[event.key][0], ink.at[1] + moves[event.key][1]];
      cross();
    } else if (event.key === 'Enter') {
      event.preventDefault();
      place(ink.at[0], ink.at[1]);
    }
  };
  ink.addEventListener('click', onClick);
  ink.addEventListener('keydown', onKey);
}
"""
)
_component = st.components.v2.component("casebook_ink", html=_HTML, css=_CSS, js=_JS)


def places_after(value: Any, seen: int) -> list[tuple[int, float, float]]:
    """The places in what the component sent that were not seen yet: number, x, y; anything else gives none."""
    return [(number, *place) for number, place in numbered.after(value, "clicks", seen, _place)]


def _place(one: Any) -> tuple[float, float] | None:
    x, y = float(one["x"]), float(one["y"])
    return (x, y) if abs(x) < 1e4 and abs(y) < 1e4 else None


def clicked_drawing(
    svg: str, on_place: Callable[[float, float], None], key: str, label: str, hint: str, step: float = 1.0
) -> None:
    """Draw ``svg``; ``on_place`` is called with every place that is clicked, in the drawing's units, y downward."""
    _component(
        key=key,
        data={
            "svg": svg,
            "seen": numbered.seen(key),
            "label": label,
            "hint": hint,
            "step": step,
        },
        on_placed_change=numbered.take(key, "placed", places_after, on_place),
    )
