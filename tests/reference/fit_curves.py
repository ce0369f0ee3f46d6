"""Solves the problems that crates/locate/tests/reference_fit.rs sends (JSON on stdin), with SciPy, OpenCV and
scikit-image, and prints the answers (JSON on stdout). Formulas are written independently of the Rust code."""

import json
import sys

import cv2
import numpy as np
import scipy
import skimage
from scipy.optimize import curve_fit, least_squares, nnls
from skimage.transform import SimilarityTransform


def homography(problem):
    h, _ = cv2.findHomography(np.array(problem["mm"]), np.array(problem["px"]), 0)
    return {"matrix": h.tolist()}


def linear(kind):
    def solve(problem):
        found = kind.from_estimate(np.array(problem["mm"]), np.array(problem["px"]))
        return {"matrix": found.params.tolist()}

    return solve


def affine(problem):
    """Plain least squares: scikit-image minimises an algebraic distance instead."""
    mm = np.array(problem["mm"])
    rows = np.column_stack([mm, np.ones(len(mm))])
    found, *_ = np.linalg.lstsq(rows, np.array(problem["px"]), rcond=None)
    return {"matrix": [*found.T.tolist(), [0.0, 0.0, 1.0]]}


def response(time, drive, tau, delay):
    """Sum of exponential steps, one for each change of the drive."""
    changes = np.diff(drive, prepend=0.0)
    since = time[:, None] - (time + delay)[None, :]
    steps = np.where(since > 0, -np.expm1(-np.maximum(since, 0) / tau), 0.0)
    return steps @ changes


def rise(problem):
    time, value, drive = (np.array(problem[k]) for k in ("time", "value", "drive"))
    background = np.array(problem["background"])

    def model(_, gain, tau, delay, *terms):
        return gain * response(time, drive, tau, delay) + background @ np.array(terms)

    start = [*problem["start"], *np.linalg.lstsq(background, value, rcond=None)[0]]
    answer = {}
    for name, known in (("known", True), ("from_residuals", False)):
        found, covariance = curve_fit(
            model,
            time,
            value,
            p0=start,
            sigma=np.array(problem["sigma"]) if known else None,
            absolute_sigma=known,
            method="trf",
            jac="3-point",
            x_scale="jac",
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
            max_nfev=20000,
        )
        residuals = (value - model(time, *found)) / (np.array(problem["sigma"]) if known else 1.0)
        answer[name] = {
            "values": found[:3].tolist(),
            "errors": np.sqrt(np.diag(covariance))[:3].tolist(),
            "chi_square": residuals @ residuals,
        }
    return answer


def exponential(problem):
    x, y = np.array(problem["x"]), np.array(problem["y"])
    answer = {}
    for name, known in (("known", True), ("from_residuals", False)):
        found, covariance = curve_fit(
            lambda x, b1, b2: b1 * (1 - np.exp(-b2 * x)),
            x,
            y,
            p0=problem["start"],
            sigma=np.full(len(x), problem["sigma"]) if known else None,
            absolute_sigma=known,
            method="trf",
            jac=lambda x, b1, b2: np.column_stack([1 - np.exp(-b2 * x), b1 * x * np.exp(-b2 * x)]),
            x_scale="jac",
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
        )
        answer[name] = {"values": found.tolist(), "errors": np.sqrt(np.diag(covariance)).tolist()}
    return answer


def spot(problem):
    window = np.array(problem["window"])
    row, column = np.indices(window.shape)

    def residuals(p):
        height, x, y, a, b, c, level, by_x, by_y = p
        dx, dy = column - x, row - y
        shape = height * np.exp(-0.5 * (a * dx * dx + 2 * b * dx * dy + c * dy * dy))
        return ((shape + level + by_x * column + by_y * row - window) / problem["sigma"]).ravel()

    x, y = problem["start"]
    width = problem["scale"] ** -2
    start = [np.ptp(window), x, y, width, 0.0, width, np.median(window), 0.0, 0.0]
    found = least_squares(residuals, start, jac="3-point", x_scale="jac", xtol=1e-14, ftol=1e-14, gtol=1e-14)
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    return {
        "centre": found.x[1:3].tolist(),
        "height": found.x[0],
        "covariance": covariance[1:3, 1:3].tolist(),
        "reduced_chi_square": 2 * found.cost / (window.size - 9),
    }


def moments(problem):
    values = np.array(problem["values"])
    return {"mean": values.mean(), "sd": values.std(ddof=1)}


def non_negative(problem):
    """The tall matrix itself, where the Rust code has its normal equations only."""
    found, residual = nnls(np.array(problem["matrix"]), np.array(problem["right"]))
    return {"x": found.tolist(), "residual": residual}


SOLVERS = {
    "homography": homography,
    "similarity": linear(SimilarityTransform),
    "affine": affine,
    "rise": rise,
    "exponential": exponential,
    "spot": spot,
    "moments": moments,
    "non_negative": non_negative,
}

print(
    json.dumps(
        {
            "versions": {m.__name__: m.__version__ for m in (np, scipy, cv2, skimage)},
            "answers": [SOLVERS[p["kind"]](p) for p in json.load(sys.stdin)],
        }
    )
)
