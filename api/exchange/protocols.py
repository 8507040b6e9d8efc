"""The versions of the protocol in which phones deliver: the newest, and how the one before it is read as the newest.

A phone that was not updated yet holds records that are nowhere else, so its version is accepted as long as it is the
one before. A new version is the next number, and in ``_read_as_next`` how an operation of the last one reads in it.

*2*: an operation has ``device_clock``, what the phone's clock showed and by how much it was known to be ahead of the
server's, and ``entered_from``, a screen or paper. *1*: it has ``made_at``, what the phone's clock showed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

NEWEST = 2
ACCEPTED = (NEWEST - 1, NEWEST)
UNSAID = 1
"""The version of a batch that names none: the first phones did not have to."""


class ProtocolNotSpokenError(ValueError):
    """A version that is not accepted; carries it, and those that are."""

    def __init__(self, protocol: int) -> None:
        self.protocol, self.accepted = protocol, ACCEPTED
        listed = " and ".join(str(one) for one in ACCEPTED)
        mend = "update the app" if protocol < NEWEST else "have the server updated, for the app is newer"
        super().__init__(
            f"protocol {protocol} is not spoken here, but {listed}; nothing was taken and nothing is lost: keep the "
            f"records on the phone and {mend}"
        )


def check_protocol(protocol: int) -> None:
    """Raise ProtocolNotSpokenError for a version that is not accepted."""
    if protocol not in ACCEPTED:
        raise ProtocolNotSpokenError(protocol)


def as_newest(protocol: int, operation: Mapping[str, Any]) -> dict[str, Any]:
    """Read an operation of an accepted version as one of the newest; what is wrong with its values stays in it.

    Raises ValueError for a key that only the other version has.
    """
    if protocol == NEWEST:
        return dict(operation)
    return _read_as_next(operation)


def _read_as_next(operation: Mapping[str, Any]) -> dict[str, Any]:
    """Read an operation of version 1: how far its clock was off, and from what it was entered, nobody said."""
    for key in ("device_clock", "entered_from"):
        if key in operation:
            raise ValueError(f"'{key}' belongs to protocol 2, and this batch is of protocol 1; name the right one")
    shown = operation.get("made_at")
    clock = None if shown is None else {"at": shown, "ahead_s": None, "known_at": None}
    kept = {key: value for key, value in operation.items() if key != "made_at"}
    return {**kept, "device_clock": clock, "entered_from": None}
