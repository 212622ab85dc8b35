"""Hostile and broken files: one clear error, and nothing executed or written."""

from pathlib import Path

import pytest

from recommender.domain import limits
from recommender.domain.errors import CaseError
from recommender.domain.reader import read_bytes, read_case, read_text
from tests.ends import ends_soon

HEAD = "format: 1\nid: a\narch: maxilla\nmissing: [15]\n"

HOSTILE: dict[str, tuple[bytes, str]] = {
    "ten megabytes": (b"title: " + b"a" * 10_000_000, "at most 4,000,000 bytes"),
    "brackets": (b"[" * 200_000, "nesting"),
    "four megabytes of brackets": (b"[" * 3_999_000, "nesting"),
    "braces": (b"{a: " * 100_000, "nesting"),
    "brackets closed in comments": (b"[ # ]\n" * 100_000, "nesting"),
    "brackets closed in quotes": (b'["]", ' * 100_000, "nesting"),
    "json nesting": (b'{"a":' * 100_000, "nesting"),
    "indentation": ("\n".join(" " * depth + "a:" for depth in range(1_500)).encode(), "nesting"),
    "dashes": (b"- " * 1_000_000, "nesting"),
    "keys of keys": (b"? " * 500_000, "key"),
    "alias": (b"format: &a 1\nid: *a\n", "alias"),
    "alias bomb": (
        b"a: &a [x, x]\n" + b"".join(b"%c: &%c [*%c, *%c]\n" % (c + 1, c + 1, c, c) for c in range(97, 120)),
        "alias",
    ),
    "self-reference": (b"a: &a [*a]\n", "alias"),
    "merge key": (b"<<: {a: 1}\n", "merge key"),
    "python tag": (b'!!python/object/apply:os.system ["touch executed"]\n', "tag"),
    "python tag on a value": (b"format: !!python/name:os.system x\n", "tag"),
    "plain tag": (b'format: !!int "1"\n', "tag"),
    "own tag": (b"format: !mine 1\n", "tag"),
    "directives": (b"%TAG ! tag:x,2000:\n" * 100_000 + b"---\na: 1\n", "directive"),
    "second document": (HEAD.encode() + b"---\n" + HEAD.encode(), "second document"),
    "many entries": (b"missing: [" + b"15," * 1_000_000 + b"]\n", "entries"),
    "many unknown keys": ("".join(f"patiemt{n}: 1\n" for n in range(9_000)).encode(), "unknown key"),
    "many wrong abutments": (HEAD.encode() + b"abutments:\n" + b"- {x: 1}\n" * 3_000, "unknown key"),
    "many repeated keys": (b"a: 1\n" * 700_000, "a second time"),
    "repeated json key": (b'{"format": 1, "format": 1}', "a second time"),
    "huge number": (HEAD.encode() + b"palate: {length_mm: " + b"9" * 3_000_000 + b"}\n", "characters"),
    "long number": (HEAD.encode() + b"palate: {length_mm: " + b"9" * 400 + b"}\n", "digits"),
    "long fraction": (HEAD.encode() + b"palate: {length_mm: 1." + b"9" * 400 + b"}\n", "digits"),
    "exponent": (HEAD.encode() + b"palate: {length_mm: 1e400}\n", "1e400"),
    "nan": (HEAD.encode() + b"palate: {length_mm: .nan}\n", "finite"),
    "json nan": (b'{"format": 1, "id": "a", "arch": "maxilla", "missing": [NaN]}', "finite"),
    "infinity": (HEAD.encode() + b"palate: {length_mm: -.inf}\n", "finite"),
    "utf-16": (HEAD.encode("utf-16"), "UTF-16"),
    "utf-16 without mark": (HEAD.encode("utf-16-le"), "control character"),
    "utf-32": (HEAD.encode("utf-32"), "UTF-32"),
    "latin-1": (HEAD.encode() + "title: Zürich\n".encode("latin-1"), "0xfc"),
    "nul": (HEAD.encode() + b"title: a\x00b\n", "control character U+0000"),
    "escape sequence": (HEAD.encode() + b"title: \x1b[31mred\n", "control character U+001B"),
    "binary": (bytes(range(256)) * 100, "the byte 0x80"),
    "image": (b"\x89PNG\r\n\x1a\n" + bytes(500), "the byte 0x89"),
    "empty": (b"", "an empty file"),
    "only spaces": (b" \n\t\n", "an empty file"),
    "only a mark": (b"\xef\xbb\xbf", "an empty file"),
    "only comments": (b"#" * 3_900_000, "nothing"),
    "blank lines": (b"\n" * 3_900_000 + b"a", "found a"),
    "one long word": (b"a: " + b"b " * 1_900_000, "characters"),
    "long key": (b"a" * 3_900_000 + b": 1\n", "characters"),
    "open quote": (b'id: "abc\n', "YAML or JSON"),
    "tab": (b"format: 1\n\tid: a\n", "spaces"),
    "unclosed quotes": (b'- "a\n' * 700_000, "YAML or JSON"),
    "a list": (b"[1, 2]", "a mapping"),
    "a number": (b"12", "a mapping"),
    "lone surrogate": (b'{"format": 1, "id": "\\ud83d"}', "YAML or JSON"),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_one_clear_error(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data, expected = HOSTILE[name]
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "case.yaml"
    path.write_bytes(data)
    with ends_soon(), pytest.raises(CaseError) as caught:
        read_case(path)
    assert expected in str(caught.value)
    assert len(caught.value.problems) <= 51
    assert all(len(str(problem)) < 1_200 for problem in caught.value.problems)
    assert [entry.name for entry in tmp_path.iterdir()] == ["case.yaml"]


@pytest.mark.parametrize("name", HOSTILE)
def test_the_same_from_standard_input(name: str) -> None:
    data, expected = HOSTILE[name]
    with pytest.raises(CaseError) as caught:
        read_bytes(data, "input")
    assert expected in str(caught.value)
    assert all(problem.at.startswith("input") for problem in caught.value.problems)


def test_a_device_is_not_read() -> None:
    with pytest.raises(CaseError, match="no regular file"):
        read_case("/dev/zero")


def test_the_limits_leave_room_for_the_largest_real_case() -> None:
    """A full arch surveyed in every zone stays far below the limits."""
    zones = ", ".join(
        f"{zone}: 0.25" for zone in ("mesiofacial", "midfacial", "distofacial", "mesial", "distal")
    )
    teeth = [*range(11, 19), *range(21, 29)]
    entries = "".join(f"- {{tooth: {t}, undercuts_mm: {{{zones}}}, mobility: 0}}\n" for t in teeth if t != 15)
    text = HEAD + "abutments:\n" + entries + f"title: {'x' * 4_900}\n"
    assert read_bytes(text.encode()).abutments is not None
    assert len(text) < limits.MOST_BYTES / 100


def test_an_escape_may_not_bring_in_a_control_character() -> None:
    for text in ('format: 1\nid: a\ntitle: "x\\0y"\n', '{"format": 1, "id": "a", "title": "x\\u0007y"}'):
        with pytest.raises(CaseError) as caught:
            read_text(text, "escape")
        assert "control character" in str(caught.value.problems[0])
