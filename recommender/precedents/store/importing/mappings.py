"""What the columns of a spreadsheet mean, remembered by its heading row."""

from collections.abc import Mapping, Sequence

import orjson
from sqlalchemy import delete, insert, select

from recommender.domain.lexicon import guess_heading
from recommender.precedents.store.errors import LibraryError, UnfitText
from recommender.precedents.store.importing.columns import digest_of
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import mappings, settings
from recommender.privacy.found import Found
from recommender.privacy.gate import first_in

_NAMED = "mapping:"


class NoSuchMapping(LibraryError):  # noqa: N818
    """No mapping is saved under that name."""


def mapping_for(library: Library, names: Sequence[str]) -> dict[str, str]:
    """The mapping remembered for a table with these headings; empty if there is none."""
    query = select(mappings.c.mapping).where(mappings.c.headings == digest_of(names))
    with library.reading() as connection:
        text = connection.scalar(query)
    return {} if text is None else {str(key): str(value) for key, value in orjson.loads(text).items()}


def named_mapping(library: Library, name: str) -> dict[str, str]:
    """The mapping saved under that name. Raises ``NoSuchMapping``, with the names that there are."""
    kept = library.setting(f"{_NAMED}{name}")
    if not isinstance(kept, dict):
        there = ", ".join(saved_names(library)) or "none"
        raise NoSuchMapping(f"no mapping is saved under {name!r}; saved are: {there}")
    return {str(key): str(value) for key, value in kept.items()}


def saved_names(library: Library) -> list[str]:
    """The names under which mappings are saved, in order."""
    query = select(settings.c.key).where(settings.c.key.startswith(_NAMED))
    with library.reading() as connection:
        return sorted(str(key).removeprefix(_NAMED) for key in connection.scalars(query))


def save_named(library: Library, name: str, mapping: Mapping[str, str]) -> None:
    """Saves a mapping under a name of at most 40 signs, instead of the one before. Raises ``UnfitText`` for a name or
    a heading that may identify somebody, ``NoSuchMapping`` for a name that is too long."""
    if not 0 < len(name) <= 40:
        raise NoSuchMapping("a mapping has a name of 1 to 40 signs")
    for text, found in ((name, first_in(name)), *((heading, _identity(heading)) for heading in mapping)):
        if found is not None:
            raise UnfitText(f"{text!r} holds {found.label}; give it another name")
    library.set_setting(f"{_NAMED}{name}", dict(mapping), act="import")


def _identity(heading: str) -> Found | None:
    """What in a heading may identify somebody; what the trade calls a field does not, though it be a surname as well
    (``Sesso``) or speak of a name (``Patient Name``)."""
    known = guess_heading(heading)
    return None if known is not None and known.exact else first_in(heading)


def remember(library: Library, names: Sequence[str], mapping: Mapping[str, str], *, who: str) -> None:
    """Remembers a mapping for tables with these headings, instead of the one before.

    Raises ``UnfitText`` for a heading that may identify somebody.
    """
    for name in names:
        found = _identity(name)
        if found is not None:  # a table without headings has a patient's row at its top
            raise UnfitText(f"the heading {name!r} holds {found.label}; give the table a row of headings")
    digest = digest_of(names)
    row = {
        "headings": digest,
        "shown": orjson.dumps(list(names)).decode(),
        "mapping": orjson.dumps(dict(mapping)).decode(),
        "who": library.named(who),
        "at": now(),
    }
    with library.writing("import") as connection:
        connection.execute(delete(mappings).where(mappings.c.headings == digest))
        connection.execute(insert(mappings).values(row))
