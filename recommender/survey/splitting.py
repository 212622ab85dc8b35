"""Where one tooth ends and the next begins: dynamic programming along the arch line over the list of standing teeth."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from recommender.domain.dentition import ARCH_ORDER, mirror, quadrant
from recommender.survey.arch_line import arch_line
from recommender.survey.arrays import Floats
from recommender.survey.dimensions import crown_size
from recommender.survey.errors import ScanError
from recommender.survey.heights import HeightImage
from recommender.survey.lines import STEP_MM, Straightened, straightened
from recommender.survey.settings import settings

_GRID = 2  # places tried, in steps of the line
_EMBRASURE_MM = 1.0  # ground as low as the gum over more than this is a space, not the dip at a contact
_OUT_OF_PLACE = 0.9  # a mm of bare ground within a tooth costs as much as a mm of teeth left out at the ends
_SCALES = (0.88, 0.94, 1.0, 1.06, 1.12)
TOOTH, GAP, SEAM = "tooth", "gap", "seam"


@dataclass(frozen=True)
class Item:
    """A stretch of the arch line: a tooth, a gap where teeth are missing, or the seam between two neighbours."""

    kind: str
    teeth: tuple[int, ...]


@dataclass(frozen=True)
class Signals:
    """What the arch line passes over, point by point."""

    line: Floats
    straight: Straightened
    heights: Floats  # straightened heights, NaN off the mesh
    low: Floats  # 0 on teeth, 1 in a space
    border: Floats  # how like a border between teeth
    shear: Floats  # slant of that border against the line's normal
    trend: Floats


@dataclass(frozen=True)
class Split:
    """Cuts (indices into the line) before, between and after the items; ``cost`` of the explanation (low is good)."""

    signals: Signals
    items: tuple[Item, ...]
    cuts: tuple[int, ...]
    cost: float


def items_of(arch: str, standing: Sequence[int]) -> tuple[Item, ...]:
    """The stretches of an arch in the viewer's order, gaps at the ends left out."""
    order = ARCH_ORDER[arch] if arch == "maxilla" else ARCH_ORDER[arch][::-1]
    own = [tooth for tooth in order if tooth in set(standing)]
    if not own:
        raise ScanError("the case has no standing tooth in this arch")
    items: list[Item] = []
    for before, tooth in zip([None, *own], own, strict=False):
        if before is not None:
            gone = order[order.index(before) + 1 : order.index(tooth)]
            items.append(Item(GAP, tuple(gone)) if gone else Item(SEAM, (before, tooth)))
        items.append(Item(TOOTH, (tooth,)))
    return tuple(items)


def signals_of(image: HeightImage, anchors: Sequence[Floats] = ()) -> Signals:
    """The arch line and what it passes over. Raises ``ScanError`` where no row of teeth is found."""
    line = arch_line(image, anchors)
    straight = straightened(image.filled(float(np.nanmin(image.heights))), image, line, 9.0, 0.2)
    on_mesh = straightened(image.found.astype(float), image, line, 9.0, 0.2).values
    heights = np.where(on_mesh > 0.5, straight.values, np.nan)
    middle = np.abs(straight.across) < 5.5
    with np.errstate(all="ignore"):
        crest = _row_percentile(np.where(middle, heights, np.nan), 88)
    crest = np.where(np.isfinite(crest), crest, np.nanmin(crest))
    off = (on_mesh[:, middle] > 0.5).mean(axis=1) < 0.15
    crest = ndimage.gaussian_filter1d(np.where(off, np.nanpercentile(crest, 90) - 8.0, crest), 3)
    level = np.percentile(crest, 75)
    trend = ndimage.percentile_filter(crest, 85, size=int(45 / STEP_MM))
    trend = np.clip(ndimage.gaussian_filter1d(trend, 80), level - 2.5, level + 2.5)
    groove, shear = _groove(straight)
    valley = ndimage.gaussian_filter1d(
        np.clip(ndimage.maximum_filter1d(crest, int(5 / STEP_MM)) - crest, 0, 2.0), 2
    )
    with np.errstate(invalid="ignore"):
        width = ndimage.gaussian_filter1d((heights > (crest - 3.0)[:, None]).sum(axis=1) * 0.2, 2)
    waist = np.clip(ndimage.maximum_filter1d(width, int(6 / STEP_MM)) - width, 0, 4)
    border = np.clip(_scaled(groove), -1, 2.5) + 0.7 * np.clip(_scaled(valley), -0.5, 2)
    border = border + 0.5 * np.clip(_scaled(waist), -0.5, 2)
    return Signals(line, straight, heights, np.clip((trend - crest) / 4.0, 0, 1.5), border, shear, trend)


def _row_percentile(values: Floats, percent: float) -> Floats:
    """``nanpercentile`` along rows, several times as fast."""
    ordered = np.sort(values, axis=1)
    count = np.isfinite(values).sum(axis=1)
    place = np.maximum(count - 1, 0) * percent / 100
    lower = np.floor(place).astype(np.int64)
    rows = np.arange(len(values))
    first, second = ordered[rows, lower], ordered[rows, np.minimum(lower + 1, np.maximum(count - 1, 0))]
    result: Floats = np.where(count > 0, first + (second - first) * (place - lower), np.nan)
    return result


def _groove(straight: Straightened) -> tuple[Floats, Floats]:
    """How concave the heights are along the line, at the best of several slants, and that slant."""
    smoothed = ndimage.gaussian_filter(straight.values, (4, 1.5))
    bend = np.gradient(np.gradient(smoothed, STEP_MM, axis=0), STEP_MM, axis=0)
    bend = np.clip(bend, -2.0, 3.0)
    weight = np.exp(-((straight.across / 3.2) ** 2))
    best, shear = np.full(len(bend), -9.0), np.zeros(len(bend))
    along, columns = np.arange(len(bend))[:, None], np.arange(len(weight))
    for slant in np.tan(np.radians(np.arange(-24, 25, 6))):
        shift = np.round(slant * straight.across / STEP_MM).astype(int)
        slanted = bend[(along + shift) % len(bend), columns]
        mean = slanted @ weight / weight.sum() - 0.05 * abs(slant)
        better = mean > best
        best[better], shear[better] = mean[better], slant
    return best, shear


def _scaled(values: Floats) -> Floats:
    middle = np.median(values)
    result: Floats = (values - middle) / (np.percentile(values, 95) - middle + 1e-6)
    return result


def split(
    signals: Signals, arch: str, standing: Sequence[int], anchors: Mapping[int, Floats] | None = None
) -> Split:
    """The cheapest way to lay the standing teeth along the line. ``anchors``: a place within a tooth, by tooth.

    Raises ``ScanError`` where the teeth do not fit on the line.
    """
    items = items_of(arch, standing)
    fixed = {
        tooth: int(np.argmin(((signals.line - place[:2]) ** 2).sum(1)))
        for tooth, place in (anchors or {}).items()
    }
    best: Split | None = None
    for scale in _SCALES:
        found = _solve(signals, items, scale, fixed)
        if found is not None:
            cost = found[0] + 0.5 * ((scale - 1) / 0.06) ** 2
            if best is None or cost < best.cost:
                best = Split(signals, items, found[1], cost)
    if best is None:
        raise ScanError("the standing teeth of the case do not fit on the row of teeth in the scan")
    return best


def _middle_of(line: Floats) -> float:
    """x of the midline: the mean of both limbs at equal distances from the front."""
    rows = np.percentile(line[:, 1], np.arange(25, 80, 5))
    front = int(np.argmax(line[:, 1]))
    if not 0 < front < len(line) - 1:
        raise ScanError("no row of teeth stands out of the scan")
    left = np.interp(rows, line[:front, 1], line[:front, 0])
    right = np.interp(-rows, -line[front:, 1], line[front:, 0])
    return float(np.median((left + right) / 2))


def _solve(
    signals: Signals, items: Sequence[Item], scale: float, fixed: Mapping[int, int]
) -> tuple[float, tuple[int, ...]] | None:
    line = signals.line
    grid = np.arange(0, len(line), _GRID)
    count = len(grid)
    lowness = np.concatenate([[0.0], np.cumsum(signals.low)]) * STEP_MM
    lowness = lowness[grid]
    bare = np.clip(ndimage.grey_opening(signals.low, (int(_EMBRASURE_MM / STEP_MM),)) / 0.75 - 1, 0, 1)
    bare = (np.concatenate([[0.0], np.cumsum(bare)]) * STEP_MM)[grid]
    border = -1.6 * signals.border[grid]
    outside = (np.concatenate([[0.0], np.cumsum(np.clip(0.75 - signals.low, 0, 1))]) * STEP_MM)[grid]
    cost = border * 0.5 + _OUT_OF_PLACE * outside
    front = line[grid, 1] > np.percentile(line[:, 1], 60)
    midline = 0.5 * ((line[grid, 0] - _middle_of(line)) / 3.5) ** 2 * front + 30.0 * ~front
    steps: list[np.ndarray] = []
    previous = 0
    for item in items:
        if previous and quadrant(item.teeth[0]) != previous:
            cost = cost + np.minimum(midline, 12.0)
        previous = quadrant(item.teeth[-1])
        options, widths = _options(item, cost, lowness, bare, border, grid, scale, fixed, count)
        chosen = options.argmin(axis=0)
        cost = options[chosen, np.arange(count)]
        if item.kind != SEAM:
            cost = cost + border
        steps.append(widths[chosen])
    cost = cost - border * 0.5 + _OUT_OF_PLACE * (outside[-1] - outside)
    place = int(cost.argmin())
    if not np.isfinite(cost[place]):
        return None
    total, cuts = float(cost[place]), [place]
    for widths in reversed(steps):
        place -= int(widths[place])
        cuts.append(place)
    return total, tuple(int(grid[cut]) for cut in reversed(cuts))


def _options(
    item: Item, cost: Floats, lowness: Floats, bare: Floats, border: Floats, grid: np.ndarray, scale: float,
    fixed: Mapping[int, int], count: int,
) -> tuple[Floats, np.ndarray]:  # fmt: skip
    """Cost of ending the item at every place, for every width tried."""
    figures = settings()["teeth"]
    pace = STEP_MM * _GRID
    if item.kind == SEAM:
        widths = np.arange(0, int(figures["open_mm"] / pace))
    else:
        expected = sum(crown_size(tooth).mesiodistal for tooth in item.teeth) * scale
        spread = figures["width_sd_share"] * expected
        if item.kind == GAP:
            expected *= 0.9 if len(item.teeth) < 3 else 0.95
            spread = figures["gap_sd_share"] * expected + figures["gap_sd_mm"]
        first = max(int((expected - 3.2 * spread) / pace), 2)
        if item.kind == GAP and len(item.teeth) == 1:
            first = 0
        widths = np.arange(first, int((expected + 3.2 * spread) / pace) + 1)
    widths = widths[widths < count]
    length = (widths * pace)[:, None]
    start = _shifted(cost, widths, np.inf)
    low = lowness - _shifted(lowness, widths, 0.0)
    if item.kind == SEAM:
        # a narrow seam is one groove, whose border the tooth before it has already been given
        own = border * np.clip((length - 1.0) / 2.0, 0.0, 1.0)
        add = 4.5 + 0.15 * length + 3.0 * np.clip(length - low / 0.5, 0, None) + own
        add[widths == 0] = 0.0
    elif item.kind == GAP:
        add = np.minimum(0.5 * ((length - expected) / spread) ** 2, 6.0)
        add = add + 1.2 * np.clip(length - low / 0.5, 0, None)
    else:
        add = 0.5 * ((length - expected) / spread) ** 2 + 1.4 * low
        add = add + _OUT_OF_PLACE * (bare - _shifted(bare, widths, 0.0))
        if item.teeth[0] in fixed:
            place = fixed[item.teeth[0]]
            begins = _shifted(grid.astype(float), widths, 0.0)
            add = add + 40.0 * ((place < begins + 10) | (place > grid - 10))
    return start + add, widths


def _shifted(values: Floats, widths: np.ndarray, before: float) -> Floats:
    """Values (n,) so many places earlier, for every width (widths, n); ``before`` where there is none."""
    most = int(widths.max()) if len(widths) else 0
    padded = np.concatenate([np.full(most, before), values])
    result: Floats = np.lib.stride_tricks.sliding_window_view(padded, len(values))[most - widths]
    return result


def mirrored_cost(signals: Signals, arch: str, standing: Sequence[int]) -> float:
    """Cost of explaining the same scan by the mirror image of the list of teeth."""
    other = [mirror(tooth) for tooth in standing]
    try:
        return split(signals, arch, other).cost
    except ScanError:
        return float("inf")
