"""``survey.yaml``: limits, priors, spreads and weights of the survey from a scan. Lengths in mm, angles in degrees."""

from typing import Annotated

from pydantic import Field, model_validator

from recommender.domain.measures import Record

Length = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Signed = Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=10, allow_inf_nan=False)]
Degrees = Annotated[float, Field(gt=0, le=45, allow_inf_nan=False)]
Range = Annotated[list[Length], Field(min_length=2, max_length=2)]
SignedRange = Annotated[list[Signed], Field(min_length=2, max_length=2)]
Positive = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]


class Limits(Record):
    bytes: Annotated[int, Field(ge=1, le=2_000_000_000)]
    triangles: Annotated[int, Field(ge=1, le=30_000_000)]
    seconds: Annotated[int, Field(ge=1, le=3600)]


class Jaw(Record):
    longest_mm: Range
    middle_mm: Range
    shortest_mm: Range


class Smoothing(Record):
    reach_mm: Positive
    coarsest_edge_mm: Positive
    scrap_share: Share


class TeethFigures(Record):
    width_sd_share: Positive
    gap_sd_share: Positive
    gap_sd_mm: Positive
    open_mm: Positive
    contact_mm: Length
    other_arch_margin: Length
    sure_cost: Length
    mirror_margin: Length


class MarginFigures(Record):
    facial_share: Share
    lingual_share: Share
    proximal_share: Share
    spread_mm: Positive
    weight: Share
    least_crown_mm: Length
    found_spread_mm: Positive
    clicked_spread_mm: Positive
    found_harmonics_mm: Annotated[list[Positive], Field(min_length=5, max_length=5)]
    found_wobble_mm: Length
    dense_points: Annotated[int, Field(ge=3, le=1000)]
    dense_spread_mm: Positive
    implausible_undercut_mm: Positive


class BandFigures(Record):
    cover_sds: Positive
    tilt_sd_deg: Degrees
    surface_factor: Share
    least_roughness_mm: Length
    survey_line_sure_mm: Length
    coarse_roughness_mm: Length
    method_mm: Length


class PathWeights(Record):
    retention_mean: Share
    retention_least: Share
    guiding_planes: Share
    lingual_undercut: Share
    tilt_per_degree: Share


class Retention(Record):
    """``useful``: undercut against usefulness, undercuts rising."""

    useful: Annotated[list[Range], Field(min_length=2)]
    errs_deep_mm: Length
    sd_mm: Length

    @model_validator(mode="after")
    def _rising(self) -> "Retention":
        depths = [point[0] for point in self.useful]
        if depths != sorted(set(depths)):
            raise ValueError("undercuts must rise from one point to the next")
        return self


class PathFigures(Record):
    cone_deg: Degrees
    step_deg: Degrees
    look_closer: Share
    look_closer_most: Annotated[int, Field(ge=1, le=1000)]
    plateau: Share
    first_moves_deg: Degrees
    propose_within: Share
    weights: PathWeights
    retention: Retention
    worth_saying_mm: Length
    guiding_plane_mm: Positive
    lingual_full_mm: Positive


class Tissue(Record):
    from_mm: Length
    deepest_mm: Positive
    least_rows: Annotated[int, Field(ge=2, le=100)]
    spread_mm: Positive
    overhang_mm: Length
    smooth_mm: Length


class Spaces(Record):
    width_spread_mm: Positive
    clearance_spread_mm: Positive
    strip_mm: Positive


class OpposingFigures(Record):
    nearest_mm: SignedRange
    rest_disc_mm: Positive
    rest_inset_mm: Positive
    rest_spread_mm: Positive
    embrasure_disc_mm: Positive
    embrasure_spread_mm: Positive


class PalateFigures(Record):
    vault_spread_mm: Positive
    vault_mm: Range
    rugae_lines_mm: Annotated[list[Signed], Field(min_length=1)]
    rugae_from_mm: Length
    rugae_to_mm: Positive
    rugae_trend_degree: Annotated[int, Field(ge=1, le=9)]
    rugae_smooth_mm: Positive
    rugae_spread_mm: Positive
    rugae_mm: Range
    click_spread_mm: Positive


class SurveyFigures(Record):
    """``shared/survey.yaml`` says what each is for."""

    method: Annotated[int, Field(ge=1, le=1000)]
    limits: Limits
    jaw: Jaw
    units: dict[str, Positive]
    smoothing: Smoothing
    teeth: TeethFigures
    margin: MarginFigures
    bands: BandFigures
    path: PathFigures
    tissue: Tissue
    spaces: Spaces
    opposing: OpposingFigures
    palate: PalateFigures
    gauges_mm: Annotated[list[Positive], Field(min_length=3, max_length=3)]
    not_in_a_scan: list[str]
