"""What the plain pages say of themselves, and that a short figure stays short."""

from sqlmodel import update

from api.entities.people import Organisation
from api.operations.demonstration import DemoClock
from api.operations.importing import import_files
from api.store.unit_of_work import Actor, Store
from tests.builders import authority_file, trips_file, write_season
from tests.served import app_on, client_of, with_accounts


def shown(store, folder):
    return client_of(app_on(store, folder), store, "inspector").get("/").text


def stood(store, folder, **terms):
    """Give a store with the builders' season under other terms, and accounts."""
    authority, trips = write_season(folder, authority_file(**terms))
    import_files(store, folder / "files", [authority], [trips], Actor())
    with_accounts(store)


def test_a_demo_restored_elsewhere_does_not_say_that_its_clock_stands(store, tmp_path, cheap_hashes):
    stood(store, tmp_path)
    assert "Demo." not in shown(store, tmp_path)
    with store.writing(Actor()) as work:
        if work.session.get(Organisation, 1) is None:
            work.session.add(Organisation(id=1, name="Marrow Aquarium", zone="UTC", demo=True))
        else:
            work.session.execute(update(Organisation).values(demo=True))
    assert "Demo." in shown(store, tmp_path)
    assert "the clock stands" not in shown(store, tmp_path)
    running = Store(store.engine, DemoClock(store.clock))
    assert "the clock stands in July 2028" in shown(running, tmp_path)


def test_what_must_not_be_reached_leaves_less_than_the_rest(store, tmp_path, cheap_hashes):
    limit = {"kind": "take limit", "number": "1", "text": "Less than 5 litres of shell.", "taxa": ["shell, clean"]}
    limit |= {"limits": [{"amount": "5 L", "period": "permit year", "operator": "fewer than"}]}
    line = {"id": "L1", "taxon": "shell, clean", "fate": "kept", "count": "2 L"}
    authority, trips = write_season(tmp_path, authority_file(conditions=[limit]), trips_file([line]))
    import_files(store, tmp_path / "files", [authority], [trips], Actor())
    with_accounts(store)
    assert ">under 3 L<" in shown(store, tmp_path)


def test_a_tally_from_before_an_amendment_says_so_and_is_not_what_is_left(store, tmp_path, cheap_hashes):
    # Nine were kept on 1 August; from the second on only eight are allowed.
    terms = authority_file()
    fewer = {**terms["conditions"][0], "limits": [{"amount": "8", "period": "permit year"}]}
    amendment = {"number": "1", "from_moment": "2027-08-02T00:00", "title": "Eight.", "conditions": [fewer]}
    stood(store, tmp_path, amendments=[amendment])
    page = shown(store, tmp_path)
    assert page.count("as the permit read before it was amended") == 1
    assert "taken before the limit was lowered, none since" in page
    assert ">at most 8<" in page
    assert ">at most 10<" not in page


def test_a_limit_that_was_raised_stands_as_raised(store, tmp_path, cheap_hashes):
    # Nine of ten were kept on 1 August; from the second on twenty are allowed, and eleven are left.
    terms = authority_file()
    more = {**terms["conditions"][0], "limits": [{"amount": "20", "period": "permit year"}]}
    stood(store, tmp_path, amendments=[{"number": "1", "from_moment": "2027-08-02T00:00", "conditions": [more]}])
    page = shown(store, tmp_path)
    assert ">at most 20<" in page
    assert ">11<" in page
    assert ">at most 10<" not in page


def test_where_nothing_is_taken_it_says_that_every_limit_is_whole(store, tmp_path, cheap_hashes):
    authority, _ = write_season(tmp_path, authority_file())
    import_files(store, tmp_path / "files", [authority], [], Actor())
    with_accounts(store)
    page = shown(store, tmp_path)
    assert "Nothing is taken yet under this authority: every limit is whole." in page
    assert "<table" not in page


def test_who_is_signed_in_finds_the_way_into_the_app(store, tmp_path, cheap_hashes):
    stood(store, tmp_path)
    assert '<a href="/app/">Record at the creek</a> <a href="/app/desk">Work at the desk</a>' in shown(store, tmp_path)
    assert "/app/" not in client_of(app_on(store, tmp_path), store).get("/").text
