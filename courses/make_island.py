"""Makes the Isle of Varrow: terrain, elevation tile and the tracks of the shipped courses.

Everything here is made up. The island lies in the tile N44W036 (44 to 45° N, 35 to 36° W), open
ocean in mid-Atlantic where there is no land. Its roads are laid out first (corners with given
radii, grades between given heights); the terrain is the smoothest surface through the roads and the
coast, with some relief away from them; the tile samples that terrain every three arc-seconds with
errors like a radar survey's; the tracks sample the roads once a second with errors like a head
unit's. All random numbers are seeded: the files come out the same every time.

    python courses/make_island.py            writes the files beside this script
    python courses/make_island.py FOLDER     writes them elsewhere
"""

from __future__ import annotations

import io
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage, sparse
from scipy.sparse.linalg import spsolve

Array = NDArray[np.float64]

LAT0_DEG, LON0_DEG = 44.5, -35.5  # middle of the island
TILE = "N44W036.hgt"
SIDE = 1201
M_PER_DEG_LAT = 111_110.0  # WGS84 at 44.5° N
M_PER_DEG_LON = 79_550.0
SEED = 1887


@dataclass(frozen=True, kw_only=True)
class Road:
    """A road every metre: distance along it, east and north of the middle, height."""

    along_m: Array
    east_m: Array
    north_m: Array
    height_m: Array


# --- roads: vertices in km (east, north), corner radius in m, height in m where it is given -------

THREE_HILLS: list[tuple[float, float, float, float | None]] = [
    (-6.00, -5.00, 240, 12),
    (-4.90, -5.45, 360, None),
    (-3.60, -5.20, 450, 24),
    (-2.30, -5.65, 360, 15),
    (-0.90, -5.25, 270, 26),
    (0.50, -4.75, 40, 22),  # foot of the first hill
    (0.95, -4.10, 45, 61),
    (0.35, -3.55, 25, 113),
    (1.10, -3.05, 22, 179),
    (0.55, -2.55, 30, 215),
    (1.40, -2.00, 28, 285),
    (1.10, -1.25, 180, 317),  # top of the first hill
    (1.60, -0.75, 210, 320),
    (2.55, -0.60, 50, 286),
    (2.90, 0.05, 30, 238),
    (3.75, -0.10, 35, 174),
    (4.20, 0.60, 45, 133),
    (5.10, 0.35, 40, 77),
    (5.85, 1.00, 180, 54),  # foot of the first descent
    (7.00, 0.80, 300, 60),
    (8.05, 1.40, 270, 48),
    (8.60, 2.30, 50, 52),  # foot of the second hill
    (8.20, 3.10, 40, 83),
    (8.75, 3.70, 28, 131),
    (7.95, 4.10, 16, 196),
    (8.55, 4.55, 13, 254),  # hairpins upward
    (7.70, 4.60, 13, 311),
    (8.30, 5.05, 14, 372),
    (7.20, 5.20, 180, 437),
    (6.40, 5.75, 45, 481),
    (5.70, 5.50, 240, 525),  # top of the second hill
    (4.95, 5.70, 180, 529),
    (4.40, 5.40, 14, 504),  # hairpins downward
    (4.72, 5.20, 12, 480),
    (4.15, 5.13, 11, 438),
    (4.60, 4.93, 12, 405),
    (4.02, 4.83, 12, 362),
    (4.48, 4.63, 11, 330),
    (3.85, 4.52, 13, 282),
    (4.25, 4.30, 15, 253),
    (3.30, 4.05, 180, 190),
    (2.40, 4.45, 210, 146),  # foot of the second descent
    (1.30, 4.20, 330, 154),
    (0.20, 4.70, 300, 130),
    (-1.10, 4.40, 270, 142),
    (-2.20, 4.80, 180, 138),  # foot of the third hill
    (-2.75, 4.30, 30, 182),
    (-3.35, 4.40, 28, 234),
    (-3.70, 3.80, 40, 296),
    (-4.30, 3.65, 180, 333),  # top of the third hill
    (-4.90, 3.35, 180, 330),
    (-5.60, 3.30, 40, 302),
    (-5.85, 2.50, 32, 244),
    (-6.60, 2.25, 30, 197),
    (-6.55, 1.45, 38, 137),
    (-7.30, 1.00, 50, 76),  # foot of the third descent
    (-7.55, -0.20, 450, 45),
    (-7.15, -1.60, 450, 48),
    (-7.45, -2.90, 360, 24),
    (-6.95, -4.10, 240, 20),
    (-6.35, -4.70, 45, 14),
    (-6.00, -5.00, 240, 12),
]
TOWN: list[tuple[float, float, float, float | None]] = [
    (-8.100, -5.800, 60, 9.0),
    (-7.840, -5.790, 12, 9.5),
    (-7.825, -5.590, 9, 14.5),
    (-7.990, -5.560, 14, 15.5),
    (-8.010, -5.470, 10, 17.0),
    (-8.240, -5.500, 8, 13.0),
    (-8.262, -5.795, 11, 8.5),
    (-8.100, -5.800, 60, 9.0),
]
STEADY: list[tuple[float, float, float, float | None]] = [
    (-1.90, -2.60, 60, 96),
    (-2.35, -2.15, 70, 135),
    (-2.30, -1.60, 45, 175),
    (-2.85, -1.30, 20, 214),
    (-2.42, -1.05, 18, 248),
    (-2.75, -0.60, 60, 285),
    (-2.55, -0.15, 60, 318),
]
COAST_ROAD: list[tuple[float, float, float, float | None]] = [
    (-9.30, -6.55, 100, 6),
    (-7.20, -6.85, 400, 9),
    (-5.20, -6.70, 500, 5),
    (-2.90, -6.95, 400, 8),
    (-0.90, -6.80, 300, 6),
    (0.70, -6.62, 100, 8),
]


def laid_out(
    vertices: list[tuple[float, float, float, float | None]], *, wander_m: float, seed: int
) -> Road:
    """Straights and arcs through the vertices, grades straight between the given heights.

    ``wander_m`` is how far the straights swing to either side: no real road is a ruler's line.
    """
    points = 1000.0 * np.array([(x, y) for x, y, _, _ in vertices])
    legs = np.diff(points, axis=0)
    reach = np.hypot(*legs.T)
    unit = legs / reach[:, None]
    path, marks = [points[0]], [0.0]
    used = 0.0
    length = 0.0
    for i_corner in range(1, len(points) - 1):
        before, after = unit[i_corner - 1], unit[i_corner]
        turn = np.arctan2(before[0] * after[1] - before[1] * after[0], float(before @ after))
        room = 0.48 * min(reach[i_corner - 1], reach[i_corner])
        tangent = min(vertices[i_corner][2] * np.tan(abs(turn) / 2.0), room)
        radius = tangent / np.tan(abs(turn) / 2.0)
        start = points[i_corner] - tangent * before
        straight = reach[i_corner - 1] - used - tangent
        n_steps = max(1, round(straight))
        path += [path[-1] + (start - path[-1]) * k / n_steps for k in range(1, n_steps + 1)]
        angles = np.linspace(0.0, turn, max(3, round(radius * abs(turn))) + 1)[1:]
        normal = np.sign(turn) * np.array([-before[1], before[0]])
        centre = start + radius * normal
        for angle in angles:
            c, s = np.cos(angle), np.sin(angle)
            spoke = -radius * normal
            path.append(
                centre + np.array([c * spoke[0] - s * spoke[1], s * spoke[0] + c * spoke[1]])
            )
        length += straight + radius * abs(turn)
        marks.append(length - radius * abs(turn) / 2.0)
        used = tangent
    n_steps = max(1, round(reach[-1] - used))
    path += [path[-1] + (points[-1] - path[-1]) * k / n_steps for k in range(1, n_steps + 1)]
    line = np.array(path)
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    marks.append(float(along[-1]))
    even = np.linspace(0.0, along[-1], round(along[-1]) + 1)
    x, y = np.interp(even, along, line[:, 0]), np.interp(even, along, line[:, 1])
    x, y = _with_wander(even, x, y, wander_m, seed)
    even *= _length(x, y) / even[-1]
    known = [(marks[i], vertex[3]) for i, vertex in enumerate(vertices) if vertex[3] is not None]
    heights = np.interp(even, [m * even[-1] / marks[-1] for m, _ in known], [h for _, h in known])
    # Roads bend over crests and dips in vertical curves of some 100 m, and are not quite even.
    heights = ndimage.gaussian_filter1d(heights, 30.0 if wander_m > 2.0 else 15.0, mode="nearest")
    swell = ndimage.gaussian_filter1d(
        np.random.default_rng(seed + 1).normal(size=len(even)), 120.0, mode="nearest"
    )
    heights += min(0.25 * wander_m, 2.0) * swell / max(float(np.abs(swell).max()), 1e-9)
    return Road(along_m=even, east_m=x, north_m=y, height_m=heights)


def _length(x: Array, y: Array) -> float:
    return float(np.hypot(np.diff(x), np.diff(y)).sum())


def _with_wander(
    even: Array, x: Array, y: Array, wander_m: float, seed: int
) -> tuple[Array, Array]:
    """Swing the straights sideways, gently, and leave corners and ends as they are."""
    heading = np.unwrap(np.arctan2(np.gradient(x), np.gradient(y)))
    bend = np.abs(np.gradient(heading)) / np.gradient(even)
    swing = ndimage.gaussian_filter1d(
        np.random.default_rng(seed).normal(size=len(even)), 8.0 * wander_m + 30.0, mode="nearest"
    )
    swing *= wander_m / max(float(np.abs(swing).max()), 1e-9)
    calm = 1.0 - np.clip(ndimage.maximum_filter1d((bend > 1 / 150).astype(float), 121), 0.0, 1.0)
    calm[:150], calm[-150:] = 0.0, 0.0
    swing *= ndimage.gaussian_filter1d(calm, 25.0)
    return x + swing * np.cos(heading), y - swing * np.sin(heading)


def there_and_back(road: Road) -> Road:
    """Out on one side of the road, round a cone, back on the other."""
    heading = np.arctan2(np.gradient(road.east_m), np.gradient(road.north_m))
    side = 3.0
    x_out, y_out = road.east_m + side * np.cos(heading), road.north_m - side * np.sin(heading)
    x_in, y_in = road.east_m - side * np.cos(heading), road.north_m + side * np.sin(heading)
    angles = np.linspace(0.0, np.pi, 12)[1:-1]
    end = heading[-1] + np.pi / 2.0 - angles
    x_turn = road.east_m[-1] + side * np.sin(end)
    y_turn = road.north_m[-1] + side * np.cos(end)
    x = np.concatenate([x_out, x_turn, x_in[::-1]])
    y = np.concatenate([y_out, y_turn, y_in[::-1]])
    height = np.concatenate(
        [road.height_m, np.full(len(angles), road.height_m[-1]), road.height_m[::-1]]
    )
    along = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    return Road(along_m=along, east_m=x, north_m=y, height_m=height)


# --- terrain and tile -------------------------------------------------------------------------


def terrain(roads: list[Road]) -> tuple[Array, Array, Array]:
    """Heights on a grid of the tile's own posts around the island.

    Returns
    -------
    rows, columns : arrays
        Row and column numbers of the part of the tile that holds the island.
    heights_m : (n_rows, n_columns) array
    """
    step_n = M_PER_DEG_LAT / (SIDE - 1)
    step_e = M_PER_DEG_LON / (SIDE - 1)
    rows = np.arange(600 - 110, 600 + 111)
    columns = np.arange(600 - 220, 600 + 221)
    north = (600 - rows)[:, None] * step_n + np.zeros((1, len(columns)))
    east = (columns - 600)[None, :] * step_e + np.zeros((len(rows), 1))
    rng = np.random.default_rng(SEED)
    ragged = ndimage.gaussian_filter(rng.normal(size=north.shape), 8.0)
    ragged /= np.abs(ragged).max()
    island = (east / 11_800.0) ** 2 + ((north + 300.0) / 8_300.0) ** 2 < 1.0 + 0.22 * ragged
    x = np.concatenate([road.east_m for road in roads])
    y = np.concatenate([road.north_m for road in roads])
    h = np.concatenate([road.height_m for road in roads])
    row, column = (600 - y / step_n) - rows[0], (x / step_e + 600) - columns[0]
    near_road = np.zeros(north.shape, dtype=bool)
    near_road[np.round(row).astype(int), np.round(column).astype(int)] = True
    away = ndimage.distance_transform_edt(~near_road)
    island |= away < 4.0
    heights = _smoothest(island, row, column, h)
    relief = ndimage.gaussian_filter(rng.normal(size=north.shape), 5.0)
    relief *= 45.0 / np.abs(relief).max()
    inland = np.clip(ndimage.distance_transform_edt(island) / 12.0, 0.0, 1.0)
    heights += relief * (1.0 - np.exp(-((away / 8.0) ** 2))) * inland
    return rows, columns, np.where(island, np.maximum(heights, 1.0), 0.0)


def _smoothest(island: NDArray[np.bool_], row: Array, column: Array, h: Array) -> Array:
    """The surface of least bending through the road points, 0 at sea."""
    n_columns = island.shape[1]
    size = island.size
    ones = np.ones(size)
    bend_r = sparse.diags([ones, -2 * ones, ones], [-n_columns, 0, n_columns], shape=(size, size))
    bend_c = sparse.diags([ones, -2 * ones, ones], [-1, 0, 1], shape=(size, size))
    i, j = np.floor(row).astype(int), np.floor(column).astype(int)
    v, u = row - i, column - j
    first = i * n_columns + j
    corners = np.concatenate([first, first + 1, first + n_columns, first + n_columns + 1])
    shares = np.concatenate([(1 - v) * (1 - u), (1 - v) * u, v * (1 - u), v * u])
    points = np.tile(np.arange(len(h)), 4)
    places = sparse.csr_matrix((shares, (points, corners)), shape=(len(h), size))
    sea = sparse.diags((~island).ravel().astype(float))
    matrix = 0.02 * (bend_r.T @ bend_r + bend_c.T @ bend_c) + 1.0 * sea + places.T @ places
    heights = spsolve(matrix.tocsc(), places.T @ h)
    return np.asarray(heights).reshape(island.shape)


def tile_bytes(rows: Array, columns: Array, heights_m: Array) -> bytes:
    """The .hgt tile: whole metres, with errors of 1.5 m that reach over about a post and a half."""
    rng = np.random.default_rng(SEED + 7)
    error = ndimage.gaussian_filter(rng.normal(size=heights_m.shape), 0.8)
    error *= 1.5 / error.std()
    surveyed = np.where(heights_m > 0.0, np.maximum(np.round(heights_m + error), 0.0), 0.0)
    posts = np.zeros((SIDE, SIDE), dtype=">i2")
    posts[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] = surveyed.astype(">i2")
    return posts.tobytes()


# --- tracks -----------------------------------------------------------------------------------


def drifting(along_m: Array, sd: float, reach_m: float, rng: np.random.Generator) -> Array:
    """Errors that last for a while (exponential correlation)."""
    error = np.empty(len(along_m))
    error[0] = rng.normal(0.0, sd)
    keep = np.exp(-np.diff(along_m) / reach_m)
    fresh = rng.normal(0.0, sd, len(along_m) - 1) * np.sqrt(1.0 - keep**2)
    for k in range(1, len(along_m)):
        error[k] = keep[k - 1] * error[k - 1] + fresh[k - 1]
    return error


def recorded(road: Road, *, seed: int) -> tuple[Array, Array, Array]:
    """Latitude, longitude and height once a second, as a head unit would write them."""
    rng = np.random.default_rng(seed)
    run = road.along_m
    grade = np.gradient(ndimage.gaussian_filter1d(road.height_m, 20.0), run)
    heading = np.unwrap(np.arctan2(np.gradient(road.east_m), np.gradient(road.north_m)))
    bend = ndimage.gaussian_filter1d(np.abs(np.gradient(heading, run)), 3.0)
    speed = np.clip(10.0 - 75.0 * grade, 3.5, 17.0)
    speed = np.minimum(speed, np.sqrt(4.0 / np.maximum(bend, 1e-3)))
    speed = ndimage.gaussian_filter1d(ndimage.minimum_filter1d(speed, 15), 12.0)
    clock = np.concatenate(([0.0], np.cumsum(np.diff(run) / speed[:-1])))
    at = np.append(np.interp(np.arange(0.0, clock[-1]), clock, run), run[-1])
    east = np.interp(at, run, road.east_m)
    north = np.interp(at, run, road.north_m)
    for values in (east, north):
        values += drifting(at, 1.2, 120.0, rng) + rng.normal(0.0, 0.12, len(at))
    height = np.interp(at, run, road.height_m)
    height += drifting(at, 0.25, 25.0, rng) + np.cumsum(rng.normal(0.0, 0.02, len(at)))
    return (
        LAT0_DEG + north / M_PER_DEG_LAT,
        LON0_DEG + east / M_PER_DEG_LON,
        np.round(height / 0.2) * 0.2,
    )


def gpx_text(name: str, lats: Array, lons: Array, heights: Array | None, *, start: str) -> str:
    """A GPX 1.1 track; with times if it has heights."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="make_island.py" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<trk><name>{name}</name><trkseg>",
    ]
    first = np.datetime64(start, "s")
    for k, (lat, lon) in enumerate(zip(lats, lons, strict=True)):
        inner = ""
        if heights is not None:
            inner = f"<ele>{heights[k]:.1f}</ele><time>{first + np.timedelta64(k, 's')}Z</time>"
        lines.append(f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}">{inner}</trkpt>')
    return "\n".join([*lines, "</trkseg></trk></gpx>", ""])


def island_roads() -> dict[str, Road]:
    """The true roads, by name of the course."""
    coast = laid_out(COAST_ROAD, wander_m=20.0, seed=SEED + 30)
    return {
        "three-hills": laid_out(THREE_HILLS, wander_m=22.0, seed=SEED + 10),
        "town-criterium": laid_out(TOWN, wander_m=0.6, seed=SEED + 20),
        "steady-climb": laid_out(STEADY, wander_m=8.0, seed=SEED + 40),
        "windy-out-and-back": there_and_back(coast),
    }


def main(folder: Path) -> None:
    """Write the tile and the four tracks."""
    roads = island_roads()
    rows, columns, heights_m = terrain(list(roads.values()))
    (folder / "tiles").mkdir(parents=True, exist_ok=True)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        entry = zipfile.ZipInfo(TILE, date_time=(2026, 1, 1, 0, 0, 0))
        entry.compress_type = zipfile.ZIP_DEFLATED
        archive.writestr(entry, tile_bytes(rows, columns, heights_m))
    (folder / "tiles" / f"{TILE}.zip").write_bytes(packed.getvalue())
    for number, (name, road) in enumerate(roads.items()):
        lats, lons, heights = recorded(road, seed=SEED + 100 + number)
        text = gpx_text(
            name.replace("-", " ").title(),
            lats,
            lons,
            None if name == "three-hills" else heights,
            start=f"2026-05-{3 + 7 * number:02d}T09:00:00",
        )
        (folder / name).mkdir(parents=True, exist_ok=True)
        (folder / name / "track.gpx").write_bytes(text.encode("utf-8"))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent)
