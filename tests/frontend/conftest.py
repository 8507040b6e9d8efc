"""What the tests of the phone app share: its build, with the Node that the environment brings."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def build_web():
    """The build step, read anew: a test may change it."""
    return read_build_step()


@pytest.fixture(scope="session")
def node():
    """Run Node in the frontend's folder; its tools stand."""
    step = read_build_step()
    step.install_tools(ROOT)
    return lambda *command, **more: step.run_node(ROOT, *command, more=more)


def read_build_step():
    spec = importlib.util.spec_from_file_location("build_web", ROOT / ".ci" / "build_web.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
