"""From bytes to text: byte-order marks, encodings, and what is no text at all.

Here: deciding how bytes are to be read. Not here: lines and fields (layout.py).
"""

import codecs
import re

from packs.strict_json import InputRefused
from packs.words import told

LARGEST_LOG_BYTES = 300_000_000
HEAD_BYTES = 65_536
CUT_BYTES = 4
"""A character of UTF-8 has at most four bytes; fewer at the end are what was cut off."""
STRANGE_SHARE = 0.01
"""More control characters than this are no text."""
NUL_SHARE = 0.05
UTF_16_NUL_SHARE = 0.3
MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
PACKED = (
    (b"PK\x03\x04", "a packed archive or a spreadsheet's workbook"),
    (b"PK\x05\x06", "an empty packed archive"),
    (b"\x1f\x8b", "packed"),
    (b"BZh", "packed"),
    (b"\xfd7zXZ", "packed"),
    (b"(\xb5/\xfd", "packed"),
    (b"7z\xbc\xaf", "a packed archive"),
    (b"Rar!", "a packed archive"),
    (b"\xd0\xcf\x11\xe0", "an old workbook or document"),
    (b"%PDF", "a PDF"),
    (b"SQLite format 3", "a database"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
)
CONTROLS = re.compile(rb"[\x01-\x08\x0e-\x1a\x1c-\x1f\x7f]")


def text_of(content: bytes) -> str:
    r"""Return the text that bytes hold.

    Parameters
    ----------
    content : bytes
        A whole file.

    Returns
    -------
    text : str
        Its lines end in a line feed; a byte that is no character is U+FFFD.

    Raises
    ------
    InputRefused
        At path ``file``, when it is empty, too large, packed or no text.

    Examples
    --------
    >>> text_of("T [°C]\r\n19,5".encode("latin-1"))
    'T [°C]\n19,5'
    """
    if len(content) > LARGEST_LOG_BYTES:
        raise refused("is larger than 300 MB: export a shorter stretch or fewer columns")
    for mark, kind in PACKED:
        if content.startswith(mark):
            raise refused(
                told("is {kind}, not text: unpack it or export it as delimited text", kind=kind)
            )
    text = _decoded(content)
    if not text.strip("\ufffd \t\r\n"):
        raise refused("is empty: export the log again")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.replace("\u2212", "-")


def refused(message: str) -> InputRefused:
    """Return the refusal of a file as a whole."""
    return InputRefused([("file", message)])


def _decoded(content: bytes) -> str:
    """Decode by the mark, by the pattern of zero bytes, or as UTF-8, else as Western Latin."""
    for mark, encoding in MARKS:
        if content.startswith(mark):
            return content[len(mark) :].decode(encoding, errors="replace")
    head = content[:HEAD_BYTES]
    wide = _without_mark(head)
    if wide is not None:
        return content.decode(wide, errors="replace")
    if b"\x00" in content:
        content = _without_zeros(content)
    strange = len(CONTROLS.findall(head))
    if strange > STRANGE_SHARE * len(head):
        raise refused("is not text: export the log as delimited text")
    return _latin_or_utf_8(content, head)


def _without_mark(head: bytes) -> str | None:
    """Tell UTF-16 without a mark by the zero bytes beside each plain character."""
    half = max(len(head) // 2, 1)
    even, odd = head[0::2].count(0) / half, head[1::2].count(0) / half
    if odd > UTF_16_NUL_SHARE and even == 0.0:
        return "utf-16-le"
    if even > UTF_16_NUL_SHARE and odd == 0.0:
        return "utf-16-be"
    return None


def _without_zeros(content: bytes) -> bytes:
    """Drop the zeros a logger leaves behind when its power fails; others spoil their field."""
    content = content.rstrip(b"\x00")
    if content.count(0) > NUL_SHARE * len(content):
        raise refused("is not text: export the log as delimited text")
    return content.replace(b"\x00", "\ufffd".encode())


def _latin_or_utf_8(content: bytes, head: bytes) -> str:
    """Read UTF-8 where it is UTF-8, perhaps with a spoilt byte; else Western Latin."""
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start >= len(content) - CUT_BYTES + 1 and error.start > 0:
            return content[: error.start].decode("utf-8")
    try:
        marked = not codecs.getincrementaldecoder("utf-8")().decode(head).isascii()
    except UnicodeDecodeError:
        marked = False
    if marked:
        return content.decode("utf-8", errors="replace")
    return content.decode("cp1252", errors="replace")
