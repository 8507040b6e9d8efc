"""What a phone pulls besides what was collected: permits, names, areas, papers' lists, lots at the gate, allotments.

With it a phone shows the permit's own words, the areas and what it was allotted where there is no signal. Everybody
who may pull may read the same by the routes; nothing of accounts, sessions or the audit is among it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from fractions import Fraction
from typing import Any

from sqlmodel import Session, col, select

from api.entities.acquisitions import Acquisition, Lot
from api.entities.allotments import Allotment, AllotmentPool
from api.entities.authorities import AuthorityDocument, Document
from api.entities.papers import CorrectionRecord, SharedTotalRecord
from api.exchange.season_out import amount_value, record_to_json, taxa_to_json, time_text
from api.exchange.snapshot import area_to_json
from api.store import records
from api.store.books import current_book, newest_terms
from api.store.records import Names
from api.store.seasons import rows_of
from api.store.unit_of_work import Store

Key = tuple[str, str]
Standing = tuple[str, str, dict[str, Any]]
"""Code, parent and content of a record."""


def content_of(session: Session, store: Store, wanted: Collection[Key]) -> Iterator[tuple[Key, Standing]]:
    """Read the records asked for, by kind and id, as they stand; kinds that are none of these are passed over."""
    for kind, read in _READERS.items():
        ids = [record for own, record in wanted if own == kind]
        if ids:
            yield from (((kind, record), stands) for record, stands in read(session, store, ids))


Found = Iterator[tuple[str, Standing]]


def _authorities(session: Session, _store: Store, ids: list[str]) -> Found:
    """Give the newest terms: every condition in the words as issued, amendments, people."""
    for record, version in newest_terms(session):
        if record.id in ids:
            yield record.id, (record.number, "", dict(version.terms))


def _taxa(session: Session, store: Store, ids: list[str]) -> Found:
    book = current_book(session, store.shared)
    told = {**taxa_to_json(book.taxa), "issued_names": dict(book.issued_names)}
    yield from ((record, ("", "", told)) for record in ids)


def _areas(session: Session, store: Store, ids: list[str]) -> Found:
    areas = [area_to_json(one) for one in current_book(session, store.shared).areas.values()]
    yield from ((record, ("", "", {"areas": areas})) for record in ids)


def _documents(session: Session, _store: Store, ids: list[str]) -> Found:
    """Give what is known of papers; their bytes are asked for by their hash."""
    named: dict[str, list[dict[str, str]]] = {}
    links = select(AuthorityDocument).where(col(AuthorityDocument.sha256).in_(ids))
    for link in session.exec(links.order_by(col(AuthorityDocument.authority_id))):
        named.setdefault(link.sha256, []).append({"authority": link.authority_id, "title": link.title})
    for row in session.exec(select(Document).where(col(Document.sha256).in_(named))):
        told = {name: getattr(row, name) for name in ("sha256", "name", "media_type", "size", "received_by")}
        told |= {"received_at": time_text(row.received_at), "of": named[row.sha256]}
        yield row.sha256, ("", "", told)


def _acquisitions(session: Session, _store: Store, ids: list[str]) -> Found:
    query = select(Acquisition, Lot).join(Lot, col(Lot.id) == col(Acquisition.lot_id))
    for row, lot in session.exec(query.where(col(Acquisition.id).in_(ids))):
        count, door = records.count_of("count", lot.model_dump()), row.door_count
        told = {
            "id": row.id,
            "state": row.state,
            "accession": row.accession,
            "line": lot.line_id,
            "taxon": lot.taxon,
            "authority": lot.authority or "",
            "unit": lot.unit,
            "count": None if count is None else record_to_json(count),
            "door_count": None if door is None else amount_value(Fraction(repr(door))),
            "decided_at": None if row.decided_at is None else time_text(row.decided_at),
            "decided_by": row.decided_by or "",
            "reason": row.reason,
            "onward": row.onward,
        }
        yield row.id, (row.accession or "", lot.line_id, told)


def _allotments(session: Session, _store: Store, ids: list[str]) -> Found:
    query = select(Allotment, AllotmentPool).join(AllotmentPool, col(AllotmentPool.id) == col(Allotment.pool_id))
    for row, pool in session.exec(query.where(col(Allotment.id).in_(ids))):
        told = {name: getattr(pool, name) for name in _POOL}
        told |= {
            "id": row.id,
            "trip": row.trip_id,
            "amount": amount_value(Fraction(repr(row.amount))),
            "state": row.state,
            "granted_at": time_text(row.granted_at),
            "granted_by": row.granted_by,
            "ended_at": None if row.ended_at is None else time_text(row.ended_at),
            "why": row.why,
        }
        yield row.id, ("", row.trip_id, told)


_POOL = ("authority", "number", "label", "holder", "name", "first_day", "unit")
"""How a tally is named, as findings name it, and what it counts in."""


def _papers(session: Session, _store: Store, ids: list[str]) -> Found:
    """Give what came in files and hangs on no record: the totals of shared quotas, and the corrections."""
    names = Names()
    totals = [records.shared_total_of(row) for row in rows_of(session, SharedTotalRecord, "as_of", "place", "id")]
    corrections = [records.correction_of(row, names) for row in rows_of(session, CorrectionRecord, "place")]
    told = {
        "shared_totals": [record_to_json(one) for one in totals],
        "corrections": [record_to_json(one) for one in corrections],
    }
    yield from ((record, ("", "", told)) for record in ids)


_READERS: Mapping[str, Callable[[Session, Store, list[str]], Found]] = {
    "authority": _authorities,
    "taxa": _taxa,
    "areas": _areas,
    "document": _documents,
    "acquisition": _acquisitions,
    "allotment": _allotments,
    "papers": _papers,
}
