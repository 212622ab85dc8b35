"""The arch with its teeth as buttons, drawn from the published geometry."""

from html import escape

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.numbering import display

STATES = {
    "standing": "stands",
    "missing": "missing, to be replaced",
    "absent": "absent, not to be replaced",
    "abutment": "abutment",
    "extraction": "to be extracted",
}


def state_of(case: Case, tooth: int) -> str:
    """``missing``, ``absent``, ``abutment`` or ``standing``."""
    if tooth in case.missing:
        return "missing"
    if tooth in (case.absent or ()):
        return "absent"
    if any(abutment.tooth == tooth for abutment in case.abutments or ()):
        return "abutment"
    return "standing"


def chart(case: Case, numbering: str) -> str:
    """SVG of one arch."""
    from recommender.mechanics.arch import place_teeth

    geometry = place_teeth(case.arch)
    sign = -1.0 if case.arch == "maxilla" else 1.0
    groups = []
    for tooth in ARCH_ORDER[case.arch]:
        place = geometry[tooth]
        points = " ".join(f"{x:.2f},{sign * y:.2f}" for x, y in place.outline)
        cx, cy = place.centre[0], sign * place.centre[1]
        out = 9.5
        nx, ny = cx + out * place.normal[0], cy + sign * out * place.normal[1]
        found = state_of(case, tooth)
        name = escape(f"Tooth {display(tooth, numbering)}, {STATES[found]}")
        shape = {
            "standing": 'fill="none" stroke="currentColor" stroke-width=".35"',
            "missing": 'fill="none" stroke="currentColor" stroke-width=".45" stroke-dasharray="1.2 .8"',
            "absent": 'fill="none" stroke="currentColor" stroke-width=".3" stroke-dasharray=".3 .9"',
            "abutment": 'fill="currentColor" fill-opacity=".14" stroke="currentColor" stroke-width=".8"',
        }[found]
        cross = (
            f'<path d="M{cx - 2.2:.2f} {cy - 2.2:.2f}l4.4 4.4m0 -4.4l-4.4 4.4" stroke="currentColor"/>'
            if found == "missing"
            else ""
        )
        groups.append(
            f'<g role="button" data-tooth="{tooth}" aria-pressed="{str(found != "standing").lower()}" '
            f'aria-label="{name}"><title>{name}</title>'
            f'<circle class="hit" cx="{(cx + nx) / 2:.2f}" cy="{(cy + ny) / 2:.2f}" r="7" fill="transparent"/>'
            f'<polygon points="{points}" {shape}/>{cross}'
            f'<text x="{nx:.2f}" y="{ny + 1.2:.2f}" font-size="3.6" text-anchor="middle" fill="currentColor" '
            f'aria-hidden="true">{display(tooth, numbering)}</text></g>'
        )
    ys = [sign * y for tooth in ARCH_ORDER[case.arch] for _, y in geometry[tooth].outline]
    top, height = min(ys) - 14, max(ys) - min(ys) + 28
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-46 {top:.1f} 92 {height:.1f}" '
        f'font-family="sans-serif">{"".join(groups)}</svg>'
    )
