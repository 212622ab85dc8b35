"""Orders written by rule, read back; and every phrase of the lexicon in a plain sentence."""

import os

import pytest

from recommender.domain import lexicon as lx
from recommender.orders.meanings import all_meanings
from recommender.orders.read import read_order
from recommender.orders.sections import arch_of_connector
from tests.orders.generated import order
from tests.orders.scoring import fields

_LONG = bool(os.environ.get("RPD_LONG"))
# Shares of orders that may be read incompletely, or with a question; and of fields that may be wrong without a mark.
_INCOMPLETE, _ASKED, _WRONG = 0.04, 0.02, 0.001


def _read_back(seeds: range) -> tuple[int, int, int, int, list[str]]:
    incomplete = asked = wrong = stated = 0
    faults: list[str] = []
    for seed in seeds:
        written = order(seed)
        found = {one.arch: one for one in read_order(written.text)}
        one = found.get(written.arch)
        wanted, got = fields(written.case), fields(one.case) if one else {}
        stated += len(wanted)
        marked = (
            {p.path.replace("[", ".").replace("]", "") for p in one.proposals if p.marked} if one else set()
        )
        asked += any(other.ask for other in found.values())
        here = [path for path, value in got.items() if wanted.get(path) != value and path not in marked]
        wrong += len(here)
        if any(got.get(path) != value for path, value in wanted.items()):
            incomplete += 1
        if here:
            faults.append(f"{written.text!r}: {here}")
    return incomplete, asked, wrong, stated, faults


def test_what_is_written_by_rule_is_read_back() -> None:
    seeds = range(160)
    incomplete, asked, wrong, stated, faults = _read_back(seeds)
    assert incomplete <= _INCOMPLETE * len(seeds)
    assert asked <= _ASKED * len(seeds)
    assert wrong <= _WRONG * stated, "\n".join(faults)


@pytest.mark.slow
@pytest.mark.skipif(not _LONG, reason="long form: RPD_LONG=1")
def test_thousands_of_orders_are_read_back() -> None:
    seeds = range(1000, 6000)
    incomplete, asked, wrong, stated, faults = _read_back(seeds)
    assert incomplete <= _INCOMPLETE * len(seeds)
    assert asked <= _ASKED * len(seeds)
    assert wrong <= _WRONG * stated, "\n".join(faults)


_SENTENCES = {
    "en": ("Upper. Missing 25, 26. {} on 24.", "Upper. Missing 25, 26. No {} on 24."),
    "de": ("OK. 25, 26 fehlen. {} an 24.", "OK. 25, 26 fehlen. Keine {} an 24."),
    "fr": ("Haut. Manque 25, 26. {} sur 24.", "Haut. Manque 25, 26. Pas de {} sur 24."),
    "es": ("Superior. Faltan 25, 26. {} en 24.", "Superior. Faltan 25, 26. Sin {} en 24."),
}
_ARCHES = {
    "en": ("Upper. Missing 25, 26. {}", "Lower. Missing 35, 36. {}"),
    "de": ("OK. 25, 26 fehlen. {}", "UK. 35, 36 fehlen. {}"),
    "fr": ("Haut. Manque 25, 26. {}", "Bas. Manque 35, 36. {}"),
    "es": ("Superior. Faltan 25, 26. {}", "Inferior. Faltan 35, 36. {}"),
}
_EVERY = 1 if _LONG else 5
_RETAINERS = [e for e in lx.lexicon().of("retainer") if e.language in _SENTENCES and e.identifier != "none"]
_CONNECTORS = [e for e in lx.lexicon().of("connector") if e.language in _SENTENCES]


def test_every_word_for_a_retainer_is_understood_asked_for_and_ruled_out() -> None:
    for entry in _RETAINERS[::_EVERY]:
        wanted, denied = _SENTENCES[entry.language]
        asked = read_order(wanted.format(entry.phrase))[0].case["prescription"]
        assert asked["retainers"] == {24: entry.identifier}, entry
        refused = read_order(denied.format(entry.phrase))[0]
        if (
            entry.phrase == "teeth colour clasp"
        ):  # "no teeth" comes first; nothing is taken over and the note keeps it
            assert refused.case["prescription"] == {"note": f"No {entry.phrase} on 24"}
            continue
        assert refused.ruled_out == {"retainers": {24: [entry.identifier]}}, entry


def test_every_word_for_a_connector_is_understood() -> None:
    for entry in _CONNECTORS[::_EVERY]:
        lower = arch_of_connector(entry.identifier) == "mandible"
        (one,) = read_order(_ARCHES[entry.language][lower].format(entry.phrase))
        assert one.case["prescription"] == {"connector": entry.identifier}, entry


def test_the_lexicon_can_be_laid_out_while_a_person_waits() -> None:
    """Alternatives multiply: one pattern may stand for 100,000 phrases, all laid out at the first order."""
    assert 100_000 < len(all_meanings()) < 300_000
