"""What the columns of a spreadsheet mean, remembered by its heading row."""

from collections.abc import Mapping, Sequence

import orjson
from sqlalchemy import delete, insert, select

from recommender.precedents.store.errors import UnfitText
from recommender.precedents.store.gate import checked_who
from recommender.precedents.store.importing.sheets import digest_of
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import mappings
from recommender.privacy.gate import first_in


def mapping_for(library: Library, names: Sequence[str]) -> dict[str, str]:
    """The mapping remembered for a table with these headings; empty if there is none."""
    query = select(mappings.c.mapping).where(mappings.c.headings == digest_of(names))
    with library.reading() as connection:
        text = connection.scalar(query)
    return {} if text is None else {str(key): str(value) for key, value in orjson.loads(text).items()}


def remember(library: Library, names: Sequence[str], mapping: Mapping[str, str], *, who: str) -> None:
    """Remembers a mapping for tables with these headings, instead of the one before.

    Raises ``UnfitText`` for a heading that may identify somebody.
    """
    for name in names:
        found = first_in(name)
        if found is not None:  # a table without headings has a patient's row at its top
            raise UnfitText(f"the heading {name!r} holds {found.label}; give the table a row of headings")
    digest = digest_of(names)
    row = {
        "headings": digest,
        "shown": orjson.dumps(list(names)).decode(),
        "mapping": orjson.dumps(dict(mapping)).decode(),
        "who": checked_who(who),
        "at": now(),
    }
    with library.writing() as connection:
        connection.execute(delete(mappings).where(mappings.c.headings == digest))
        connection.execute(insert(mappings).values(row))
