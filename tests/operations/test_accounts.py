"""Who has an account, what a password must be, and that somebody can always administer."""

import threading
import time
import unicodedata
from concurrent.futures import ThreadPoolExecutor

import pytest
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlmodel import func, select

from api.entities.accounts import ROLES, Account, AccountRoleHeld
from api.entities.audit import AuditEntry
from api.entities.people import Person
from api.operations import accounts
from api.operations.accounts import (
    AccountError,
    AccountExistsError,
    LastAdministratorError,
    LoginRefusedError,
    LoginTakenError,
    NotAllowedError,
    PasswordRefusedError,
    PersonRefusedError,
    RolesRefusedError,
    UnclearAccountError,
    UnknownAccountError,
    add_account,
    check_password,
    close_account,
    find_account,
    set_roles,
)
from api.operations.enrolments import CodeRefusedError, enrol, make_enrolment
from api.operations.sessions import SignInRefusedError, sign_in, who
from api.store.audit import first_broken
from api.store.unit_of_work import SYSTEM, Actor

PASSWORD = "wet sand under nine nails"
OTHER = "the tide took our bucket"
THE_SERVER = Actor()
AS_SHIPPED = accounts.HASHER


@pytest.fixture(autouse=True)
def quick_hasher(monkeypatch):
    """Hash at the least cost that argon2 knows; the rules about hashes are the same."""
    hasher = PasswordHash((Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1),))
    monkeypatch.setattr(accounts, "HASHER", hasher)


def opened(store, login="ilo", roles=("collector",), actor=THE_SERVER, **more):
    more = {"password": PASSWORD, **more}
    if not more.get("person"):
        more.setdefault("name", login.title())
    return add_account(store, actor, login=login, roles=roles, **more)


def known_as(store, person, name="Jory Pell"):
    """Add a person who has no account."""
    with store.writing(Actor()) as work:
        work.session.add(Person(id=person, name=name, added_at=work.at))


def entries(store):
    with store.reading() as session:
        assert first_broken(session)[1] is None
        return [
            (one.action, one.actor, one.subject, one.content)
            for one in session.exec(select(AuditEntry).order_by(AuditEntry.seq))
        ]


def rows(store, table):
    with store.reading() as session:
        return list(session.exec(select(table)))


def signed(store, login, password=PASSWORD):
    return sign_in(store, login, password, address="192.0.2.7", label="desk")


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


def test_an_account_for_a_new_person_holds_its_roles_and_is_written_down(store):
    administrator = opened(store, "maren", ["administrator"])
    told = opened(store, " Ilo.VANCE ", ["curator", "collector"], Actor(administrator.person), name=" Ilo  Vance ")
    assert (told.login, told.name, told.roles) == ("ilo.vance", "Ilo Vance", {"collector", "curator"})
    with store.reading() as session:
        person = session.get_one(Person, told.person)
        assert (person.name, person.added_at) == ("Ilo Vance", store.clock())
        account = session.get_one(Account, told.id)
        assert (account.person_id, account.made_at, account.closed_at) == (told.person, store.clock(), None)
        assert set(session.exec(select(AccountRoleHeld.role).where(AccountRoleHeld.account_id == told.id))) == {
            "collector",
            "curator",
        }
    assert entries(store)[-2:] == [
        ("person added", administrator.person, f"person {told.person}", '{"name":"Ilo Vance"}'),
        (
            "account opened",
            administrator.person,
            f"account {told.id}",
            f'{{"login":"ilo.vance","person":"{told.person}","roles":["collector","curator"]}}',
        ),
    ]


def test_a_person_who_is_here_gets_an_account_and_no_second_person(store):
    known_as(store, "jory")
    told = opened(store, "jp", person="jory")
    assert (told.person, told.name) == ("jory", "Jory Pell")
    assert [one.id for one in rows(store, Person)] == ["jory"]


def test_who_is_not_told_clearly_gets_no_account(store):
    known_as(store, "jory")
    for given, why in (
        ({"name": "", "person": ""}, "either the name"),
        ({"name": "  ", "person": ""}, "either the name"),
        ({"name": "Jory Pell", "person": "jory"}, "either the name"),
        ({"person": "nobody"}, "no such person"),
        ({"person": "jo\0ry"}, "no such person"),
        ({"name": "Jo\0ry"}, "printable"),
        ({"name": "J" * 201}, "at most 200 characters"),
    ):
        with pytest.raises(PersonRefusedError, match=why):
            add_account(store, THE_SERVER, login="jp", password=PASSWORD, roles=["collector"], **given)
    assert rows(store, Account) == []


def test_nobody_is_given_the_id_under_which_the_server_acts(store):
    known_as(store, SYSTEM, "Sys Tem")
    with pytest.raises(PersonRefusedError, match="the server itself acts under this id"):
        opened(store, "jp", person=SYSTEM)


def test_a_person_has_one_account(store):
    told = opened(store, "jory")
    with pytest.raises(AccountExistsError, match="has the account 'jory' already") as refused:
        opened(store, "jory2", person=told.person)
    assert (refused.value.person, refused.value.login) == (told.person, "jory")


def test_a_login_is_unique_in_whatever_letters_it_is_typed(store):
    # Unicode case folding: the sharp s is "ss"; NFKC: the full-width S is an S.
    opened(store, "strasse.in")
    for again in ("STRASSE.IN", "Straße.in", "\uff33trasse.in", " strasse.in"):
        with pytest.raises(LoginTakenError) as refused:
            opened(store, again, name="Somebody Else")
        assert refused.value.login == "strasse.in"
        assert signed(store, again).who.login == "strasse.in"


def test_a_login_that_cannot_be_typed_or_kept_is_refused(store):
    for login in ("", "i", " i ", "ilo vance", "ilo\tvance", "i\0lo", "i" * 65, "\ud800lo", "ﷺ" * 4):
        with pytest.raises(LoginRefusedError, match="without blanks") as refused:
            opened(store, login, name="Ilo Vance")
        assert refused.value.login == login


def test_a_login_of_two_and_of_64_characters_is_taken(store):
    assert opened(store, "il").login == "il"
    assert opened(store, "v" * 64).login == "v" * 64
    # Case folding takes this letter apart into three; normalising puts it together again.
    assert opened(store, "\u0390" * 64).login == "\u0390" * 64


def test_of_two_who_take_one_login_at_once_one_gets_it(store):
    told = at_once(*(lambda name=name: opened(store, "ilo", name=name) for name in ("Ilo Vance", "Ilo Brandt")))
    assert sorted(type(one).__name__ for one in told) == ["AccountTold", "LoginTakenError"]
    assert len(rows(store, Account)) == len(rows(store, Person)) == 1


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("a" * 7 + "b" * 7, "has 14 characters and needs at least 15"),
        ("", "has 0 characters"),
        ("e\u0301" * 14, "has 14 characters"),
        ("ab" * 64 + "c", "more than 128"),
        ("ab" * 100_000, "more than 128"),
        ("\ufdfa" * 8, "more than 128"),
        ("half a sign \ud83d here", "half a character"),
        ("ilo.vance.at.bay", "nothing but the login or the name"),
        ("ILO.VANCE.AT.BAY", "nothing but the login or the name"),
        ("Ilo Vance-Marrow", "nothing but the login or the name"),
        ("marrow_ilo_vance-marrow ilo!", "nothing but the login or the name"),
    ],
)
def test_a_password_that_is_too_short_too_long_or_only_names_is_refused(password, why):
    # NIST SP 800-63B-4: at least 15 characters where it stands alone, each code point one (from memory).
    name = "Ilo Vance-Marrow" if "arrow" in password else "Ilo Vance"
    with pytest.raises(PasswordRefusedError, match=why) as refused:
        check_password(password, "ilo.vance.at.bay", name)
    assert password[:15] == "" or password[:15] not in str(refused.value)


@pytest.mark.parametrize(
    "password",
    [
        "a" * 7 + "b" * 8,
        "ab" * 64,
        "e\u0301" * 15,
        "ilo vance and the crab",
        "🦀🐚" * 8,
        "砂の下に九本の爪がある浜辺です",
    ],
)
def test_a_password_of_15_to_128_characters_is_taken(password):
    assert check_password(password, "ilo.vance", "Ilo Vance") is None


def test_a_weak_password_opens_no_account(store):
    with pytest.raises(PasswordRefusedError):
        opened(store, "ilo", password="short")
    with pytest.raises(PasswordRefusedError, match="nothing but the login or the name"):
        opened(store, "ilo", name="Ilo Vance", password="ilo ilo vance vance")
    assert rows(store, Account) == []


def test_a_password_is_the_same_however_its_accents_are_sent(store):
    password = unicodedata.normalize("NFD", "crème brûlée sur la plage")
    opened(store, "ilo", password=password)
    assert signed(store, "ilo", unicodedata.normalize("NFC", password)).who.login == "ilo"


def test_passwords_are_hashed_with_argon2id_at_the_recommended_cost_and_each_with_a_salt(monkeypatch):
    # RFC 9106, 4, second recommended option: t=3, 4 lanes, 64 MiB, 128-bit salt, 256-bit tag (from memory).
    monkeypatch.setattr(accounts, "HASHER", AS_SHIPPED)
    one, two = accounts.hashed(PASSWORD), accounts.hashed(PASSWORD)
    assert one.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert [len(part) for part in one.split("$")[4:]] == [22, 43]
    assert one != two
    assert accounts.matches(PASSWORD, one) == (True, None)
    assert accounts.matches(OTHER, one) == (False, None)


def test_no_password_is_right_where_none_is_kept(monkeypatch):
    monkeypatch.setattr(PasswordHash, "verify_and_update", lambda *_: (True, "renewed"))
    assert accounts.matches(PASSWORD, "kept") == (True, "renewed")
    assert accounts.matches(PASSWORD, None) == (False, None)


def test_only_the_hash_of_a_password_is_kept(store):
    opened(store, "ilo")
    (account,) = rows(store, Account)
    assert account.password_hash.startswith("$argon2id$")
    assert PASSWORD not in account.password_hash


def test_at_most_two_passwords_are_hashed_at_once(monkeypatch):
    class Watched:
        def __init__(self):
            self.now, self.most, self.lock = 0, 0, threading.Lock()

        def hash(self, _password):
            with self.lock:
                self.now += 1
                self.most = max(self.most, self.now)
            time.sleep(0.02)
            with self.lock:
                self.now -= 1
            return "hash"

        def verify_and_update(self, _password, _kept):
            return self.hash("") != "hash", None

    watched = Watched()
    monkeypatch.setattr(accounts, "HASHER", watched)
    hashing = [lambda: accounts.hashed(PASSWORD)] * 4
    looking = [lambda: accounts.matches(PASSWORD, "kept")] * 4
    at_once(*hashing, *looking)
    assert watched.most == 2


def test_roles_that_are_none_or_unknown_are_refused(store):
    opened(store, "ilo", ["curator"])
    for roles in ([], ["captain"], ["collector", "captain"], "collector"):
        with pytest.raises(RolesRefusedError, match="give one or more of collector, curator, administrator, inspector"):
            opened(store, "another", roles)
        with pytest.raises(RolesRefusedError):
            set_roles(store, THE_SERVER, "ilo", roles)
    assert [one.role for one in rows(store, AccountRoleHeld)] == ["curator"]


def test_roles_are_set_in_place_of_those_before_and_hold_at_once(store):
    told = opened(store, "ilo", ["collector", "inspector"])
    token = signed(store, "ilo").token
    after = set_roles(store, THE_SERVER, "ilo", ["curator", "collector"])
    assert (after.id, after.person, after.name, after.roles) == (told.id, told.person, "Ilo", {"collector", "curator"})
    assert who(store, token).roles == {"collector", "curator"}
    action = ("roles set", SYSTEM, f"account {told.id}")
    content = '{"before":["collector","inspector"],"roles":["collector","curator"]}'
    assert entries(store)[-1] == (*action, content)


def test_setting_the_roles_that_stand_is_nothing_new(store):
    opened(store, "ilo", ["collector"])
    before = entries(store)
    set_roles(store, THE_SERVER, "ilo", ["collector"])
    assert entries(store) == before


DEEDS = {
    "open": lambda store, actor: opened(store, "another", actor=actor),
    "open administrator": lambda store, actor: opened(store, "another", ["administrator"], actor),
    "roles": lambda store, actor: set_roles(store, actor, "ilo", ROLES),
    "close": lambda store, actor: close_account(store, actor, "ilo"),
    "close administrator": lambda store, actor: close_account(store, actor, "maren"),
}


def test_nobody_but_an_administrator_opens_closes_or_sets_roles(store):
    opened(store, "maren", ["administrator"])
    gone = opened(store, "gone", ["administrator"])
    close_account(store, THE_SERVER, "gone")
    others = [opened(store, "ilo", ["collector", "curator"]), opened(store, "ines", ["inspector"]), gone]
    before = entries(store)
    for deed in DEEDS.values():
        for person in (*(one.person for one in others), "nobody", ""):
            with pytest.raises(NotAllowedError, match="ask an administrator") as refused:
                deed(store, Actor(person))
            assert refused.value.person == person
    assert entries(store) == before


def test_an_administrator_may(store):
    maren = opened(store, "maren", ["administrator", "collector"])
    opened(store, "ilo")
    for deed in ("open", "roles", "close"):
        DEEDS[deed](store, Actor(maren.person))
        assert entries(store)[-1][1] == maren.person


def test_the_last_administrator_keeps_the_role_and_the_account(store):
    opened(store, "maren", ["administrator"])
    opened(store, "gone", ["administrator"])
    opened(store, "ilo", ["collector", "curator", "inspector"])
    close_account(store, THE_SERVER, "gone")
    before = entries(store)
    with pytest.raises(
        LastAdministratorError, match="'maren' is the last administrator; make somebody else"
    ) as refused:
        close_account(store, THE_SERVER, "maren")
    assert refused.value.login == "maren"
    with pytest.raises(LastAdministratorError):
        set_roles(store, THE_SERVER, "maren", ["curator"])
    assert entries(store) == before
    assert set_roles(store, THE_SERVER, "maren", ["administrator", "curator"]).roles == {"administrator", "curator"}


def test_an_administrator_with_another_beside_may_go(store):
    maren = opened(store, "maren", ["administrator"])
    opened(store, "ilo", ["administrator"])
    set_roles(store, Actor(maren.person), "maren", ["collector"])
    opened(store, "third", ["administrator"])
    close_account(store, THE_SERVER, "ilo")
    with pytest.raises(LastAdministratorError):
        close_account(store, THE_SERVER, "third")


def test_of_two_administrators_who_go_at_once_one_stays(store):
    opened(store, "maren", ["administrator"])
    opened(store, "ilo", ["administrator"])
    told = at_once(
        lambda: close_account(store, THE_SERVER, "maren"), lambda: set_roles(store, THE_SERVER, "ilo", ["collector"])
    )
    assert sum(isinstance(one, LastAdministratorError) for one in told) == 1


def test_a_closed_account_signs_in_no_more_and_its_sessions_and_codes_are_gone(store):
    told = opened(store, "ilo")
    tokens = [signed(store, "ilo").token for _ in range(2)]
    code = make_enrolment(store, THE_SERVER, "ilo").code
    close_account(store, THE_SERVER, told.person)
    assert [who(store, token) for token in tokens] == [None, None]
    assert entries(store)[-1] == ("account closed", SYSTEM, f"account {told.id}", '{"login":"ilo","sessions":2}')
    with pytest.raises(SignInRefusedError):
        signed(store, "ilo")
    with pytest.raises(CodeRefusedError):
        enrol(store, code, device_name="phone", address="192.0.2.7")
    with pytest.raises(UnknownAccountError, match="no open account 'ilo'"):
        close_account(store, THE_SERVER, "ilo")
    assert rows(store, Person)[0].name == "Ilo"
    with pytest.raises(LoginTakenError):
        opened(store, "ilo", name="Ilo Brandt")


def test_who_comes_back_gets_the_account_again_with_nothing_of_before(store):
    before = opened(store, "ilo", ["curator"])
    token = signed(store, "ilo").token
    code = make_enrolment(store, THE_SERVER, "ilo").code
    close_account(store, THE_SERVER, "ilo")
    again = opened(store, "ilo.v", ["collector"], person=before.person, password=OTHER)
    assert (again.id, again.login, again.roles) == (before.id, "ilo.v", {"collector"})
    assert entries(store)[-1][0] == "account opened again"
    assert who(store, token) is None
    with pytest.raises(CodeRefusedError):
        enrol(store, code, device_name="phone", address="192.0.2.7")
    with pytest.raises(SignInRefusedError):
        signed(store, "ilo.v", PASSWORD)
    assert signed(store, "ilo.v", OTHER).who.roles == {"collector"}


def test_an_account_is_found_by_login_person_and_own_id(store):
    told = opened(store, "ilo")
    with store.reading() as session:
        assert {find_account(session, name).id for name in ("ILO", told.person, told.id)} == {told.id}
        for name in ("nobody", "", "i\0lo", "\ud800", "x" * 5000):
            with pytest.raises(UnknownAccountError, match="give a login or a person's id"):
                find_account(session, name)


def test_a_login_that_is_anothers_person_id_is_told_and_not_guessed(store):
    known_as(store, "jory")
    first = opened(store, "jp", person="jory")
    second = opened(store, "jory", name="Jory Brandt")
    with pytest.raises(UnclearAccountError, match="give the id of one") as refused:
        close_account(store, THE_SERVER, "jory")
    assert set(refused.value.accounts) == {first.id, second.id}
    close_account(store, THE_SERVER, second.id)
    assert signed(store, "jp").who.person == "jory"


def test_a_person_added_with_an_account_is_a_change_that_phones_pull(store):
    from api.entities.sync import Change

    told = opened(store, "ilo")
    assert [(one.kind, one.record) for one in rows(store, Change)] == [("person", told.person)]
    with store.reading() as session:
        assert session.exec(select(func.count()).select_from(Person)).one() == 1
