"""What is wanted: added and ended by curators, shown with the lots at the gate."""

import pytest

from api.domain.acquisitions import NotACuratorError
from api.operations.wanting import UnknownWantError, WantRefusedError, add_want, end_want, list_wants
from api.store.unit_of_work import Actor
from tests.operations.test_gate import acting, lot_of, made, noted


@pytest.fixture
def curators(cheap_hashes, store, tmp_path):
    """Give a store with the builders' permit and trip (nine galaxias of ten), and two curators."""
    return made(store, tmp_path)


def test_wants_are_added_shown_with_their_lots_and_ended(curators, clock):
    ines = acting(curators)
    want = add_want(curators, ines, taxon="galaxias MACULATUS", number=12, tank=" Reed tank\n2", reason="losses in May")
    above = add_want(curators, ines, taxon="Galaxias", number=5)
    add_want(curators, ines, taxon="Galaxias brevipinnis", number=3)
    assert (want.taxon, want.number, want.tank, want.made_by) == ("Galaxias maculatus", 12, "Reed tank 2", ines.person)
    # A want for the genus is met by its species, one for another species is not.
    assert lot_of(curators).wanted == 17
    assert list_wants(curators, limit=2)[0] == 3
    assert list_wants(curators, start=1, limit=1)[1] == [above]
    clock.forward(days=2)
    end_want(curators, ines, want.id)
    end_want(curators, ines, want.id)
    assert lot_of(curators).wanted == 5
    assert [one.taxon for one in list_wants(curators)[1]] == ["Galaxias", "Galaxias brevipinnis"]
    total, every = list_wants(curators, ended=True)
    assert (total, every[0].id, every[0].ended_at) == (3, want.id, clock())
    assert [one[0] for one in noted(curators, f"want {want.id}")] == ["want added", "want ended"]


def test_what_cannot_be_wanted_is_told(curators):
    ines = acting(curators)
    with pytest.raises(WantRefusedError, match="'Galaxias maculatis' is not in the list of taxa"):
        add_want(curators, ines, taxon="Galaxias maculatis", number=1)
    for number in (0, -3, 2**31):
        with pytest.raises(WantRefusedError, match="give a number of animals from 1 on"):
            add_want(curators, ines, taxon="Galaxias", number=number)
    for named in ("nothing", "no\0thing"):
        with pytest.raises(UnknownWantError):
            end_want(curators, ines, named)
    with pytest.raises(NotACuratorError):
        add_want(curators, Actor("ann"), taxon="Galaxias", number=1)
    with pytest.raises(NotACuratorError):
        end_want(curators, Actor("ann"), "nothing")
    assert list_wants(curators, ended=True) == (0, [])
