"""What is wrong with a scan, in one sentence that a person can act on."""

from recommender.domain.statement import Statement


class ScanError(ValueError):
    """A scan, or what was marked on it, that cannot be used; the text is one sentence without file names.

    ``statement`` says it with the teeth it is about, in whatever numbers the reader uses; ``None`` where it names
    none.
    """

    def __init__(self, text: str, statement: Statement | None = None) -> None:
        super().__init__(text)
        self.statement = statement
