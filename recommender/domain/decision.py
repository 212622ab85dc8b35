"""What is being decided."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Decision:
    """``retainer``, ``rest`` or ``replacement`` at a tooth, or the ``connector`` (tooth 0)."""

    kind: str
    tooth: int = 0

    @property
    def key(self) -> str:
        """As on the command line: ``retainer:14`` or ``connector``."""
        return f"{self.kind}:{self.tooth}" if self.tooth else self.kind

    @property
    def path(self) -> str:
        """As in the result format: ``retainers.14`` or ``connector``."""
        return f"{self.kind}s.{self.tooth}" if self.tooth else self.kind


def decision_at(path: str) -> Decision:
    """The decision of a path of the result format: ``retainers.14``, ``connector``."""
    kind, _, tooth = path.partition(".")
    return Decision(kind.removesuffix("s"), int(tooth)) if tooth else Decision(kind)
