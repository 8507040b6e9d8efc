"""What an operation of the protocol before says, read as one of the newest."""

import pytest

from api.exchange.protocols import ACCEPTED, NEWEST, ProtocolNotSpokenError, as_newest, check_protocol

OLD = {"id": "o1", "kind": "trip", "record": {"id": "t1", "made_at": "noon"}, "parent": "", "based_on": None, "why": ""}


def test_the_newest_protocol_and_the_one_before_it_are_accepted_and_no_other():
    assert ACCEPTED == (NEWEST - 1, NEWEST) == (1, 2)
    for protocol in ACCEPTED:
        check_protocol(protocol)
    for protocol in (-1, 0, 3, 99):
        with pytest.raises(ProtocolNotSpokenError) as refused:
            check_protocol(protocol)
        assert (refused.value.protocol, refused.value.accepted) == (protocol, (1, 2))
        assert f"protocol {protocol} is not spoken here, but 1 and 2" in str(refused.value)
        assert "keep the records on the phone" in str(refused.value)


def test_who_speaks_an_older_one_updates_the_app_and_who_a_newer_one_the_server():
    assert str(ProtocolNotSpokenError(0)).endswith("and update the app")
    assert str(ProtocolNotSpokenError(3)).endswith("and have the server updated, for the app is newer")


def test_an_operation_of_the_first_protocol_tells_its_clocks_reading_and_nothing_more():
    told = as_newest(1, {**OLD, "made_at": "2027-08-01T07:02+10:00"})
    clock = {"at": "2027-08-01T07:02+10:00", "ahead_s": None, "known_at": None}
    assert told == {**OLD, "device_clock": clock, "entered_from": None}


@pytest.mark.parametrize("made_at", [{}, {"made_at": None}])
def test_one_without_a_reading_has_no_clock(made_at):
    assert as_newest(1, {**OLD, **made_at}) == {**OLD, "device_clock": None, "entered_from": None}


def test_one_of_the_newest_is_left_as_it_is():
    clock = {"at": "2027-08-01T07:02+10:00", "ahead_s": 11220, "known_at": "2027-07-31T20:00Z"}
    newest = {**OLD, "device_clock": clock, "entered_from": "paper"}
    assert as_newest(2, newest) == newest
    # What it has of the old one is for the reader to tell.
    assert as_newest(2, {**newest, "made_at": None})["made_at"] is None


@pytest.mark.parametrize("key", ["device_clock", "entered_from"])
def test_a_key_of_the_newest_in_an_operation_of_the_first_is_told(key):
    with pytest.raises(ValueError, match=f"'{key}' belongs to protocol 2"):
        as_newest(1, {**OLD, key: None})


def test_nothing_is_read_into_the_operation_that_was_sent():
    sent = {**OLD, "made_at": "2027-08-01T07:02+10:00"}
    as_newest(1, sent)
    assert sent == {**OLD, "made_at": "2027-08-01T07:02+10:00"}
