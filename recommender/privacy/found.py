"""What was found in a text."""

from dataclasses import dataclass

LABELS = {
    "name": "a name",
    "date": "a date",
    "age": "an age over 89",
    "telephone": "a telephone number",
    "e_mail": "an e-mail or web address",
    "record": "a record number",
    "number": "a long number",
    "address": "an address",
}


@dataclass(frozen=True, slots=True)
class Found:
    """A place in a text that could identify somebody: characters ``start`` to ``end`` (from 0), its kind (a key of
    ``LABELS``) and the words."""

    start: int
    end: int
    kind: str
    words: str

    @property
    def label(self) -> str:
        """The kind in words."""
        return LABELS[self.kind]


Place = tuple[int, int, str]  # start, end, kind
