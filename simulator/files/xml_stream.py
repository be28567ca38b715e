"""XML from a stranger, read as a stream: no tree, no document type, no entities, bounded depth.

Memory does not grow with the file beyond the bytes themselves: elements come one after the other,
and the caller keeps what it needs.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Mapping, Sequence
from typing import Protocol
from xml.parsers import expat

from simulator.errors import InputError

MAX_DEPTH = 100
MAX_TEXT_CHARS = 2_000
"""What an element's text is cut to; numbers, times and names are shorter."""

MAX_NAMES = 2_000
"""Different names of elements in one document; a rich GPX has fifty."""

_CHUNK_BYTES = 4_000_000
_OPENS = re.compile(rb"(?:\xef\xbb\xbf|\xff\xfe|\xfe\xff)?[\s\0]*<")
_CODES_OF_AN_END = [
    expat.errors.codes[words]
    for words in (expat.errors.XML_ERROR_NO_ELEMENTS, expat.errors.XML_ERROR_UNCLOSED_TOKEN)
]
_ENCODING = re.compile(rb"""<\?xml[^>]{0,200}?encoding\s*=\s*["']([A-Za-z0-9._-]{1,40})["']""")
_TEXT_ENCODINGS = re.compile(
    r"utf-8|utf-16(-[lb]e)?|ascii|iso8859-\d+|cp\d+|koi8-[rut]|mac-\w+|shift_jis|euc_\w+|gb\w+|big5"
)


class ElementSink(Protocol):
    """What is told about each element; names come without prefix, in small letters."""

    def start(self, name: str, attributes: Mapping[str, str], depth: int) -> None:
        """An element opens; the root has depth 1."""

    def end(self, name: str, text: str, depth: int) -> None:
        """It closes; `text` is what stood in it since its last child."""


def stream_xml(
    data: bytes, sink: ElementSink, *, file: str, roots: Sequence[str], expected: str, mend: str
) -> str:
    """Tell a sink about each element of a document.

    Parameters
    ----------
    data : bytes
        The file.
    sink : ElementSink
        May raise; what it raises comes out of here.
    file : str
        Its name, for messages.
    roots : sequence of str
        Names that the outermost element may have, in small letters.
    expected, mend : str
        For messages about another file.

    Returns
    -------
    str
        Name of the outermost element.

    Raises
    ------
    InputError
        If it is not well-formed XML in a known encoding, of another kind, declares a document
        type or entities, or nests deeper than `MAX_DEPTH` or has
        more than `MAX_NAMES` names.
    """
    walk = _Walk(sink, file=file, roots=roots, expected=expected, mend=mend)
    parser = expat.ParserCreate(intern=None)  # a file of a million names is not remembered
    parser.buffer_text = True
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.end
    parser.CharacterDataHandler = walk.text
    parser.StartDoctypeDeclHandler = walk.refuse_document_type
    parser.EntityDeclHandler = walk.refuse_document_type
    decoder = codecs.getincrementaldecoder(_encoding_of(data, file, expected))()
    try:
        for start in range(0, len(data), _CHUNK_BYTES):
            text = decoder.decode(data[start : start + _CHUNK_BYTES])
            # Decoded here: what the declaration says of bytes is no longer true, nor heeded.
            parser.Parse(text.lstrip("\ufeff \t\r\n") if start == 0 else text, False)
        parser.Parse(decoder.decode(b"", final=True), True)
    except UnicodeDecodeError as error:
        found = f"not readable as text ({error.encoding})"
        raise InputError(file=file, found=found, expected=expected) from None
    except (expat.ExpatError, ValueError) as error:  # ValueError: letters that are half of one
        raise _not_xml(data, error, file=file, expected=expected, mend=mend) from None
    return walk.root


def _not_xml(data: bytes, error: Exception, *, file: str, expected: str, mend: str) -> InputError:
    """The complaint about a file that the parser gave up; what it is instead, where that shows."""
    line = getattr(error, "lineno", None)
    place = f"line {line}" if line else ""
    found = "not well-formed XML"
    if not _OPENS.match(data):
        place, found = "", f"{found}, as it does not begin with `<`"
        mend = "is it the file of another option?"
    elif getattr(error, "code", None) in _CODES_OF_AN_END:
        found = f"{found}, as the file breaks off here"
    return InputError(file=file, place=place, found=found, expected=expected, mend=mend)


class _Walk:
    """Where in the document the parser is."""

    def __init__(
        self, sink: ElementSink, *, file: str, roots: Sequence[str], expected: str, mend: str
    ) -> None:
        self.sink = sink
        self.file = file
        self.roots = roots
        self.expected = expected
        self.mend = mend
        self.root = ""
        self.depth = 0
        self.parts: list[str] = []
        self.n_chars = 0
        self.locals: dict[str, str] = {}  # name as written -> without prefix, in small letters

    def start(self, name: str, attributes: dict[str, str]) -> None:
        name = self._local(name)
        self.depth += 1
        if self.depth == 1:
            self._take_root(name)
        elif self.depth > MAX_DEPTH:
            raise InputError(
                file=self.file,
                found=f"elements are nested more than {MAX_DEPTH} deep",
                expected=self.expected,
                mend=self.mend,
            )
        self.parts.clear()
        self.n_chars = 0
        self.sink.start(name, attributes, self.depth)

    def end(self, name: str) -> None:
        self.sink.end(self.locals[name], "".join(self.parts), self.depth)
        self.depth -= 1
        self.parts.clear()
        self.n_chars = 0

    def text(self, text: str) -> None:
        if self.n_chars < MAX_TEXT_CHARS:
            self.parts.append(text[: MAX_TEXT_CHARS - self.n_chars])
            self.n_chars += len(text)

    def _local(self, name: str) -> str:
        local = self.locals.get(name)
        if local is None:
            if len(self.locals) >= MAX_NAMES:
                raise InputError(
                    file=self.file,
                    found=f"more than {MAX_NAMES} different elements",
                    expected=self.expected,
                    mend=self.mend,
                )
            local = self.locals[name] = name.rpartition(":")[2].casefold()
        return local

    def _take_root(self, name: str) -> None:
        if name not in self.roots:
            raise InputError(
                file=self.file,
                found=f"an XML file of another kind (<{name[:40]}>)",
                expected=self.expected,
                mend=self.mend,
            )
        self.root = name

    def refuse_document_type(self, *_: object) -> None:
        raise InputError(
            file=self.file,
            found="the file declares a document type or entities, which can be used to attack",
            expected=self.expected,
            mend="export it again or delete the <!DOCTYPE ...> part",
        )


def _encoding_of(data: bytes, file: str, expected: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    declared = _ENCODING.match(data[:1000].removeprefix(b"\xef\xbb\xbf").lstrip())
    if declared is None:
        return "utf-8"
    written = declared.group(1).decode("ascii")
    try:
        name = codecs.lookup(written).name
    except LookupError:
        name = ""
    if not _TEXT_ENCODINGS.fullmatch(name):
        found = f"not readable as text ({written})"
        raise InputError(file=file, found=found, expected=expected)
    # The declaration was read byte by byte: pairs of bytes it cannot be, whatever it says.
    return "utf-8" if name.startswith("utf-16") else name
