"""What makes the file an archive copy: metadata, colour profile, attached files, and the logical structure.

PDF/A-3 (ISO 19005-3:2012) and PDF/UA-1 (ISO 14289-1:2014). pikepdf writes the document's own objects; the structure
tree, links and bookmarks are then added in one section by `appended`.
"""

from __future__ import annotations

import io
from functools import cache
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from reports.document import is_outside
from reports.pdf_parts.appended import append_objects
from reports.pdf_parts.fonts import FOLDER, clean
from reports.pdf_parts.sheet import num
from reports.pdf_parts.structure import element, numbered, text_string

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from reports.document import Attachment, Document
    from reports.pdf_parts.flow import Bookmark, Flow
    from reports.pdf_parts.structure import LinkArea

PRODUCER = "Creekledger"

_PDFUA_SCHEMA = """<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 to which the file conforms</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"""


def _one(text: str) -> str:
    return " ".join(clean(text).split())


def pdf_date(moment: datetime) -> str:
    """Return a PDF date with its offset, such as D:20270301093000+10'00'."""
    offset = moment.strftime("%z")
    return f"{moment:D:%Y%m%d%H%M%S}{offset[:3]}'{offset[3:5]}'"


def xmp(document: Document) -> bytes:
    """Return the metadata packet: PDF/A-3a and PDF/UA-1, title, author, subject, language and date."""
    moment = document.created.replace(microsecond=0).isoformat()
    title, author, subject = (escape(_one(text)) for text in (document.title, document.author, document.subject))
    return f"""<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance><pdfuaid:part>1</pdfuaid:part>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:language><rdf:Bag><rdf:li>{escape(document.language)}</rdf:li></rdf:Bag></dc:language>
<xmp:CreateDate>{moment}</xmp:CreateDate><xmp:ModifyDate>{moment}</xmp:ModifyDate>
<xmp:CreatorTool>{PRODUCER}</xmp:CreatorTool><pdf:Producer>{PRODUCER}</pdf:Producer>
</rdf:Description>
{_PDFUA_SCHEMA}
</rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>""".encode()


@cache
def _profile() -> bytes:
    return (FOLDER / "sRGB.icc").read_bytes()


def _describe(pdf: pikepdf.Pdf, document: Document) -> None:
    """Metadata, information dictionary, language, viewer settings and output intent."""
    root = pdf.Root
    for key in [key for key in root.keys() if key not in {"/Type", "/Pages"}]:  # noqa: SIM118 - not a Mapping
        del root[key]
    metadata = pdf.make_stream(xmp(document))
    metadata.Type, metadata.Subtype = Name.Metadata, Name.XML
    root.Metadata = metadata
    root.Lang = String(document.language)
    root.MarkInfo = Dictionary(Marked=True)
    root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    profile = pdf.make_stream(_profile())
    profile.N = 3
    intent = Dictionary(
        Type=Name.OutputIntent, S=Name.GTS_PDFA1, OutputConditionIdentifier=String("sRGB"), DestOutputProfile=profile
    )
    root.OutputIntents = Array([intent])
    date = pdf_date(document.created)
    info = {"/Title": document.title, "/Author": document.author, "/Subject": document.subject, "/Producer": PRODUCER}
    for key in list(pdf.docinfo.keys()):
        del pdf.docinfo[key]
    for key, text in info.items():
        if _one(text):
            pdf.docinfo[key] = String(_one(text))
    pdf.docinfo["/Creator"] = String(PRODUCER)
    pdf.docinfo["/CreationDate"] = pdf.docinfo["/ModDate"] = String(date)


def _attach(pdf: pikepdf.Pdf, attachments: Sequence[Attachment], date: str) -> None:
    """Embed files as associated files of the document."""
    specs = []
    for file in sorted(attachments, key=lambda file: file.name.encode("utf-16-be")):
        stream = pdf.make_stream(file.content)
        stream.Type = Name.EmbeddedFile
        stream.Subtype = Name("/" + file.mime)
        stream.Params = Dictionary(Size=len(file.content), ModDate=String(date), CreationDate=String(date))
        spec = Dictionary(
            Type=Name.Filespec,
            F=String(file.name),
            UF=String(file.name),
            AFRelationship=Name("/" + file.relationship),
            EF=Dictionary(F=stream, UF=stream),
            Desc=String(_one(file.description) or file.name),
        )
        specs.append((file.name, pdf.make_indirect(spec)))
    if specs:
        names = Array([part for name, spec in specs for part in (String(name), spec)])
        pdf.Root.Names = Dictionary(EmbeddedFiles=Dictionary(Names=names))
        pdf.Root.AF = Array([spec for _, spec in specs])


def _page_keys(pdf: pikepdf.Pdf, flow: Flow) -> None:
    """Give each page its key in the parent tree, and a place for its links."""
    linked = {area.page for area in flow.areas}
    for index, page in enumerate(pdf.pages):
        page.obj.StructParents = index
        page.obj.Tabs = Name.S
        for key in ("/Trans", "/Rotate"):
            if key in page.obj:
                del page.obj[key]
        if index in linked:
            page.obj.Annots = pdf.make_indirect(Array())


class _Tree:
    """Writes structure, links and bookmarks as objects behind those of a saved PDF."""

    def __init__(self, pdf: pikepdf.Pdf, flow: Flow) -> None:
        self.flow = flow
        self.pages = [page.obj.objgen[0] for page in pdf.pages]
        self.link_lists = {
            index: page.obj.Annots.objgen[0] for index, page in enumerate(pdf.pages) if "/Annots" in page.obj
        }
        self.tree = pdf.Root.StructTreeRoot.objgen[0]
        self.outline = pdf.Root.Outlines.objgen[0] if "/Outlines" in pdf.Root else 0
        self.next = int(pdf.trailer.Size)
        self.objects: dict[int, str] = {}

    def _new(self, count: int = 1) -> int:
        first, self.next = self.next, self.next + count
        return first

    def build(self) -> None:
        """Make all objects."""
        flow = self.flow
        order = numbered(flow.root, self.next)
        self._new(len(order))
        first_area = self._new(len(flow.areas))
        areas = {id(area): first_area + place for place, area in enumerate(flow.areas)}
        pages = self.pages
        for node in order:
            parent = node.parent.number if node.parent is not None else self.tree
            self.objects[node.number] = element(node, parent, pages, areas)
        keys = []
        for index, sheet in enumerate(flow.sheets):
            number = self._new()
            self.objects[number] = f"[{' '.join([f'{owner.number} 0 R' for owner in sheet.owners])}]"
            keys.append(f"{index} {number} 0 R")
        for place, area in enumerate(flow.areas):
            key = len(pages) + place
            self.objects[first_area + place] = self._annotation(area, key)
            keys.append(f"{key} {area.node.number} 0 R")
        for index, number in self.link_lists.items():
            mine = [f"{areas[id(area)]} 0 R" for area in flow.areas if area.page == index]
            self.objects[number] = f"[{' '.join(mine)}]"
        parents = self._new()
        self.objects[parents] = f"<</Nums[{' '.join(keys)}]>>"
        self.objects[self.tree] = (
            f"<</Type/StructTreeRoot/K {flow.root.number} 0 R/ParentTree {parents} 0 R/ParentTreeNextKey {len(keys)}>>"
        )
        if self.outline:
            self._bookmarks()

    def _destination(self, page: int, x: float, y: float) -> str:
        return f"[{self.pages[page]} 0 R/XYZ {num(x)} {num(y)} null]"

    def _annotation(self, area: LinkArea, key: int) -> str:
        rect = " ".join(num(value) for value in area.rect)
        head = (
            f"<</Type/Annot/Subtype/Link/F 4/Border[0 0 0]/Rect[{rect}]"
            f"/StructParent {key}/Contents {text_string(area.contents)}"
        )
        if is_outside(area.target):
            return f"{head}/A<</S/URI/URI {text_string(_ascii_address(area.target))}>>>>"
        return f"{head}/Dest{self._destination(*self.flow.anchors[area.target])}>>"

    def _bookmarks(self) -> None:
        """Return the outline: a heading's children are the deeper headings that follow it."""
        marks = self.flow.bookmarks
        first = self._new(len(marks))
        parents, children = _outline_shape(marks)
        for place, mark in enumerate(marks):
            up = parents[place]
            family = children[up]
            at = family.index(place)
            parent = self.outline if up < 0 else first + up
            words = [f"/Title {text_string(_one(mark.text))}/Parent {parent} 0 R"]
            words += [f"/Prev {first + family[at - 1]} 0 R"] if at else []
            words += [f"/Next {first + family[at + 1]} 0 R"] if at + 1 < len(family) else []
            own = children.get(place)
            if own:
                words.append(f"/First {first + own[0]} 0 R/Last {first + own[-1]} 0 R/Count -{len(own)}")
            top = self._destination(mark.page, 0, mark.top + 4)
            self.objects[first + place] = f"<<{''.join(words)}/Dest{top}>>"
        top_level = children[-1]
        ends = f"/First {first + top_level[0]} 0 R/Last {first + top_level[-1]} 0 R/Count {len(top_level)}"
        self.objects[self.outline] = f"<</Type/Outlines{ends}>>"


def _ascii_address(address: str) -> str:
    """Return an address with everything outside printable ASCII percent-encoded, as a URI must be."""
    return "".join(
        c if "!" <= c <= "~" else "".join(f"%{byte:02X}" for byte in c.encode("utf-8", "replace")) for c in address
    )


def _outline_shape(marks: list[Bookmark]) -> tuple[list[int], dict[int, list[int]]]:
    """For each heading the place of the heading above it (-1 for none), and for each of those its children."""
    parents: list[int] = []
    children: dict[int, list[int]] = {}
    open_marks: list[int] = []
    for place, mark in enumerate(marks):
        while open_marks and marks[open_marks[-1]].level >= mark.level:
            open_marks.pop()
        parent = open_marks[-1] if open_marks else -1
        parents.append(parent)
        children.setdefault(parent, []).append(place)
        open_marks.append(place)
    return parents, children


def finish(pages: bytes, document: Document, flow: Flow, attachments: Sequence[Attachment]) -> bytes:
    """Return the finished file: `pages` as the page library wrote them, with everything else added."""
    saved = io.BytesIO()
    with pikepdf.open(io.BytesIO(pages)) as pdf:
        _describe(pdf, document)
        _attach(pdf, attachments, pdf_date(document.created))
        _page_keys(pdf, flow)
        pdf.Root.StructTreeRoot = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        if flow.bookmarks:
            pdf.Root.Outlines = pdf.make_indirect(Dictionary(Type=Name.Outlines))
            pdf.Root.PageMode = Name.UseOutlines
        pdf.save(
            saved,
            deterministic_id=True,
            force_version="1.7",
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            compress_streams=True,
        )
    base = saved.getvalue()
    with pikepdf.open(io.BytesIO(base)) as pdf:
        tree = _Tree(pdf, flow)
        tree.build()
        root, info = pdf.Root.objgen[0], pdf.trailer.Info.objgen[0]
        first_id = bytes(pdf.trailer.ID[0])
    return append_objects(base, tree.objects, tree.next, root, info, first_id)
