"""Undercuts on a drawing of each tooth: three facial and three lingual figures that step through the gauges.

The teeth are drawn in Python from the same outlines as the arch; the script attaches handlers. Each figure is a
button with a name that tells its value. One tab stop a tooth; the left and right arrow keys move along the figures and
on to the next tooth, up and down step through the gauges, 0 to 3 set one and go on to the next figure, Delete makes it
not recorded.
"""

from collections.abc import Callable, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.dentition import side_of
from recommender.screens.intake.fields import gauges, value_at
from recommender.screens.session import state
from recommender.screens.ui import numbered, words

_FACIAL = ("mesiofacial", "midfacial", "distofacial")
_LINGUAL = ("mesiolingual", "midlingual", "distolingual")
_HTML = '<div class="teeth" role="group"></div><p class="hint"></p>'
_CSS = """
/* Every tooth is in sight: six fit a window of 1280 in one row, which has its height before a tooth stands in it, so
   that what stands below keeps its place; more, or a narrow window, take further rows. */
.teeth { display: flex; flex-wrap: wrap; gap: .8rem .4rem; min-height: 9.2rem; color: var(--st-text-color); }
.teeth svg { flex: 0 0 auto; width: 11rem; height: 8.4rem; display: block; }
.teeth [data-at] { cursor: pointer; outline: none; }
.teeth [data-at]:focus-visible rect { stroke-width: 3; stroke: var(--st-primary-color); }
.teeth [data-at]:hover rect { fill: color-mix(in srgb, var(--st-primary-color) 16%, transparent); }
.hint { font: .86rem/1.35 var(--st-font); color: var(--st-text-color); margin: .3rem 0 0; }
"""
_JS = (
    numbered.OUTBOX
    + """
export default function (component) {
  const { data, parentElement, setTriggerValue } = component;
  const box = parentElement.querySelector('.teeth');
  const root = box.getRootNode();
  const held = root.activeElement && root.activeElement.dataset ? root.activeElement.dataset.at : null;
  parentElement.querySelector('.hint').textContent = data.hint;
  box.setAttribute('aria-label', data.label);
  if (box.stops === undefined) { box.stops = {}; }
  outbox(box, data.seen, (entries, turn) => { setTriggerValue('entered', { entries, turn }); });
  // While entries are on their way the figures stand as the person sees them; then they are what the case says.
  if (box.waiting.length === 0 && box.drawing !== data.svg) { box.innerHTML = data.svg; box.drawing = data.svg; }
  box.all = Array.from(box.querySelectorAll('[data-at]'));
  box.steps = data.steps;
  box.open = data.open;
  const stop = (one) => {
    const tooth = one.dataset.at.split('.')[0];
    box.all.filter((e) => e.dataset.at.split('.')[0] === tooth).forEach((e) => e.setAttribute('tabindex', '-1'));
    one.setAttribute('tabindex', '0');
    box.stops[tooth] = one.dataset.at;
  };
  box.all.forEach((one) => { if (box.stops[one.dataset.at.split('.')[0]] === one.dataset.at) { stop(one); } });
  if (held) { const again = box.all.find((one) => one.dataset.at === held); if (again) { again.focus(); } }
  // The handlers stay for good: a key that comes while the page is drawn anew finds them, and they ask what stands now.
  if (box.handled) { return; }
  box.handled = true;
  const enter = (one, step) => {
    const steps = box.steps, now = steps.indexOf(one.dataset.now);
    let to = step;
    if (step === 'next' || step === 'back') {
      const by = step === 'next' ? 1 : steps.length - 1;
      to = now < 0 ? steps[1] : steps[(now + by) % steps.length];
    }
    one.dataset.now = to;
    one.querySelector('text').textContent = to === '' ? '\\u2013' : to;
    one.setAttribute('aria-label', one.dataset.name + ', ' + (to === '' ? box.open : to + ' mm'));
    box.put({ at: one.dataset.at, to: to });
  };
  const onClick = (event) => {
    const one = event.target.closest ? event.target.closest('[data-at]') : null;
    if (one) { stop(one); one.focus(); enter(one, 'next'); }
  };
  const onKey = (event) => {
    const one = event.target.closest ? event.target.closest('[data-at]') : null;
    if (!one || event.altKey || event.ctrlKey || event.metaKey) { return; }
    const to = (by) => {
      const all = box.all, next = all[Math.min(all.length - 1, Math.max(0, all.indexOf(one) + by))];
      stop(next); next.focus();
    };
    const key = event.key;
    if (key === 'ArrowRight') { to(1); }
    else if (key === 'ArrowLeft') { to(-1); }
    else if (key === 'ArrowUp' || key === 'Enter' || key === ' ') { enter(one, 'next'); }
    else if (key === 'ArrowDown') { enter(one, 'back'); }
    else if (key === 'Delete' || key === 'Backspace') { enter(one, ''); }
    else if (/^[0-9]$/.test(key) && Number(key) + 1 < box.steps.length) {
      enter(one, box.steps[Number(key) + 1]);
      to(1);
    }
    else { return; }
    event.preventDefault();
    event.stopPropagation();
  };
  box.addEventListener('click', onClick);
  box.addEventListener('keydown', onKey);
}
"""
)
_component = st.components.v2.component("casebook_tooth_figures", html=_HTML, css=_CSS, js=_JS)
_ACROSS, _UP, _ROW = 170.0, 128.0, 26.0
_MM = 5.6  # units of the picture to a millimetre of tooth


def tooth_figures(
    case: Case, teeth: Sequence[int], on_entry: Callable[[str, float | None], object], key: str
) -> None:
    """Draw the teeth; ``on_entry`` is called with the path of an undercut and its figure, in order of entry."""
    at = {f"{tooth}.{zone}" for tooth in teeth for zone in (*_FACIAL, *_LINGUAL)}

    def enter(place: str, figure: float | None) -> None:
        tooth, _, zone = place.partition(".")
        on_entry(f"abutments[{tooth}].undercuts_mm.{zone}", figure)

    shown = gauges()
    keys = ", ".join(
        words.told("intake.mm", index=index, gauge=f"{gauge:.2f}")
        for index, gauge in enumerate(shown)
        if gauge
    )
    _component(
        key=key,
        data={
            "svg": "".join(tooth_svg(case, tooth) for tooth in teeth),
            "steps": ["", *(_said(gauge) for gauge in shown)],
            "seen": numbered.seen(key),
            "label": "Undercuts, tooth by tooth",
            "open": "not recorded",
            "hint": words.told("intake.deepest_gauge_touches", keys=keys),
        },
        on_entered_change=numbered.take(
            key, "entered", lambda sent, seen: entries_after(sent, seen, at), enter
        ),
    )


def entries_after(value: Any, seen: int, known: set[str]) -> list[tuple[int, str, float | None]]:
    """The entries in what the component sent that were not seen yet: number, place, figure in mm, in order."""
    allowed = {"": None, **{_said(gauge): gauge for gauge in gauges()}}

    def entry(one: Any) -> tuple[str, float | None] | None:
        place, to = str(one["at"]), str(one["to"])
        return (place, allowed[to]) if place in known else None

    return [(number, *made) for number, made in numbered.after(value, "entries", seen, entry)]


def _said(figure: float) -> str:
    return f"{figure:.2f}" if figure else "0"


def tooth_svg(case: Case, tooth: int) -> str:
    """One tooth as it stands in the picture of its arch, turned upright: the facial side of an upper one is up, of
    a lower one down. A button for each figure above and below it."""
    # the patient's right side is drawn on the left: mesial is to the right there
    right = side_of(tooth) == "right"
    rows = [("facial", _FACIAL), ("lingual", _LINGUAL)]
    rows = rows if case.arch == "maxilla" else rows[::-1]
    ends = ("d", "m") if right else ("m", "d")
    name = words.told("screen.tooth", tooth=state.tooth(tooth))
    body = [
        f'<path d="{_outline(case, tooth)}" fill="none" stroke="currentColor" stroke-width="2"/>',
        _text(_ACROSS / 2, _UP / 2 + 6, state.tooth(tooth), 17, bold=True),
        *(_text(x, _UP / 2 + 5, end, 13) for x, end in zip((34, _ACROSS - 34), ends, strict=True)),
    ]
    for (side, zones), y, word in zip(rows, (2.0, _UP - _ROW - 2), (42.0, _UP - _ROW - 7), strict=True):
        body.append(_text(22, word, side, 11))
        for index, zone in enumerate(zones[::-1] if right else zones):
            body.append(
                _figure(case, tooth, zone, 5 + index * 54.0, y, stop=side == rows[0][0] and index == 0)
            )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_ACROSS:g} {_UP:g}" role="group" '
        f"aria-label={quoteattr(name)}>{''.join(body)}</svg>"
    )


def _outline(case: Case, tooth: int) -> str:
    """The crown seen from above, turned so that its facial side is straight up (upper) or down (lower)."""
    from recommender.documents.chart import rings_path
    from recommender.documents.drawing.frame import Frame
    from recommender.facts.mechanical import case_geometry

    frame = Frame(case_geometry(case), ())
    up = -1.0 if case.arch == "maxilla" else 1.0
    ring = [complex(x, up * y) for x, y in frame.place(tooth).outline]
    lingual, facial = (complex(x, up * y) for x, y in (frame.inside(tooth, 0, -1), frame.inside(tooth, 0, 1)))
    middle, out = (lingual + facial) / 2, (facial - lingual) / abs(facial - lingual)
    turned = [(point - middle) * out.conjugate() * complex(0, up) * _MM for point in ring]
    return rings_path([(tuple((z.real + _ACROSS / 2, z.imag + _UP / 2) for z in turned),)])


def _figure(case: Case, tooth: int, zone: str, x: float, y: float, *, stop: bool) -> str:
    path = f"abutments[{tooth}].undercuts_mm.{zone}"
    value = value_at(case, path)
    shown = "" if value is None else _said(value) if isinstance(value, (int, float)) else str(value)
    name = words.field(path)
    told = (
        words.told("intake.undercut", field=name, shown=shown)
        if shown
        else words.told("intake.no_undercut", field=name)
    )
    dash = "" if shown else ' stroke-dasharray="3 3"'
    size = 15 if len(shown) < 6 else 9
    return (
        f'<g role="button" tabindex="{0 if stop else -1}" data-at="{tooth}.{zone}" data-now={quoteattr(shown)} '
        f"data-name={quoteattr(name)} aria-label={quoteattr(told)}><title>{escape(told)}</title>"
        f'<rect x="{x:g}" y="{y:g}" width="52" height="{_ROW:g}" rx="4" fill="transparent" stroke="currentColor" '
        f'stroke-width="1.2"{dash}/>{_text(x + 26, y + 18.5, shown or "–", size)}</g>'
    )


def _text(x: float, y: float, text: str, size: int, *, bold: bool = False) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="middle" font-size="{size}"{weight} fill="currentColor" '
        f'style="font-family:var(--st-font);pointer-events:none">{escape(text)}</text>'
    )
