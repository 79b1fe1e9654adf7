"""XMP as a tree: read from a packet, fields taken out and put in, and written again.

Source: XMP specification part 1 (ISO 16684-1), chapter 7: the properties of one RDF description, whose values are text,
structures, or arrays (``rdf:Bag``, ``rdf:Seq``, ``rdf:Alt``). Nothing of a packet but these is ever carried over: no
comments, no processing instructions, no text between the properties, no name of the original's file (``rdf:about``).
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from itertools import islice
from typing import Any
from xml.etree import ElementTree as ET

from lanternslide.metadata.data import is_data, is_path
from lanternslide.metadata.letters import codec_of, read
from lanternslide.metadata.xmp.namespaces import RDF, SPELT_OTHERWISE, XML, name_of, tag_of
from lanternslide.metadata.xmp.spelling import spelt

__all__ = ["Xmp", "key_of"]

MOST_LOST = 50
"""Fields of one node that are named at most (a choice)."""

MOST_FIELDS, LONGEST_KEY = 20_000, 1_000
"""Fields of structures that are told apart, and letters of a key, at most (a choice; the standards' own have 200)."""

DEPTH = 50
"""Elements inside one another at the most (a choice; the standards' own fields need 12)."""

DECLARES = re.compile(r"<!\s*(?:DOCTYPE|ENTITY)", re.IGNORECASE)
WRAPPER = re.compile(r"<\?x(?:packet|ml)\b[^<>]*\?>")
BEGINNINGS = ("xmpmeta", "xapmeta", ":RDF")
"""What a packet is in (ISO 16684-1, 7.3.3; the second is an old name)."""

WIDE = (("utf-32-le", 4), ("utf-32-be", 4), ("utf-16-le", 2), ("utf-16-be", 2))
"""Encodings of several bytes a letter, and how many."""

NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|&#(?:0*(?:[0-8]|1[124-9]|2\\d|3[01])"
                    "|x0*(?:[0-8bcefBCEF]|1[0-9a-fA-F]));")  # fmt: skip
"""Characters that XML 1.0 (2.2) does not know, and careless programs write."""

LANGUAGE = re.compile(r"[A-Za-z]{1,8}(?:-[A-Za-z0-9]{1,8})*")
"""BCP 47, by its looks."""

BAG, SEQ, ALT, ITEM, DESCRIPTION, VALUE = (
    f"{{{RDF}}}{name}" for name in ("Bag", "Seq", "Alt", "li", "Description", "value")
)
PARSE_TYPE, RESOURCE, LANG = f"{{{RDF}}}parseType", f"{{{RDF}}}resource", f"{{{XML}}}lang"
NODE = f"{{{RDF}}}nodeID"
"""What stands elsewhere in the packet (RDF 1.1 XML Syntax, 7.2.29), which XMP does not know."""

NUMBERED = re.compile(re.escape(f"{{{RDF}}}_") + r"[1-9][0-9]*")
"""Items of an array by their number (RDF 1.1 XML Syntax, 2.15 and 7.4)."""

FRAME = frozenset({BAG, SEQ, ALT, ITEM, DESCRIPTION, VALUE})
"""Elements that hold values together, and have no name of their own."""

OF_SYNTAX = frozenset({PARSE_TYPE, RESOURCE, LANG, VALUE})
"""Attributes that are no fields."""

Keep = Callable[[str], bool]


def key_of(tag: str, parent: str = "") -> str:
    """Return the key of a property, or of a field of a structure that has the key *parent*."""
    prefix, local = name_of(tag)
    return f"{parent}/{prefix}:{local}" if parent else f"Xmp.{prefix}.{local}"


@dataclass(slots=True)
class Xmp:
    """The properties of a picture, each once."""

    properties: dict[str, ET.Element] = field(default_factory=dict)  #: By their tags.
    prefixes: dict[str, str] = field(default_factory=dict)  #: How a file calls the namespaces it uses.
    lost: tuple[str, ...] = ()  #: Keys of what could not be read whole, since it is written in an odd way.

    @classmethod
    def of(cls, packet: bytes) -> Xmp:
        """Return what a *packet* says.

        Raises
        ------
        ValueError
            If it is no XMP.
        """
        prefixes: dict[str, str] = {}
        root = _parsed(_decoded(packet), prefixes)
        found = list(root.iter(f"{{{RDF}}}RDF"))
        if not found:
            if "".join(root.itertext()).strip() or len(root):
                raise ValueError("it holds no RDF")
            return cls()
        gathered = _Gathered()
        for node in (node for rdf in found for node in rdf):
            if node.tag != DESCRIPTION:  # a node of a type of its own: what it says is not of the picture for certain
                gathered.lost += [key_of(inner.tag) for inner in node.iter() if inner.tag.startswith("{")][:MOST_LOST]
                continue
            for element in (*_shorthand(node), *node):
                if not element.tag.startswith(f"{{{RDF}}}"):
                    gathered.take(element)
        return cls(properties=gathered.properties, prefixes=prefixes, lost=tuple(dict.fromkeys(gathered.lost)))

    def and_also(self, more: Xmp) -> Xmp:
        """Return this and what *more* says beyond it."""
        both = self.properties.keys() & more.properties.keys()
        differ = [key_of(tag) for tag in both if _value(self.properties[tag]) != _value(more.properties[tag])]
        lost = tuple(dict.fromkeys((*self.lost, *more.lost, *differ)))
        return Xmp(properties=more.properties | self.properties, prefixes=more.prefixes | self.prefixes, lost=lost)

    def kept(self, keep: Keep) -> Xmp:
        """Return a copy with the fields that *keep* chooses; a structure goes with its parts."""
        copies = {tag: deepcopy(element) for tag, element in self.properties.items() if keep(key_of(tag))}
        kept = {tag: element for tag, element in copies.items() if _reduced(element, key_of(tag), keep)}
        kept = {tag: element for tag, element in kept.items() if not _is_empty_array(element)}
        return Xmp(properties=kept, prefixes=self.prefixes)

    def fields(self) -> dict[str, Any]:
        """Return what it says, by keys: text, a list of texts, or texts by their languages."""
        found: dict[str, Any] = {}
        for tag, element in self.properties.items():
            key, value = key_of(tag), _value(element)
            # Unknown vocabularies have one key for what they call alike.
            found[key] = [*_listed(found[key]), *_listed(value)] if key in found else value
            parts: dict[str, list[str]] = {}
            for name, text in islice(_parts(element, key), MOST_FIELDS):
                parts.setdefault(name, []).append(text)
            found |= {name: texts if len(texts) > 1 else texts[0] for name, texts in parts.items()}
        return found

    def change(self, changes: Mapping[str, Any]) -> None:
        """Put in new values; None takes a property out, and a key with a slash puts a field into a structure."""
        for key, value in changes.items():
            root, _, part = key.removeprefix("Xmp.").replace(".", ":", 1).partition("/")
            tag = tag_of(root)
            if part:
                structure = self.properties.setdefault(tag, ET.Element(tag, {PARSE_TYPE: "Resource"}))
                structure.append(_element(tag_of(part), value))
            elif value is None:
                self.properties.pop(tag, None)
            else:
                self.properties[tag] = _element(tag, value)


# Reading


@dataclass(slots=True)
class _Gathered:
    """The properties of all descriptions, each once: the first counts."""

    properties: dict[str, ET.Element] = field(default_factory=dict)
    lost: list[str] = field(default_factory=list)
    _values: dict[str, Any] = field(default_factory=dict)

    def take(self, element: ET.Element) -> None:
        """Take a property, if there is none of its name; what is not taken, or not whole, is lost."""
        is_whole = _tidied(element)
        if is_whole is None:
            self.lost.append(key_of(element.tag))
            return
        first = self.properties.setdefault(element.tag, element)
        if first is not element:
            if element.tag not in self._values:
                self._values[element.tag] = _value(first)
            is_whole = is_whole and self._values[element.tag] == _value(element)
        if not is_whole:
            self.lost.append(key_of(element.tag))


def _decoded(packet: bytes) -> str:
    """Return a packet as text that an XML reader takes.

    In UTF-8, single bytes of Windows-1252 among it, or in UTF-16 or UTF-32 (ISO 16684-1, 7.3.2).
    """
    encoding = next((name for name, width in WIDE if _is_in(packet, name, width)), None)
    if encoding is not None:
        text = packet.decode(encoding, "replace").lstrip("\ufeff")
    else:
        text = _in_letters(packet.removeprefix(b"\xef\xbb\xbf"))
    for address, own in SPELT_OTHERWISE.items():
        text = text.replace(f'"{address}"', f'"{own}"')
    return NO_XML.sub(" ", WRAPPER.sub("", text.rstrip("\0"))).strip()


def _in_letters(packet: bytes) -> str:
    """Return a packet that should be UTF-8, and may have other letters among it."""
    try:
        return packet.decode()
    except UnicodeError:
        pieces = re.split(rb"([<>\"'])", packet)
    codec = codec_of(pieces)
    texts = [read(piece, codec) for piece in pieces]
    if any(text is None for text in texts):
        raise ValueError("nobody can tell its letters")
    return "".join(text for text in texts if text is not None)


def _is_in(packet: bytes, encoding: str, width: int) -> bool:
    """Return whether a packet is in an encoding of so many bytes a letter."""
    # Of the two orders of bytes, one finds the other's letters between two of its own.
    return any((at := packet.find(word.encode(encoding))) >= 0 and at % width == 0 for word in BEGINNINGS)


def _parsed(text: str, prefixes: dict[str, str]) -> ET.Element:
    """Return the first root of *text*, whatever follows its end; the *prefixes* it uses are noted."""
    if DECLARES.search(text):
        raise ValueError("it declares a document type, which XMP may not")
    depth = 0
    root = ET.Element("")
    try:
        # Without a document type there is no attack.
        for event, found in ET.iterparse(io.BytesIO(text.encode()), ("start-ns", "start", "end")):  # noqa: S314
            if event == "start-ns":
                prefixes.setdefault(found[1], found[0])
                continue
            if event == "start" and depth == 0:
                root = found
            depth += 1 if event == "start" else -1
            if depth > DEPTH:
                raise ValueError("its elements lie too deep inside one another")
            if depth == 0:
                break
    except ET.ParseError as error:
        raise ValueError(f"it is damaged ({error})") from error
    return root


def _shorthand(description: ET.Element) -> Iterator[ET.Element]:
    """Yield the properties that stand as attributes (ISO 16684-1, 7.9.2.2)."""
    for name, value in description.attrib.items():
        if name.startswith("{") and not name.startswith((f"{{{RDF}}}", f"{{{XML}}}")):
            element = ET.Element(name)
            element.text = value
            yield element


def _tidied(element: ET.Element) -> bool | None:
    """Take out of a property what is none of its values; return whether it is whole, None if it cannot be carried over.

    Of an array of languages each stays once, the first of them.
    """
    is_whole = True
    for inner in element.iter():
        if inner.get(PARSE_TYPE, "Resource") != "Resource" or not inner.tag.startswith("{") or NODE in inner.attrib:
            return None
        inner.tag = ITEM if NUMBERED.fullmatch(inner.tag) else spelt(inner.tag)
        inner.tail = None
        if len(inner):
            inner.text = None
        for name, value in list(inner.attrib.items()):
            is_syntax = not name.startswith("{") or name.startswith((f"{{{RDF}}}", f"{{{XML}}}"))
            if (is_syntax and name not in OF_SYNTAX) or (name == LANG and not LANGUAGE.fullmatch(value)):
                del inner.attrib[name]
        every, languages = list(inner), set[str]()
        inner[:] = [child for child in every if _is_known(child) and not _is_repeated(child, inner, languages)]
        is_whole = is_whole and len(inner) == len(every)
    return is_whole


def _is_known(child: ET.Element) -> bool:
    is_item = NUMBERED.fullmatch(child.tag) is not None
    return is_item or child.tag in FRAME or not child.tag.startswith(f"{{{RDF}}}")


def _is_repeated(child: ET.Element, array: ET.Element, languages: set[str]) -> bool:
    """Return whether a language stands in an array once more; *languages* are those that were there before."""
    language = child.get(LANG)
    if array.tag != ALT or language is None:
        return False
    before = language in languages
    languages.add(language)
    return before


def _reduced(element: ET.Element, key: str, keep: Keep) -> bool:
    """Take out of an *element* the fields that are not to be kept; return whether it may stay itself."""
    texts = (element.text or "", element.get(RESOURCE, ""), element.get(VALUE, ""))
    if any(is_data(text) or is_path(text) for text in texts):
        return False
    for name, value in list(element.attrib.items()):
        if name not in OF_SYNTAX and (not keep(key_of(name, key)) or is_data(value) or is_path(value)):
            del element.attrib[name]
    element[:] = [child for child in element if _stays(child, key, keep)]
    return True


def _is_empty_array(element: ET.Element) -> bool:
    return any(child.tag in (BAG, SEQ, ALT) and not len(child) for child in element)


def _stays(child: ET.Element, key: str, keep: Keep) -> bool:
    inner = key if child.tag in FRAME else key_of(child.tag, key)
    return (inner == key or keep(inner)) and _reduced(child, inner, keep)


def _value(element: ET.Element) -> Any:
    for container in element:
        if container.tag in (BAG, SEQ, ALT):
            items = list(container)
            if container.tag == ALT and any(item.get(LANG) for item in items):
                languages: dict[str, str] = {}
                for item in items:
                    languages.setdefault(item.get(LANG, ""), _text(item))
                return languages
            return [_text(item) for item in items]
    return _text(element)


def _text(element: ET.Element) -> str:
    """Return the text of a simple value; what is said about the value (ISO 16684-1, 7.8) is left out."""
    value = next((inner for inner in element.iter(VALUE)), None)
    if value is not None:
        return value.text or ""
    return element.text or element.get(VALUE) or element.get(RESOURCE) or ""


def _listed(value: Any) -> list[str]:
    """Return the texts of a value, whatever shape it has."""
    return [value] if isinstance(value, str) else list(value.values() if isinstance(value, Mapping) else value)


def _parts(element: ET.Element, key: str) -> Iterator[tuple[str, str]]:
    """Yield the fields of a structure, and of those inside it."""
    for name, value in element.attrib.items():
        if name not in OF_SYNTAX:
            yield key_of(name, key), value
    for child in element:
        inner = key if child.tag in FRAME else key_of(child.tag, key)
        if len(inner) > LONGEST_KEY:
            continue
        if not len(child) and (inner != key or "/" in key):
            yield inner, _text(child)
        yield from _parts(child, inner)


# Changing


def _element(tag: str, value: Any) -> ET.Element:
    """Return a property with text, with a list of texts in their order, or with texts by language."""
    element = ET.Element(tag)
    if isinstance(value, str):
        element.text = NO_XML.sub(" ", value)
        return element
    array = ET.SubElement(element, ALT if isinstance(value, Mapping) else SEQ)
    pairs = value.items() if isinstance(value, Mapping) else [("", text) for text in value]
    for language, text in pairs:
        ET.SubElement(array, ITEM, {LANG: language} if language else {}).text = NO_XML.sub(" ", text)
    return element
