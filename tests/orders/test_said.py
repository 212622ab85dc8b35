"""What can be said: for every value of a field the ways in which dentists put it, each read in a short order.

A file ``said_<language>.yaml`` holds

- ``orders``: for each arch a short order (``text``, a ``connector`` that is left out where one is said), ``teeth`` to
  say things of, the first tooth of a ``space``;
- ``said``: for each arch the path of a field, its values, and the phrases for each. ``{t}`` is a tooth in a path, a
  value or a phrase; a path of ``abutments.`` or ``spans.`` is of that tooth or of the space. A list is written as
  words, an empty one as ``none``;
- ``frames``: whole orders as in ``orders_*.yaml``.

Several phrases share an order, never two of one path, and each that speaks of a tooth has its own.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest
import yaml

from recommender.orders.read import read_order
from tests.orders.scoring import HERE, Score, fields, score

FILES = sorted(path.name for path in HERE.glob("said_*.yaml"))
MOST = 3  # phrases of one part of the format in an order


@dataclass(frozen=True)
class Phrase:
    """One way to say a value of a field."""

    path: str
    value: Any
    text: str

    @property
    def part(self) -> str:
        """The part of the format that the path begins with."""
        return self.path.split(".", 1)[0]

    def of(self, tooth: int, space: int) -> "Phrase":
        """The phrase said of a tooth or a space."""
        place = {"abutments": tooth, "spans": space}.get(self.part)
        path = self.path if place is None else self.path.replace(".", f".{place}.", 1)
        put = [one.replace("{t}", str(tooth)) for one in (path, str(self.value), self.text)]
        return Phrase(put[0], put[1], put[2])


@cache
def document(name: str) -> dict[str, Any]:
    """One file."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    found: dict[str, Any] = yaml.load((HERE / name).read_text(encoding="utf-8"), loader)
    return found


def phrases(name: str, arch: str) -> list[Phrase]:
    """Every phrase of a file for an arch."""
    paths: Mapping[str, Any] = document(name)["said"].get(arch, {})
    return [
        Phrase(path, value, str(text))
        for path, values in paths.items()
        for value, ways in values.items()
        for text in ways
    ]


def bundles(name: str, arch: str) -> Iterator[list[Phrase]]:
    """The phrases of an arch parted into orders."""
    order = document(name)["orders"][arch]
    made: list[list[Phrase]] = []
    for one in phrases(name, arch):
        for held in made:
            alike = [other for other in held if other.part == one.part]
            room = 1 if one.part in ("spans", "prescription") else MOST
            free = "{t}" not in one.text or sum("{t}" in other.text for other in held) < len(order["teeth"])
            if free and len(alike) < room and all(other.path != one.path for other in held):
                held.append(one)
                break
        else:
            made.append([one])
    for held in made:
        teeth = iter(order["teeth"])
        yield [
            one.of(next(teeth) if "{t}" in one.text else order["teeth"][0], order["space"]) for one in held
        ]


def faults(name: str, arch: str, said: list[Phrase]) -> list[str]:
    """What an order made of some phrases is not read as."""
    order = document(name)["orders"][arch]
    connector = "" if any(".connector" in one.path for one in said) else f" {order['connector']}."
    text = f"{order['text']}{connector} {'. '.join(one.text for one in said)}."
    read = next((one for one in read_order(text, "iso") if one.arch == arch), None)
    got = fields(read.case) if read else {}
    wrong = [
        f"{one.text!r}: {one.path} {_plain(got.get(one.path))}, not {one.value}"
        for one in said
        if _plain(got.get(one.path)) != one.value
    ]
    marked = (
        {p.path.replace("[", ".").replace("]", "") for p in read.proposals if p.marked} if read else set()
    )
    wanted = {one.path for one in said} | {"missing", "prescription.connector"}
    about = {
        one.path.rsplit(".", 1)[0] for one in said if one.part == "abutments"
    }  # more may be said of a tooth
    extra = [p for p in got if p not in wanted | marked and p.rsplit(".", 1)[0] not in about]
    wrong += [f"{text!r}: {path} {got[path]} is not said" for path in extra]
    return wrong


def _plain(value: Any) -> str:
    """A value as a file writes it."""
    if isinstance(value, frozenset | tuple):
        return " ".join(sorted(map(str, value))) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("arch", ["maxilla", "mandible"])
def test_every_phrase_is_read(name: str, arch: str) -> None:
    found = [fault for said in bundles(name, arch) for fault in faults(name, arch, said)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("name", FILES)
def test_every_frame_is_read(name: str) -> None:
    total = Score()
    for order in document(name)["frames"]:
        total.add(score(order))
    assert total.stated
    assert not total.faults, "\n".join(total.faults)
