"""The words of the small worlds: names of animals, people, places and gear, all of an invented estuary.

The animals are real species of south-east Australian estuaries; their classification is from memory.
"""

from __future__ import annotations

from shapely import LineString, Point, box

from api.domain.places.answers import Area
from api.domain.taxa import Taxa, Taxon

_TREE = (
    ("Animalia", "kingdom", None),
    ("Actinopterygii", "class", "Animalia"),
    ("Sparidae", "family", "Actinopterygii"),
    ("Acanthopagrus", "genus", "Sparidae"),
    ("Acanthopagrus australis", "species", "Acanthopagrus"),
    ("Acanthopagrus butcheri", "species", "Acanthopagrus"),
    ("Gobiidae", "family", "Actinopterygii"),
    ("Pseudogobius olorum", "species", "Gobiidae"),
    ("Malacostraca", "class", "Animalia"),
    ("Portunus", "genus", "Malacostraca"),
    ("Portunus armatus", "species", "Portunus"),
    ("Metapenaeus macleayi", "species", "Malacostraca"),
    ("Sternula albifrons", "species", "Animalia"),
    ("Sternula albifrons sinensis", "subspecies", "Sternula albifrons"),
    ("Zostera muelleri", "species", None),
    ("estuary water", "material", None),
    ("muddy sand", "material", None),
)
TAXA = Taxa.of(Taxon(id=name, rank=rank, parent=parent) for name, rank, parent in _TREE)  # type: ignore[arg-type]

ANIMALS = tuple(name for name, rank, _ in _TREE if rank != "material")
MATERIALS = ("estuary water", "muddy sand")
PERSONS = ("ana", "ben", "cy", "dot")
SITES = ("jetty", "flat")
WATERS = ("Quill Creek", "Tarn Inlet")
GEARS = ("seine", "hand net", "trap")
STAGES = ("adult", "juvenile", "egg-bearing")
SEXES = ("female", "male")
CONTAINERS = ("blue tub", "carboy")
PAPERS = ("permit copy", "landowner letter", "boat licence")
GONE = ("died", "released", "transferred", "sold", "voucher", "escaped", "used up")
TOLD = ("agency", "ranger")
QUALIFICATIONS = ("first aid", "boat handling")
ZONES = ("Australia/Sydney", "Australia/Lord_Howe", "Pacific/Auckland", "UTC")

# A flat little estuary: metres east and north of a corner in the sea, turned into degrees.
LAT_0, LON_0 = -35.5, 150.6
_A, _E2 = 6378137.0, 0.00669437999014


def _metres_per_degree() -> tuple[float, float]:
    """East and north metres of one degree at the corner (WGS84 radii of curvature)."""
    import math

    phi = math.radians(LAT_0 + 0.0018)
    root = math.sqrt(1 - _E2 * math.sin(phi) ** 2)
    prime, meridian = _A / root, _A * (1 - _E2) / root**3
    return math.radians(1) * prime * math.cos(phi), math.radians(1) * meridian


EAST_M, NORTH_M = _metres_per_degree()


def degrees(east_m: float, north_m: float) -> tuple[float, float]:
    """Longitude and latitude of a spot of the flat world."""
    return LON_0 + east_m / EAST_M, LAT_0 + north_m / NORTH_M


def metres(lon: float, lat: float) -> tuple[float, float]:
    """East and north metres of a position in the flat world."""
    return (lon - LON_0) * EAST_M, (lat - LAT_0) * NORTH_M


def _reach(west: float, south: float, east: float, north: float):
    return box(*degrees(west, south), *degrees(east, north))


AREAS = {
    area.id: area
    for area in (
        Area("west reach", "West reach", _reach(0, 0, 200, 200)),
        Area("east reach", "East reach", _reach(200, 0, 400, 200), edge_tolerance_m=3.0),
        Area("mud bay", "Mud bay", _reach(100, 100, 300, 350)),
        Area("seagrass line", "Seagrass line", LineString([degrees(0, 300), degrees(90, 300)])),
        Area("heron roost", "Heron roost", Point(degrees(350, 300)), edge_tolerance_m=3.0),
    )
}
GROUNDS = ("west reach", "east reach", "mud bay")
FEATURES = ("mud bay", "seagrass line", "heron roost")
