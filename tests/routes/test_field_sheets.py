"""The field sheet over HTTP: for every reader, by id or code, as a PDF to be printed."""

from reports.pdf_text import lines_of, page_count

PLACE = "/api/trips/T1/field-sheet"


def test_every_reader_prints_the_sheet_of_a_trip(client):
    answer = client("inspector").get(PLACE)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'attachment; filename="field-sheet-T1.pdf"'
    assert lines_of(answer.content, 0)[0] == "Field sheet T1"
    assert client("collector").get(PLACE).content == answer.content


def test_it_has_as_many_hauls_and_rows_as_asked_for(client):
    asking = client("collector")
    four, one = (asking.get(PLACE, params=asked).content for asked in ({}, {"hauls": 1, "rows": 1}))
    assert page_count(four) - page_count(one) == 3
    for wrong in ({"hauls": 0}, {"hauls": 13}, {"rows": 0}, {"rows": 81}, {"rows": "many"}):
        refused = asking.get(PLACE, params=wrong)
        assert (refused.status_code, refused.headers["content-type"]) == (422, "application/problem+json")


def test_a_trip_that_is_not_there_has_none(client):
    missing = client("collector").get("/api/trips/T99/field-sheet")
    assert missing.status_code == 404
    assert "by its id or its code" in missing.json()["detail"]
