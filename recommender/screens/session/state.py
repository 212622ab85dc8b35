"""What stays from page to page: the case in hand, its undo history, the tooth numbering.

The case is the one source of truth: widgets show it, and change it through :func:`change`, which keeps what
was there for undo and saves a working copy (``drafts``). The case id stands in the address, so that a reload,
another tab or a shared link reopens the same case on the same page.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from recommender.domain.case import Case
from recommender.screens.session import drafts, history, library_in_use, visitor
from recommender.screens.session.visitor import store

MOST_UNDO = 200
_CASE, _SEEN, _CHOICES = "casebook.case", "casebook.seen", "casebook.choices"
_UNDO, _REDO, _CONFLICT = "casebook.undo", "casebook.redo", "casebook.conflict"
_TROUBLE, _REFUSED, _NUMBERS = "casebook.trouble", "casebook.refused", "casebook.numbering"
_UPLOADS, _UNSAVED = "casebook.uploads", "casebook.unsaved"


# -- the case in hand ------------------------------------------------------------------------------------


def case() -> Case | None:
    """The case in hand, or ``None``."""
    held: Case | None = store().get(_CASE)
    return held


def choices() -> dict[str, Any]:
    """What the designer chose, by decision key: ``{"option": …, "reason": …}``."""
    return dict(store().get(_CHOICES) or {})


def open_case(
    new: Case,
    chosen: Mapping[str, Any] | None = None,
    *,
    seen: int = 0,
    kept: Sequence[Mapping[str, Any]] = (),
) -> None:
    """Take a case in hand. ``seen`` is its stored revision, 0 for one that is not saved yet; ``kept`` its history."""
    own = store()
    own[_UNDO] = history.unpacked(new, chosen or {}, kept)
    own[_REDO], own[_CONFLICT], own[_SEEN] = [], None, seen
    _hold(own, new, dict(chosen or {}))


def open_by_id(case_id: str) -> bool:
    """Take in hand the working copy of that id, else the library's case; ``False`` where there is neither."""
    draft = drafts.load(case_id)
    if draft is not None:
        open_draft(draft)
        return True
    from recommender.precedents.source import latest_of

    try:
        open_case(latest_of(library_in_use.library(), case_id))
    except KeyError:
        return False
    return True


def open_draft(draft: drafts.Draft) -> None:
    """Take a working copy in hand, with what can be undone in it."""
    open_case(draft.case, draft.choices, seen=draft.revision, kept=draft.history)


def change(new: Case, chosen: Mapping[str, Any] | None = None, *, at: str = "") -> bool:
    """Replace the case in hand (and the choices, where given), keeping what was there for undo.

    The case is saved at once. A value that the format does not allow is refused: ``False``, the case stays as it
    was, and the reason stands at the field ``at`` (see :func:`refused`), else at the top of the page. A case under
    another id is saved under that id.
    """
    from pydantic import ValidationError

    data = new.model_dump(mode="json", exclude_none=True, warnings=False)
    try:
        sound = Case.model_validate(data)
    except ValidationError:
        refuse(at, _why_not(data))
        return False
    own = store()
    held, before = own.get(_CASE), dict(own.get(_CHOICES) or {})
    wanted = before if chosen is None else dict(chosen)
    if held is not None and (held != sound or wanted != before):
        own[_UNDO] = [*own.get(_UNDO, []), (held, before)][-MOST_UNDO:]
        own[_REDO] = []
    if held is None or held.id != sound.id:
        own[_SEEN] = drafts.revision(sound.id)
    _hold(own, sound, wanted)
    _unsaved(own)
    _save(own)
    return True


def change_field(path: str, value: Any) -> bool:
    """Set one field of the case by its path (``None``: not recorded); see :func:`change`."""
    from recommender.domain.fields import with_field

    held = case()
    if held is None:
        return False
    try:
        return change(with_field(held, path, value), at=path)
    except ValueError as error:
        refuse(path, _told("screen.not_taken", why=str(error)))
        return False


def _told(code: str, **args: str) -> str:
    from recommender.wording.words import words_in

    return words_in(numbering()).told(code, **args)


def _why_not(data: dict[str, Any]) -> str:
    """Why the format does not allow these values: the field in words, what was found, what is allowed."""
    from recommender.domain.errors import CaseError
    from recommender.domain.labels import field_label
    from recommender.domain.reader import read_value

    try:
        read_value(data, "the case")
    except CaseError as error:
        first = error.problems[0]
        named = field_label(first.field, numbering()) if first.field else "the case"
        return _told("screen.not_taken_field", field=named, found=first.found, allowed=first.allowed)
    return _told("screen.not_taken_format")


def can_undo() -> bool:
    """Whether there is a change to take back."""
    return bool(store().get(_UNDO))


def can_redo() -> bool:
    """Whether there is a change that was taken back."""
    return bool(store().get(_REDO))


def undo() -> None:
    """Take the last change back."""
    _step(_UNDO, _REDO)


def redo() -> None:
    """Make the last change again that was taken back."""
    _step(_REDO, _UNDO)


def _step(source: str, other: str) -> None:
    own = store()
    held, stack = own.get(_CASE), list(own.get(source, []))
    if held is None or not stack:
        return
    before, chosen = stack.pop()
    own[source] = stack
    own[other] = [*own.get(other, []), (held, dict(own.get(_CHOICES) or {}))]
    if before.id != held.id:
        own[_SEEN] = drafts.revision(before.id)
    _hold(own, before, dict(chosen))
    _unsaved(own)
    _save(own)


def _hold(own: dict[str, Any], new: Case, chosen: dict[str, Any]) -> None:
    own[_CASE] = new
    own[_CHOICES] = chosen
    own.pop(_TROUBLE, None)
    own.pop(_REFUSED, None)


def _unsaved(own: dict[str, Any]) -> None:
    """Notes, before anything can break off the run, that the case has to be saved and which entry changed it."""
    own[_UNSAVED] = True
    entry = own.pop(visitor.ENTRY, None)
    if entry is not None:
        name, number = entry
        own[name] = number


def _save(own: dict[str, Any]) -> None:
    """Save the case in hand; what another tab saved meanwhile is never written over unseen."""
    held = own.get(_CASE)
    if held is None or own.get(_CONFLICT) is not None:
        return
    made = dict(own.get(_CHOICES) or {})
    try:
        undo = history.packed(held, made, own.get(_UNDO, []))
        draft = drafts.save(held, int(own.get(_SEEN, 0)), made, undo)
    except drafts.ChangedElsewhere as other:
        own[_CONFLICT] = other.stored
    except drafts.DraftError as error:
        own[_TROUBLE] = _told("screen.not_saved", why=str(error))
    else:
        own[_SEEN] = draft.revision
    own.pop(_UNSAVED, None)  # not where the run was broken off: the next one saves


# -- two tabs on one case --------------------------------------------------------------------------------


def conflict() -> drafts.Draft | None:
    """What another tab saved of the case in hand, if this tab has not seen it."""
    found: drafts.Draft | None = store().get(_CONFLICT)
    return found


def take_theirs() -> None:
    """Go on with what the other tab saved; this tab's version can be had back by undo."""
    own = store()
    stored, held = own.get(_CONFLICT), own.get(_CASE)
    if stored is None or held is None:
        return
    own[_UNDO] = [*own.get(_UNDO, []), (held, dict(own.get(_CHOICES) or {}))]
    own[_CONFLICT], own[_SEEN] = None, stored.revision
    _hold(own, stored.case, dict(stored.choices))


def keep_mine() -> None:
    """Save this tab's version over what the other tab saved, which has now been seen."""
    own = store()
    stored = own.get(_CONFLICT)
    if stored is None:
        return
    own[_UNDO] = [*own.get(_UNDO, []), (stored.case, dict(stored.choices))]
    own[_CONFLICT], own[_SEEN] = None, stored.revision
    _save(own)


def sync() -> None:
    """At the start of every run: the address and the session brought together; other tabs looked at."""
    asked = st.query_params.get("case")
    held = case()
    if held is None and asked:
        try:
            found = open_by_id(asked)
        except drafts.DraftError as error:
            found = True
            store()[_TROUBLE] = str(error)
        if not found:
            store()[_TROUBLE] = _told("screen.no_such_case", case=repr(asked))
            st.query_params.pop("case", None)
    elif held is not None:
        if (
            store().get(_UNSAVED) and conflict() is None
        ):  # the run was broken off between the change and its saving
            with visitor.alone():
                _save(store())
        if asked != held.id:
            st.query_params["case"] = held.id
        if conflict() is None and drafts.revision(held.id) > int(store().get(_SEEN, 0)):
            stored = drafts.load(held.id)
            if stored is not None and (stored.case != held or dict(stored.choices) != choices()):
                store()[_CONFLICT] = stored
            elif stored is not None:
                store()[_SEEN] = stored.revision


def trouble() -> str | None:
    """What went wrong last; it stays until something is changed or :func:`forget_trouble` is called."""
    found: str | None = store().get(_TROUBLE)
    return found


def forget_trouble() -> None:
    """Take the message away."""
    store().pop(_TROUBLE, None)


def say(text: str) -> None:
    """Keep a message for the top of the next page that is drawn."""
    store()[_TROUBLE] = text


def refuse(at: str, text: str) -> None:
    """Keep why an entry was not taken over, to be told at its field; without a field, at the top of the page."""
    store()[_REFUSED] = {at: text} if at else {}
    if not at:
        say(text)


def refused(at: str) -> str | None:
    """Why the last entry at this field was not taken over, until something is changed."""
    found: str | None = (store().get(_REFUSED) or {}).get(at)
    return found


def uploads() -> int:
    """Number of the file picker in use; a new number is an empty picker."""
    return int(store().get(_UPLOADS, 0))


def clear_upload() -> None:
    """Empty the file picker."""
    store()[_UPLOADS] = uploads() + 1


# -- tooth numbers ---------------------------------------------------------------------------------------


def numbering() -> str:
    """The user's numbering: ``iso`` or ``universal``."""
    return str(store().get(_NUMBERS) or "iso")


def set_numbering(system: str) -> None:
    """Choose ``iso`` or ``universal`` for everything that is shown."""
    store()[_NUMBERS] = system
    if system == "universal":
        st.query_params["numbers"] = system
    else:
        st.query_params.pop("numbers", None)


def tooth(number: int) -> str:
    """A tooth number as the user writes it."""
    from recommender.domain.numbering import display

    return display(number, numbering())
