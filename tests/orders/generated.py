"""Orders written by rule from chosen fields, in four languages, both numberings and many layouts."""

import random
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.dentition import ARCH_ORDER, position, quadrant, runs
from recommender.domain.numbering import to_universal
from recommender.domain.vocabulary import connectors

LAYOUTS = (". ", "; ", "\n", ", ")
_SAID: dict[str, dict[str, Any]] = {
    "en": {
        "arch": {"maxilla": ["Upper partial", "max RPD", "Upper"], "mandible": ["Lower partial", "mand RPD", "Lower"]},
        "missing": ["missing {}", "{} missing", "replace {}", "teeth to replace: {}", "edentulous {}", "{} replaced"],
        "retainer": ["{c} on {t}", "{c} {t}", "{t} {c}", "{t}: {c}", "{c}: {t}", "{c} for {t}"],
        "not": ["no clasp on {}", "please no clasps on {}", "avoid clasping {}", "{}: no clasp"],
        "connector": ["{}", "connector: {}", "major connector {}", "use a {}"],
        "not_connector": ["no {}", "not a {}", "don't use a {}"],
        "and": ["and", "&"], "alloy": ["CoCr", "cobalt chrome", "material: Co-Cr"],
        "rest": ["{c} rest on {t}", "{c} rest {t}", "{t} {c} rest"],
        "site": {"mesial": "mesial", "distal": "distal", "cingulum": "cingulum"},
    },
    "de": {
        "arch": {"maxilla": ["OK Modellguss", "Oberkiefer", "OK"], "mandible": ["UK Modellguss", "Unterkiefer", "UK"]},
        "missing": ["{} fehlen", "es fehlen {}", "zu ersetzen {}", "Ersatz {}", "fehlend: {}", "{} ersetzen"],
        "retainer": ["{c} auf {t}", "{c} an {t}", "{c} {t}", "{t} {c}", "{t}: {c}", "{c}: {t}"],
        "not": ["keine Klammer auf {}", "bitte keine Klammer an {}", "{} nicht klammern", "an {} keine Klammer"],
        "connector": ["{}", "Verbinder: {}", "großer Verbinder {}"], "not_connector": ["kein {}", "bitte kein {}"],
        "and": ["und", "u.", "+"], "alloy": ["CoCr", "Kobalt-Chrom", "Legierung: CoCr"],
        "rest": ["{c}e Auflage {t}", "Auflage {c} {t}", "{t} Auflage {c}"],
        "site": {"mesial": "mesial", "distal": "distal"},
    },
    "fr": {
        "arch": {"maxilla": ["Haut", "Châssis maxillaire"], "mandible": ["Bas", "Châssis mandibulaire"]},
        "missing": ["manque {}", "{} manquent", "remplacer {}", "dents absentes : {}", "{} absentes"],
        "retainer": ["{c} sur {t}", "{c} {t}", "{t} {c}", "{t} : {c}", "{c} : {t}"],
        "not": ["pas de crochet sur {}", "sans crochet sur {}", "aucun crochet sur {}", "{} : pas de crochet"],
        "connector": ["{}", "connexion : {}"], "not_connector": ["pas de {}", "sans {}"],
        "and": ["et"], "alloy": ["cobalt-chrome", "CoCr", "alliage : cobalt-chrome"],
        "rest": ["appui {c} {t}", "appui {c} sur {t}", "{t} appui {c}"],
        "site": {"mesial": "mésial", "distal": "distal", "cingulum": "cingulaire"},
    },
    "es": {
        "arch": {"maxilla": ["Superior", "PPR superior"], "mandible": ["Inferior", "PPR inferior"]},
        "missing": ["faltan {}", "{} ausentes", "reponer {}", "ausentes: {}", "a reponer {}"],
        "retainer": ["{c} en {t}", "{c} {t}", "{t} {c}", "{t}: {c}", "{c}: {t}"],
        "not": ["sin gancho en {}", "no poner gancho en {}", "evitar gancho en {}", "{}: sin gancho"],
        "connector": ["{}", "conector: {}", "conector mayor {}"], "not_connector": ["sin {}", "evitar {}"],
        "and": ["y"], "alloy": ["cromo-cobalto", "CoCr", "aleación: cromo-cobalto"],
        "rest": ["apoyo {c} en {t}", "apoyo {c} {t}", "{t} apoyo {c}"],
        "site": {"mesial": "mesial", "distal": "distal", "cingulum": "cingular"},
    },
}  # fmt: skip


@dataclass
class Order:
    """An order, and what it states."""

    text: str
    arch: str
    numbering: str
    case: dict[str, Any] = field(default_factory=dict)


@cache
def _phrases(kind: str, language: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for entry in lx.lexicon().of(kind):
        # an embrasure clasp has two teeth of its own, "unilateral" is no word for one arch
        if entry.language == language and entry.identifier not in ("none", "embrasure", "unilateral"):
            found.setdefault(entry.identifier, []).append(entry.phrase)
    return found


def order(seed: int) -> Order:
    """One order; the same seed gives the same order."""
    rng = random.Random(seed)
    language = rng.choice(("en", "en", "de", "fr", "es"))
    said = _SAID[language]
    numbering = rng.choice(("iso", "universal")) if language == "en" else "iso"
    arch = rng.choice(tuple(ARCH_ORDER))
    row = [tooth for tooth in ARCH_ORDER[arch] if position(tooth) < 8]
    missing: set[int] = set()
    for _ in range(rng.randint(1, 3)):
        start = rng.randrange(len(row) - 2)
        missing |= set(row[start : start + rng.randint(1, 3)])
    free = [tooth for tooth in row if tooth not in missing]
    rng.shuffle(free)
    prescription: dict[str, Any] = {}
    parts = _parts(rng, said, language, numbering, arch, free, prescription)
    first = rng.choice(said["missing"]).format(_ranges(rng, arch, missing, numbering))
    rng.shuffle(parts)
    head = rng.choice(said["arch"][arch]) + rng.choice((": ", ", ", ". "))
    text = head + rng.choice(LAYOUTS).join([first, *parts]) + "."
    return Order(text, arch, numbering, {"missing": sorted(missing), "prescription": prescription})


def _parts(
    rng: random.Random, said: dict[str, Any], language: str, numbering: str, arch: str, free: list[int],
    prescription: dict[str, Any],
) -> list[str]:  # fmt: skip
    parts: list[str] = []
    retainers = _phrases("retainer", language)
    for _ in range(rng.randint(1, 3)):
        identifier = rng.choice(sorted(retainers))
        teeth = [free.pop() for _ in range(rng.choice((1, 1, 2)))]
        prescription.setdefault("retainers", {}).update(dict.fromkeys(teeth, identifier))
        phrase = rng.choice(retainers[identifier])
        parts.append(rng.choice(said["retainer"]).format(c=phrase, t=_listed(rng, teeth, said, numbering)))
    if rng.random() < 0.5 and free:
        tooth = free.pop()
        prescription.setdefault("not", {})["retainers"] = {tooth: ["any"]}
        parts.append(rng.choice(said["not"]).format(_listed(rng, [tooth], said, numbering)))
    if rng.random() < 0.4 and free:
        tooth = free.pop()
        site = "cingulum" if position(tooth) <= 3 else rng.choice(("mesial", "distal"))
        if site in said["site"]:
            prescription["rests"] = {tooth: site}
            where = _listed(rng, [tooth], said, numbering)
            parts.append(rng.choice(said["rest"]).format(c=said["site"][site], t=where))
    named = _phrases("connector", language)
    known = [one for one in connectors(arch) if one in named]
    rng.shuffle(known)
    if rng.random() < 0.7:
        prescription["connector"] = known.pop()
        parts.append(rng.choice(said["connector"]).format(rng.choice(named[prescription["connector"]])))
    if rng.random() < 0.3:
        identifier = known.pop()
        prescription.setdefault("not", {})["connector"] = [identifier]
        parts.append(rng.choice(said["not_connector"]).format(rng.choice(named[identifier])))
    if rng.random() < 0.4:
        prescription["alloy"] = "cobalt_chromium"
        parts.append(rng.choice(said["alloy"]))
    return parts


def _listed(rng: random.Random, teeth: list[int], said: dict[str, Any], numbering: str) -> str:
    sign = "#" if numbering == "universal" and rng.random() < 0.4 else ""
    written = [sign + _number(tooth, numbering) for tooth in teeth]
    last = rng.choice((f" {rng.choice(said['and'])} ", ", "))
    return ", ".join(written[:-1]) + (last if written[:-1] else "") + written[-1]


def _ranges(rng: random.Random, arch: str, teeth: set[int], numbering: str) -> str:
    parts: list[str] = []
    for run in runs(arch, teeth):
        if len(run) > 2 and rng.random() < 0.5:
            first, last = run[0], run[-1]
            if numbering == "universal" or quadrant(first) == quadrant(last):
                first, last = sorted((first, last), key=lambda tooth: int(_number(tooth, numbering)))
            parts.append(f"{_number(first, numbering)}-{_number(last, numbering)}")
        else:
            parts += [_number(tooth, numbering) for tooth in run]
    return ", ".join(parts)


def _number(tooth: int, numbering: str) -> str:
    return str(to_universal(tooth) if numbering == "universal" else tooth)
