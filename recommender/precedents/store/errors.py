"""What can go wrong with a library, each in one clear sentence that a user can act on."""

from collections.abc import Sequence

from recommender.domain.case import Case


class LibraryError(Exception):
    """Base of every message that a library gives; nothing has been changed when one is raised."""


class NotALibrary(LibraryError):  # noqa: N818 - the names say what happened
    """There is no library at that place, or the file there is something else."""


class OlderLibrary(LibraryError):  # noqa: N818
    """The library was written by an earlier version of the program and has to be migrated by command."""


class NewerLibrary(LibraryError):  # noqa: N818
    """The library was written by a later version of the program; it is refused untouched."""


class ReadOnlyLibrary(LibraryError):  # noqa: N818
    """Something tried to write to a library that is open for reading only."""


class LibraryBusy(LibraryError):  # noqa: N818
    """Another program held the library for longer than the waiting time."""


class LibraryFull(LibraryError):  # noqa: N818
    """No room left where the library lies."""


class ServerGone(LibraryError):  # noqa: N818
    """The database server cannot be reached, or went away in the middle; the open change was undone."""


class DamagedLibrary(LibraryError):  # noqa: N818
    """The file is damaged."""


class UnreadableLibrary(DamagedLibrary):
    """The file is so damaged that nothing of it can be read."""


class DamagedCase(DamagedLibrary):
    """The document of one version is not what was saved; the others are not concerned."""

    def __init__(self, case_id: str, revision: int) -> None:
        self.case_id, self.revision = case_id, revision
        super().__init__(
            f"case {case_id}, revision {revision}: damaged, its document was changed after it was saved "
            "('library repair' mends it from history or a backup)"
        )


class NoSuchCase(LibraryError):  # noqa: N818
    """The library holds no case, or no such version of it, under that id."""


class CaseExists(LibraryError):  # noqa: N818
    """A case of that id is already there; it is changed by an edit, never by adding it again."""


class UnfitText(LibraryError):  # noqa: N818
    """A text that a library does not take: control characters, or a reason that seems to name a person."""


class MayIdentify(LibraryError):  # noqa: N818
    """An approved case would hold a text that may identify a patient and that nobody has looked at; ``hits`` say
    where.
    """

    def __init__(self, case_id: str, hits: Sequence[str]) -> None:
        self.hits = tuple(hits)
        super().__init__(
            f"case {case_id} may identify a patient: {'; '.join(hits)}. Take it out, or look at it and say why not "
            "('library looked-at')"
        )


class StaleEdit(LibraryError):  # noqa: N818
    """Somebody else changed the case after it was opened for this edit.

    ``yours`` is the case that was to be saved, ``theirs`` the one in the library now; ``differences`` names
    the fields in which the two differ.
    """

    def __init__(
        self,
        yours: Case,
        theirs: Case,
        *,
        opened: int,
        current: int,
        who: str,
        at: str,
        why: str,
        differences: Sequence[tuple[str, object, object]],
    ) -> None:
        self.yours = yours
        self.theirs = theirs
        self.opened = opened
        self.current = current
        self.who = who
        self.at = at
        self.why = why
        self.differences = tuple(differences)
        shown = "; ".join(
            f"{path}: theirs {there!r}, yours {here!r}" for path, here, there in self.differences[:8]
        )
        more = f"; and {len(self.differences) - 8} more" if len(self.differences) > 8 else ""
        super().__init__(
            f"case {yours.id}: you opened revision {opened}, but {who} saved revision {current} at {at} "
            f"({why or 'no reason given'}). "
            f"Nothing was overwritten. The two differ in: {shown or 'nothing'}{more}"
        )


class NotAllowed(LibraryError):  # noqa: N818
    """The role of whoever is at work does not allow this."""


class NotLoggedIn(LibraryError):  # noqa: N818
    """Nobody is logged in, or the session has ended."""
