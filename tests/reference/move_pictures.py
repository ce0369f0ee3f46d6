"""Measures and undoes the movements that crates/locate/tests/reference_motion.rs sends, with scikit-image and SciPy.

Usage: python move_pictures.py write FOLDER, then python move_pictures.py compare FOLDER

`write` makes FOLDER/periodic.npy (frames: a picture, then shifted copies of it, periodic) with the shifts that
scikit-image finds in FOLDER/periodic.json, and FOLDER/moved.npy (a band-limited picture, then moved copies) with their
poses in FOLDER/moved.json. `compare` reads what the Rust code laid back (FOLDER/steady.npy) and prints, per frame, its
root mean square error and that of SciPy's cubic spline, both against the picture itself, as shares of the picture's
spread.
"""

import json
import sys
from pathlib import Path

import numpy as np
import scipy
import skimage
from scipy import ndimage
from skimage.registration import phase_cross_correlation

SIZE = 128
BLUR_PX = 2.0
# A lens with its pixel; what the kernel was made for.
LENS_PX = 0.9
SHIFTS = [(3.25, -7.6), (0.5, 0.5), (-12.1, 4.37), (0.03, -0.01)]
# x, y in pixels, degrees.
POSES = [(0.5, -0.5, 0.0), (-7.3, 4.6, 0.0), (0.25, 9.9, 0.0), (2.2, -3.1, 0.4), (-5.5, 6.5, -2.0)]
SIDE = (120, 160)
# Moved pictures look up to this far beyond the border.
MARGIN = 24


def periodic(folder: Path) -> None:
    rng = np.random.default_rng(8)
    picture = ndimage.gaussian_filter(rng.normal(size=(SIZE, SIZE)), BLUR_PX, mode="wrap")
    frames, found = [picture], []
    for shift in SHIFTS:
        moved = np.fft.ifft2(ndimage.fourier_shift(np.fft.fft2(picture), shift)).real
        frames.append(moved)
        answer = phase_cross_correlation(picture, moved, upsample_factor=100, normalization=None)[0]
        found.append({"truth": [-s for s in shift], "found": answer.tolist()})
    np.save(folder / "periodic.npy", np.array(frames, np.float32))
    (folder / "periodic.json").write_text(json.dumps(found))


def scene() -> np.ndarray:
    """White noise on a grid four times as fine, blurred by the lens: a picture known anywhere."""
    rng = np.random.default_rng(9)
    fine = rng.normal(size=tuple(4 * (s + 2 * MARGIN) for s in SIDE))
    fine = ndimage.gaussian_filter(fine, 4 * LENS_PX, mode="wrap")
    return fine / fine.std()


def seen(fine: np.ndarray, pose: tuple[float, float, float]) -> np.ndarray:
    """The picture when what was at p is at c + R (p - c) + d: looked up at the inverse, on the fine grid."""
    x, y, degrees = pose
    row, column = np.indices(SIDE, float)
    cy, cx = (SIDE[0] - 1) / 2, (SIDE[1] - 1) / 2
    sin, cos = np.sin(np.deg2rad(degrees)), np.cos(np.deg2rad(degrees))
    u, v = column - cx - x, row - cy - y
    source = np.array([cy - sin * u + cos * v, cx + cos * u + sin * v])
    # At a quarter of a pixel a spline of fifth order is exact to some 1e-6.
    return ndimage.map_coordinates(fine, 4 * (source + MARGIN), order=5, mode="nearest")


def moved(folder: Path) -> None:
    fine = scene()
    frames = [seen(fine, (0, 0, 0))] + [seen(fine, pose) for pose in POSES]
    np.save(folder / "moved.npy", np.array(frames, np.float32))
    (folder / "moved.json").write_text(json.dumps(POSES))


def compare(folder: Path) -> None:
    frames = np.load(folder / "moved.npy").astype(float)
    steady = np.load(folder / "steady.npy").astype(float)
    inside = np.s_[MARGIN:-MARGIN, MARGIN:-MARGIN]
    still = frames[0][inside]
    row, column = np.indices(SIDE, float)
    cy, cx = (SIDE[0] - 1) / 2, (SIDE[1] - 1) / 2
    errors = []
    for (x, y, degrees), frame, ours in zip(POSES, frames[1:], steady[1:], strict=True):
        sin, cos = np.sin(np.deg2rad(degrees)), np.cos(np.deg2rad(degrees))
        u, v = column - cx, row - cy
        there = np.array([cy + y + sin * u + cos * v, cx + x + cos * u - sin * v])
        spline = ndimage.map_coordinates(frame, there, order=3, mode="nearest")
        rms = [float(np.sqrt(np.mean((a[inside] - still) ** 2))) for a in (ours, spline)]
        errors.append({"ours": rms[0], "spline": rms[1]})
    versions = {m.__name__: m.__version__ for m in (np, scipy, skimage)}
    print(json.dumps({"versions": versions, "errors": errors}))


if __name__ == "__main__":
    where = Path(sys.argv[2])
    if sys.argv[1] == "write":
        periodic(where)
        moved(where)
    else:
        compare(where)
