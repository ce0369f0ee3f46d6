"""Times the chain from counts to peaks in NumPy, SciPy and scikit-image against Joulemark on the same file, in one run.

    .venv/bin/python tests/reference/compare_speed.py [--frames 300] [--width 640] [--height 512]

Joulemark's side is the example stage_times, which is built first where it is not up to date. Both read one NPY file
with 16-bit counts; reading the file is not timed. The chain here does what Joulemark's stages "reading", "searching"
and "measuring" do: projection on the response vectors and on the six draws of the null (one matrix product per run of
pixels, threads as BLAS likes), noise per pixel, scale-space filters, covariance, scores of all candidate responses,
maxima of the null, peaks, and the time constant of each pixel by profiling over the same bank. Planes are filtered in
as many threads as there are cores. Joulemark's other stages have no counterpart here: they are in its total, and left
out of its "same chain".
"""

import argparse
import os
import re
import subprocess
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import scipy
import skimage
from scipy.ndimage import gaussian_filter
from scipy.special import erfcinv, exp1
from scipy.stats import chi2, false_discovery_control
from skimage.feature import peak_local_max

BEFORE, RATE_HZ, DRAWS = 60, 30.0, 6
POOL = ThreadPoolExecutor(os.cpu_count())


def counts(frames, height, width):
    """The recording of examples/stage_times.rs: patches, one spot that warms, noise."""
    rng = np.random.default_rng(1)
    y, x = np.mgrid[:height, :width]
    spot = 100 * np.exp(-((x - 300 * width / 640) ** 2 + (y - 200 * height / 512) ** 2) / 72)
    still = 29_815 + ((x // 8 + y // 8) % 5) * 20
    out = np.empty((frames, height, width), dtype=np.uint16)
    for t in range(frames):
        age_s = max(t - BEFORE, 0) / RATE_HZ
        out[t] = np.rint(still + spot * (1 - np.exp(-age_s / 3)) + rng.uniform(-8.6, 8.6, still.shape))
    return out


def responses(time_s, onset_s):
    """First-order and plate responses, six time constants per decade, as the Rust bank has them."""

    def grid(start, stop):
        steps = max(1, int(np.ceil(np.log10(stop / start) * 6)))
        return start * (stop / start) ** (np.arange(steps + 1) / steps)

    interval_s, duration_s = 1 / RATE_HZ, time_s[-1] - onset_s
    age = np.maximum(time_s - onset_s, 0)
    lumped = [(tau, -np.expm1(-age / tau)) for tau in grid(interval_s / 2, 3 * duration_s)]
    with np.errstate(divide="ignore"):
        plate = [(reach, np.where(age > 0, exp1(reach / age), 0)) for reach in grid(interval_s / 2, duration_s / 2)]
    taus, bank = zip(*lumped, *plate)
    return np.array(taus), np.array(bank).T


def model(frames):
    time_s = np.arange(frames) / RATE_HZ
    taus, bank = responses(time_s, (BEFORE - 0.5) / RATE_HZ)
    scaled = np.linspace(-1, 1, frames)
    background, _ = np.linalg.qr(np.stack([np.ones(frames), scaled, scaled**2], axis=1))
    off = bank - background @ (background.T @ bank)
    off /= np.linalg.norm(off, axis=0)
    u, s, _ = np.linalg.svd(off, full_matrices=False)
    kept = min(6, int(np.searchsorted(np.cumsum(s**2) / np.sum(s**2), 0.999)) + 1)
    vectors = np.hstack([background[:, 1:], u[:, :kept]])
    level = background[:, :1]
    members = bank - level @ (level.T @ bank)
    members = vectors.T @ (members / np.linalg.norm(members, axis=0))
    rng = np.random.default_rng(2)
    fixed = np.hstack([level, vectors])
    nulls = []
    for _ in range(DRAWS):
        signs = rng.choice([-1.0, 1.0], 16)[np.arange(frames) * 16 // frames]
        rest = signs[:, None] * vectors
        rest -= fixed @ (fixed.T @ rest)
        values, basis = np.linalg.eigh(rest.T @ rest)
        nulls.append(rest @ (basis / np.sqrt(np.maximum(values, 1e-12 * values.max())) @ basis.T))
    return taus, members, vectors, nulls


def project(stack, basis, chunk=16384):
    frames, height, width = stack.shape
    flat = stack.reshape(frames, -1)
    pixels = flat.shape[1]
    weights = np.ascontiguousarray(basis.T, dtype=np.float32)
    coefficients = np.empty((basis.shape[1], pixels), dtype=np.float32)
    before, variance = np.empty(pixels, np.float32), np.empty(pixels, np.float32)
    for start in range(0, pixels, chunk):
        run = slice(start, start + chunk)
        values = flat[:, run].astype(np.float32)
        first = values[0].copy()
        values -= first
        coefficients[:, run] = weights @ values
        before[run] = first + values[:BEFORE].mean(axis=0)
        steps = np.diff(values, axis=0)
        variance[run] = np.einsum("tp,tp->p", steps, steps) / (2 * (frames - 1))
    return coefficients.reshape(-1, height, width), before, variance


def scale_space(plane, octaves):
    """Differences of Gaussians of ratio 2, half an octave apart, each octave on half the grid."""
    out = []
    for octave in range(octaves):
        first = gaussian_filter(plane, 0.8) if octave == 0 else third[::2, ::2]
        second = gaussian_filter(first, 0.8)
        third = gaussian_filter(second, 0.8 * np.sqrt(2))
        fourth = gaussian_filter(third, 1.6)
        out += [first - third, second - fourth]
    return out


def filtered(planes, octaves):
    spaces = list(POOL.map(lambda plane: scale_space(plane, octaves), planes))
    return [np.stack(level) for level in zip(*spaces)]


def robust(sample, floor):
    size = len(sample)
    covariance = np.diag(np.maximum(np.median(sample**2, axis=1) / 0.454936, floor))
    limit = chi2.ppf(0.975, size)
    factor = 0.975 / chi2.cdf(limit, size + 2)
    for _ in range(5):
        inside = np.einsum("ip,ip->p", sample, np.linalg.solve(covariance, sample)) <= limit
        kept = sample[:, inside]
        values, basis = np.linalg.eigh(kept @ kept.T * (factor / kept.shape[1]))
        covariance = (basis * np.maximum(values, floor)) @ basis.T
    return covariance


def weights_of(covariance, members):
    w = np.linalg.solve(covariance, members)
    return np.ascontiguousarray((w / np.sqrt(np.sum(members * w, axis=0))).T, dtype=np.float32)


def sample_of(planes, board, most):
    places = planes.reshape(len(planes), -1)[:, board.ravel()]
    return places[:, :: -(-places.shape[1] // most)].astype(np.float64)


def p_values(z, maxima, tests):
    gaussian = np.sqrt(2) * erfcinv(2 * min(np.log(2) / tests, 0.5))
    mean = np.mean(maxima)
    width = np.sqrt((6 * np.var(maxima, ddof=1) / np.pi**2 + 1 / max(mean, gaussian, 2) ** 2) / 2)
    location = max(mean - 0.5772156649 * width, gaussian + width * np.log(np.log(2)))
    return -np.expm1(-np.exp(-(z - location) / width))


def chain(stack, board, rail):
    clock, times = time.perf_counter(), {}

    def lap(name):
        nonlocal clock
        now = time.perf_counter()
        times[name], clock = now - clock, now

    taus, members, vectors, nulls = model(len(stack))
    coefficients, _, variance = project(stack, np.hstack([vectors, *nulls]))
    typical = np.median(variance)
    sigma = np.sqrt((len(stack) * variance + 30 * typical) / (len(stack) + 30)).reshape(board.shape)
    coefficients /= sigma
    lap("reading")

    size = vectors.shape[1]
    height, width = board.shape
    octaves = int(np.clip(np.log2(0.1 * min(height, width) / 0.8), 1, 5))
    regions = [(rail & board)[:: 1 << o, :: 1 << o] for o in range(octaves)]
    others = [(board & ~rail)[:: 1 << o, :: 1 << o] for o in range(octaves)]
    boards = [board[:: 1 << o, :: 1 << o] for o in range(octaves)]
    unit = np.ascontiguousarray((members / np.linalg.norm(members, axis=0)).T, dtype=np.float32)
    squares, maxima = np.zeros((DRAWS, 2 * octaves)), np.zeros((DRAWS, 2, 2, 2 * octaves))
    for draw in range(DRAWS):
        levels = filtered(coefficients[(draw + 1) * size : (draw + 2) * size], octaves)
        for i, planes in enumerate(levels):
            squares[draw, i] = np.mean(planes[:, boards[i // 2]] ** 2)
            scores = unit @ planes.reshape(size, -1)
            up, down = scores.max(axis=0), -scores.min(axis=0)
            for r, mask in enumerate((regions[i // 2].ravel(), others[i // 2].ravel())):
                maxima[draw, r, :, i] = up[mask].max(initial=-np.inf), down[mask].max(initial=-np.inf)
    noise = squares.mean(axis=0)
    tops = (maxima / np.sqrt(noise)).max(axis=3)
    found = []
    for i, planes in enumerate(filtered(coefficients[:size], octaves)):
        mask = boards[i // 2]
        covariance = robust(sample_of(planes, mask, 10_000), noise[i])
        scores = weights_of(covariance, members) @ planes.reshape(size, -1)
        z = scores.max(axis=0).reshape(mask.shape)
        which = scores.argmax(axis=0).reshape(mask.shape)
        for y, x in peak_local_max(np.where(mask, z, 0), min_distance=1, threshold_abs=3.0, exclude_border=False):
            found.append((z[y, x], x << (i // 2), y << (i // 2), which[y, x], 0.8 * 2 ** (i / 2)))
    found.sort(reverse=True)
    peaks = []
    for peak in found:
        if all(np.hypot(peak[1] - k[1], peak[2] - k[2]) > 2.5 * max(peak[4], k[4]) for k in peaks):
            peaks.append(peak)
    p = [
        min(2 * p_values(k[0], tops[:, int(not rail[k[2], k[1]])].ravel(), board.sum() * 4 / 3), 1.0) for k in peaks
    ]
    real = np.flatnonzero(false_discovery_control(p) <= 0.05)
    lap("searching")

    smooth = np.stack(list(POOL.map(lambda plane: gaussian_filter(plane, 1.5), coefficients[:size])))
    covariance = robust(sample_of(smooth, board, 20_000), 1 / (4 * np.pi * 1.5**2))
    scores = weights_of(covariance, members) @ smooth.reshape(size, -1)
    best, which = scores.max(axis=0), scores.argmax(axis=0)
    trusted = best > 4
    which[~trusted] = np.bincount(which[trusted], minlength=1).argmax() if trusted.any() else 0
    tau_s = np.where(trusted, taus[which], np.nan)
    rise = np.einsum("pi,ip->p", unit[which], coefficients[:size].reshape(size, -1)) * sigma.ravel()
    lap("measuring")
    return times, [peaks[i] for i in real], (tau_s, rise)


def build():
    """The program that times Joulemark's stages."""
    root = Path(__file__).resolve().parents[2]
    command = ["cargo", "build", "--release", "--locked", "--package", "joulemark-locate", "--example", "stage_times"]
    subprocess.run(command, check=True, cwd=root)
    return root / os.environ.get("CARGO_TARGET_DIR", "target") / "release/examples/stage_times"


def ours(program, path):
    """Joulemark's stages in seconds, of the fastest of its runs, and its copy of the float stack."""
    text = subprocess.run([program, path], check=True, capture_output=True, text=True).stdout
    runs = []
    for block in text.strip().split("\n\n"):
        runs.append({name: float(ms) / 1e3 for ms, name in re.findall(r"([\d.]+) ms  ([a-z ]+)", block)})
    # Runs without the repair of movement follow.
    return min((run for run in runs if "looking for movement" in run), key=lambda r: r["all"]), text


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--frames", type=int, default=300)
    parser.add_argument("--width", type=int, default=640)
    parser.add_argument("--height", type=int, default=512)
    args = parser.parse_args()
    print(f"NumPy {np.__version__}, SciPy {scipy.__version__}, scikit-image {skimage.__version__}")
    program = build()
    stack = counts(args.frames, args.height, args.width)
    board = np.zeros(stack.shape[1:], dtype=bool)
    board[: int(500 * args.height / 512), : int(600 * args.width / 640)] = True
    rail = np.zeros_like(board)
    for i in range(60):
        x, y = (5 + 9 * (i % 10)) / 0.15 * args.width / 640, (6 + 12 * (i // 10)) / 0.15 * args.height / 512
        rail[max(0, int(y) - 5) : int(y) + 6, max(0, int(x) - 8) : int(x) + 9] = True
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "counts.npy"
        np.save(path, stack)
        before, text = ours(program, path)
        runs = [chain(stack, board, rail) for _ in range(2)]
        after, _ = ours(program, path)
    fastest = min((before, after), key=lambda r: r["all"])
    times, peaks, _ = min(runs, key=lambda r: sum(r[0].values()))
    stages = {
        "reading": "reading the heat out of the frames",
        "searching": "searching for hot spots",
        "measuring": "measuring hot spots",
    }
    print(f"{'stage':<12}{'NumPy s':>10}{'ours s':>10}{'ratio':>8}")
    same = 0.0
    for name, stage in stages.items():
        same += fastest[stage]
        print(f"{name:<12}{times[name]:>10.3f}{fastest[stage]:>10.3f}{times[name] / fastest[stage]:>8.1f}")
    theirs = sum(times.values())
    print(f"{'same chain':<12}{theirs:>10.3f}{same:>10.3f}{theirs / same:>8.1f}")
    print(f"{'our total':<12}{'':>10}{fastest['all']:>10.3f}{theirs / fastest['all']:>8.1f}")
    print(f"strongest peak here: column {peaks[0][1]}, row {peaks[0][2]}; {len(peaks)} real" if peaks else "no peak here")
    print(text.strip().splitlines()[-1].strip())
    print(f"Joulemark: {re.findall(r'strongest at (.*)', text)[0]}")


main()
