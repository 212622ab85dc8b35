"""Taking in a case: start, the arch, the survey, what is worth measuring next."""

from recommender.screens import state
from recommender.screens.take_in_arch import arch_section
from recommender.screens.take_in_start import start_section


def page() -> None:
    """Draw the page."""
    start_section()
    held = state.case()
    if held is None:
        return
    arch_section()
