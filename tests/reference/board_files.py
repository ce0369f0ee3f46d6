"""Writes design files with independent libraries for crates/bench/tests/reference_boards.rs: DXF with ezdxf, Gerber
and IPC-D-356A with gerbonara, SVG paths measured with svgpathtools.

Usage: python board_files.py FOLDER

Makes the files in FOLDER and prints, as JSON, what the libraries say about each: outlines as [file, area in mm², width,
height, holes], and the pads of the netlist.
"""

import json
import math
import sys
import warnings
from importlib.metadata import version
from pathlib import Path

import ezdxf
import numpy as np
from ezdxf import path as dxf_path
from gerbonara import GerberFile
from gerbonara.apertures import CircleAperture
from gerbonara.cam import FileSettings
from gerbonara.graphic_objects import Arc, Line
from gerbonara.ipc356 import Netlist, PadType, TestRecord
from gerbonara.utils import MM, Inch
from svgpathtools import parse_path


def area(points: list) -> float:
    p = np.asarray(points, float)[:, :2]
    q = np.roll(p, -1, axis=0)
    return float(abs(np.sum(p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1])) / 2)


def measured(name: str, loops: list) -> list:
    outline = max(loops, key=area)
    p = np.asarray(outline, float)
    width, height = np.ptp(p[:, 0]), np.ptp(p[:, 1])
    return [name, area(outline), float(width), float(height), len(loops) - 1]


def dxf(folder: Path, rng: np.random.Generator) -> list:
    found = []
    for unit, mm in [(4, 1.0), (1, 25.4), (9, 0.0254), (5, 10.0), (13, 0.001)]:
        for dialect in ["R12", "R2000", "R2010"]:
            # R12 has neither light polylines nor a unit in its header.
            if dialect == "R12" and unit != 4:
                continue
            doc = ezdxf.new(dialect)
            doc.header["$INSUNITS"] = unit
            space = doc.modelspace()
            corners = [(0, 0), (60, 0), (60, 25), (45, 40), (0, 40)]
            bulges = [0.0, *rng.uniform(-0.4, 0.4, 3), math.tan(math.pi / 8)]
            points = [(x / mm, y / mm, b) for (x, y), b in zip(corners, bulges, strict=True)]
            if dialect == "R12":
                entity = space.add_polyline2d(points, format="xyb", close=True)
            else:
                entity = space.add_lwpolyline(points, format="xyb", close=True)
            circle = space.add_circle((20 / mm, 20 / mm), 2 / mm)
            ellipse = [] if dialect == "R12" else [space.add_ellipse((40 / mm, 20 / mm), (3 / mm, 1 / mm), 0.5)]
            loops = [
                [(v.x * mm, v.y * mm) for v in dxf_path.make_path(e).flattening(0.0005 / mm)]
                for e in [entity, circle, *ellipse]
            ]
            name = f"unit{unit}-{dialect}.dxf"
            doc.saveas(folder / name)
            found.append(measured(name, loops))
    return found


def gerber(folder: Path) -> list:
    """A slot-cornered outline in both units: straight edges and arcs of both directions."""
    found = []
    for unit, name in [(MM, "mm"), (Inch, "inch")]:
        pen = CircleAperture(0.1, unit=MM)
        r = 4.0
        lines = [((r, 0), (50, 0)), ((50, 30), (r, 30)), ((0, 30 - r), (0, r))]
        objects = [Line(*a, *b, aperture=pen, unit=MM, polarity_dark=True) for a, b in lines]
        # x1, y1, x2, y2, centre relative to the start, clockwise.
        arcs = [
            ((50, 0), (50, 30), (0, 15), False),
            ((r, 30), (0, 30 - r), (0, -r), False),
            ((0, r), (r, 0), (0, -r), True),
        ]
        for a, b, c, clockwise in arcs:
            objects.append(Arc(*a, *b, *c, clockwise=clockwise, aperture=pen, unit=MM, polarity_dark=True))
        file = GerberFile(objects=objects)
        settings = FileSettings(unit=unit, number_format=(4, 6), zeros=None)
        file.save(folder / f"{name}.gbr", settings)
        # Read back by gerbonara itself, so that the numbers are those of its own reader.
        again = GerberFile.open(folder / f"{name}.gbr")
        points, step = [], 4000
        pieces = []
        for item in again.objects:
            item = item.converted(MM)
            if isinstance(item, Line):
                pieces.append([(item.x1, item.y1), (item.x2, item.y2)])
            else:
                cx, cy = item.x1 + item.cx, item.y1 + item.cy
                a = math.atan2(item.y1 - cy, item.x1 - cx)
                b = math.atan2(item.y2 - cy, item.x2 - cx)
                sweep = (b - a) % math.tau - (math.tau if item.clockwise else 0)
                radius = math.hypot(item.cx, item.cy)
                t = a + sweep * np.linspace(0, 1, step)
                pieces.append(list(zip(cx + radius * np.cos(t), cy + radius * np.sin(t), strict=True)))
        points = pieces.pop(0)
        while pieces:
            ends = [(math.dist(points[-1], p[k]), i, k) for i, p in enumerate(pieces) for k in (0, -1)]
            _, i, k = min(ends)
            piece = pieces.pop(i)
            points += piece if k == 0 else piece[::-1]
        found.append(measured(f"{name}.gbr", [points]))
    return found


def svg(folder: Path) -> list:
    found = []
    for i, (data, scale) in enumerate(
        [
            ("M 5 5 H 65 V 30 C 65 50 40 48 30 45 Q 20 42 5 45 Z", 1.0),
            ("M 10 10 h 50 a 8 8 0 0 1 8 8 v 20 a 12 6 30 0 1 -12 6 h -46 z", 1.0),
            ("m 1 1 l 2.5 0 l 0 1.5 l -2.5 0.2 z", 25.4),
        ]
    ):
        unit = "mm" if scale == 1.0 else "in"
        name = f"path{i}.svg"
        (folder / name).write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="80{unit}" height="60{unit}" viewBox="0 0 80 60">'
            f'<g transform="translate(2 3)"><path d="{data}" style="fill:none;stroke:#000"/></g></svg>'
        )
        path = parse_path(data)
        x0, x1, y0, y1 = path.bbox()
        found.append([name, abs(path.area(chord_length=0.01)) * scale**2, (x1 - x0) * scale, (y1 - y0) * scale, 0])
    return found


def netlist(folder: Path, rng: np.random.Generator) -> list:
    found = []
    for unit, name in [(MM, "mm.ipc"), (Inch, "inch.ipc")]:
        records, truth = [], []
        for i in range(40):
            # The file's own grid: 0.001 mm or 0.0001 inch.
            grid = 0.001 if unit == MM else 0.00254
            x, y = (round(v / grid) * grid for v in rng.uniform(-20, 90, 2))
            w, h = (round(v / grid) * grid for v in rng.uniform(0.3, 4, 2))
            part = f"TP{i}"
            side = int(rng.integers(1, 3))
            net = "GND" if i % 5 == 0 else f"V{i % 7}"
            record = TestRecord(
                pad_type=PadType.SMD_PAD,
                net_name=net,
                ref_des=part,
                pin_num="1",
                access_layer=side,
                x=x,
                y=y,
                w=w,
                h=h,
                rotation=0,
                unit=MM,
            )
            # The writer asks for a field that the class misspells.
            record.leftover = ""
            records.append(record)
            truth.append([part, side, x, y, w, h, net])
        settings = FileSettings(unit=unit)
        Netlist(test_records=records).save(folder / name, settings)
        found.append([name, truth])
    return found


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    where = Path(sys.argv[1])
    rng = np.random.default_rng(356)
    outlines = dxf(where, rng) + gerber(where) + svg(where)
    libraries = {name: version(name) for name in ("ezdxf", "gerbonara", "svgpathtools")}
    print(json.dumps({"versions": libraries, "outlines": outlines, "netlists": netlist(where, rng)}))
