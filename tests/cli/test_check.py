"""``creekledger check`` as its user meets it: tables, exit codes, faults. Invented data."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from api.cli import main
from tests.builders import SAMPLE, SAMPLE_AS_OF, SAMPLE_AUTHORITIES, authority_file, trips_file, write_season

LINE = {"id": "L1", "taxon": "Galaxias maculatus", "fate": "kept", "count": 9}


def told(capsys: pytest.CaptureFixture[str]) -> str:
    """Give what was printed with its line breaks folded, which hang on the terminal's width."""
    return " ".join(capsys.readouterr().out.split())


def check(tmp_path: Path, trips: dict | None = None, *more: str, authority: dict | None = None) -> int:
    authority_path, trips_path = write_season(tmp_path, authority, trips)
    return main(["check", str(authority_path), "--trips", str(trips_path), "--as-of", "2027-12-01", *more])


def test_all_met_is_0(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(tmp_path) == 0

    out = told(capsys)
    assert "Not more than 10 galaxias in a permit year." in out
    assert "kept 9, at most 10 allowed" in out
    assert "1 left" in out
    assert "does not decide what is lawful" in out


def test_one_over_is_1_and_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert check(tmp_path, trips_file([{**LINE, "count": 11}])) == 1

    out = told(capsys)
    assert "BROKEN" in out
    assert "over by 1" in out


def test_a_doubtful_name_is_1_and_says_what_would_settle_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [LINE, {"id": "L2", "taxon": "Animalia", "fate": "kept", "count": 2}]

    assert check(tmp_path, trips_file(lines)) == 1
    out = told(capsys)
    assert "? open" in out
    assert "Needs a sure name" in out


def test_conditions_stand_in_the_authoritys_own_order(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first = authority_file()["conditions"][0]
    authority = authority_file(conditions=[{**first, "number": "9.1"}, {**first, "number": "2.3"}])

    check(tmp_path, authority=authority)
    out = told(capsys)
    assert out.index("9.1") < out.index("2.3")


def test_every_fault_of_a_file_is_told_at_once_with_2(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [
        {**LINE, "count": "many"},
        {**LINE, "id": "L2", "taxon": "Galaxias maculatis"},
        {**LINE, "id": "L3", "fate": "eaten"},
    ]

    assert check(tmp_path, trips_file(lines)) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "Traceback" not in captured.err
    for told in ("many", "Galaxias maculatis", "Galaxias maculatus", "eaten", "3 faults found"):
        assert told in captured.err


def test_partial_keeps_the_good_rows_and_still_names_the_bad_ones(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [LINE, {**LINE, "id": "L2", "count": "many"}]

    # What could not be read may have broken anything: a season read in part is never "all met".
    assert check(tmp_path, trips_file(lines), "--partial") == 1
    captured = capsys.readouterr()
    assert "kept 9, at most 10 allowed" in " ".join(captured.out.split())
    assert "PARTIAL: files had 1 fault" in captured.out
    assert "many" in captured.err


def test_json_holds_every_finding_with_its_records(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    check(tmp_path, None, "--json")

    answers = json.loads(capsys.readouterr().out)
    assert answers["outcome"] == "met"
    [answer] = [one for one in answers["answers"] if one["number"] == "1"]
    [finding] = answer["findings"]
    assert finding["records"] == ["L1"]
    assert finding["tally"]["after"] == [9, 9, 9]


def test_a_plain_date_means_the_end_of_that_day_in_the_authoritys_zone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    check(tmp_path, None, "--json")

    # 1 December 2027 ends at 24:00 in Hobart, UTC+11 in summer time; its last second is still that day.
    assert json.loads(capsys.readouterr().out)["as_of"] == "2027-12-01T12:59:59Z"


def test_a_wrong_date_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    authority, trips = write_season(tmp_path)

    assert main(["check", str(authority), "--trips", str(trips), "--as-of", "31.12.2027"]) == 2
    assert "Write 2027-06-11" in capsys.readouterr().err


def test_a_missing_file_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "no-such.json"), "--nil"]) == 2
    err = capsys.readouterr().err
    assert "no-such.json" in err
    assert "Traceback" not in err


def test_the_sample_season_has_its_broken_and_open_conditions(capsys: pytest.CaptureFixture[str]) -> None:
    names = [str(path) for path in SAMPLE_AUTHORITIES]

    assert main(["check", *names, "--trips", str(SAMPLE), "--as-of", SAMPLE_AS_OF]) == 1
    out = told(capsys)
    assert "Broken (5)" in out
    assert "Petra Lindqvist not listed for that day" in out


def test_lines_without_an_authority_get_a_proposal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trips = trips_file()
    trips["trips"][0] |= {"authority": "", "may_stand_under": ["permit"]}

    assert check(tmp_path, trips) == 0
    assert "L1: permit - the only authority it may stand under" in told(capsys)


def test_lines_under_no_authority_are_never_silent(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trips = trips_file()
    trips["trips"][0] |= {"authority": ""}

    assert check(tmp_path, trips) == 1
    assert "Under no authority (1 lines): L1" in told(capsys)


def test_a_season_needs_its_trips(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    authority, _ = write_season(tmp_path)

    assert main(["check", str(authority)]) == 2
    assert "--nil" in capsys.readouterr().err
    assert main(["check", str(authority), "--nil", "--as-of", "2027-12-01"]) == 0


def test_a_folder_without_trips_is_no_season_without_trips(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    authority, _ = write_season(tmp_path)
    (tmp_path / "empty").mkdir()

    assert main(["check", str(authority), "--trips", str(tmp_path / "empty"), "--as-of", "2027-12-01"]) == 2
    assert "No trips file was found in this folder" in capsys.readouterr().err


def test_trips_after_the_moment_judged_are_left_out_and_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    authority, trips = write_season(tmp_path)

    assert main(["check", str(authority), "--trips", str(trips), "--as-of", "2027-07-15"]) == 0
    out = told(capsys)
    assert "Left out: 1 trip that began after the moment judged (T1)" in out
    assert "kept 9" not in out


def test_a_report_due_today_is_in_time(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    report = {
        "kind": "report",
        "number": "2",
        "text": "Report by 1 December.",
        "due": "printed date",
        "date": "2027-12-01",
    }
    authority = authority_file(conditions=[*authority_file()["conditions"], report])

    assert check(tmp_path, authority=authority) == 0
    assert "not due yet, 0 days left" in told(capsys)


def test_words_that_permit_and_record_do_not_share_are_noted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stage = {
        "kind": "stage and sex",
        "number": "2",
        "text": "No ovigerous galaxias.",
        "taxa": ["Galaxias"],
        "stages": ["ovigerous"],
        "when_not_recorded": "is not",
    }
    authority = authority_file(conditions=[*authority_file()["conditions"], stage])

    check(tmp_path, trips_file([{**LINE, "stage": "berried"}]), authority=authority)
    assert "speaks of the stage 'ovigerous', which no record uses; records use 'berried'" in told(capsys)


def test_a_haul_outside_its_trip_is_noted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    trips = trips_file()
    trips["trips"][0]["hauls"][0] |= {"start": "2027-08-01T15:30", "end": "2027-08-01T15:40"}

    check(tmp_path, trips)
    assert "Haul H1 began 1 Aug 2027 15:30, after its trip was back" in told(capsys)
