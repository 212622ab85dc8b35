"""How much of a tooth the lips leave in view, at rest and in a smile.

Everything that was not recorded may be ``None``; the band then spans what it could be. Shares are of the
clinical crown, from the incisal or occlusal edge toward the gum: 1 is the whole crown, more shows gum.
"""

from math import fsum

import numpy as np

from recommender.mechanics.bands import Band, exact
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.tables import band

SMILE_LINES = ("high", "average", "low")
LOWER_DISPLAYS = ("none", "edges", "crowns")


@remembered()
def _display_curve(arch: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    block = figures("rest_display")
    young = [band("tooth_display", row).typical for row in block["young"][arch]]
    values = [band("tooth_display", row).typical for row in block[arch]]
    # The two samples do not quite join in the lower arch; where they cross, display is taken as steady.
    limit = max if arch == "maxilla" else min
    first = limit(fsum(young) / len(young), values[0])
    return (float(block["young_age"]), *(float(age) for age in block["ages"])), (first, *values)


def _mean_display_mm(arch: str, age: float) -> float:
    ages, values = _display_curve(arch)
    return float(np.interp(age, ages, values))


def central_display_mm(arch: str, age: float | None = None, sex: str | None = None) -> Band:
    """Display of the central incisor with the lips at rest (mm): published mean and one standard deviation.

    Minus means that the edge stays behind the lip. Upper display falls with age and lower display rises (Vig
    and Brundo 1978; Motta et al. 2010); women show more of the upper teeth, men more of the lower. Sex or age
    that was not recorded gives the pooled mean and a band over both sexes, or over all ages.
    """
    block = figures("rest_display")
    women = figure_band(block["women"][arch])
    offset = exact(0.0).hull(women, -women) if sex is None else women if sex == "female" else -women
    spread = figure_band(block["spread"])
    if age is not None:
        return offset + spread + _mean_display_mm(arch, age)
    means = sorted(_mean_display_mm(arch, limit) for limit in _display_curve(arch)[0])
    typical = _mean_display_mm(arch, float(block["typical_age"]))
    return offset + spread + Band(means[0], typical, means[-1])


def shown_at_rest(
    arch: str,
    position: int,
    crown_mm: float,
    age: float | None = None,
    sex: str | None = None,
    central_mm: float | None = None,
) -> Band:
    """Share of the crown in view with the lips at rest.

    ``position`` counts from the midline (1-8), ``central_mm`` is the measured display of the upper central
    incisor where there is one. Behind the canines nothing shows (common practice, no source).
    ``ValueError`` for a crown without length.
    """
    if crown_mm <= 0:
        raise ValueError(f"a crown has a length, not {crown_mm}")
    less = figures("rest_display")["less_by_position"]
    if position not in less:
        return exact(0.0)
    measured = central_mm is not None and arch == "maxilla"
    central = exact(float(central_mm or 0.0)) if measured else central_display_mm(arch, age, sex)
    return ((central - float(less[position])) / crown_mm).clamp(0.0, 1.0)


@remembered()
def smile_share(arch: str, smile_line: str | None, lower_display: str | None) -> Band:
    """Share of a crown in view in a smile, for a tooth that the smile reaches.

    The smile line tells it in the upper arch, ``lower_display`` (none, edges, crowns) in the lower.
    """
    if arch == "mandible":
        block = figures("lower_smile")
        return figure_band(block[lower_display or "unknown"])
    block = figures("smile")
    if smile_line is not None:
        return figure_band(block[smile_line])
    bands = [figure_band(block[line]) for line in SMILE_LINES]
    weights = [float(block["frequency"][line]) for line in SMILE_LINES]
    typical = fsum(w * b.typical for w, b in zip(weights, bands, strict=True)) / fsum(weights)
    return Band(min(b.low for b in bands), typical, max(b.high for b in bands))


def shown_in_smile(
    arch: str,
    position: int,
    crown_mm: float,
    smile_line: str | None = None,
    lower_display: str | None = None,
    last_position: int | None = None,
    age: float | None = None,
) -> Band:
    """Share of the crown in view in a smile.

    ``last_position`` is that of the last tooth that the smile shows; without it the published chance that a
    smile reaches so far back weighs the typical value, and the band runs from none to all that could show.
    Where the smile line was not recorded the typical value falls with age, by the published drop of the lip;
    the bounds stay, for a smile of any kind is possible at any age.
    """
    share = smile_share(arch, smile_line, lower_display)
    if last_position is not None:
        return share if position <= last_position else exact(0.0)
    typical = share.typical
    if age is not None:
        typical += _age_shift(arch, age, crown_mm) if (smile_line, lower_display) == (None, None) else 0.0
    least, most = (float(value) for value in figures("smile")["reach"][position])
    low = share.low if least >= 1 else 0.0
    # One person in a hundred is not nobody.
    high = share.high if most > 0 else 0.0
    return Band(low, min(max(typical * (least + most) / 2, low), high), high)


def _age_shift(arch: str, age: float, crown_mm: float) -> float:
    """Change of the typical share with age beside that of a middle age, in crown lengths."""
    block = figures("smile")
    young, old = (float(value) for value in block["drop_ages"])
    middle = (young + old) / 2
    along = (min(max(age, young), old) - middle) / (old - young)
    drop = float(block["drop_mm"]) * along / crown_mm
    return -drop if arch == "maxilla" else drop
