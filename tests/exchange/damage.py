"""Damaged files, made from a small good season: each has a name, and what is given to the command line.

Everything is deterministic.
"""

from __future__ import annotations

import json
from pathlib import Path

from tests.exchange.damage_maps import area_files, places, tracks
from tests.exchange.damage_season import ROWS, TRIPS, Damage, Damages, csv_bytes, workbook, write_gpkg, write_shapefile
from tests.exchange.damage_tables import bombs, csv_cells, csv_files, workbooks
from tests.exchange.damage_texts import json_values, texts


def damages(root: Path) -> list[Damage]:
    """Write every damaged file below ``root`` and give the cases; their names differ."""
    made = Damages(root)
    for make in (texts, json_values, csv_cells, csv_files, workbooks, bombs, tracks, area_files, places):
        make(made)
    return made.cases


def good_files(root: Path) -> list[Damage]:
    """Write the season as it was before any damage, in every format; each must be taken without a word."""
    made = Damages(root)
    made.trips("trips.json", "trips.json", json.dumps(TRIPS).encode())
    made.trips("night.csv", "night.csv", csv_bytes(ROWS))
    made.trips("night.xlsx", "night.xlsx", workbook())
    write_gpkg(made.areas("areas.gpkg", "areas.gpkg", None))
    write_shapefile(made.areas("areas.shp", "areas.shp", None))
    return made.cases
