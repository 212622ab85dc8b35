"""Bands never narrow what they stand for; the tables are whole and readable."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.mechanics import tables
from recommender.mechanics.bands import Band, exact, independent, spread
from recommender.mechanics.figures import figures

FLOATS = st.floats(-50, 50)


@st.composite
def bands(draw, least=-50.0, most=50.0):
    low, typical, high = sorted(draw(st.lists(st.floats(least, most), min_size=3, max_size=3)))
    return Band(low, typical, high)


def within(band: Band, draw: float) -> float:
    return band.low + draw * (band.high - band.low)


@given(bands(), bands(), st.floats(0, 1), st.floats(0, 1))
def test_sum_difference_and_product_hold_every_pair(one, other, first, second):
    x, y = within(one, first), within(other, second)
    for result, value in ((one + other, x + y), (one - other, x - y), (one * other, x * y)):
        assert result.low - 1e-6 <= value <= result.high + 1e-6


@given(bands(), bands(0.5, 50.0), st.floats(0, 1), st.floats(0, 1))
def test_quotient_holds_every_pair(one, divisor, first, second):
    result = one / divisor
    assert result.low - 1e-6 <= within(one, first) / within(divisor, second) <= result.high + 1e-6


def test_a_divisor_that_holds_zero_is_refused():
    with pytest.raises(ZeroDivisionError):
        exact(1.0) / Band(-1, 0, 1)


def test_a_band_must_rise():
    with pytest.raises(ValueError, match="must rise"):
        Band(2, 1, 3)


@given(st.lists(bands(0.2, 5.0), min_size=1, max_size=5), bands(0.2, 1.0), bands(1.0, 5.0))
def test_one_more_uncertain_factor_never_narrows(factors, below, above):
    ratios = [Band(band.low / band.typical, 1.0, band.high / band.typical) for band in factors]
    more = [*ratios, Band(below.low, 1.0, above.high)]
    plain, wider = independent(10.0, ratios), independent(10.0, more)
    assert wider.low <= plain.low + 1e-9
    assert wider.high >= plain.high - 1e-9


def test_independent_factors_add_in_quadrature():
    """Worked by hand: two factors of 2 each way give a factor of exp(sqrt(2) ln 2) = 2.665 (ISO/IEC Guide 98-3)."""
    band = independent(1.0, [Band(0.5, 1, 2), Band(0.5, 1, 2)])
    assert band.high == pytest.approx(math.exp(math.sqrt(2) * math.log(2)))
    assert band.low == pytest.approx(1 / band.high)


def test_spread_is_the_hull_of_its_values():
    assert spread([3, 1, 2]) == Band(1, 2, 3)
    with pytest.raises(ValueError, match="at least one"):
        spread([])


@pytest.mark.parametrize("name", tables.TABLES)
def test_every_row_is_sound(name):
    rows = tables.table(name)
    assert len({row.id for row in rows}) == len(rows) > 10
    marks = {"page", "page, derived", "derived", "memory", "memory, check", "common_practice"}
    for row in rows:
        assert row.source, row.id
        assert row.found in marks, row.id
        assert row.confidence in {"high", "medium", "low"}, row.id
        if row.unit != "text":
            assert row.band.low <= row.band.high, row.id


def test_an_unknown_table_is_refused():
    with pytest.raises(KeyError, match="no table"):
        tables.table("../facts")


def test_every_block_of_model_figures_says_where_it_comes_from():
    for name in (
        "arch", "alloys", "arms", "withdrawal", "replacement_layers", "replacement_depth", "rests", "support",
        "smile", "lower_smile", "rest_display", "view", "survey_line", "connectors", "shows",
    ):  # fmt: skip
        block = figures(name)
        assert block["source"], name
        assert block["found"] in {"page", "derived", "memory", "common_practice"}, name


@pytest.mark.parametrize(
    ("gauge", "identifier"),
    [(6, "RET-011"), (12, "RET-014"), (18, "RET-017"), (20, "RET-019"), (24, "RET-021"), (30, "RET-024")],
)
def test_wire_gauges(gauge, identifier):
    """American wire gauge, ASTM B258: d = 0.127 x 92^((36 - n)/39) mm."""
    diameter = 0.127 * 92 ** ((36 - gauge) / 39)
    assert tables.row("retention", identifier).typical == pytest.approx(diameter, abs=6e-4)


def test_iso_22674_types_and_the_frame_alloy():
    """ISO 22674 table of types: proof stress 80, 180, 270, 360, 500 MPa; type 5 also wants 150 GPa and 2 %."""
    from recommender.mechanics.alloys import material

    proof = [tables.row("retention", f"RET-0{number}").low for number in range(26, 31)]
    assert proof == [80, 180, 270, 360, 500]
    frame = material("cobalt_chromium")
    assert frame.proof_mpa.low >= proof[4]
    assert frame.modulus_gpa.low >= tables.row("retention", "RET-031").low == 150
    assert material("gold_type_iv").proof_mpa.low >= proof[3]
    # The alloys that the standard would not take for thin clasps: gold is not stiff enough.
    assert material("gold_type_iv").modulus_gpa.high < 150
