"""Signing in: what it gives, how guessing is slowed, when it ends, and who may end it."""

import base64
import hashlib
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta

import pytest
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlalchemy import event
from sqlmodel import select

from api.entities.accounts import Account, Device, FailedTry
from api.entities.accounts import Session as SignInSession
from api.entities.audit import AuditEntry
from api.operations import accounts
from api.operations.accounts import (
    AccountError,
    NotAllowedError,
    PasswordRefusedError,
    TooManyTriesError,
    UnknownAccountError,
    add_account,
    close_account,
    set_roles,
)
from api.operations.enrolments import CodeRefusedError, enrol, make_enrolment, revoke_device
from api.operations.sessions import (
    SignInRefusedError,
    UnknownSessionError,
    WrongPasswordError,
    change_password,
    revoke_session,
    sessions_of,
    sign_in,
    sign_out,
    who,
)
from api.store.audit import first_broken
from api.store.unit_of_work import Actor

PASSWORD = "wet sand under nine nails"
OTHER = "the tide took our bucket"
WRONG = "seven crabs in a kettle"
HERE, THERE = "192.0.2.7", "198.51.100.9"
THE_SERVER = Actor()


class CountingHasher(PasswordHash):
    """Hashes at a cost that is told, and counts; ``meanwhile`` is done while a password is looked at."""

    made = 0

    def __init__(self, time_cost=1):
        super().__init__((Argon2Hasher(time_cost=time_cost, memory_cost=8, parallelism=1),))
        self.looked_at, self.meanwhile = [], lambda: None

    def hash(self, password, *, salt=None):
        self.made += 1
        return super().hash(password, salt=salt)

    def verify_and_update(self, password, kept):
        self.looked_at.append(kept)
        found = super().verify_and_update(password, kept)
        self.meanwhile()
        return found


@pytest.fixture(autouse=True)
def hasher(monkeypatch):
    """Hash at the least cost that argon2 knows; the rules about hashes are the same."""
    hasher = CountingHasher()
    monkeypatch.setattr(accounts, "HASHER", hasher)
    return hasher


@pytest.fixture
def people(store):
    """Give a store with an administrator, a collector and a curator."""
    for login, role in (("maren", "administrator"), ("ilo", "collector"), ("ines", "curator")):
        add_account(store, THE_SERVER, login=login, name=login.title(), password=PASSWORD, roles=[role])
    return store


def signed(store, login="ilo", password=PASSWORD, address=HERE, **more):
    return sign_in(store, login, password, **{"address": address, "label": "desk", **more})


def answer(store, login="ilo", password=WRONG, address=HERE):
    """Give what a try is answered: the seconds to wait, "wrong" or "in"."""
    try:
        signed(store, login, password, address)
    except TooManyTriesError as refused:
        return refused.seconds
    except SignInRefusedError:
        return "wrong"
    return "in"


def person(store, login):
    return row(store, Account, Account.login == login).person_id


def acting(store, login):
    return Actor(person(store, login))


def rows(store, table, *where):
    with store.reading() as session:
        return list(session.exec(select(table).where(*where)))


def row(store, table, *where):
    (found,) = rows(store, table, *where)
    return found


def entries(store):
    with store.reading() as session:
        assert first_broken(session)[1] is None
        return [
            (one.action, one.actor, one.subject, one.content)
            for one in session.exec(select(AuditEntry).order_by(AuditEntry.seq))
        ]


def phone(store, login="ilo"):
    code = make_enrolment(store, THE_SERVER, login).code
    return enrol(store, code, device_name="Creek phone", address=HERE)


def at_once(*deeds):
    """Do things in threads that begin together; gives what each gave, or the error it raised."""
    begin = threading.Barrier(len(deeds))

    def run(deed):
        begin.wait(timeout=30)
        try:
            return deed()
        except AccountError as error:
            return error

    with ThreadPoolExecutor(len(deeds)) as pool:
        return list(pool.map(run, deeds))


def in_another_thread(deed):
    """Do something in a thread of its own; raises TimeoutError where it is kept waiting."""
    pool = ThreadPoolExecutor(1)
    try:
        return pool.submit(deed).result(timeout=20)
    finally:
        pool.shutdown(wait=False)


@contextmanager
def statements(store):
    """Collect the statements sent to the database, without those that open a transaction."""
    found = []

    def hear(_connection, _cursor, statement, *_rest):
        if not statement.startswith(("BEGIN", "PRAGMA")):
            found.append(statement)

    event.listen(store.engine, "before_cursor_execute", hear)
    yield found
    event.remove(store.engine, "before_cursor_execute", hear)


# Signing in.


def test_the_right_password_gives_a_token_that_tells_who_it_is(people):
    told = signed(people, " ILO ", label="Firefox on the\ndesk")
    ilo = person(people, "ilo")
    assert told.who == who(people, told.token)
    assert (told.who.person, told.who.name, told.who.login) == (ilo, "Ilo", "ilo")
    assert (told.who.roles, told.who.session, told.who.device) == ({"collector"}, told.session, "")
    assert told.who.actor == Actor(ilo, "")
    assert told.ends_at == people.clock() + timedelta(hours=12)
    kept = row(people, SignInSession)
    assert (kept.id, kept.kind, kept.label, kept.device_id) == (told.session, "browser", "Firefox on the desk", None)
    assert (kept.made_at, kept.used_at, kept.ends_at) == (people.clock(), people.clock(), told.ends_at)
    content = '{"address":"192.0.2.7","hash renewed":false,"kind":"browser","login":"ilo"}'
    assert entries(people)[-1] == ("signed in", ilo, f"session {told.session}", content)


def test_a_token_is_32_random_bytes_of_which_the_table_keeps_the_sha256(people):
    tokens = [signed(people).token for _ in range(3)]
    assert [len(base64.urlsafe_b64decode(token + "=")) for token in tokens] == [32] * 3
    assert len(set(tokens)) == 3
    kept = {one.token_hash for one in rows(people, SignInSession)}
    assert kept == {hashlib.sha256(token.encode()).hexdigest() for token in tokens}


def test_a_token_does_not_stand_in_what_is_shown_of_a_result(people):
    told = signed(people)
    assert told.token not in f"{told!r}{told.who!r}{sessions_of(people, told.who.person)!r}"


def test_a_wrong_login_costs_and_tells_the_same_as_a_wrong_password(people, hasher):
    close_account(people, THE_SERVER, "ines")
    told = []
    for login in ("ilo", "nobody", "ines", "", "i\0lo", "\ud800", "x" * 100_000):
        hasher.looked_at.clear()
        with statements(people) as sent, pytest.raises(SignInRefusedError) as refused:
            signed(people, login, WRONG, address="")
        (kept,) = hasher.looked_at
        told.append((str(refused.value), kept.split("$")[1:4], [one.split()[0] for one in sent if "WHERE" not in one]))
    assert "login or password is wrong" in told[0][0]
    assert [one[:2] for one in told] == [told[0][:2]] * len(told)
    assert [len(one[2]) for one in told] == [len(told[0][2])] * len(told)


def test_the_stand_in_for_nobodys_password_is_never_right(people, hasher, monkeypatch):
    monkeypatch.setattr(CountingHasher, "verify_and_update", lambda *_: (True, None))
    with pytest.raises(SignInRefusedError):
        signed(people, "nobody")


def test_a_refused_try_is_written_down_without_what_was_typed(people):
    # People type their password where the login goes.
    for login in ("ilo", PASSWORD):
        assert answer(people, login) == "wrong"
    ilo = row(people, Account, Account.login == "ilo")
    content = '{"address":"192.0.2.7","kind":"browser"}'
    assert entries(people)[-2:] == [
        ("sign-in refused", "system", f"account {ilo.id}", content),
        ("sign-in refused", "system", "account unknown", content),
    ]
    assert not [one for one in rows(people, FailedTry) if "sand" in one.subject]


def test_no_transaction_is_open_while_a_password_is_looked_at(people, hasher):
    wrote = []

    def write():
        with people.writing(Actor()) as work:
            work.note("written meanwhile", "test")
        wrote.append(True)

    hasher.meanwhile = lambda: in_another_thread(write)
    assert answer(people) == "wrong"
    assert answer(people, password=PASSWORD) == "in"
    assert len(wrote) == 2


def test_an_account_closed_while_its_password_is_looked_at_is_not_signed_in(people, hasher):
    hasher.meanwhile = lambda: close_account(people, THE_SERVER, "ilo")
    assert answer(people, password=PASSWORD) == "wrong"
    assert rows(people, SignInSession) == []


def test_a_password_changed_while_the_old_one_is_looked_at_is_the_one_that_counts(people, hasher):
    def change():
        hasher.meanwhile = lambda: None
        change_password(people, acting(people, "maren"), "ilo", OTHER)

    hasher.meanwhile = change
    assert answer(people, password=PASSWORD) == "wrong"
    assert rows(people, SignInSession) == []
    assert answer(people, password=OTHER) == "in"


def test_a_hash_of_outdated_parameters_is_renewed_at_sign_in(people, hasher, monkeypatch):
    before = row(people, Account, Account.login == "ilo").password_hash
    monkeypatch.setattr(accounts, "HASHER", CountingHasher(time_cost=2))
    assert answer(people) == "wrong"
    assert row(people, Account, Account.login == "ilo").password_hash == before
    assert answer(people, password=PASSWORD) == "in"
    after = row(people, Account, Account.login == "ilo").password_hash
    assert ("t=1" in before, "t=2" in after) == (True, True)
    assert '"hash renewed":true' in entries(people)[-1][3]
    assert answer(people, password=PASSWORD) == "in"
    assert row(people, Account, Account.login == "ilo").password_hash == after


def test_two_who_renew_one_hash_at_once_are_both_signed_in(people, monkeypatch):
    monkeypatch.setattr(accounts, "HASHER", CountingHasher(time_cost=2))
    told = at_once(*[lambda: answer(people, password=PASSWORD)] * 3)
    assert told == ["in"] * 3
    assert rows(people, FailedTry) == []


# Guessing.


def test_after_five_wrong_tries_the_wait_doubles_from_a_second_to_a_quarter_of_an_hour(people, clock):
    assert [answer(people) for _ in range(5)] == ["wrong"] * 5
    for wait in (1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900, 900):
        assert answer(people) == wait
        clock.forward(seconds=wait - 0.25)
        assert answer(people) == 1
        clock.forward(seconds=0.25)
        assert answer(people, address="") == "wrong"
    assert len(rows(people, FailedTry, FailedTry.subject.startswith("login"))) == 18


def test_who_has_to_wait_is_told_how_long_and_the_right_password_is_not_looked_at(people, hasher):
    for _ in range(5):
        answer(people)
    hasher.looked_at.clear()
    before = entries(people)
    with pytest.raises(TooManyTriesError, match="wait 1 s, then try again") as refused:
        signed(people)
    assert refused.value.seconds == 1
    assert hasher.looked_at == []
    assert entries(people) == before


def test_who_has_to_wait_keeps_nobody_else_waiting(people):
    ilo = acting(people, "ilo")
    assert [answer(people, f"login{number}") for number in range(15)] == ["wrong"] * 15
    assert [answer(people) for _ in range(5)] == ["wrong"] * 5

    def told_to_wait():
        for deed in (
            lambda: signed(people),
            lambda: change_password(people, ilo, "ilo", OTHER, old=PASSWORD),
            lambda: enrol(people, "ABCDE-FGHJK", device_name="phone", address=HERE),
        ):
            with pytest.raises(TooManyTriesError):
                deed()
        return True

    with people.writing(Actor()):
        assert in_another_thread(told_to_wait)


def test_a_login_that_nobody_has_waits_alike(people):
    assert [answer(people, "nobody", address="") for _ in range(7)] == ["wrong"] * 5 + [1] * 2
    assert answer(people, "NOBODY", address="") == 1
    assert answer(people, "somebody", address="") == "wrong"


def test_the_right_password_clears_the_logins_tries_and_no_others(people):
    for _ in range(4):
        assert answer(people) == "wrong"
        assert answer(people, "ines", address="") == "wrong"
    assert answer(people, password=PASSWORD) == "in"
    left = [one.subject.split()[0] for one in rows(people, FailedTry)]
    assert sorted(left) == ["address"] * 4 + ["login"] * 4
    assert [answer(people) for _ in range(6)] == ["wrong"] * 5 + [1]
    assert [answer(people, "ines", address="") for _ in range(2)] == ["wrong", 1]


def test_a_try_is_forgotten_after_a_day(people, clock):
    for _ in range(5):
        answer(people)
    clock.forward(hours=23, minutes=59)
    assert [answer(people) for _ in range(2)] == ["wrong", 2]
    clock.forward(minutes=1)
    assert [answer(people) for _ in range(5)] == ["wrong"] * 4 + [1]
    assert len(rows(people, FailedTry)) == 2 * 5


def test_an_address_that_tries_many_logins_waits_after_twenty(people, clock):
    assert [answer(people, f"login{number}") for number in range(20)] == ["wrong"] * 20
    assert answer(people, password=PASSWORD) == 1
    assert answer(people, password=PASSWORD, address=THERE) == "in"
    clock.forward(seconds=1)
    assert answer(people, password=PASSWORD) == "in"
    assert answer(people, "login20") == "wrong"
    assert answer(people, "login21") == 2


def test_an_ipv6_network_of_one_holder_is_one_address(people):
    for number in range(20):
        assert answer(people, f"login{number}", address=f"2001:db8:0:7::{number:x}") == "wrong"
    assert answer(people, address="2001:db8:0:7:ffff::1") == 1
    assert answer(people, address="2001:db8:0:8::1") == "wrong"
    assert answer(people, address="::ffff:192.0.2.7") == "wrong"
    assert "address 192.0.2.7" in {one.subject for one in rows(people, FailedTry)}


def test_many_wrong_tries_at_once_gain_nothing(people, hasher):
    told = at_once(*[lambda: answer(people)] * 12)
    assert sorted(map(str, told)) == ["1"] * 7 + ["wrong"] * 5
    assert len(hasher.looked_at) == 5
    assert len(rows(people, FailedTry, FailedTry.subject.startswith("login"))) == 5


def test_a_clock_set_back_makes_nobody_wait_longer(people, clock):
    for _ in range(5):
        answer(people)
    clock.forward(days=-3)
    assert answer(people) == 1


@pytest.mark.parametrize("odd", ["\0", "\ud800", "x" * 100_000, "\ufdfa" * 200, ""])
def test_odd_text_is_a_wrong_try_and_no_fault(people, odd):
    assert who(people, odd) is None
    assert answer(people, odd, odd, odd) == "wrong"
    assert answer(people, "ilo", odd, odd) == "wrong"
    told = signed(people, label=odd, address=odd)
    assert len(row(people, SignInSession).label) <= 200
    assert who(people, told.token) is not None


# Who it is.


def test_a_session_ends_after_twelve_hours_and_a_phones_after_180_days(people, clock):
    browser, creek = signed(people), phone(people)
    assert creek.ends_at - clock() == timedelta(days=180)
    for told, lasts in ((browser, timedelta(hours=12)), (creek, timedelta(days=180))):
        begun = clock.at
        clock.at = begun + lasts - timedelta(seconds=1)
        assert who(people, told.token).session == told.session
        clock.at = begun + lasts
        assert who(people, told.token) is None
        clock.at = begun


def test_a_session_signed_in_as_a_phone_lasts_as_long_as_a_phones(people, clock):
    assert signed(people, kind="phone").ends_at - clock() == timedelta(days=180)


def test_a_token_that_is_wrong_tells_nobody(people):
    token = signed(people).token
    for wrong in ("", token[:-1], token + "=", token.swapcase(), hashlib.sha256(token.encode()).hexdigest()):
        assert who(people, wrong) is None


def test_a_token_is_worth_nothing_once_revoked_closed_or_its_phone_revoked(people):
    browser, closed, creek = signed(people), signed(people, "ines"), phone(people)
    assert who(people, creek.token).device
    sign_out(people, browser.session)
    close_account(people, THE_SERVER, "ines")
    revoke_device(people, THE_SERVER, creek.who.device)
    assert [who(people, one.token) for one in (browser, closed, creek)] == [None] * 3


def test_the_phones_and_the_accounts_own_rows_count_too(people):
    # Whatever wrote them: a session whose account is closed or whose device is revoked stands no more.
    creek, browser = phone(people), signed(people, "ines")
    with people.writing(Actor()) as work:
        work.session.get_one(Device, creek.who.device).revoked_at = work.at
        account = work.session.exec(select(Account).where(Account.login == "ines")).one()
        account.closed_at = work.at
    assert [who(people, one.token) for one in (creek, browser)] == [None] * 2


def test_roles_are_as_they_stand_now(people):
    token = signed(people).token
    set_roles(people, THE_SERVER, "ilo", ["curator", "inspector"])
    assert who(people, token).roles == {"curator", "inspector"}


def test_asking_who_it_is_takes_one_reading_and_writes_nothing_for_five_minutes(people, clock):
    told = phone(people)
    began = clock.at
    clock.forward(minutes=4, seconds=59)
    for token in (told.token, "wrong"):
        with statements(people) as sent:
            who(people, token)
        assert [one.split()[0] for one in sent] == ["SELECT"]
    assert row(people, SignInSession).used_at == began


def test_the_last_use_is_written_every_five_minutes_and_is_no_audit_entry(people, clock):
    told, before = phone(people), len(entries(people))
    clock.forward(minutes=5)
    used = clock.at
    who(people, told.token)
    assert row(people, SignInSession).used_at == row(people, Device).last_seen_at == used
    clock.forward(minutes=4)
    who(people, told.token)
    assert row(people, SignInSession).used_at == row(people, Device).last_seen_at == used
    clock.forward(minutes=1)
    who(people, told.token)
    assert row(people, SignInSession).used_at == row(people, Device).last_seen_at == clock.at
    assert len(entries(people)) == before


# Sessions seen and ended.


def test_signing_out_ends_that_session_only_and_once(people):
    one, other = signed(people), signed(people)
    sign_out(people, one.session)
    sign_out(people, one.session)
    assert (who(people, one.token), who(people, other.token)) == (None, other.who)
    last = ("signed out", one.who.person, f"session {one.session}", '{"login":"ilo"}')
    assert [entry for entry in entries(people) if entry[0] == "signed out"] == [last]
    with pytest.raises(UnknownSessionError):
        sign_out(people, "nothing")


def test_the_sessions_of_a_person_are_listed_newest_first(people, clock):
    ended = signed(people)
    clock.forward(hours=6)
    first = signed(people, label="desk")
    signed(people, "ines")
    out = signed(people)
    clock.forward(hours=6)
    second = phone(people)
    third = signed(people, label="laptop")
    who(people, first.token)
    sign_out(people, out.session)
    told = sessions_of(people, first.who.person, third.session)
    assert [(one.id, one.kind, one.label, one.device, one.current) for one in told] == [
        (third.session, "browser", "laptop", "", True),
        (second.session, "phone", "Creek phone", "Creek phone", False),
        (first.session, "browser", "desk", "", False),
    ]
    assert [(one.made_at, one.used_at, one.ends_at) for one in told[1:]] == [
        (clock.at, clock.at, second.ends_at),
        (clock.at - timedelta(hours=6), clock.at, first.ends_at),
    ]
    assert ended.session not in {one.id for one in told}
    assert sessions_of(people, "nobody") == []


def test_a_session_is_revoked_by_its_owner_or_an_administrator_and_nobody_else(people):
    mine, theirs = signed(people), signed(people)
    for actor in (acting(people, "ines"), Actor("nobody"), Actor("")):
        with pytest.raises(NotAllowedError, match="may not revoke another's session"):
            revoke_session(people, actor, mine.session)
    assert who(people, mine.token) is not None
    revoke_session(people, acting(people, "ilo"), mine.session)
    revoke_session(people, acting(people, "maren"), theirs.session)
    revoke_session(people, acting(people, "maren"), theirs.session)
    assert [who(people, one.token) for one in (mine, theirs)] == [None, None]
    assert [entry for entry in entries(people) if entry[0] == "session revoked"] == [
        ("session revoked", person(people, "ilo"), f"session {mine.session}", '{"login":"ilo"}'),
        ("session revoked", person(people, "maren"), f"session {theirs.session}", '{"login":"ilo"}'),
    ]
    for unknown in ("nothing", "\0"):
        with pytest.raises(UnknownSessionError, match="take one from the list"):
            revoke_session(people, acting(people, "maren"), unknown)


# Changing passwords.


def test_ones_own_password_asks_for_the_old_one_and_ends_the_other_sessions(people, clock):
    here, elsewhere, creek, others = signed(people), signed(people), phone(people), signed(people, "ines")
    code = make_enrolment(people, THE_SERVER, "ilo").code
    assert answer(people) == "wrong"
    change_password(people, acting(people, "ilo"), "ilo", OTHER, old=PASSWORD, keep=here.session)
    assert rows(people, FailedTry, FailedTry.subject.startswith("login")) == []
    assert [who(people, one.token) for one in (here, elsewhere, creek, others)] == [here.who, None, None, others.who]
    with pytest.raises(CodeRefusedError):
        enrol(people, code, device_name="phone", address=HERE)
    ilo = row(people, Account, Account.login == "ilo")
    assert ("password changed", ilo.person_id, f"account {ilo.id}", '{"own":true,"sessions":2}') in entries(people)
    assert [answer(people, password=one) for one in (PASSWORD, OTHER)] == ["wrong", "in"]


def test_a_wrong_old_password_changes_nothing_and_counts_as_a_failed_try(people, hasher):
    here = signed(people)
    for old in (WRONG, "", WRONG, WRONG, WRONG):
        with pytest.raises(WrongPasswordError, match="type it again"):
            change_password(people, here.who.actor, "ilo", OTHER, old=old)
    assert entries(people)[-1][:2] == ("password change refused", here.who.person)
    hasher.looked_at.clear()
    with pytest.raises(TooManyTriesError):
        change_password(people, here.who.actor, "ilo", OTHER, old=PASSWORD)
    assert hasher.looked_at == []
    assert who(people, here.token) == here.who
    assert answer(people, password=PASSWORD) == 1


def test_an_administrator_sets_anothers_password_without_the_old_one_and_ends_every_session(people):
    told, own = signed(people), signed(people, "maren")
    change_password(people, own.who.actor, told.who.person, OTHER, keep=told.session)
    assert [who(people, one.token) for one in (told, own)] == [None, own.who]
    assert [answer(people, password=one) for one in (PASSWORD, OTHER)] == ["wrong", "in"]


def test_an_administrators_own_password_asks_for_the_old_one_too(people):
    with pytest.raises(WrongPasswordError):
        change_password(people, acting(people, "maren"), "maren", OTHER)
    change_password(people, acting(people, "maren"), "maren", OTHER, old=PASSWORD)
    assert answer(people, "maren", OTHER) == "in"


def test_nobody_else_sets_a_password_and_a_weak_one_is_refused(people, hasher):
    made = hasher.made
    for actor in (acting(people, "ines"), Actor("nobody"), Actor("")):
        with pytest.raises(NotAllowedError, match="may not set another's password"):
            change_password(people, actor, "ilo", OTHER, old=PASSWORD)
    with pytest.raises(PasswordRefusedError, match="at least 15"):
        change_password(people, acting(people, "ilo"), "ilo", "short", old=PASSWORD)
    with pytest.raises(UnknownAccountError):
        change_password(people, THE_SERVER, "nobody", OTHER)
    assert (hasher.looked_at, hasher.made) == ([], made)
    assert answer(people, password=PASSWORD) == "in"


def test_an_administrator_who_is_none_any_more_when_the_hash_is_made_changes_nothing(people, monkeypatch, hasher):
    maren = acting(people, "maren")
    add_account(people, THE_SERVER, login="third", name="Third", password=PASSWORD, roles=["administrator"])
    hash_as_before = hasher.hash

    def hash_meanwhile(password):
        monkeypatch.setattr(hasher, "hash", hash_as_before)
        close_account(people, THE_SERVER, "maren")
        return hash_as_before(password)

    monkeypatch.setattr(hasher, "hash", hash_meanwhile)
    with pytest.raises(NotAllowedError):
        change_password(people, maren, "ilo", OTHER)
    assert answer(people, password=PASSWORD) == "in"


def test_an_old_password_that_was_changed_while_it_is_looked_at_is_wrong(people, hasher):
    def change():
        hasher.meanwhile = lambda: None
        change_password(people, acting(people, "maren"), "ilo", OTHER)

    hasher.meanwhile = change
    with pytest.raises(WrongPasswordError):
        change_password(people, acting(people, "ilo"), "ilo", WRONG, old=PASSWORD)
    assert [answer(people, password=one) for one in (WRONG, OTHER)] == ["wrong", "in"]


def test_a_hash_renewed_while_the_old_password_is_looked_at_does_not_make_it_wrong(people, monkeypatch):
    renewing = CountingHasher(time_cost=2)
    monkeypatch.setattr(accounts, "HASHER", renewing)

    def sign_in_meanwhile():
        renewing.meanwhile = lambda: None
        signed(people)

    renewing.meanwhile = sign_in_meanwhile
    change_password(people, acting(people, "ilo"), "ilo", OTHER, old=PASSWORD)
    assert answer(people, password=OTHER) == "in"
