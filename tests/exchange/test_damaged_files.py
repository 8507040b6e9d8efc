"""More than 200 damaged and hostile files, each through the command line: one clear message, exit code 2.

The bounds are this project's own: 5 seconds and 500 MB a file. Time is the processor's, start-up included, so
that a busy machine changes no answer.
"""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.exchange.damage import damages, good_files

ROOT = Path(__file__).parents[2]
MOST_SECONDS = 5
MOST_MEGABYTES = 500
BATCH = 60

pytestmark = pytest.mark.slow

# Runs the command for each list of arguments on stdin; gives code, output and processor time of each, and the most
# memory the process ever held. A limit on address space stops what would take the machine with it.
WORKER = """
import contextlib, io, json, pathlib, resource, sys, time, traceback
resource.setrlimit(resource.RLIMIT_AS, (4_000_000_000, 4_000_000_000))
from api.cli import main
answers = []
for arguments in json.load(sys.stdin):
    out, err = io.StringIO(), io.StringIO()
    began = time.process_time() if answers else 0.0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = main(arguments)
        except BaseException:
            code = -1
            traceback.print_exc()
    answers.append({"code": code, "err": err.getvalue(), "out": out.getvalue(), "seconds": time.process_time() - began})
# ru_maxrss would be that of the process this one was forked from, where that was larger.
status = dict(line.split(":", 1) for line in pathlib.Path("/proc/self/status").read_text().splitlines())
json.dump({"answers": answers, "megabytes": int(status["VmHWM"].split()[0]) / 1024}, sys.__stdout__)
"""


def run(cases):
    """Give the answers to some cases from one process, and the megabytes it held at most."""
    done = subprocess.run(
        [sys.executable, "-W", "default", "-c", WORKER],
        input=json.dumps([case.arguments for case in cases]),
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, f"{[case.name for case in cases]}: {done.returncode} {done.stderr[-2_000:]}"
    found = json.loads(done.stdout)
    # What libraries write past the command, such as warnings, would stand beside its message.
    assert done.stderr == "", f"{[case.name for case in cases]}: {done.stderr[-2_000:]}"
    return found["answers"], found["megabytes"]


def wrong_with(case, answer):
    """Tell what is wrong with the answer to a damaged file."""
    if answer["code"] != 2:
        yield f"exit code {answer['code']}"
    if "Traceback" in answer["err"]:
        yield f"a traceback: {answer['err'][-600:]}"
        return
    *lines, last = answer["err"].splitlines() or [""]
    if re.fullmatch(r"\d+ faults? found; mend (it|them)\.", last) is None:
        yield f"no last line: {last!r}"
    if not any(case.file.name in line for line in lines):
        yield f"the file is not named: {lines[:3]}"
    names = tuple(f"{path.name}:" for path in (case.file, *case.file.parent.iterdir()))
    strays = [line for line in lines if not line.startswith(names)]
    if strays:
        yield f"lines that name no file: {strays[:3]}"
    if len(set(lines)) < len(lines):
        yield f"a line twice: {sorted(line for line in set(lines) if lines.count(line) > 1)[:2]}"
    if max(map(len, lines), default=0) > 2_000 or len(lines) > 1_100:
        yield f"{len(lines)} lines, the longest of {max(map(len, lines))}"
    if answer["seconds"] > MOST_SECONDS:
        yield f"{answer['seconds']:.1f} s"


@pytest.fixture(scope="module")
def cases(tmp_path_factory):
    return damages(tmp_path_factory.mktemp("damage"))


def test_there_are_more_than_200_each_with_a_name_of_its_own(cases):
    assert len(cases) >= 200
    assert len({case.name for case in cases}) == len(cases)


def test_the_files_were_good_before_the_damage(tmp_path):
    """Without this a reader that refuses everything would pass."""
    cases = good_files(tmp_path)

    answers, _ = run(cases)

    assert [
        (case.name, answer["err"], answer["code"] in (0, 1)) for case, answer in zip(cases, answers, strict=True)
    ] == [(case.name, "", True) for case in cases]


def test_every_damaged_file_is_refused_with_one_clear_message(cases):
    light = [case for case in cases if not case.heavy]
    problems, most = [], 0.0
    for first in range(0, len(light), BATCH):
        batch = light[first : first + BATCH]
        answers, megabytes = run(batch)
        most = max(most, megabytes)
        problems += [
            f"{case.name}: {what}" for case, one in zip(batch, answers, strict=True) for what in wrong_with(case, one)
        ]

    assert "\n".join(problems) == ""
    assert most < MOST_MEGABYTES


def test_what_would_fill_memory_or_never_end_is_refused_in_time(cases):
    problems = []
    for case in cases:
        if case.heavy:
            (answer,), megabytes = run([case])
            problems += [f"{case.name}: {what}" for what in wrong_with(case, answer)]
            if megabytes > MOST_MEGABYTES:
                problems.append(f"{case.name}: {megabytes:.0f} MB")

    assert "\n".join(problems) == ""
