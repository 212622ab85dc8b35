"""``read-order`` end to end."""

import json
from pathlib import Path

from click.testing import CliRunner
from jsonschema import validate

from recommender.cli.main import main

ORDER = "upper RPD, missing 1-4, 14; I-bar #5, circumferential 12 & 15, horseshoe; no clasp on 11"


def _run(*arguments: str, stdin: str | None = None) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, ["read-order", *arguments], input=stdin)
    return result.exit_code, result.stdout, result.stderr


def test_one_line_an_arch(tmp_path: Path) -> None:
    path = tmp_path / "order.txt"
    path.write_text(ORDER, encoding="utf-8")
    status, out, _ = _run(str(path), "--json")
    assert status == 0
    (line,) = out.splitlines()
    document = json.loads(line)
    assert document["arch"] == "maxilla"
    assert document["numbering"] == "universal"
    assert document["case"]["missing"] == [18, 17, 16, 15, 26]
    assert document["case"]["prescription"]["retainers"] == {
        "14": "i_bar",
        "24": "circumferential",
        "27": "circumferential",
    }
    assert document["not"] == {"retainers": {"23": ["any"]}}
    assert {"field", "words"} <= set(document["from"][0])
    assert document["ask"] == []


def test_a_folder_names_each_order(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(
        "Upper: missing 14 15 24. Lower: missing 36, lingual bar", encoding="utf-8"
    )
    (tmp_path / "b.txt").write_text("OK, 14 fehlt", encoding="utf-8")
    (tmp_path / "c.txt").write_bytes(b"\xff\xfe")
    status, out, _ = _run(str(tmp_path), "--json")
    lines = [json.loads(line) for line in out.splitlines()]
    assert [(line.get("order"), line.get("arch")) for line in lines[:3]] == [
        ("a.txt", "maxilla"), ("a.txt", "mandible"), ("b.txt", "maxilla"),
    ]  # fmt: skip
    assert "error" in lines[3]
    assert status == 1


def test_words_say_each_tooth_back(tmp_path: Path) -> None:
    status, out, _ = _run("-", stdin=ORDER)
    assert status == 0
    assert "5 upper right first premolar: I-bar clasp" in out
    assert 'Ruled out: clasp of any kind on 11 upper left canine  <- "no clasp on 11"' in out
    status, out, _ = _run("-", "--numbering", "iso", stdin="missing 12, 13, 14")
    assert "12 upper right lateral incisor" in out


def test_what_cannot_be_read_is_one_clear_error(tmp_path: Path) -> None:
    status, _, error = _run(str(tmp_path / "none.txt"))
    assert status == 1
    assert "none.txt" in error
    status, _, error = _run("-", stdin="")
    assert status == 1
    assert "an empty order" in error
    status, _, error = _run("-", stdin="x" * 30_000)
    assert status == 1
    assert "20,000" in error


def test_what_is_printed_keeps_to_its_schema(tmp_path: Path) -> None:
    from recommender.resources import shared
    from tests.orders.scoring import orders

    schema = json.loads(shared("schema", "read-order.schema.json").read_text(encoding="utf-8"))
    for index, order in enumerate(orders("orders_later.yaml")[:20]):
        (tmp_path / f"{index:02}.txt").write_text(str(order["text"]), encoding="utf-8")
    (tmp_path / "zz.txt").write_bytes(b"\xff")
    _, out, _ = _run(str(tmp_path), "--json")
    lines = [json.loads(line) for line in out.splitlines()]
    assert len(lines) >= 21
    for line in lines:
        validate(line, schema)
