"""Writes the API's schema into the repository: python -m tests.contract.write_openapi"""

from __future__ import annotations

import json

from api.main import build_app
from api.settings import Settings
from api.store.engine import open_engine
from api.store.unit_of_work import Store
from tests.builders import SAMPLE


def main() -> None:
    """Write the schema with sorted keys, so that a change shows as a change."""
    app = build_app(Settings(), Store(open_engine("sqlite://")))
    path = SAMPLE.parent / "frontend" / "contract" / "openapi.json"
    path.write_text(json.dumps(app.openapi(), indent=1, sort_keys=True) + "\n", "utf-8")


if __name__ == "__main__":
    main()
