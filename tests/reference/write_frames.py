"""Writes frame files of every variant that joulemark-frames reads, each beside an .npy of what must come out.

Usage: python write_frames.py FOLDER

The files come from independent software: tifffile with imagecodecs (TIFF), NumPy (NPY, NPZ, text), Pillow (pictures) and
OpenCV (PNG, TIFF, motion-JPEG). FOLDER/expected.csv lists: file, expected array, scale (counts, kelvin or relative),
largest difference allowed, and why a difference is allowed at all.
"""

import csv
import io
import sys
import zlib
from pathlib import Path

import cv2
import numpy as np
import tifffile
from PIL import Image

FRAMES, HEIGHT, WIDTH = 5, 37, 53  # odd, so that strips and tiles end in the middle


class Cases:
    """The files written so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rows: list[tuple[str, str, str, int, str]] = []

    def add(self, name: str, array: np.ndarray, scale: str, tolerance: int = 0, why: str = "") -> None:
        """Records what FOLDER/name must read as: [t, y, x]."""
        array = array if array.ndim == 3 else array[np.newaxis]
        expected = f"expected_{len(self.rows):03}.npy"
        np.save(self.folder / expected, np.ascontiguousarray(array))
        self.rows.append((name, expected, scale, tolerance, why))

    def path(self, name: str) -> Path:
        return self.folder / name

    def finish(self) -> None:
        with open(self.folder / "expected.csv", "w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["file", "expected", "scale", "tolerance", "why"])
            writer.writerows(self.rows)


def scene(rng: np.random.Generator, frames: int = FRAMES) -> np.ndarray:
    """A smooth warm spot with noise, kelvin."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    spot = np.exp(-((x - 30) ** 2 + (y - 12) ** 2) / 60)
    rise = np.linspace(0, 5, frames)[:, None, None]
    return (296 + rise * spot + rng.normal(0, 0.05, (frames, HEIGHT, WIDTH))).astype(np.float32)


def to_counts(kelvin: np.ndarray) -> np.ndarray:
    return np.round(kelvin * 100).astype(np.uint16)


def to_grey(kelvin: np.ndarray) -> np.ndarray:
    return np.clip((kelvin - 295) * 40, 0, 255).astype(np.uint8)


def write_tiff(cases: Cases, kelvin: np.ndarray) -> None:
    counts, grey = to_counts(kelvin), to_grey(kelvin)
    signed = (counts.astype(np.int32) - 30000).astype(np.int16)
    types = {
        "u8": (grey, "relative"),
        "u16": (counts, "counts"),
        "i16": (signed, "counts"),
        "f32": (kelvin, "kelvin"),
        "f64": (kelvin.astype(np.float64) + 1e-9, "kelvin"),
        "f16": ((kelvin - 296).astype(np.float16), "kelvin"),
    }
    for type_name, (array, scale) in types.items():
        expected = array.astype(np.float32) if array.dtype.kind in "if" else array
        for order_name, order in {"little": "<", "big": ">"}.items():
            for compression in [None, "lzw", "deflate", "packbits"]:
                for predictor in [False, True] if compression in ("lzw", "deflate") else [False]:
                    for layout in ["strips", "one_strip", "tiles"]:
                        options = {"strips": {"rowsperstrip": 8}, "one_strip": {}, "tiles": {"tile": (16, 32)}}[layout]
                        name = f"{type_name}_{order_name}_{compression or 'none'}{'_predictor' if predictor else ''}_{layout}.tif"
                        tifffile.imwrite(cases.path(name), array, byteorder=order, compression=compression,
                                         predictor=predictor, photometric="minisblack", **options)
                        cases.add(name, expected, scale)
    for order_name, order in {"little": "<", "big": ">"}.items():
        name = f"big_tiff_{order_name}.tif"
        tifffile.imwrite(cases.path(name), counts, byteorder=order, bigtiff=True, photometric="minisblack")
        cases.add(name, counts, "counts")
    tifffile.imwrite(cases.path("single.tif"), counts[0], photometric="minisblack")
    cases.add("single.tif", counts[0], "counts")
    # Counts are kept as stored whatever the display polarity; grey pictures are turned to "more is brighter".
    tifffile.imwrite(cases.path("white_is_zero_u16.tif"), counts, photometric="miniswhite")
    cases.add("white_is_zero_u16.tif", counts, "counts")
    tifffile.imwrite(cases.path("white_is_zero_u8.tif"), grey, photometric="miniswhite")
    cases.add("white_is_zero_u8.tif", 255 - grey, "relative")
    with tifffile.TiffWriter(cases.path("with_thumbnails.tif")) as writer:
        for frame in counts:
            writer.write(frame, photometric="minisblack", contiguous=False, metadata=None)
            writer.write(frame[::4, ::4], photometric="minisblack", subfiletype=1, metadata=None)
    cases.add("with_thumbnails.tif", counts, "counts")
    tifffile.imwrite(cases.path("rows_per_strip_huge.tif"), counts[0], photometric="minisblack", rowsperstrip=HEIGHT)
    patch_rows_per_strip(cases.path("rows_per_strip_huge.tif"))
    cases.add("rows_per_strip_huge.tif", counts[0], "counts")
    colour = np.stack([grey, grey[:, ::-1], 255 - grey], axis=-1)
    tifffile.imwrite(cases.path("rgb.tif"), colour, photometric="rgb", planarconfig="contig")
    cases.add("rgb.tif", np.stack([np.asarray(Image.fromarray(c).convert("L")) for c in colour]), "relative")
    cv2.imwrite(str(cases.path("opencv.tif")), counts[0])
    cases.add("opencv.tif", counts[0], "counts")
    cv2.imwrite(str(cases.path("opencv_f32.tif")), kelvin[0])
    cases.add("opencv_f32.tif", kelvin[0], "kelvin")
    cv2.imwritemulti(str(cases.path("opencv_multi.tif")), list(counts))
    cases.add("opencv_multi.tif", counts, "counts")
    pages = [Image.fromarray(c) for c in counts]
    pages[0].save(cases.path("pillow_multi.tif"), save_all=True, append_images=pages[1:], compression="tiff_lzw")
    cases.add("pillow_multi.tif", counts, "counts")


def patch_rows_per_strip(path: Path) -> None:
    """Sets RowsPerStrip to 2**32 - 1, the default of TIFF 6.0 (section 3), which many writers store as it is."""
    with tifffile.TiffFile(path) as file:
        tag = file.pages[0].tags["RowsPerStrip"]
        offset = tag.offset
    data = bytearray(path.read_bytes())
    data[offset + 2 : offset + 12] = (4).to_bytes(2, "little") + (1).to_bytes(4, "little") + b"\xff\xff\xff\xff"
    path.write_bytes(data)


def write_numpy(cases: Cases, kelvin: np.ndarray) -> None:
    counts, grey = to_counts(kelvin), to_grey(kelvin)
    signed = (counts.astype(np.int32) - 30000).astype(np.int16)
    small = (grey.astype(np.int16) - 128).astype(np.int8)
    arrays = [
        (counts, "u2", "counts"), (signed, "i2", "counts"), (kelvin, "f4", "kelvin"),
        (kelvin.astype(np.float64) + 1e-9, "f8", "kelvin"), (grey, "u1", "relative"), (small, "i1", "relative"),
    ]
    for array, type_name, scale in arrays:
        expected = array.astype(np.float32) if array.dtype.kind in "if" else array
        for order in "<>" if array.itemsize > 1 else "|":
            for layout in "CF":
                for axes in [2, 3]:
                    data = np.asarray(array if axes == 3 else array[0], dtype=f"{order}{type_name}", order=layout)
                    order_name = {"<": "little", ">": "big", "|": "any"}[order]
                    for version in [(1, 0), (2, 0), (3, 0)]:
                        name = f"{type_name}_{order_name}_{layout}_{axes}d_v{version[0]}.npy"
                        with open(cases.path(name), "wb") as file:
                            np.lib.format.write_array(file, data, version=version)
                        cases.add(name, expected if axes == 3 else expected[0], scale)
    np.savez(cases.path("stored.npz"), frames=counts)
    cases.add("stored.npz", counts, "counts")
    np.savez_compressed(cases.path("packed.npz"), time_s=np.arange(FRAMES) / 9.0, frames=kelvin)
    cases.add("packed.npz", kelvin, "kelvin")


def write_pictures(cases: Cases, kelvin: np.ndarray) -> None:
    counts, grey = to_counts(kelvin)[0], to_grey(kelvin)[-1]
    cv2.imwrite(str(cases.path("opencv16.png")), counts)
    cases.add("opencv16.png", counts, "counts")
    Image.fromarray(counts).save(cases.path("pillow16.png"))
    cases.add("pillow16.png", counts, "counts")
    # gAMA (0.45455) and sBIT (14 of 16 bits) concern display only and must not alter a count.
    insert_chunks(cases.path("pillow16.png"), cases.path("gamma16.png"),
                  [(b"gAMA", (45455).to_bytes(4, "big")), (b"sBIT", bytes([14]))])
    cases.add("gamma16.png", counts, "counts")
    Image.fromarray(grey).save(cases.path("grey8.png"))
    cases.add("grey8.png", grey, "relative")
    picture = Image.fromarray(np.stack([grey, grey[::-1], 255 - grey], axis=-1))
    luma = np.asarray(picture.convert("L"))
    for name in ["colour.png", "colour.bmp"]:
        picture.save(cases.path(name))
        cases.add(name, luma, "relative")
    picture.save(cases.path("lossless.webp"), lossless=True)
    cases.add("lossless.webp", luma, "relative")
    palette = picture.quantize(64)
    palette.save(cases.path("palette.png"))
    cases.add("palette.png", np.asarray(palette.convert("RGB").convert("L")), "relative")
    palette.save(cases.path("palette.gif"))
    cases.add("palette.gif", np.asarray(palette.convert("RGB").convert("L")), "relative")
    Image.fromarray(grey).save(cases.path("grey.bmp"))
    cases.add("grey.bmp", grey, "relative")
    frames = [Image.fromarray(f) for f in to_grey(kelvin)]
    frames[0].save(cases.path("animated.gif"), save_all=True, append_images=frames[1:], duration=120)
    cases.add("animated.gif", np.stack([np.asarray(f) for f in frames]), "relative")
    # ITU-T T.83 lets inverse transforms differ by one level; for colour the conversion to RGB and back to grey rounds
    # once more on either side.
    why = "inverse transforms may differ by one level (ITU-T T.83), colour conversion rounds again"
    for quality, subsampling in [(95, 0), (75, 2)]:
        name = f"colour_{quality}.jpg"
        picture.save(cases.path(name), quality=quality, subsampling=subsampling)
        cases.add(name, np.asarray(Image.open(cases.path(name)).convert("RGB").convert("L")), "relative", 2, why)
    for progressive in [False, True]:
        name = f"grey{'_progressive' if progressive else ''}.jpg"
        Image.fromarray(grey).save(cases.path(name), quality=90, progressive=progressive)
        cases.add(name, np.asarray(Image.open(cases.path(name))), "relative", 1, why)


def insert_chunks(source: Path, target: Path, chunks: list[tuple[bytes, bytes]]) -> None:
    """Copies a PNG with further chunks behind IHDR."""
    data = source.read_bytes()
    head = 8 + 25
    extra = b"".join(
        len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big") for kind, body in chunks
    )
    target.write_bytes(data[:head] + extra + data[head:])


def write_video(cases: Cases, kelvin: np.ndarray) -> None:
    even = to_grey(kelvin)[:, :36, :48]
    colour = np.repeat(even[..., None], 3, axis=-1)
    writer = cv2.VideoWriter(str(cases.path("motion_jpeg.avi")), cv2.CAP_OPENCV_MJPEG,
                             cv2.VideoWriter_fourcc(*"MJPG"), 9.0, (48, 36))
    assert writer.isOpened(), "this OpenCV writes no motion-JPEG"
    for frame in colour:
        writer.write(frame)
    writer.release()
    # Pillow decodes the JPEG pictures found inside, so that the container is read twice, by different code.
    pictures = [np.asarray(Image.open(io.BytesIO(data)).convert("RGB").convert("L"))
                for data in jpegs(cases.path("motion_jpeg.avi").read_bytes())]
    assert len(pictures) == FRAMES, len(pictures)
    cases.add("motion_jpeg.avi", np.stack(pictures), "relative", 2,
              "inverse transforms may differ by one level (ITU-T T.83), colour conversion rounds again")


def jpegs(data: bytes) -> list[bytes]:
    """All chunks named 00dc of a RIFF file."""
    found, at = [], 0
    while (at := data.find(b"00dc", at)) >= 0:
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        if data[at + 8 : at + 10] == b"\xff\xd8":
            found.append(data[at + 8 : at + 8 + size])
            at += size
        at += 4
    return found


def write_text(cases: Cases, kelvin: np.ndarray) -> None:
    counts, frame = to_counts(kelvin), kelvin[0]
    exact = {"fmt": "%.9g"}  # nine digits bring every 32-bit value back
    np.savetxt(cases.path("comma.csv"), frame, delimiter=",", **exact)
    cases.add("comma.csv", frame, "kelvin")
    np.savetxt(cases.path("blanks.txt"), frame, **exact)
    cases.add("blanks.txt", frame, "kelvin")
    np.savetxt(cases.path("semicolon.csv"), frame, delimiter=";", newline="\r\n", header="kelvin\nrow by row", **exact)
    cases.add("semicolon.csv", frame, "kelvin")
    np.savetxt(cases.path("counts.csv"), counts[0], delimiter=",", fmt="%d")
    cases.add("counts.csv", counts[0], "counts")
    text = io.StringIO()
    np.savetxt(text, frame, delimiter="\t", **exact)
    cases.path("decimal_comma.tsv").write_bytes(b"\xef\xbb\xbf" + text.getvalue().replace(".", ",").encode())
    cases.add("decimal_comma.tsv", frame, "kelvin")
    blocks = []
    for picture in kelvin:
        text = io.StringIO()
        np.savetxt(text, picture, delimiter=",", newline=",\n", **exact)
        blocks.append(text.getvalue())
    cases.path("frames.csv").write_text("\n".join(blocks))
    cases.add("frames.csv", kelvin, "kelvin")
    labelled = [",".join(["", *map(str, range(WIDTH))])]
    labelled += [",".join([str(i), *(f"{v:.9g}" for v in row)]) for i, row in enumerate(frame)]
    cases.path("labelled.csv").write_text("\n".join(labelled))
    cases.add("labelled.csv", frame, "kelvin")


def write_raw(cases: Cases, kelvin: np.ndarray) -> None:
    counts = to_counts(kelvin)
    counts.astype("<u2").tofile(cases.path("plain.raw"))
    cases.path("plain.raw.ron").write_text(f"(width: {WIDTH}, height: {HEIGHT})")
    cases.add("plain.raw", counts, "counts")
    padded = np.zeros((FRAMES, HEIGHT + 3, WIDTH + 4), ">u2")
    padded[:, 1 : 1 + HEIGHT, :WIDTH] = counts
    cases.path("padded.raw").write_bytes(b"header!" + padded.tobytes() + b"tail")
    cases.path("padded.ron").write_text(
        f"(width: {WIDTH}, height: {HEIGHT}, offset_bytes: 7, row_bytes: {2 * (WIDTH + 4)}, big_endian: true, "
        f"frames: {FRAMES}, rows_above: 1, rows_below: 2)")
    cases.add("padded.raw", counts, "counts")


def write_folders(cases: Cases, kelvin: np.ndarray) -> None:
    """Twelve frames, so that natural order (2 before 10) matters."""
    counts = to_counts(kelvin)
    png, text = cases.path("folder_png"), cases.path("folder_csv")
    png.mkdir()
    text.mkdir()
    for i, frame in enumerate(counts):
        Image.fromarray(frame).save(png / f"frame {i}.png")
    (png / "log.csv").write_text("frame,time_s,injecting,volts,amps\n")
    cases.add("folder_png", counts, "counts")
    for i, frame in enumerate(kelvin):
        np.savetxt(text / f"t{i}.csv", frame, delimiter=";", fmt="%.9g")
    cases.add("folder_csv", kelvin, "kelvin")


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    cases = Cases(folder)
    rng = np.random.default_rng(20250711)
    kelvin = scene(rng)
    write_tiff(cases, kelvin)
    write_numpy(cases, kelvin)
    write_pictures(cases, kelvin)
    write_video(cases, kelvin)
    write_text(cases, kelvin)
    write_raw(cases, kelvin)
    write_folders(cases, scene(rng, 12))
    cases.finish()
    print(f"{len(cases.rows)} files in {folder}")


if __name__ == "__main__":
    main()
