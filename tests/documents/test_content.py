"""The documents' data: every option has its bench lines, every line its source, every symbol its words."""

import re

import pytest

from recommender.documents.content import content
from recommender.documents.drawing.figures import block
from recommender.documents.drawing.ink import PAINTERS
from recommender.domain import vocabulary as v
from recommender.domain.catalogue import load
from recommender.mechanics.tables import table

BENCH = content("bench")
PLAIN = {
    "always",
    "maxilla",
    "mandible",
    "extension",
    "tissue_stop",
    "palate",
    "plate",
    "torus",
    "arms",
    "allergy",
}


def test_every_option_has_its_wax_and_its_order_of_work() -> None:
    wax = BENCH["wax"]
    connectors = {*v.connectors("maxilla"), *v.connectors("mandible")}
    assert set(wax["connector"]) == connectors
    assert set(BENCH["order"]) == set(v.REPLACEMENTS)
    assert set(wax["base"]) == {"lattice", "mesh", "loops", "nail_heads", "metal"}


def test_every_figure_names_its_source() -> None:
    entries = [entry for section in ("blockout", "finish", "checks") for entry in BENCH[section]]
    wax = BENCH["wax"]
    entries += [entry for entry in wax.values() if "section" in entry]
    entries += [entry for group in ("base", "connector", "rest") for entry in wax[group].values()]
    entries += list(BENCH["order"].values())
    assert len(entries) > 50
    for entry in entries:
        assert len(entry["source"]) > 10, entry
    sizes = block("sizes")
    assert all(len(source) > 10 and value == float(value) for value, source in sizes.values())
    assert block("forms_source")


def test_bench_lines_are_called_by_words_that_exist() -> None:
    options = load().options
    retainers = options["retainer"].values()
    known = PLAIN | {f"connector:{name}" for name in options["connector"]}
    known |= {f"replacement:{name}" for name in v.REPLACEMENTS} | {f"assembly:{name}" for name in v.RETAINERS}
    known |= {f"part:{part}" for option in retainers for part in option.parts}
    known |= {f"family:{family}" for option in retainers for family in option.families}
    known |= {f"retention:{name}" for name in BENCH["wax"]["base"]}
    known |= {f"fabrication:{name}" for name in ("cast", "laser_melted", "milled")}
    known |= {f"attached:{name}" for name in ("cast_to", "soldered", "welded", "in_resin")}
    for section in ("blockout", "finish", "checks"):
        for line in BENCH[section]:
            assert set(line["applies"]) <= known, line


def test_gauges_agree_with_the_wire_gauge_formula() -> None:
    """American wire gauge, d = 0.127 mm * 92 ** ((36 - n) / 39); 22, 24 and 30 gauge are 0.64, 0.51 and 0.25 mm."""

    def gauge(number: int) -> float:
        return float(0.127 * 92 ** ((36 - number) / 39))

    for section, numbers in (("palatal_strap", (22, 24)), ("complete_plate", (24,)), ("linguoplate", (24,))):
        said = BENCH["wax"]["connector"][section]["section"]
        for number in numbers:
            assert f"{gauge(number):.2f}" in said, (section, number)
    bar = BENCH["wax"]["connector"]["lingual_bar"]["section"]
    assert "6 gauge" in bar
    assert gauge(6) == pytest.approx(4.1, abs=0.05)
    assert any(
        f"30-gauge sheet ({gauge(30):.2f} mm)" in line["text"] or "0.25 mm" in line["text"]
        for line in BENCH["blockout"]
    )


def test_rows_that_are_cited_exist() -> None:
    rows = {row.id for name in ("connectors", "retention", "space") for row in table(name)}
    cited = set(re.findall(r"\b(?:CONN|RET|SPC)-\d{3}\b", str(BENCH) + str(block("sizes"))))
    assert len(cited) > 20
    assert cited <= rows


def test_every_symbol_has_its_words() -> None:
    assert set(PAINTERS) | {"indirect_retainer"} == set(block("legend"))


def test_every_size_is_used() -> None:
    """No size stands in the data that nothing draws with."""
    from pathlib import Path

    from recommender.documents import drawing

    code = "".join(path.read_text() for path in Path(drawing.__file__).parent.glob("*.py"))
    named = {name for name in block("sizes") if f'"{name}"' not in code}
    assert {name for name in named if not name.startswith("torus_")} == set()
    assert {name for name in block("paper") if f'"{name}"' not in code} == set()
