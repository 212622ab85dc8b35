"""Follow-up added over time: what happened after the denture was fitted. Nothing that was recorded is lost.

Follow-up is about the record, not about the design, so an approved case stays approved.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.domain.case import Case, Event, Outcome
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.library import Library
from recommender.precedents.store.looked_at import unseen
from recommender.precedents.store.pending import with_review
from recommender.precedents.store.records import Version


class UnfitFollowUp(LibraryError):  # noqa: N818
    """A follow-up that contradicts what is recorded, or says nothing."""


@dataclass(frozen=True, slots=True)
class FollowUp:
    """What one look at the denture told; ``None`` is not recorded and changes nothing."""

    months: float | None = None
    accepted: bool | None = None
    still_worn: bool | None = None
    satisfaction: int | None = None
    events: Sequence[Event] = ()

    @property
    def empty(self) -> bool:
        """Whether it says nothing at all."""
        said = (self.months, self.accepted, self.still_worn, self.satisfaction)
        return all(value is None for value in said) and not self.events


def merged(before: Outcome | None, follow_up: FollowUp) -> Outcome:
    """The outcome with the follow-up added. Raises ``UnfitFollowUp`` for one that goes back in time."""
    held = before or Outcome()
    if follow_up.empty:
        raise UnfitFollowUp(
            "the follow-up says nothing: give months, accepted, worn, satisfaction or an event"
        )
    months = follow_up.months
    if months is not None and held.followed_months is not None and months < held.followed_months:
        raise UnfitFollowUp(
            f"followed for {held.followed_months:g} months already, so not {months:g}; "
            "mend a wrong entry by an edit or by restoring an earlier version"
        )
    followed = months if months is not None else held.followed_months
    late = [event for event in follow_up.events if event.month is not None]
    for event in late:
        if followed is None or event.month > followed:  # type: ignore[operator]
            raise UnfitFollowUp(
                f"{event.event} in month {event.month:g}, but followed for "
                f"{'an unrecorded time' if followed is None else f'{followed:g} months'}; give the months too"
            )
    events = held.events
    new = [event for event in follow_up.events if event not in (events or ())]
    if new:
        events = [*(events or ()), *new]
    return Outcome(
        accepted=follow_up.accepted if follow_up.accepted is not None else held.accepted,
        followed_months=followed,
        still_worn=follow_up.still_worn if follow_up.still_worn is not None else held.still_worn,
        events=events,
        satisfaction=follow_up.satisfaction if follow_up.satisfaction is not None else held.satisfaction,
    )


def add_follow_up(
    library: Library,
    case_id: str,
    follow_up: FollowUp,
    *,
    who: str,
    why: str = "follow-up",
    opened: int | None = None,
) -> Version:
    """Saves the follow-up as a new version. Raises ``NoSuchCase``, ``UnfitFollowUp``, ``StaleEdit``."""
    held = library.get(case_id)
    case: Case = held.case.model_copy(update={"outcome": merged(held.case.outcome, follow_up)})
    case, _ = with_review(held.case, case, unseen(library, case))
    revision = held.revision if opened is None else opened
    return library.save(case, opened=revision, who=who, why=why, kind="outcome")
