"""Pictures of a drawn board for crates/locate/tests/reference_align.rs, made and refined by OpenCV.

Usage: python line_up.py FOLDER

Draws the board with OpenCV at eight times the size, warps it by known mappings with cv2.warpPerspective (area
averaged), adds noise, and writes FOLDER/pictures.npy. Prints, as JSON, the board, and per picture: the mapping pixels
from millimetres, point pairs whose clicks are off, cv2.findHomography from these pairs, and that mapping refined by
cv2.findTransformECC against the drawing.
"""

import json
import sys
from pathlib import Path

import cv2
import numpy as np

SIZE = (200, 260)
FINE = 4
# Drawing pixels per millimetre in the picture that ECC aligns to.
SCALE = 8
BOARD = (50.0, 34.0)


def parts(rng: np.random.Generator) -> list:
    found = []
    for i in range(15):
        x, y = 5 + 10 * (i % 5), 6 + 11 * (i // 5)
        found.append([x, y, *rng.uniform(2, 6, 2).tolist(), float(rng.choice([0, 30, 90])), float(rng.uniform(-0.8, 0.8))])
    return found


def drawn(found: list, matrix: np.ndarray, size: tuple, outside: float) -> np.ndarray:
    """The board through a mapping, polygons filled to a sixteenth of a pixel."""
    picture = np.full(size, outside, np.float32)

    def fill(corners: list, value: float) -> None:
        p = cv2.perspectiveTransform(np.array([corners], float), matrix)[0]
        cv2.fillPoly(picture, [np.round(p * 16).astype(np.int32)], value, cv2.LINE_8, 4)

    fill([(0, 0), (BOARD[0], 0), BOARD, (0, BOARD[1])], 20.0)
    for x, y, w, h, turn, level in found:
        c, s = np.cos(np.deg2rad(turn)), np.sin(np.deg2rad(turn))
        corners = [(x + u * c - v * s, y + u * s + v * c) for u, v in [(-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2)]]
        fill(corners, 20.0 + level)
    return picture


def main(folder: Path) -> None:
    rng = np.random.default_rng(64)
    found = parts(rng)
    # Pixel centres at integers: fine pixel f of FINE belongs to (f + 0.5) / FINE - 0.5.
    to_fine = np.array([[FINE, 0, (FINE - 1) / 2], [0, FINE, (FINE - 1) / 2], [0, 0, 1.0]])
    board_px = np.array([[SCALE, 0, 20], [0, SCALE, 20], [0, 0, 1.0]])
    template = drawn(found, board_px, (int(BOARD[1] * SCALE) + 40, int(BOARD[0] * SCALE) + 40), 19.0)
    template = cv2.GaussianBlur(template, (0, 0), SCALE / 4.5)
    pictures, cases = [], []
    for _ in range(6):
        turn, scale = rng.uniform(-0.08, 0.08), rng.uniform(4.2, 4.7)
        c, s = scale * np.cos(turn), scale * np.sin(turn)
        truth = np.array([[c, -s, 16 + rng.uniform(-3, 3)], [s, c * rng.uniform(0.98, 1.02), 18 + rng.uniform(-3, 3)], [*rng.uniform(-4e-4, 4e-4, 2), 1.0]])
        fine = drawn(found, to_fine @ truth, tuple(FINE * n for n in SIZE), 19.0)
        seen = cv2.resize(fine, SIZE[::-1], interpolation=cv2.INTER_AREA)
        seen = cv2.GaussianBlur(seen, (0, 0), 0.6) + rng.normal(0, 0.05, SIZE)
        pictures.append(seen.astype(np.float32))
        mm = np.array([(0, 0), (BOARD[0], 0), BOARD, (0, BOARD[1]), (25.0, 17.0), (10.0, 28.0)])
        px = cv2.perspectiveTransform(mm[None], truth)[0] + rng.normal(0, 0.7, mm.shape)
        clicked, _ = cv2.findHomography(mm, px, 0)
        # ECC: the warp takes template pixels to picture pixels.
        warp = (clicked @ np.linalg.inv(board_px)).astype(np.float32)
        stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-7)
        _, warp = cv2.findTransformECC(template, pictures[-1], warp, cv2.MOTION_HOMOGRAPHY, stop, None, 1)
        cases.append({"truth": truth.tolist(), "mm": mm.tolist(), "px": px.tolist(), "clicked": clicked.tolist(), "ecc": (warp.astype(float) @ board_px).tolist()})
    np.save(folder / "pictures.npy", np.array(pictures))
    print(json.dumps({"version": cv2.__version__, "board": BOARD, "parts": found, "cases": cases}))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
