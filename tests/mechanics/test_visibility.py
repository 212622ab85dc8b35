"""Display of teeth and arms against published samples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.mechanics.bands import Band, exact
from recommender.mechanics.display import central_display_mm, shown_at_rest, shown_in_smile, smile_share
from recommender.mechanics.tables import row
from recommender.mechanics.visibility import FacialRun, runs_of_arm, seen_across, visible_share

LINES = (None, "high", "average", "low")
LEVELS = (None, "gingival", "middle", "occlusal")
SEXES = (None, "female", "male")
AGES = st.integers(15, 90)


def circumferential(side="distal", level=(0.6, 0.25)):
    return runs_of_arm(side, "near", "facial", 0.95, level)


@pytest.mark.parametrize(
    ("arch", "age", "identifier"),
    [
        *(("maxilla", age, f"DISP-{n:03d}") for age, n in ((25, 5), (35, 7), (45, 9), (55, 11), (65, 13))),
        *(("mandible", age, f"DISP-{n:03d}") for age, n in ((25, 6), (35, 8), (45, 10), (55, 12), (65, 14))),
    ],
)
def test_display_by_age_of_vig_and_brundo(arch, age, identifier):
    """Vig and Brundo 1978, J Prosthet Dent 39:502, sexes pooled (from memory)."""
    assert central_display_mm(arch, age).typical == pytest.approx(row("tooth_display", identifier).typical)


@pytest.mark.parametrize(
    ("arch", "sex", "age", "identifier"),
    [
        ("maxilla", "female", 13.5, "DISP-031"),
        ("maxilla", "female", 60, "DISP-032"),
        ("maxilla", "male", 13.5, "DISP-033"),
        ("maxilla", "male", 60, "DISP-034"),
        ("mandible", "female", 13.5, "DISP-035"),
        ("mandible", "female", 60, "DISP-036"),
        ("mandible", "male", 13.5, "DISP-037"),
        ("mandible", "male", 60, "DISP-038"),
    ],
)
def test_display_by_age_and_sex_of_motta(arch, sex, age, identifier):
    """Motta et al. 2010, Aust Orthod J 26:27-32: every printed mean lies within the band of that age and sex."""
    assert central_display_mm(arch, age, sex).contains(row("tooth_display", identifier).typical)


def test_women_show_more_upper_and_men_more_lower_teeth():
    """Vig and Brundo 1978 and Motta et al. 2010 agree in this; Al Wazzan 2004 does not for laterals and canines."""
    women, men = central_display_mm("maxilla", 40, "female"), central_display_mm("maxilla", 40, "male")
    assert women.typical - men.typical == pytest.approx(1.1)  # 1.49 and 0.75-1.10 in the two samples
    assert (
        central_display_mm("mandible", 40, "male").typical
        > central_display_mm("mandible", 40, "female").typical
    )


@given(AGES, AGES, st.sampled_from(SEXES))
def test_older_never_shows_more_upper_nor_less_lower_teeth(one, other, sex):
    young, old = sorted((one, other))
    for bound in ("low", "typical", "high"):
        assert getattr(central_display_mm("maxilla", old, sex), bound) <= getattr(
            central_display_mm("maxilla", young, sex), bound
        )
        assert getattr(central_display_mm("mandible", old, sex), bound) >= getattr(
            central_display_mm("mandible", young, sex), bound
        )


@given(st.sampled_from(("maxilla", "mandible")), st.integers(18, 90), st.sampled_from(SEXES))
def test_unknown_age_or_sex_never_narrows_the_display(arch, age, sex):
    known = central_display_mm(arch, age, sex)
    assert central_display_mm(arch, age, None).contains(known)
    assert central_display_mm(arch, None, sex).contains(known)


@given(AGES, AGES, st.integers(1, 8), st.sampled_from(LINES), st.sampled_from((None, 3, 5, 7)))
def test_older_never_shows_more_of_an_upper_arm(one, other, position, line, last):
    young, old = sorted((one, other))
    tooth = 20 + position
    shares = []
    for age in (young, old):
        shown = shown_in_smile("maxilla", position, 8.5, line, None, last, age)
        shares.append(visible_share(tooth, circumferential(), shown))
    assert shares[1].typical <= shares[0].typical + 1e-12
    assert shares[1].high <= shares[0].high + 1e-12
    resting = [
        visible_share(tooth, circumferential(), shown_at_rest("maxilla", position, 8.5, a))
        for a in (young, old)
    ]
    assert resting[1].typical <= resting[0].typical + 1e-12


def test_a_measured_incisor_display_is_believed():
    """Karachi sample, women: 2.93, 1.87 and 0.59 mm at 11, 12 and 13 (rows DISP-039 to -041)."""
    means = [row("tooth_display", f"DISP-0{number}").typical for number in (39, 40, 41)]
    for position, mean in enumerate(means, start=1):
        share = shown_at_rest("maxilla", position, 10.0, central_mm=means[0])
        assert share.typical * 10.0 == pytest.approx(mean)
        assert share.exact
    assert shown_at_rest("maxilla", 4, 8.5, age=20).high == 0


def test_smile_lines_are_tjans_classes():
    """Tjan et al. 1984 (from memory): low under 75 % of the crown, average 75-100 %, high all of it and gum."""
    low, average, high = (smile_share("maxilla", line, None) for line in ("low", "average", "high"))
    assert low.typical < 0.75 <= average.low
    assert average.typical < 1.0 <= high.low
    pooled = smile_share("maxilla", None, None)
    assert all(pooled.contains(share) for share in (low, average, high))


def test_a_low_smile_line_does_not_hide_a_gingival_tip():
    """Hochman et al. 2012: 87 % of those who show no gum margin still show papillae (row DISP-072)."""
    assert row("tooth_display", "DISP-072").typical > 80
    bar = runs_of_arm("distal", "gingival", "facial", 0.5, (0.0, 0.25))
    shown = visible_share(23, bar, shown_in_smile("maxilla", 3, 10.0, "low"))
    assert shown.high > 0
    assert shown.typical < visible_share(23, bar, shown_in_smile("maxilla", 3, 10.0, "high")).typical


@pytest.mark.parametrize(("position", "identifier"), [(4, "DISP-057"), (5, "DISP-058"), (6, "DISP-059")])
def test_how_far_back_a_smile_reaches(position, identifier):
    """Tjan et al. 1984: 93, 44 and 4 % show the first premolar, second premolar and first molar (from memory)."""
    chance = row("tooth_display", identifier).typical / 100
    shown = shown_in_smile("maxilla", position, 8.5, "high")
    assert shown.low == 0
    assert shown.typical >= chance * smile_share("maxilla", "high", None).typical - 0.01
    assert shown_in_smile("maxilla", position, 8.5, "high", last_position=position - 1) == exact(0.0)
    assert shown_in_smile("maxilla", position, 8.5, "high", last_position=position) == smile_share(
        "maxilla", "high", None
    )


@pytest.mark.parametrize("tooth", [13, 24, 33, 45])
def test_an_arm_wholly_on_the_lingual_shows_nothing(tooth):
    runs = runs_of_arm("distal", "near", "lingual", 0.95, (0.6, 0.25))
    assert runs == ()
    assert visible_share(tooth, runs, exact(1.3)) == exact(0.0)


@pytest.mark.parametrize("tooth", [13, 14, 25, 34])
@pytest.mark.parametrize("side", ["mesial", "distal"])
def test_a_short_facial_arm_shows_about_its_share(tooth, side):
    """It stops before the middle of the tooth, so at most half of a whole arm can show."""
    short = runs_of_arm(side, "near", "lingual", 0.95, (0.6, 0.25), short_facial_arm=True)
    whole = circumferential(side)
    shown = exact(1.0)
    part, full = visible_share(tooth, short, shown), visible_share(tooth, whole, shown)
    assert 0 < part.typical < 0.5
    assert part.high < 0.5 < full.typical
    assert part.typical < full.typical


def test_a_bar_shows_less_than_a_circumferential_arm_in_an_average_smile():
    shown = shown_in_smile("maxilla", 4, 8.5, "average", last_position=5)
    bar = visible_share(14, runs_of_arm("distal", "gingival", "facial", 0.5, (0.0, 0.25)), shown)
    arm = visible_share(14, circumferential(), shown)
    assert bar.high < arm.low


def test_the_distal_of_a_back_tooth_turns_away():
    """Computed from the arch geometry: the distal stretch of a premolar or molar is seen least from in front."""
    assert seen_across(13).low > seen_across(14).low > seen_across(16).low
    mesial = visible_share(25, (FacialRun(0.0, 0.4, (0.6, 0.6)),), exact(1.0))
    distal = visible_share(25, (FacialRun(0.6, 1.0, (0.6, 0.6)),), exact(1.0))
    assert distal.low < mesial.low


@given(
    st.integers(1, 8), st.sampled_from(LINES), st.sampled_from(LEVELS), st.sampled_from((None, 3, 4, 5, 6, 8))
)
def test_unknown_input_never_narrows_the_visible_share(position, line, level, last):
    tooth = 20 + position
    known = visible_share(
        tooth, circumferential(), shown_in_smile("maxilla", position, 8.5, line, None, last), level
    )
    for missing in (
        visible_share(
            tooth, circumferential(), shown_in_smile("maxilla", position, 8.5, None, None, last), level
        ),
        visible_share(
            tooth, circumferential(), shown_in_smile("maxilla", position, 8.5, line, None, None), level
        ),
        visible_share(
            tooth, circumferential(), shown_in_smile("maxilla", position, 8.5, line, None, last), None
        ),
    ):
        assert missing.low <= known.low + 1e-12
        assert missing.high >= known.high - 1e-12


@given(
    st.integers(1, 8), st.sampled_from((None, "none", "edges", "crowns")), st.sampled_from((None, 3, 5, 8)),
    st.sampled_from(LEVELS),
)  # fmt: skip
def test_unknown_lower_display_never_narrows(position, lower, last, level):
    tooth = 30 + position
    known = visible_share(
        tooth, circumferential(), shown_in_smile("mandible", position, 8.5, None, lower, last), level
    )
    missing = visible_share(
        tooth, circumferential(), shown_in_smile("mandible", position, 8.5, None, None, last), level
    )
    assert missing.low <= known.low + 1e-12
    assert missing.high >= known.high - 1e-12


@given(st.integers(1, 8), st.floats(0, 1.3), st.floats(0, 0.5), st.sampled_from(("mesial", "distal")))
def test_more_crown_in_view_never_shows_less_metal_and_sides_mirror(position, share, more, side):
    arm = circumferential(side)
    less, further = (
        visible_share(20 + position, arm, exact(share)),
        visible_share(20 + position, arm, exact(share + more)),
    )
    assert further.typical >= less.typical - 1e-12
    assert visible_share(10 + position, arm, exact(share)) == less


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.floats(0, 1.2))
def test_seen_length_against_many_points(start, end, first, last, share):
    """The closed form against 4000 points along the run, each tested by itself."""
    start, end = sorted((start, end))
    run = FacialRun(start, end, (first, last))
    band = visible_share(25, (run,), exact(share))
    across = seen_across(25).typical
    seen = sum(
        1
        for index in range(4000)
        if share > 0
        and first + (last - first) * (index + 0.5) / 4000 >= 1 - share
        and start + (end - start) * (index + 0.5) / 4000 <= across
    )
    width, height = 7.0, 8.5  # Ash and Nelson, upper second premolar
    length = (((end - start) * width) ** 2 + ((last - first) * height) ** 2) ** 0.5
    assert band.typical == pytest.approx(length * seen / 4000 / max(width, length), abs=2e-3)
    assert isinstance(band, Band)
