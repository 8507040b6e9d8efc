"""What the commands say: a season's answers as a table for the terminal, and as JSON."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from api.domain.facts import Facts
from api.domain.judge import Answer, Judgement
from api.domain.reckoning.wording import plural
from api.domain.rules.finding import Finding
from api.exchange.snapshot import finding_to_json
from api.operations.checking import Checked

CAVEAT = "This compares your entries with limits you typed. It does not decide what is lawful."
SIGNS = {"met": "+ met", "broken": "X BROKEN", "open": "? open", "not used": "- not used"}
_MOST_FINDINGS = 8


def answers_text(checked: Checked, width: int) -> str:
    """Give the answers of every authority in its own order, then what is broken and open, one sentence each."""
    judgement = checked.judgement
    lines: list[str] = []
    for authority in checked.facts.book.authorities:
        own = [answer for answer in judgement.answers if answer.authority == authority.id]
        lines += [f"{authority.kind} {authority.number}: {authority.title}", *_table(own, width), ""]
    lines += list(_details(judgement, "broken", "Broken", width))
    lines += list(_details(judgement, "open", "Open: cannot be told from what is recorded", width))
    lines += list(_proposed(checked, width))
    lines += list(_stray(judgement))
    lines += list(_asides(checked, width))
    lines += [_season(checked.facts), CAVEAT]
    return "\n".join(lines)


def _table(answers: list[Answer], width: int) -> Iterator[str]:
    number_width = max((len(answer.number) for answer in answers), default=4)
    for answer in answers:
        head = f"  {answer.number:<{number_width}}  {SIGNS[answer.outcome]:<10}  "
        body = textwrap.wrap(f"{answer.text} [{gist(answer)}]", max(30, width - len(head)))
        yield head + (body[0] if body else "")
        for more in body[1:]:
            yield " " * len(head) + more


def gist(answer: Answer) -> str:
    """Give one condition's numbers in a few words."""
    tallied = [finding for finding in answer.findings if finding.tally is not None]
    if answer.outcome == "not used" or not tallied:
        counts = [
            f"{number} {outcome}"
            for outcome in ("broken", "open", "met", "not used")
            if (number := sum(finding.outcome == outcome for finding in answer.findings))
        ]
        return ", ".join(counts) if len(answer.findings) > 1 else _short(answer.findings[0])
    fullest = max(tallied, key=_fullness)
    return _short(fullest)


def _fullness(finding: Finding) -> tuple[int, float]:
    tally = finding.tally
    gravity = ("not used", "met", "open", "broken").index(finding.outcome)
    if tally is None or not tally.limit:
        return gravity, 0.0
    return gravity, float(tally.after.high) / float(tally.limit)


def _short(finding: Finding) -> str:
    return finding.sentence.rstrip(".") + (" - near the limit" if finding.near else "")


def _details(judgement: Judgement, outcome: str, title: str, width: int) -> Iterator[str]:
    found = [finding for finding in judgement.findings if finding.outcome == outcome]
    if not found:
        return
    yield f"{title} ({len(found)})"
    shown: dict[tuple[str, str], int] = {}
    for finding in found:
        key = (finding.authority, finding.number)
        shown[key] = shown.get(key, 0) + 1
        if shown[key] > _MOST_FINDINGS:
            continue
        text = f"{finding.number}: {finding.sentence}{f' {finding.settle}' if finding.settle else ''}"
        yield textwrap.fill(text, width, initial_indent="  ", subsequent_indent="      ")
    for (_, number), count in shown.items():
        if count > _MOST_FINDINGS:
            yield f"  {number}: and {count - _MOST_FINDINGS} more"
    yield ""


def _proposed(checked: Checked, width: int) -> Iterator[str]:
    if checked.proposal.authority_of:
        yield "Proposed authority for lines that bear none (judged as proposed; the choice is yours)"
        for line, authority in checked.proposal.authority_of.items():
            text = f"{line}: {authority} - {checked.proposal.why[line]}"
            yield textwrap.fill(text, width, initial_indent="  ", subsequent_indent="      ")
        yield ""


def _stray(judgement: Judgement) -> Iterator[str]:
    if judgement.unassigned:
        yield f"Under no authority ({len(judgement.unassigned)} lines): {', '.join(judgement.unassigned[:20])}"
        yield ""


def _asides(checked: Checked, width: int) -> Iterator[str]:
    """Say what was left out and what reads oddly."""
    asides = []
    if checked.faults:
        number = plural(len(checked.faults), "fault")
        asides.append(f"PARTIAL: files had {number}; what could not be read is in no answer above.")
    if checked.later:
        trips = plural(len(checked.later), "trip")
        asides.append(f"Left out: {trips} that began after the moment judged ({', '.join(checked.later)}).")
    asides.extend(f"To look at: {note}" for note in checked.notes)
    for text in asides:
        yield textwrap.fill(text, width, subsequent_indent="  ")
    if asides:
        yield ""


def _season(facts: Facts) -> str:
    sizes = (
        plural(len(facts.trips), "trip"),
        plural(len(facts.hauls), "haul or set", "hauls and sets"),
        plural(len(facts.lines), "catch line"),
    )
    return f"Checked {', '.join(sizes)}, as of {facts.as_of:%Y-%m-%d %H:%M} UTC."


def answers_json(checked: Checked) -> dict[str, Any]:
    """Give the answers with every finding, for another program."""
    judgement = checked.judgement
    return {
        "as_of": judgement.as_of.isoformat().replace("+00:00", "Z"),
        "outcome": checked.outcome,
        "left_out": [str(fault) for fault in checked.faults],
        "later": list(checked.later),
        "notes": list(checked.notes),
        "unassigned": list(judgement.unassigned),
        "proposed": checked.proposal.authority_of,
        "answers": [
            {
                "authority": answer.authority,
                "number": answer.number,
                "kind": answer.kind,
                "text": answer.text,
                "outcome": answer.outcome,
                "findings": [finding_to_json(finding) for finding in answer.findings],
            }
            for answer in judgement.answers
        ],
        "caveat": CAVEAT,
    }
