"""XML read as a run of events, with a stop for everything a hostile file may try.

Nothing is built in memory: entity bombs and external entities are refused at their declaration (no file that
we read needs a document type), as are deep nesting, millions of elements and endless tags.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any, Protocol
from xml.sax import SAXException

from defusedxml import DefusedXmlException
from defusedxml.expatreader import DefusedExpatParser

MOST_ELEMENTS = 700_000
MOST_DEPTH = 64
_CHUNK = 65_536
# The parser scans an unfinished tag again with each chunk, so that one tag of many megabytes takes minutes.
_MOST_SILENT_BYTES = 2_000_000


class UnusableXmlError(Exception):
    """The XML cannot be read; carries what is wrong and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        self.what, self.mend = what, mend
        super().__init__(f"{what} {mend}")


class Listener(Protocol):
    """What hears the events. Names come without namespace prefix."""

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        """Hear an element begin, with the number of its line."""

    def end(self, name: str) -> None:
        """Hear an element end."""

    def text(self, chunk: str) -> None:
        """Hear a piece of text."""


class SilentListener:
    """A listener that hears nothing; others override what they need."""

    def start(self, name: str, attributes: Mapping[str, str], line: int) -> None:
        """Hear an element begin."""

    def end(self, name: str) -> None:
        """Hear an element end."""

    def text(self, chunk: str) -> None:
        """Hear text."""


def local_name(name: str) -> str:
    """Give a name without its namespace prefix."""
    return name.rpartition(":")[2] if ":" in name else name


class _Parser(DefusedExpatParser):
    """Hands events to a listener and counts them.

    The handlers stand on the parser itself: the way through the interfaces of SAX takes twice the time.
    """

    def __init__(self, listener: Listener, most_elements: int) -> None:
        self._listener, self._most = listener, most_elements
        self._depth = self._elements = self.events = 0
        super().__init__(forbid_dtd=True, forbid_entities=True, forbid_external=True)

    def reset(self) -> None:
        super().reset()
        self._parser: Any
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._characters

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.events += 1
        self._depth += 1
        self._elements += 1
        if self._depth > MOST_DEPTH:
            raise UnusableXmlError(f"Its elements are nested more than {MOST_DEPTH} deep.", "Export the file again.")
        if self._elements > self._most:
            what = f"It holds more than {self._most:,} rows, cells or points."
            raise UnusableXmlError(what, "Delete empty rows, or split it into smaller files.")
        self._listener.start(local_name(name), attributes, self._parser.CurrentLineNumber)

    def _end(self, name: str) -> None:
        self.events += 1
        self._depth -= 1
        self._listener.end(local_name(name))

    def _characters(self, chunk: str) -> None:
        self.events += 1
        self._listener.text(chunk)


def walk_xml(stream: IO[bytes], listener: Listener, most_elements: int = MOST_ELEMENTS) -> None:
    """Read a document to its end; raises UnusableXmlError, and what the listener raises to stop it."""
    try:
        _feed(_Parser(listener, most_elements), stream)
    except DefusedXmlException:
        raise UnusableXmlError(
            "It declares a document type or entities, which no file of this kind needs and which can be an attack.",
            "Export the file again from the device or program that made it.",
        ) from None
    except SAXException as error:
        line = getattr(error, "getLineNumber", lambda: None)()
        raise UnusableXmlError(
            f"Its XML breaks off or is damaged at line {line}.", "Copy or export the file again."
        ) from None
    except (ValueError, LookupError):
        what = "Its XML has a number that is none, or an encoding that cannot be read."
        raise UnusableXmlError(what, "Export it again, in UTF-8.") from None


def _feed(parser: _Parser, stream: IO[bytes]) -> None:
    silent, heard = 0, 0
    while chunk := stream.read(_CHUNK):
        parser.feed(chunk)
        silent = silent + len(chunk) if parser.events == heard else 0
        heard = parser.events
        if silent > _MOST_SILENT_BYTES:
            raise UnusableXmlError("One of its tags is millions of letters long.", "Export the file again.")
    parser.close()
