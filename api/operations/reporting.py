"""The season report: a frozen snapshot, laid out and written as an archival PDF that carries it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from api import VERSION
from api.exchange.season_tables import season_tables
from api.exchange.snapshot import FILE_NAME, Snapshot, freeze
from api.operations.checking import Checked
from reports.document import Attachment, Document
from reports.pdf import write_pdf
from reports.season.build import season_report
from reports.season.material import Anchor, Certification, Edition, Material

TOOL = f"creekledger {VERSION}"


def frozen(
    checked: Checked,
    authority: str,
    *,
    revision: int = 0,
    replaces: str = "",
    changes: Sequence[str] = (),
    demo: bool = False,
    certified: Certification | None = None,
    audit: Anchor | None = None,
) -> Snapshot:
    """Freeze a checked season as reported under one authority; what was left out of it goes in by name.

    A revision names the report that it ``replaces`` and its ``changes``, in words. ``certified`` says who files it
    and ``audit`` where the audit chain stood; a draft has neither.
    """
    meta: dict[str, Any] = {
        "revision": revision,
        "replaces": replaces,
        "changes": list(changes),
        "tool": TOOL,
        "left_out": [str(fault) for fault in checked.faults],
        "later": list(checked.later),
        "notes": list(checked.notes),
        "demo": demo,
    }
    if checked.from_paper:
        meta["from_paper"] = list(checked.from_paper)
    if certified is not None:
        meta["certified"] = asdict(certified)
    if audit is not None:
        meta["audit"] = asdict(audit)
    facts = checked.facts
    return freeze(facts.book, facts.season, facts.as_of, authority, meta)


def laid_out(snapshot: Snapshot) -> Document:
    """Lay a snapshot out as a document, with its data attached."""
    meta = snapshot.meta
    edition = Edition(
        fingerprint=snapshot.fingerprint,
        revision=int(meta["revision"]),
        replaces=str(meta["replaces"]),
        changes=tuple(str(change) for change in meta["changes"]),
        tool=str(meta["tool"]),
        left_out=tuple(str(fault) for fault in meta.get("left_out", ())),
        notes=tuple(str(note) for note in meta.get("notes", ())),
        from_paper=tuple(str(trip) for trip in meta.get("from_paper", ())),
        demo=bool(meta.get("demo", False)),
        certified=Certification(**meta["certified"]) if "certified" in meta else None,
        audit=Anchor(**meta["audit"]) if "audit" in meta else None,
    )
    authority = snapshot.facts.book.authority(snapshot.authority)
    material = Material.of(authority, snapshot.facts, snapshot.judgement, edition)
    return season_report(material, attached(snapshot))


def attached(snapshot: Snapshot) -> tuple[Attachment, ...]:
    """Give the files that a report carries: the snapshot it is made from, and its tables."""
    files = [
        Attachment(FILE_NAME, snapshot.content, "application/json", "Source", "The frozen snapshot, canonical JSON")
    ]
    for name, content in season_tables(snapshot.facts, snapshot.judgement).items():
        files.append(Attachment(name, content, "text/csv", "Data", f"Table of {name.removesuffix('.csv')}"))
    return tuple(files)


def report_pdf(snapshot: Snapshot) -> bytes:
    """Write the report of a snapshot; the same snapshot gives the same bytes."""
    return write_pdf(laid_out(snapshot))
