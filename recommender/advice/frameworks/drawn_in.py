"""Why teeth hold that the case does not name: what the program chose across the arch, and what should be
recorded of them.
"""

from recommender.advice.frameworks.parts import Choice
from recommender.domain.dentition import position, side_of
from recommender.domain.statement import Statement, Word, say, several, teeth


def why_drawn_in(choice: Choice) -> tuple[Statement, ...]:
    """One statement for each side on which further teeth carry something."""
    found = []
    for side in ("right", "left"):
        parts = [p for p in choice.retainers.values() if p.further and side_of(p.tooth) == side]
        if not parts:
            continue
        holding = [p for p in parts if p.retentive]
        if not holding:
            found.append(
                say("drawn_in.teeth", teeth=teeth(p.tooth for p in parts), why=say("drawn_in.plate_end"))
            )
            continue
        reasons = [say("drawn_in.holds_across", side=Word("side", side))]
        if all(position(p.tooth) >= 6 for p in parts):
            reasons.append(say("drawn_in.far_back"))
        if any(p.partner is not None for p in parts):
            reasons.append(say("drawn_in.two_share"))
        found.append(
            say("drawn_in.teeth", teeth=teeth(p.tooth for p in parts), why=several(reasons, "comma"))
        )
    return tuple(found)
