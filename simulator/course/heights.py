"""Which heights to use: the track's own, elevation tiles, or both; and why."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from simulator.course.course import Finding, FloatArray
from simulator.course.noise import LEVELS, HeightNoise, at_least, estimate_noise
from simulator.course.tiles import FETCH_COMMAND, TileHeights, heights_from_tiles, tile_name
from simulator.errors import InputError
from simulator.measures import Measures, Phrase, amount

CHOICES = ("auto", "track", "tiles")
# A track with fewer of its heights than this counts as one without.
_ENOUGH_SHARE = 0.5
_LONG_HOLE_M = 500.0
# Tiles beat the track's own heights when these are noisier than a tile's level by this much.
_TILES_IF_NOISIER = 1.2
_DEFAULT_FOLDERS_TEXT = "give a folder of elevation tiles with `--tiles FOLDER`"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawHeights:
    """Heights of the points before smoothing, complete, with the noise to expect."""

    heights_m: FloatArray
    noise: HeightNoise
    source: str  # "track", "tiles" or "track and tiles"
    findings: tuple[Finding, ...]


def choose_heights(
    *,
    file: str,
    places_m: FloatArray,
    lats_deg: FloatArray,
    lons_deg: FloatArray,
    track_heights_m: FloatArray,
    choice: str = "auto",
    tiles_folder: Path | None = None,
    allow_download: bool = False,
) -> RawHeights:
    """Pick the heights of a track's points.

    Parameters
    ----------
    file : str
        Track file as the user named it, for messages.
    places_m : (n,) array
        Distances along the road.
    lats_deg, lons_deg : (n,) arrays
    track_heights_m : (n,) array
        The track's own; NaN where missing.
    choice : str
        ``"track"``, ``"tiles"`` or ``"auto"``. Auto takes the track's heights if it has them
        and they are not noisier than the tiles at hand; otherwise the tiles.
    tiles_folder : Path, optional
    allow_download : bool
        Fetch missing tiles.

    Returns
    -------
    RawHeights

    Raises
    ------
    InputError
        If the heights asked for are not there.
    """
    known = np.isfinite(track_heights_m)
    is_constant = bool(known.sum() > 2) and float(np.ptp(track_heights_m[known])) == 0.0
    has_own = bool(known.mean() >= _ENOUGH_SHARE) and not (
        is_constant and float(track_heights_m[known][0]) == 0.0
    )
    findings: list[Finding] = []
    if known.any() and is_constant:
        value = float(track_heights_m[known][0])
        rest = "taken as missing" if not has_own else "a flat course, if that is true"
        text = Phrase(
            f"all heights in the track are {{height}}; {rest}",
            height=amount(Measures.height_as_written, value),
        )
        findings.append(Finding(level="doubt", text=text))
    can_use_tiles = tiles_folder is not None
    if choice == "track" and not known.any():
        raise InputError(
            file=file,
            found="the track has no heights",
            expected="heights in the track, as asked for",
            mend=f"leave the choice to `auto` and {_DEFAULT_FOLDERS_TEXT}",
        )
    if choice == "tiles" and not can_use_tiles:
        raise InputError(
            file=file,
            found="heights from tiles are asked for but no folder of tiles is given",
            mend=_DEFAULT_FOLDERS_TEXT,
        )
    if choice == "track" or (choice == "auto" and has_own):
        own = _own_heights(places_m, track_heights_m, known)
        if choice == "track" or tiles_folder is None:
            findings += _hole_findings(places_m, known)
            return RawHeights(
                heights_m=own,
                noise=estimate_noise(places_m, own),
                source="track",
                findings=tuple(findings),
            )
        return _best_of_both(file, places_m, lats_deg, lons_deg, own, known, tiles_folder, findings)
    if tiles_folder is None:
        names = sorted({tile_name(a, b) for a, b in zip(lats_deg, lons_deg, strict=True)})
        shown = ", ".join(names[:3]) + (" and more" if len(names) > 3 else "")
        missing = int((~known).sum())
        raise InputError(
            file=file,
            found=(
                f"height missing on {missing} of {len(known)} points"
                if not is_constant
                else "all heights are 0"
            ),
            expected="heights in the track or elevation tiles",
            mend=f"{_DEFAULT_FOLDERS_TEXT} (needed: {shown}), or fetch them: {FETCH_COMMAND}",
        )
    tiles = heights_from_tiles(lats_deg, lons_deg, tiles_folder, allow_download=allow_download)
    if choice == "auto":
        why = "the track has no heights" if not known.any() else "the track lacks most heights"
        if is_constant:
            why = "the track's heights are all the same"
        findings.append(Finding(level="note", text=f"heights from elevation tiles: {why}"))
    return _from_tiles(places_m, tiles, str(tiles_folder), findings)


def _own_heights(
    places_m: FloatArray, heights_m: FloatArray, known: NDArray[np.bool_]
) -> FloatArray:
    """The track's heights with holes filled by straight grades."""
    return np.asarray(np.interp(places_m, places_m[known], heights_m[known]))


def _hole_findings(places_m: FloatArray, known: NDArray[np.bool_]) -> list[Finding]:
    missing = int((~known).sum())
    if not missing:
        return []
    around = np.concatenate(([places_m[0]], places_m[known], [places_m[-1]]))
    hole = float(np.diff(around).max())
    place = float(around[int(np.argmax(np.diff(around)))])
    text = Phrase(
        f"height missing on {missing} of {len(known)} points; filled by straight grades, the "
        "longest over {hole}",
        hole=amount(Measures.height, hole),
    )
    level = "doubt" if hole > _LONG_HOLE_M else "note"
    return [Finding(level=level, text=text, distance_m=place)]


def tile_noise(places_m: FloatArray, tiles: TileHeights, heights_m: FloatArray) -> HeightNoise:
    """Noise of heights from tiles: never believed better than the published level."""
    level = LEVELS["tiles_30m" if tiles.side >= 3601 else "tiles_90m"]
    return at_least(estimate_noise(places_m, heights_m, reach_m=level.reach_m), level)


def _from_tiles(
    places_m: FloatArray, tiles: TileHeights, folder: str, findings: list[Finding]
) -> RawHeights:
    known = np.isfinite(tiles.heights_m)
    if not known.any():
        raise InputError(
            file=folder,
            found=f"the tiles {', '.join(tiles.tiles)} hold no heights along this track (void)",
            mend="use other tiles or a track with heights",
        )
    heights = _own_heights(places_m, tiles.heights_m, known)
    if not known.all():
        edges = np.flatnonzero(np.diff(np.concatenate(([1], known.astype(np.int8), [1]))))
        widths = [
            float(places_m[min(b, len(places_m) - 1)] - places_m[max(a - 1, 0)])
            for a, b in zip(edges[::2], edges[1::2], strict=True)
        ]
        place = float(places_m[edges[::2][int(np.argmax(widths))]])
        text = Phrase(
            "the tiles have no height over {all} of the course (voids); filled by straight grades, "
            "the longest over {longest}",
            all=amount(Measures.height, sum(widths)),
            longest=amount(Measures.height, max(widths)),
        )
        level = "doubt" if max(widths) > _LONG_HOLE_M else "note"
        findings = [*findings, Finding(level=level, text=text, distance_m=place)]
    return RawHeights(
        heights_m=heights,
        noise=tile_noise(places_m, tiles, heights),
        source="tiles",
        findings=tuple(findings),
    )


def _best_of_both(
    file: str,
    places_m: FloatArray,
    lats_deg: FloatArray,
    lons_deg: FloatArray,
    own: FloatArray,
    known: NDArray[np.bool_],
    tiles_folder: Path,
    findings: list[Finding],
) -> RawHeights:
    """Auto with both at hand: the track's own unless the tiles are calmer; holes from tiles."""
    noise = estimate_noise(places_m, own)
    try:
        tiles = heights_from_tiles(lats_deg, lons_deg, tiles_folder)
    except InputError as error:
        why_not = str(error).removesuffix(".")
        note = Finding(level="note", text=f"heights from the track; tiles not used: {why_not}")
        return RawHeights(
            heights_m=own,
            noise=noise,
            source="track",
            findings=(*findings, *_hole_findings(places_m, known), note),
        )
    from_tiles = _from_tiles(places_m, tiles, str(tiles_folder), findings)
    if _density(noise) > _TILES_IF_NOISIER * _density(from_tiles.noise):
        why = Phrase(
            "heights from elevation tiles: the track's own are noisier ({noise} over {reach})",
            noise=amount(Measures.height, noise.sd_m, 1),
            reach=amount(Measures.height, noise.reach_m),
        )
        return RawHeights(
            heights_m=from_tiles.heights_m,
            noise=from_tiles.noise,
            source="tiles",
            findings=(*from_tiles.findings, Finding(level="note", text=why)),
        )
    if known.all():
        why = Phrase(
            "heights from the track: its noise, {noise}, is below that of tiles",
            noise=amount(Measures.height, noise.sd_m, 1),
        )
        return RawHeights(
            heights_m=own,
            noise=noise,
            source="track",
            findings=(*findings, Finding(level="note", text=why)),
        )
    # Tiles and tracks differ by an offset that drifts: it is bridged linearly across each hole.
    offset = np.interp(places_m, places_m[known], (own - from_tiles.heights_m)[known])
    mixed = np.where(known, own, from_tiles.heights_m + offset)
    text = f"height missing on {int((~known).sum())} of {len(known)} points; filled from tiles"
    return RawHeights(
        heights_m=mixed,
        noise=noise,
        source="track and tiles",
        findings=(*findings, Finding(level="note", text=text)),
    )


def _density(noise: HeightNoise) -> float:
    return noise.sd_m**2 * max(2.0 * noise.reach_m, 10.0)
