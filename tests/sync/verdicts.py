"""Holds the store, the phones and a fresh pull against the logbook, and tells every difference in words.

A difference begins with what it is: *lost* (recorded or told as stored, and not there), *doubled* (there, and
recorded by nobody, or more often than once), *untold* (a phone was never told, or not the truth), *altered*,
*misjudged* (the season as it grew has other findings than the season judged whole).
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from sqlalchemy import text
from sqlmodel import Session, col, select

from api.domain.rules.finding import Finding
from api.domain.trips import Season
from api.entities.audit import AuditEntry, AuditHead
from api.entities.sync import Change, Conflict, Receipt
from api.operations import compliance
from api.store.audit import first_broken
from api.store.seasons import season_from
from api.store.unit_of_work import Store
from tests.sync.logbook import MARKS, Deed, Logbook, as_it_should_stand
from tests.sync.simulated_phone import CONFLICT, REFUSED, TAKEN, Answer, Phone

Key = tuple[str, str]
"""Kind and id of a record."""

TABLES = {kind: kind for kind in MARKS} | {"line": "catch_line"}


@dataclass(frozen=True, slots=True)
class Before:
    """What the store held before the phones recorded anything: people, and how many changes and audit entries."""

    people: frozenset[str]
    changes: int
    entries: int


def misjudged(store: Store) -> list[str]:
    """Tell where the season as it was judged while it grew differs from the season judged whole."""
    with compliance.now(store) as now:
        grown = Counter(_told_by(finding) for one in now.standings for finding in one.findings())
    whole = Counter(_told_by(finding) for finding in compliance.judged(store).checked.judgement.findings)
    return [f"misjudged, only as it grew: {one}" for one in (grown - whole).elements()] + [
        f"misjudged, only whole: {one}" for one in (whole - grown).elements()
    ]


def _told_by(finding: Finding) -> tuple[object, ...]:
    numbers = (finding.authority, finding.number, finding.version, finding.outcome, finding.sentence, finding.tally)
    return (*numbers, tuple(sorted(finding.records)), tuple(sorted(finding.over)))


def before_of(store: Store) -> Before:
    """Look at a store that the phones have not reached yet."""
    with store.reading() as session:
        people = frozenset(season_from(session).people)
        head = session.exec(select(AuditHead)).one()
        return Before(people, head.changes, head.seq)


@dataclass(slots=True)
class Stands:
    """What has to stand for one record: the operations that took effect, the last of which gives its content."""

    chain: list[Deed]
    offered: list[Deed] = field(default_factory=list)
    """Amendments that were kept beside it, for a person to decide."""

    @property
    def followed(self) -> list[Deed]:
        """Give what the same phone followed up from the same version: the last of them waits for a person."""
        last = {(id(one.phone), one.operation["based_on"]): one for one in self.offered}
        return [one for one in self.offered if one not in last.values()]


@dataclass(frozen=True, slots=True)
class Seen:
    """What the simulation knows: the logbook, the phones, and two that have just pulled, the last for the first time."""

    logbook: Logbook
    phones: Sequence[Phone]
    up_to_date: tuple[Phone, Phone]


@dataclass(slots=True)
class Verdict:
    """Everything that is compared."""

    logbook: Logbook
    phones: Sequence[Phone]
    up_to_date: tuple[Phone, Phone]
    before: Before
    told: dict[str, list[Answer]] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    stands: dict[Key, Stands] = field(default_factory=dict)


def differences(seen: Seen, store: Store, before: Before) -> list[str]:
    """Give every difference between what the phones recorded and what the store holds; none where all is well."""
    verdict = Verdict(seen.logbook, seen.phones, seen.up_to_date, before)
    for phone in seen.phones:
        verdict.told |= phone.told
        verdict.codes |= phone.codes
    verdict.stands = {
        key: _stands(verdict, deeds, key[1] in seen.logbook.shared) for key, deeds in seen.logbook.records().items()
    }
    found = list(_untold(verdict))
    found += _disputes(verdict)
    with store.reading() as session:
        season = season_from(session)
        found += _season(verdict, season)
        found += _numbers(verdict, session)
        found += _corrections(verdict, season)
        found += _receipts(verdict, session)
        found += _conflicts(verdict, session)
        found += _changes(verdict, session)
        found += _audit(verdict, session)
    found += _pulled(verdict)
    return found


def _last(verdict: Verdict, deed: Deed) -> Answer | None:
    return verdict.told.get(deed.id, [None])[-1]


def _stands(verdict: Verdict, deeds: list[Deed], shared: bool) -> Stands:
    """Tell which operations took effect: all of them, but for amendments that clashed, as the phones were told."""
    if not shared:
        return Stands(deeds)
    clashed = [one for one in deeds if (told := _last(verdict, one)) and told.answer == CONFLICT]
    taken = [one for one in deeds if one not in clashed]
    return Stands(sorted(taken, key=lambda one: one.operation["based_on"] or 0), clashed)


def _untold(verdict: Verdict) -> Iterator[str]:
    """What a phone was not told, or told in two ways."""
    for phone in verdict.phones:
        for waiting in phone.outbox:
            deed = verdict.logbook.deeds.get(waiting.operation["id"])
            if deed is None:
                yield f"doubled: {waiting.operation['id']} waits in the outbox, and nobody recorded it"
            elif not waiting.reasons:
                yield f"untold: {_name(deed)} still waits in the outbox"
            elif deed.good:
                yield f"untold: {_name(deed)} is good, and stands refused: {waiting.reasons}"
    for deed in verdict.logbook.deeds.values():
        yield from _told_of(verdict, deed)
    for operation in set(verdict.told) - set(verdict.logbook.deeds):
        yield f"doubled: the answer to {operation}, which nobody recorded"


def _told_of(verdict: Verdict, deed: Deed) -> Iterator[str]:
    answers = verdict.told.get(deed.id, [])
    if not answers:
        yield f"untold: no answer ever came to {_name(deed)}"
    if not deed.good:
        for one in answers:
            if one.answer != REFUSED or not all(problem["what"] and problem["mend"] for problem in one.problems):
                yield f"untold: {_name(deed)} is to be refused with its reason, and was told {one}"
        if not any(one.operation["id"] == deed.id for one in deed.phone.outbox) and not _was_mended(verdict, deed):
            yield f"untold: {_name(deed)} was refused, and is no longer on the phone"
        return
    taken = [one for one in answers if one.answer in TAKEN]
    if answers and not taken:
        yield f"untold: {_name(deed)} was never taken, last told {answers[-1]}"
    if len({(one.answer == CONFLICT, one.version, one.code, one.conflict) for one in taken}) > 1:
        yield f"untold: {_name(deed)} was told in several ways: {taken}"
    if taken and answers[answers.index(taken[0]) :] != taken:
        yield f"untold: {_name(deed)} was taken and then refused: {answers}"


def _was_mended(verdict: Verdict, deed: Deed) -> bool:
    return any(one.place == deed.place and one.id != deed.id for one in verdict.logbook.deeds.values())


def _disputes(verdict: Verdict) -> Iterator[str]:
    """Versions as told: one after the other, each based on the one before; a clash only where there was one."""
    for key, stands in verdict.stands.items():
        for version, deed in enumerate(stands.chain, start=1):
            told = _last(verdict, deed)
            if told is None or told.answer not in TAKEN:
                continue
            if told.answer == CONFLICT:
                yield f"untold: {_name(deed)} was told of a conflict that nobody made"
            elif told.version != version or (deed.operation["based_on"] or 0) != version - 1:
                based_on = deed.operation["based_on"]
                yield f"lost: {_name(deed)}, based on {based_on}, was told version {told.version}, not {version}"
        for deed in stands.offered:
            if not 1 <= deed.operation["based_on"] < len(stands.chain):
                yield f"untold: {_name(deed)} was told of a conflict, but {key} has {len(stands.chain)} versions"


def _season(verdict: Verdict, season: Season) -> Iterator[str]:
    """The season, record by record."""
    found, above = _flat(season, {code: record for record, code in verdict.codes.items()})
    for (kind, record), stands in verdict.stands.items():
        deed = stands.chain[-1] if stands.chain else None
        stored = found.pop((kind, record), None)
        if deed is None or stored is None:
            yield f"lost: {kind} {record} is not in the store" if stored is None else f"lost: {kind} {record}"
            continue
        yield from _same(verdict, deed, stored)
        if kind in ("haul", "line") and above[kind, record] != deed.operation["parent"]:
            yield f"altered: {_name(deed)} hangs on {above[kind, record]}"
    for (kind, record), stored in found.items():
        if kind != "person" or record not in verdict.before.people:
            yield f"doubled: nobody recorded {kind} {record}: {stored}"


def _numbers(verdict: Verdict, session: Session) -> Iterator[str]:
    """How many rows each table has, whatever hangs together with what."""
    counts = " UNION ALL ".join(f"SELECT '{kind}', count(*) FROM {table}" for kind, table in TABLES.items())
    expected = Counter(kind for kind, _ in verdict.stands)
    expected["person"] += len(verdict.before.people)
    for kind, number in session.connection().execute(text(counts)):
        if number != expected[kind]:
            what = "lost" if number < expected[kind] else "doubled"
            yield f"{what}: there are {number} rows of {kind}, not {expected[kind]}"


def _same(verdict: Verdict, deed: Deed, stored: Any) -> Iterator[str]:
    code = verdict.codes.get(deed.record, "never told")
    try:
        expected = as_it_should_stand(deed.kind, deed.operation["record"], code, verdict.codes)
    except KeyError as problem:
        yield f"untold: {_name(deed)} speaks of {problem}, whose code no phone was told"
        return
    if stored == expected:
        return
    mark = stored if deed.kind == "person" else getattr(stored, MARKS[deed.kind])
    what = "altered" if mark == deed.mark else "lost"
    yield f"{what}: {_name(deed)} stands as {stored}, not as {expected}"


def _flat(season: Season, ids: dict[str, str]) -> tuple[dict[Key, Any], dict[Key, str]]:
    """Give a season's records without what hangs on them, and the id of what each hangs on."""
    found: dict[Key, Any] = {("person", person): name for person, name in season.people.items()}
    above: dict[Key, str] = {}

    def put(kind: str, record: Any, own: Any, parent: str = "") -> str:
        key = (kind, ids.get(record.id, record.id))
        # A code that two records bear would hide one of them.
        key = (kind, f"{key[1]} again") if key in found else key
        found[key], above[key] = own, parent
        return key[1]

    for trip in season.trips:
        trip_id = put("trip", trip, replace(trip, hauls=()))
        for haul in trip.hauls:
            haul_id = put("haul", haul, replace(haul, lines=()), trip_id)
            for line in haul.lines:
                put("line", line, line, haul_id)
    for kind, papers in (("notice", season.notices), ("incident", season.incidents), ("movement", season.movements)):
        for paper in papers:
            put(kind, paper, paper)
    return found, above


def _corrections(verdict: Verdict, season: Season) -> Iterator[str]:
    """One correction for each field that was changed in a closed trip, and nothing else."""
    expected: Counter[tuple[str, ...]] = Counter()
    for stands in verdict.stands.values():
        for old, new in pairwise(stands.chain):
            if new.operation["why"]:
                expected.update(_changed_fields(verdict, old, new))
    found = Counter(
        (one.record, one.field, _plain(one.old), _plain(one.new), one.by, one.why) for one in season.corrections
    )
    yield from (f"lost: the correction {one}" for one in expected - found)
    yield from (f"doubled: the correction {one}" for one in found - expected)


def _changed_fields(verdict: Verdict, old: Deed, new: Deed) -> Iterator[tuple[str, ...]]:
    code = verdict.codes.get(new.record, "never told")
    for name in ("note", "count"):
        pair = [_plain(one.operation["record"].get(name)) for one in (old, new)]
        if pair[0] != pair[1]:
            yield code, name, *pair, new.phone.person, new.operation["why"]


def _plain(value: Any) -> str:
    """Write a value as text; of a count (as a phone, the server or a correction writes it) the number."""
    if isinstance(value, str) and value.startswith("{"):
        value = json.loads(value)
    return str(value["best"] if isinstance(value, dict) else value)


def _receipts(verdict: Verdict, session: Session) -> Iterator[str]:
    """One receipt for every operation that was answered, with the answer that was told."""
    receipts = {one.operation_id: one for one in session.exec(select(Receipt))}
    clashed = {deed.id for stands in verdict.stands.values() for deed in stands.offered}
    for deed in verdict.logbook.deeds.values():
        receipt = receipts.pop(deed.id, None)
        if receipt is None:
            yield f"lost: the receipt of {_name(deed)}"
            continue
        if deed.reworded and receipt.answer == "stored":
            # It came again after the one that gives the reason was taken: nothing was left to be changed.
            continue
        answer = REFUSED if not deed.good else CONFLICT if deed.id in clashed else "stored"
        told = _last(verdict, deed)
        expected = (answer, told.version if told else None, deed.kind, deed.record, deed.phone.device)
        stored = (receipt.answer, receipt.version, receipt.kind, receipt.record, receipt.device_id)
        if stored != expected or receipt.person_id != deed.phone.person:
            yield f"altered: the receipt of {_name(deed)} says {stored}, not {expected}"
        yield from _as_entered(deed, receipt)
        if bool(receipt.problems) == deed.good:
            yield f"altered: the receipt of {_name(deed)} tells of {receipt.problems}"
    yield from (f"doubled: a receipt for {one}, which nobody recorded" for one in receipts)


def _as_entered(deed: Deed, receipt: Receipt) -> Iterator[str]:
    """What the phone knew of its clock, and from what was entered, as it was told: by a phone of protocol 1 little."""
    wire = deed.operation
    clock = wire.get("device_clock") or {"at": wire.get("made_at"), "ahead_s": None, "known_at": None}
    at, known_at = (datetime.fromisoformat(one) if one else None for one in (clock["at"], clock["known_at"]))
    expected = (at, clock["ahead_s"], known_at, wire.get("entered_from"))
    kept = (receipt.device_at, receipt.device_ahead_s, receipt.ahead_known_at, receipt.entered_from)
    if kept != expected:
        yield f"altered: the receipt of {_name(deed)} says {kept} of its clock, not {expected}"


def _conflicts(verdict: Verdict, session: Session) -> Iterator[str]:
    """Both versions of every clash, and no clash that nobody was told of."""
    kept = {one.operation_id: one for one in session.exec(select(Conflict))}
    for key, stands in verdict.stands.items():
        for deed in stands.offered:
            conflict, told = kept.pop(deed.id, None), _last(verdict, deed)
            if conflict is None or told is None:
                yield f"lost: the version that {_name(deed)} offered"
                continue
            stood, offered = (json.loads(one)[MARKS[deed.kind]] for one in (conflict.stands, conflict.offered))
            state = "followed" if deed in stands.followed else "open"
            right = (key[1], deed.mark, told.conflict, state, deed.operation["based_on"], deed.operation["why"])
            held = (conflict.record, offered, conflict.id, conflict.state, conflict.based_on, conflict.why)
            if held != right:
                yield f"altered: the conflict of {_name(deed)} is kept as {conflict}"
            if stood not in {one.mark for one in stands.chain[deed.operation["based_on"] :]}:
                yield f"altered: {_name(deed)} is said to clash with {stood!r}"
    yield from (f"doubled: a conflict that nobody made, by {_name_of(verdict, one)}" for one in kept)


def _changes(verdict: Verdict, session: Session) -> Iterator[str]:
    """One change for every version of every record."""
    found: dict[Key, list[int]] = defaultdict(list)
    for change in session.exec(select(Change).where(Change.seq > verdict.before.changes).order_by(col(Change.seq))):
        found[change.kind, change.record].append(change.version)
    for key in verdict.stands.keys() | found.keys():
        stands = verdict.stands.get(key)
        expected = list(range(1, len(stands.chain) + 1)) if stands else []
        if found[key] != expected:
            what = "lost" if len(found[key]) < len(expected) else "doubled"
            yield f"{what}: the changes of {key} are {found[key]}, not {expected}"


def _audit(verdict: Verdict, session: Session) -> Iterator[str]:
    """The chain stands, holds each deed once, and shows no silent change in a trip that was closed."""
    _, broken = first_broken(session)
    if broken is not None:
        yield f"altered: the audit chain is broken: {broken.what}"
    expected: Counter[tuple[str, str]] = Counter()
    for (kind, record), stands in verdict.stands.items():
        subject = f"{kind} {record}"
        expected[f"{kind} stored", subject] = 1
        expected[f"{kind} amended", subject] = len(stands.chain) - 1
        expected["conflict kept", subject] = len(stands.offered)
        for deed in stands.followed:
            told = _last(verdict, deed)
            expected["conflict followed", f"conflict {told.conflict if told else ''}"] = 1
    query = select(AuditEntry).where(AuditEntry.seq > verdict.before.entries).order_by(col(AuditEntry.seq))
    entries = session.exec(query).all()
    found = Counter((one.action, one.subject) for one in entries)
    yield from (f"lost: the audit entry {one}" for one in expected - found)
    yield from (f"doubled: the audit entry {one}" for one in found - expected)
    yield from _silent(verdict, entries)


def _silent(verdict: Verdict, entries: Iterable[AuditEntry]) -> Iterator[str]:
    closed: set[str] = set()
    for entry in entries:
        kind, _, record = entry.subject.partition(" ")
        content = json.loads(entry.content)
        if not entry.action.endswith(" amended"):
            continue
        if kind in ("haul", "line") and _trip_of(verdict, (kind, record)) in closed and not content["why"]:
            yield f"altered: {entry.subject} of a closed trip was changed without a reason"
        if kind == "trip" and content["changes"].get("status", [""])[-1] == "closed":
            closed.add(record)


def _trip_of(verdict: Verdict, key: Key) -> str:
    kind, record = key
    if kind == "trip" or key not in verdict.stands:
        return record
    return _trip_of(verdict, ("trip" if kind == "haul" else "haul", verdict.stands[key].chain[0].operation["parent"]))


def _pulled(verdict: Verdict) -> Iterator[str]:
    """What a fresh phone pulls is what was recorded; what the others pulled bit by bit is the same."""
    phone, newest = verdict.up_to_date
    fresh = _recorded(verdict, newest.mirror)
    for key, stands in verdict.stands.items():
        pulled = fresh.pop(key, None)
        if pulled is None or not stands.chain:
            yield f"lost: {key} does not come with a pull"
            continue
        yield from _as_recorded(verdict, stands, pulled)
    yield from (f"doubled: {key} comes with a pull, and nobody recorded it" for key in fresh)
    if phone.mirror != newest.mirror:
        both = phone.mirror.keys() | newest.mirror.keys()
        different = {key for key in both if phone.mirror.get(key) != newest.mirror.get(key)}
        yield f"lost: {phone.name} has pulled something else than a fresh phone: {sorted(different)}"
    for one in verdict.phones:
        yield from _on_the_way(verdict, one)


def _recorded(verdict: Verdict, mirror: dict[Key, dict[str, Any]]) -> dict[Key, dict[str, Any]]:
    """Give what was pulled of records that phones make and that were not there before."""
    return {
        key: one
        for key, one in mirror.items()
        if key[0] in MARKS and not (key[0] == "person" and key[1] in verdict.before.people)
    }


def _as_recorded(verdict: Verdict, stands: Stands, pulled: dict[str, Any]) -> Iterator[str]:
    deed = stands.chain[-1]
    code = "" if deed.kind == "person" else verdict.codes.get(deed.record, "never told")
    try:
        contents = [
            as_it_should_stand(deed.kind, one, code, verdict.codes)
            for one in (pulled["record"], deed.operation["record"])
        ]
    except KeyError as problem:
        yield f"untold: {_name(deed)} speaks of {problem}, whose code no phone was told"
        return
    parent = deed.operation["parent"] if deed.kind in ("haul", "line") else ""
    found = (pulled["version"], pulled["parent"], contents[0])
    if found != (len(stands.chain), parent, contents[1]):
        yield f"altered: {_name(deed)} is pulled as {found}"
    if deed.kind in ("trip", "haul", "line") and pulled["code"] != code:
        yield f"altered: {_name(deed)} is pulled under the code {pulled['code']}, and was told {code}"


def _on_the_way(verdict: Verdict, phone: Phone) -> Iterator[str]:
    """Whatever was pulled at any time is a version that stood, under its own number."""
    versions = {
        (*key, deed.mark): version
        for key, stands in verdict.stands.items()
        for version, deed in enumerate(stands.chain, start=1)
    }
    for one in phone.pulled:
        key = (one["kind"], one["id"])
        if key not in verdict.stands:
            continue
        mark = one["record"][MARKS[one["kind"]]]
        if versions.get((*key, mark)) != one["version"]:
            yield f"altered: {phone.name} pulled {key} ({mark}) as version {one['version']}"


def _name(deed: Deed) -> str:
    kind = "amendment of" if deed.operation["based_on"] else "new"
    return f"{kind} {deed.kind} {deed.record} ({deed.mark}, operation {deed.id})"


def _name_of(verdict: Verdict, operation: str) -> str:
    deed = verdict.logbook.deeds.get(operation)
    return _name(deed) if deed else operation
