"""Solves the problem that crates/locate/src/reference_checks.rs sends (JSON on stdin) with SciPy, scikit-image and
statsmodels, and prints the answer (JSON on stdout)."""

import json
import sys

import numpy as np
from scipy import ndimage, stats
from skimage.feature import blob_dog, blob_log
from skimage.measure import label
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.weightstats import ttost_ind, ztost


def gaussian(problem):
    image = np.array(problem["image"], dtype=np.float64)
    values = ndimage.gaussian_filter(image, problem["sigma"], mode="reflect", truncate=4.0)
    return {"values": values.ravel().tolist()}


def blobs(problem):
    """The strongest blob of each kind: row, column, sigma. Results come weakest to strongest in no stated order, so the
    one with the strongest answer at its own scale is taken."""
    image = np.array(problem["image"], dtype=np.float64)

    def strongest(found):
        answer = [
            -(s**2) * ndimage.gaussian_laplace(image, s)[int(r), int(c)] for r, c, s in found
        ]
        return found[int(np.argmax(answer))].tolist()

    return {
        "log": strongest(blob_log(image, min_sigma=1, max_sigma=12, num_sigma=45, threshold=0.1)),
        "dog": strongest(blob_dog(image, min_sigma=1, max_sigma=12, sigma_ratio=1.2, threshold=0.02)),
    }


def maxima(problem):
    image = np.array(problem["image"])
    highest = ndimage.maximum_filter(image, size=3, mode="nearest")
    found = image == highest
    eight = np.ones((3, 3))
    return {
        "places": np.flatnonzero(found).tolist(),
        "scipy_eight": ndimage.label(found, structure=eight)[1],
        "skimage_eight": int(label(found, connectivity=2).max()),
        "scipy_four": ndimage.label(found)[1],
        "skimage_four": int(label(found, connectivity=1).max()),
    }


def multiple_tests(problem):
    p = np.array(problem["p"])
    return {
        "scipy": stats.false_discovery_control(p, method="bh").tolist(),
        "statsmodels": multipletests(p, method="fdr_bh")[1].tolist(),
    }


def welch(problem):
    found = stats.ttest_ind(problem["a"], problem["b"], equal_var=False)
    interval = found.confidence_interval(0.95)
    return {"values": [found.statistic, found.df, found.pvalue, interval.low, interval.high]}


def equivalence(problem):
    """Two one-sided tests: of two means by Welch, and of one mean whose error counts as known."""
    a, b = np.array(problem["a"]), np.array(problem["b"])
    bound = problem["bound"]
    p, above, below = ttost_ind(a, b, -bound, bound, usevar="unequal")
    of_one, low, high = ztost(a, -bound, bound)
    return {
        "statsmodels": [above[1], below[1], p],
        "scipy": [
            stats.ttest_ind(a + bound, b, equal_var=False, alternative="greater").pvalue,
            stats.ttest_ind(a - bound, b, equal_var=False, alternative="less").pvalue,
        ],
        "known_error": [low[1], high[1], of_one],
    }


def quantiles(problem):
    p = np.array(problem["p"])
    return {
        "normal": stats.norm.ppf(p).tolist(),
        "student": [stats.t.ppf(p, df).tolist() for df in problem["df"]],
    }


SOLVERS = {f.__name__: f for f in (gaussian, blobs, maxima, multiple_tests, welch, equivalence, quantiles)}
problem = json.load(sys.stdin)
print(json.dumps(SOLVERS[problem["kind"]](problem)))
