"""Which published clasp forces the arm model reproduces, and how long the facts of a case take.

Run with ``python -m benchmarks.mechanics``. Every row of ``shared/tables/retention.csv`` that gives a force
for a clasp on a tooth is held against the band of the model for the like tooth and material. Nothing is
fitted to them but the factor for pulling off a polymer arm (``withdrawal.polymer_excess`` in
``shared/mechanics.yaml``), so the polymer rows that withdraw prove nothing.
"""

import time
from dataclasses import dataclass

from recommender.domain.catalogue import load
from recommender.domain.reader import read_case
from recommender.facts.derive import derive
from recommender.facts.option import connector_layer, replacement_layer, retainer_layer
from recommender.mechanics.bands import Band
from recommender.mechanics.clasp import RetentiveArm, retentive_arm
from recommender.mechanics.tables import row
from recommender.mechanics.teeth import tooth_size
from recommender.resources import demo_library


@dataclass(frozen=True, slots=True)
class Trial:
    """One published row: tooth, material, undercuts tested (mm), clasps pulled together, sideways or
    withdrawing."""

    identifier: str
    tooth: int
    alloy: str
    undercuts: tuple[float, float]
    clasps: int = 1
    lateral: bool = False


TRIALS = (
    Trial("RET-119", 14, "cobalt_chromium", (0.25, 0.50)),
    Trial("RET-120", 14, "peek", (0.25, 0.50)),
    Trial("RET-120", 14, "acetal", (0.25, 0.50)),
    *(Trial(f"RET-{n}", 14, "cobalt_chromium", (0.25, 0.25), clasps=2) for n in (123, 125, 127, 129)),
    *(Trial(f"RET-{n}", 14, "acetal", (0.25, 0.25), clasps=2) for n in (124, 126, 128, 130)),
    Trial("RET-131", 44, "peek", (0.25, 0.50)),
    Trial("RET-132", 44, "cobalt_chromium", (0.25, 0.50)),
    Trial("RET-133", 46, "peek", (0.25, 0.50)),
    Trial("RET-134", 46, "cobalt_chromium", (0.25, 0.50)),
    Trial("RET-135", 14, "peek", (0.25, 0.50)),
    Trial("RET-136", 14, "cobalt_chromium", (0.25, 0.50)),
    Trial("RET-137", 38, "cobalt_chromium", (0.25, 0.50)),
    Trial("RET-138", 38, "peek", (0.25, 0.50)),
    Trial("RET-139", 14, "acetal", (0.50, 0.50), lateral=True),
    Trial("RET-140", 14, "cobalt_chromium", (0.50, 0.50), lateral=True),
    Trial("RET-104", 14, "acetal", (0.25, 0.25), lateral=True),
    Trial("RET-107", 14, "peek", (0.25, 0.25), lateral=True),
    Trial("RET-110", 14, "gold_type_iv", (0.25, 0.25), lateral=True),
    Trial("RET-113", 14, "titanium_alloy", (0.25, 0.25), lateral=True),
    Trial("RET-116", 14, "cobalt_chromium", (0.25, 0.25), lateral=True),
    *(Trial(f"RET-{92 + n:03}", 14, "cobalt_chromium", (0.25 * (n + 1),) * 2) for n in range(3)),
    *(Trial(f"RET-{95 + n:03}", 14, "titanium_cp", (0.25 * (n + 1),) * 2) for n in range(3)),
    Trial("RET-141", 14, "cobalt_chromium", (0.25, 0.50)),
)


def ordinary_arm(tooth: int, alloy: str) -> RetentiveArm:
    """The circumferential arm of the option catalogue in another material."""
    arm = load().option("retainer", "circumferential").arm
    if arm is None:
        raise ValueError("the circumferential clasp has lost its arm")
    return retentive_arm(arm.origin, arm.surface, arm.reach, arm.section, alloy, arm.level, tooth_size(tooth))


def model(trial: Trial) -> Band:
    """The model's band for that trial (N)."""
    arm = ordinary_arm(trial.tooth, trial.alloy)
    force = arm.lateral_force_n if trial.lateral else arm.withdrawal_force_n
    shallow, deep = (force(depth) for depth in trial.undercuts)
    return Band(shallow.low, (shallow.typical + deep.typical) / 2, deep.high) * float(trial.clasps)


def verdict(found: Band, published: Band) -> str:
    """Whether the published mean lies in the model's band, or the bands only meet, or not even that."""
    if found.contains(published.typical):
        return "reproduced"
    return "bands meet, mean outside" if found.overlaps(published) else "not reproduced"


def case_times_ms() -> list[float]:
    """Time for the option facts of every demo case, in the order read; the first pays for loading the
    figures."""
    options = load().options
    times = []
    for path in sorted(demo_library().glob("*.yaml")):
        case = read_case(path)
        facts = derive(case)
        approaches = [(tooth, side) for tooth in facts.considered for side in facts.approaches(tooth)]
        for tooth, side in approaches:
            facts.toward(tooth, side)
        start = time.process_time()
        for tooth, side in approaches:
            for option in options["retainer"].values():
                retainer_layer(facts, tooth, side, option)
        for tooth in case.missing:
            if facts.space_of(tooth) is not None:
                for option in options["replacement"].values():
                    replacement_layer(facts, tooth, option)
        for option in options["connector"].values():
            if case.arch in option.arches:
                connector_layer(facts, option)
        times.append(1000 * (time.process_time() - start))
    return times


def main() -> None:
    """Print the table of published rows and the times."""
    for trial in TRIALS:
        published, found = row("retention", trial.identifier).band, model(trial)
        print(
            f"{trial.identifier}  {trial.alloy:16} {published.low:5.1f} {published.typical:5.1f} {published.high:5.1f}"
            f"   model {found.low:5.1f} {found.typical:5.1f} {found.high:5.1f}   {verdict(found, published)}"
        )
    times = case_times_ms()
    ordered = sorted(times)
    print(
        f"facts of a case, processor time: first {times[0]:.1f} ms, median {ordered[len(ordered) // 2]:.1f} ms,"
        f" slowest of the rest {max(times[1:]):.1f} ms over {len(times)} cases"
    )


if __name__ == "__main__":
    main()
