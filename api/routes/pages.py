"""Plain pages: sign in, the season's balance, every condition, the report. They need no script."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from api.domain.calendar import spoken_time
from api.domain.counts import Count
from api.domain.permits import Authority, version_at, versions_of
from api.domain.reckoning.wording import amount_number, amount_words, count_words, limit_words
from api.domain.rules.finding import Finding
from api.operations import compliance, sessions
from api.operations.accounts import TooManyTriesError
from api.operations.demonstration import ACCOUNTS, DemoClock
from api.operations.sessions import SignInRefusedError, Who
from api.routes.deps import COOKIE, SettingsHere, StoreHere, address_of, someone

router = APIRouter(include_in_schema=False)

_SIGNS = {"met": ("+", "met"), "broken": ("X", "broken"), "open": ("?", "open"), "not used": ("-", "not used")}
_MOST_FINDINGS = 12
_templates = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"), autoescape=True, undefined=StrictUndefined
)


def _sign(outcome: str) -> Markup:
    """Show an outcome by shape, mark and word, never by colour alone."""
    mark, word = _SIGNS[outcome]
    kind = "unused" if outcome == "not used" else outcome
    return Markup('<span class="sign {}"><b aria-hidden="true">{}</b>{}</span>').format(kind, mark, word)


_templates.globals["sign"] = _sign


def _page(name: str, store: StoreHere, status: int = 200, **values: Any) -> HTMLResponse:
    demo, demo_clock = compliance.is_demo(store), isinstance(store.clock, DemoClock)
    template = _templates.get_template(name)
    content = template.render(demo=demo, demo_clock=demo_clock, demo_accounts=ACCOUNTS, **values)
    return HTMLResponse(content, status)


@router.get("/")
def front(request: Request, store: StoreHere, authority: Annotated[str, Query(max_length=64)] = "") -> HTMLResponse:
    """Show the balance of one authority, or the sign-in page."""
    asking = someone(request, store)
    if asking is None:
        return _page("sign_in.html", store, asking=None, problem="", login="")
    with compliance.now(store) as now:
        every = now.book.authorities
        if not every:
            return _page("empty.html", store, asking=asking)
        shown = next((one for one in every if one.id == authority), every[0])
        return _season(store, now, shown, asking)


def _season(store: StoreHere, now: compliance.Now, shown: Authority, asking: Who) -> HTMLResponse:
    standings = now.under(shown.id)
    version = version_at(versions_of(shown), now.as_of).number
    outcomes = [one.outcome for one in standings]
    return _page(
        "season.html",
        store,
        asking=asking,
        authorities=[
            {"id": one.id, "kind": one.kind, "number": one.number, "outcome": now.outcome_under(one.id)}
            for one in now.book.authorities
        ],
        shown=shown,
        as_of=spoken_time(now.as_of, shown.zone),
        sums=[(one, outcomes.count(one)) for one in ("broken", "open", "met", "not used") if one in outcomes],
        limits=[_limit(one, version) for one in now.balances(shown.id)],
        answers=[_answer(one, version) for one in standings],
    )


def _answer(standing: compliance.Standing, version: int) -> dict[str, Any]:
    """Give a condition's answer for the page: the gravest findings first, those of today's version, and not too many."""
    order = ("broken", "open", "met", "not used")
    found = sorted(standing.findings(), key=lambda one: (order.index(one.outcome), -one.version))
    hidden = max(0, len(found) - _MOST_FINDINGS)
    return {
        "number": standing.number,
        "outcome": standing.outcome,
        "text": standing.text,
        "shown": found[:_MOST_FINDINGS],
        "hidden": hidden,
        "version": version,
    }


def _limit(balance: compliance.Balance, version: int) -> dict[str, Any]:
    """Give the fullest tally of a limit as a row: as the authority reads today, or one that was broken before."""
    today = [one for one in balance.findings if one.version == version or one.outcome == "broken"]
    tallies = today or balance.findings
    fullest = max(tallies, key=_fullness)
    tally = fullest.tally
    if tally is None:
        raise ValueError(f"condition {fullest.number} has no tally")
    low, high = (_share(bound, tally.limit) for bound in (tally.after.low, tally.after.high))
    more = len(tallies) - 1
    return {
        "number": balance.standing.number,
        "what": balance.standing.text,
        "about": fullest.about + (f", {fullest.label}" if fullest.label else ""),
        "more": f"{more} more {'tally' if more == 1 else 'tallies'}" if more else "",
        "outcome": balance.standing.outcome,
        "near": fullest.near,
        "taken": _short(tally.after, tally.unit),
        "estimated": amount_words(tally.estimated, tally.unit) if tally.estimated else "",
        "allowed": limit_words(tally.limit, tally.operator, tally.unit),
        "left": ("under " if tally.operator == "fewer than" and tally.unit != "individuals" and tally.left.high else "")
        + _short(tally.left, tally.unit),
        "ceased": tally.here.high == 0 and tally.before.low > tally.limit,
        "low": low,
        "high": high,
        "use": f"{low} % of {amount_words(tally.limit, tally.unit)} for certain, {high} % at most",
    }


def _short(count: Count, unit: str) -> str:
    """Give a count for a narrow column: "12", "136 to 147"."""
    if count.exact or count.high == math.inf:
        return count_words(count, unit)
    return f"{amount_number(count.low)} to {amount_words(count.high, unit)}"


def _share(amount: Any, limit: Any) -> int:
    """Give an amount as a whole per cent of a limit, 100 at most."""
    return 100 if amount >= limit else int(100 * amount / limit)


def _fullness(finding: Finding) -> tuple[int, float]:
    tally = finding.tally
    gravity = ("not used", "met", "open", "broken").index(finding.outcome)
    return gravity, float(tally.after.high) / float(tally.limit) if tally is not None and tally.limit else 0.0


@router.post("/sign-in")
def sign_in(
    request: Request,
    store: StoreHere,
    settings: SettingsHere,
    login: Annotated[str, Form(max_length=200)] = "",
    password: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    """Sign in from the page, and go on to the balance."""
    try:
        signed = sessions.sign_in(
            store, login, password, address=address_of(request), label=request.headers.get("user-agent", "")[:200]
        )
    except (SignInRefusedError, TooManyTriesError) as refused:
        status = 429 if isinstance(refused, TooManyTriesError) else 401
        said = f"{str(refused)[:1].upper()}{str(refused)[1:]}."
        return _page("sign_in.html", store, status, asking=None, problem=said, login=login)
    response = RedirectResponse("/", 303)
    set_cookie(response, signed, settings.secure)
    return response


def set_cookie(response: Response, signed: sessions.SignedIn, secure: bool) -> None:
    """Hand a browser its session; no script can read it and no other site can send it."""
    response.set_cookie(COOKIE, signed.token, httponly=True, samesite="strict", secure=secure, path="/")


@router.post("/sign-out")
def sign_out(request: Request, store: StoreHere) -> RedirectResponse:
    """End the session."""
    asking = someone(request, store)
    if asking is not None:
        sessions.sign_out(store, asking.session)
    response = RedirectResponse("/", 303)
    response.delete_cookie(COOKIE, path="/")
    return response
