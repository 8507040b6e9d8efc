"""Tables: one file per kind of thing, with its columns and the constraints that the database itself holds.

Times are instants in UTC; ids are text (UUIDv7 from a phone or the server, or the id a file gave). What people
and reports call a record is its ``code``.
"""

from api.entities import (  # noqa: F401 - importing a module registers its tables
    accounts,
    acquisitions,
    allotments,
    audit,
    authorities,
    catches,
    filings,
    hauls,
    papers,
    people,
    photos,
    places,
    sync,
    taxa,
    trips,
)
