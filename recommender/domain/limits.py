"""What a file may be before anybody looks at what it says; of a case file size, encoding, characters, nesting, counts.

The limits are many times what the largest real case needs (about 1,000 values, seven levels, 40 kB).
"""

import re
from pathlib import Path

from recommender.domain.errors import CaseError, Problem

MOST_BYTES = 4_000_000
MOST_UPLOAD_MB = 200  # of any file given to the screens: a scan, a register, a backup
MOST_DEPTH = 24
MOST_EVENTS = 20_000
MOST_DIGITS = 18
MOST_TEXT = 20_000

_FOREIGN_ENCODINGS = {
    b"\x00\x00\xfe\xff": "UTF-32",
    b"\xff\xfe\x00\x00": "UTF-32",
    b"\xff\xfe": "UTF-16",
    b"\xfe\xff": "UTF-16",
}
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")


def refuse(at: str, found: str, allowed: str, hint: str = "") -> CaseError:
    """An error about the file as a whole."""
    return CaseError([Problem(at, "", found, allowed, hint)], Path(at.split(":")[0]).name or at)


def read_bytes(path: Path) -> bytes:
    """The bytes of a regular file that is not too large; ``CaseError`` otherwise."""
    name = str(path)
    try:
        if not path.is_file():
            found = "a folder" if path.is_dir() else "no regular file" if path.exists() else "no such file"
            raise refuse(name, found, "a YAML or JSON file")
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise refuse(
            name, f"a file that cannot be read ({error.strerror})", "a readable YAML or JSON file"
        ) from error
    if len(data) > MOST_BYTES:
        raise refuse(name, f"{path.stat().st_size:,} bytes", f"at most {MOST_BYTES:,} bytes for a case")
    return data


def decode(data: bytes, name: str) -> str:
    """The text of a file; ``CaseError`` where it is too long, empty, or not plain UTF-8 text."""
    if len(data) > MOST_BYTES:
        raise refuse(name, f"{len(data):,} bytes or more", f"at most {MOST_BYTES:,} bytes for a case")
    for mark, encoding in _FOREIGN_ENCODINGS.items():
        if data.startswith(mark):
            raise refuse(name, f"text encoded as {encoding}", "text encoded as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - data.rfind(b"\n", 0, error.start)
        at = f"{name}:{line}:{column}"
        raise refuse(at, f"the byte 0x{data[error.start]:02x}", "text encoded as UTF-8") from None
    return check_text(text, name)


def control_character(text: str) -> str | None:
    """The first control character in a text, as ``U+0000``; ``None`` where there is none."""
    found = _CONTROL.search(text)
    return f"U+{ord(found.group()):04X}" if found else None


def check_text(text: str, name: str) -> str:
    """The text without a byte order mark; ``CaseError`` where it is too long, empty or not plain text."""
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_BYTES:
        raise refuse(name, f"{len(text):,} characters", f"at most {MOST_BYTES:,} bytes for a case")
    found = _CONTROL.search(text)
    if found:
        start = found.start()
        at = f"{name}:{text.count(chr(10), 0, start) + 1}:{start - text.rfind(chr(10), 0, start)}"
        raise refuse(
            at, f"the control character U+{ord(found.group()):04X}", "plain text (a YAML or JSON file)"
        )
    if not text.strip():
        raise refuse(f"{name}:1:1", "an empty file", "a case: at least format, id, arch and missing")
    return text
