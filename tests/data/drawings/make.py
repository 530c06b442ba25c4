"""Writes the drawings of this folder with ezdxf 1.4.5, svgwrite 1.4.3 and OpenSCAD 2021.01, and their areas and lengths by hand into expected.csv.

    python3 make.py

Every shape is invented; its area and length are worked out here from textbook geometry, not by the program under test.
"""

import csv
import math
import shutil
import subprocess

import ezdxf
import svgwrite
from ezdxf import units

PROGRAMS = f"ezdxf {ezdxf.__version__}, svgwrite {svgwrite.__version__}"
rows = []


def expect(file, unit, layer, closed, open_, area, length, how):
    """Area in unit^2 of all closed contours (holes count against), length of all contours in units."""
    rows.append([file, unit, layer, closed, open_, f"{area:.12g}", f"{length:.12g}", how])


def quarter_weights():
    return [1, math.sqrt(0.5), 1, math.sqrt(0.5), 1, math.sqrt(0.5), 1, math.sqrt(0.5), 1]


def basic(doc, layers=True):
    """Shapes whose area and length are known, on a layer each."""
    msp = doc.modelspace()
    at = lambda name: {"layer": name}
    for name in ["square", "slot", "disc", "lines", "arcs", "ellipse", "half ellipse", "spline", "hatch", "pads", "nested",
                 "mirrored", "open", "old"]:
        doc.layers.add(name)
    if doc.dxfversion > "AC1009":
        msp.add_lwpolyline([(0, 0), (30, 0), (30, 20), (0, 20)], close=True, dxfattribs=at("square"))
        # A slot: straight sides of 40, ends half circles of radius 5.
        msp.add_lwpolyline([(0, 0, 0), (40, 0, 1), (40, 10, 0), (0, 10, 1)], format="xyb", close=True, dxfattribs=at("slot"))
        msp.add_ellipse((5, 5), (20, 10), 0.25, dxfattribs=at("ellipse"))
        msp.add_ellipse((5, 5), (20, 0), 0.5, 0, math.pi, dxfattribs=at("half ellipse"))
        msp.add_line((-15, 5), (25, 5), dxfattribs=at("half ellipse"))
        # A circle of radius 7 as a rational spline.
        r = 7
        points = [(r, 0), (r, r), (0, r), (-r, r), (-r, 0), (-r, -r), (0, -r), (r, -r), (r, 0)]
        spline = msp.add_rational_spline([(x + 50, y - 30) for x, y in points], weights=quarter_weights(), degree=2,
                                         knots=[0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], dxfattribs=at("spline"))
        assert spline.dxf.degree == 2
        # A frame: hatch with a square and a hole with bulges, and its outer outline drawn once more.
        hatch = msp.add_hatch(dxfattribs=at("hatch"))
        hatch.paths.add_polyline_path([(0, 0), (20, 0), (20, 20), (0, 20)], is_closed=True)
        hatch.paths.add_polyline_path([(8, 10, 1), (12, 10, 1)], is_closed=True)
        edges = hatch.paths.add_edge_path()
        # A half disc by an edge and an arc, and the other way round in the second.
        edges.add_line((30, 0), (40, 0))
        edges.add_arc((35, 0), 5, 0, 180, ccw=True)
        edges = hatch.paths.add_edge_path()
        edges.add_arc((55, 0), 5, 0, 180, ccw=False)
        edges.add_line((60, 0), (50, 0))
        edges = hatch.paths.add_edge_path()
        edges.add_ellipse((80, 0), (10, 0), 0.5, 0, 360, ccw=True)
        edges = hatch.paths.add_edge_path()
        edges.add_spline(control_points=[(100, 0), (100, 10), (110, 10)], degree=2, knot_values=[0, 0, 0, 1, 1, 1])
        edges.add_line((110, 10), (110, 0))
        edges.add_line((110, 0), (100, 0))
        msp.add_lwpolyline([(0, 0), (20, 0), (20, 20), (0, 20)], close=True, dxfattribs=at("hatch"))
    else:
        msp.add_polyline2d([(0, 0), (30, 0), (30, 20), (0, 20)], close=True, dxfattribs=at("square"))
        msp.add_polyline2d([(0, 0, 0), (40, 0, 1), (40, 10, 0), (0, 10, 1)], format="xyb", close=True, dxfattribs=at("slot"))
    msp.add_circle((-20, -20), 8, dxfattribs=at("disc"))
    # A triangle of lines in no order, and a half disc of a line and an arc.
    for a, b in [((0, 0), (30, 0)), ((0, 40), (30, 0)), ((0, 40), (0, 0))]:
        msp.add_line(a, b, dxfattribs=at("lines"))
    msp.add_arc((100, 0), 12, 0, 180, dxfattribs=at("arcs"))
    msp.add_line((88, 0), (112, 0), dxfattribs=at("arcs"))
    msp.add_line((0, 0), (3, 4), dxfattribs=at("open"))
    msp.add_arc((50, 50), 10, 300, 60, dxfattribs=at("open"))
    msp.add_polyline2d([(0, 0), (10, 0), (10, 10), (0, 10)], close=True, dxfattribs=at("old"))
    msp.add_text("not a shape", dxfattribs=at("open"))
    # A block of a pad of 4 x 2 on layer 0 about its base point, in an array of 3 x 2, turned and stretched.
    pad = doc.blocks.new("PAD", base_point=(2, 1))
    pad.add_polyline2d([(0, 0), (4, 0), (4, 2), (0, 2)], close=True)
    msp.add_blockref("PAD", (10, 10), dxfattribs={"layer": "pads", "rotation": 30, "xscale": 2, "yscale": 3,
                                                 "column_count": 3, "row_count": 2, "column_spacing": 20, "row_spacing": 15})
    # Blocks in blocks in blocks: a disc of radius 1 becomes an ellipse of half axes 2*1.5 and 1*1.5 by unequal scales.
    dot = doc.blocks.new("DOT")
    dot.add_circle((3, 3), 1)
    row = doc.blocks.new("ROW")
    row.add_blockref("DOT", (0, 0), dxfattribs={"xscale": 2, "yscale": 1, "rotation": 45})
    row.add_blockref("DOT", (20, 0), dxfattribs={"xscale": 1, "yscale": 1})
    chip = doc.blocks.new("CHIP")
    chip.add_blockref("ROW", (0, 0), dxfattribs={"xscale": 1.5, "yscale": 1.5})
    chip.add_blockref("ROW", (0, 50), dxfattribs={"rotation": 180})
    msp.add_blockref("CHIP", (0, 0), dxfattribs={"layer": "nested", "rotation": 10})
    # Mirrored by a negative scale.
    msp.add_blockref("PAD", (0, 0), dxfattribs={"layer": "mirrored", "xscale": -1})
    if doc.dxfversion > "AC1009":
        # Seen from behind: x runs the other way.
        msp.add_circle((5, 0), 2, dxfattribs={"layer": "mirrored", "extrusion": (0, 0, -1)})


def ellipse_length(a, b):
    """Arithmetic-geometric mean (Gauss), exact to rounding."""
    # L = 2 pi/M (a^2 - sum over n of 2^(n-1) c_n^2), c_0^2 = a^2 - b^2, c_n = (a_(n-1) - b_(n-1))/2.
    x, y, s, f = a, b, 0.5 * (a * a - b * b), 1.0
    for _ in range(12):
        c = (x - y) / 2
        x, y = (x + y) / 2, math.sqrt(x * y)
        s += f * c * c
        f *= 2
    return 2 * math.pi / x * (a * a - s)


def expected_of_basic(file, unit, new):
    pi = math.pi
    expect(file, unit, "square", 1, 0, 600, 100, "30 x 20")
    expect(file, unit, "slot", 1, 0, 400 + 25 * pi, 80 + 10 * pi, "40 x 10 with half discs of radius 5")
    expect(file, unit, "disc", 1, 0, 64 * pi, 16 * pi, "radius 8")
    expect(file, unit, "lines", 1, 0, 600, 120, "triangle of 30, 40, 50")
    expect(file, unit, "arcs", 1, 0, 72 * pi, 12 * pi + 24, "half disc of radius 12")
    expect(file, unit, "open", 0, 2, 0, 5 + 10 * 2 * pi / 3, "a line of 5, an arc of 120 degrees with radius 10")
    expect(file, unit, "old", 1, 0, 100, 40, "10 x 10")
    turned = 6 * (8 * 6)
    expect(file, unit, "pads", 6, 0, turned, 6 * 2 * (8 + 6), "six pads of 4*2 by 2*3")
    e = ellipse_length(2, 1)
    expect(file, unit, "nested", 4, 0, pi * (2 + 1) * (1.5**2 + 1), (e + 2 * pi) * 2.5, "discs and ellipses 2:1, once by 1.5")
    if new:
        expect(file, unit, "mirrored", 2, 0, 8 + 4 * pi, 12 + 4 * pi, "a pad and a disc of radius 2")
        a = math.hypot(20, 10)
        expect(file, unit, "ellipse", 1, 0, pi * a * a * 0.25, ellipse_length(a, a / 4), "half axes sqrt(500) and a quarter of it")
        expect(file, unit, "half ellipse", 1, 0, pi * 20 * 10 / 2, ellipse_length(20, 10) / 2 + 40, "half axes 20 and 10")
        expect(file, unit, "spline", 1, 0, 49 * pi, 14 * pi, "circle of radius 7 as a rational spline")
        # Parabola with control points (0,0), (0,10), (10,10): its length is that of int 20 sqrt((1-t)^2 + t^2) dt; beyond the chord
        # lie two thirds of the control triangle, below it half of the square.
        length = 10 / math.sqrt(2) * (math.sqrt(2) + math.asinh(1))
        area = 400 - 4 * pi + 2 * (12.5 * pi) + 50 * pi + 50 + 2 / 3 * 50
        total = 80 + 4 * pi + 2 * (5 * pi + 10) + ellipse_length(10, 5) + length + 20
        expect(file, unit, "hatch", 6, 0, area, total, "frame with a hole of radius 2, two half discs, an ellipse, a parabola; one double left out")


def write_dxf(file, version, unit_code, unit, new, fmt="asc"):
    doc = ezdxf.new(version, setup=False)
    if new:
        doc.units = unit_code
    basic(doc)
    # Comments are allowed anywhere in text files.
    doc.saveas(file, fmt=fmt)
    if fmt == "asc":
        text = open(file, encoding="utf-8").read()
        open(file, "w", encoding="utf-8").write(f"999\ndrawn by make.py with {PROGRAMS}; invented\n{text}")
    expected_of_basic(file, unit, new)


write_dxf("shapes-r12.dxf", "R12", None, "um", False)
write_dxf("shapes-r2000-um.dxf", "R2000", 13, "um", True)
write_dxf("shapes-r2018-mm.dxf", "R2018", units.MM, "mm", True)
write_dxf("shapes-binary-r2010.dxf", "R2010", 13, "um", True, "bin")
write_dxf("shapes-binary-r12.dxf", "R12", None, "um", False, "bin")


def svg(file, unit, **how):
    d = svgwrite.Drawing(file, profile="full", debug=False, **how)
    d.add(d.style("/* drawn by make.py with " + PROGRAMS + "; invented */"))
    pi = math.pi

    def layer(name, **more):
        return d.add(d.g(id=name, **more))

    g = layer("basic")
    g.add(d.rect((0, 0), (30, 20)))
    g.add(d.circle((60, 10), 8))
    g.add(d.ellipse((90, 10), (12, 4)))
    g.add(d.polygon([(0, 40), (30, 40), (0, 80)]))
    expect(file, unit, "basic", 4, 0, 600 + 64 * pi + 48 * pi + 600, 100 + 16 * pi + ellipse_length(12, 4) + 120,
           "rectangle 30 x 20, circle 8, ellipse 12 x 4, triangle 30, 40, 50")
    g = layer("rounded")
    g.add(d.rect((0, 0), (40, 20), rx=5, ry=5))
    expect(file, unit, "rounded", 1, 0, 800 - 100 + 25 * pi, 2 * 30 + 2 * 10 + 10 * pi, "40 x 20 with corners of radius 5")
    g = layer("paths")
    # A frame: square with a round hole of two arcs, relative and absolute; half a disc; a parabola; a cubic that is the same parabola.
    g.add(d.path("M0,0 h40 v40 h-40 z M 10 20 a 10 10 0 0 0 20 0 A 10 10 0 0 0 10 20 z"))
    g.add(d.path("M100 0 A 12 12 0 1 1 124 0 Z"))
    g.add(d.path("M200 0 Q 205 20 210 0 Z"))
    c = d.path("M200 100")
    c.push("C", 200 + 10 / 3, 100 + 40 / 3, 200 + 20 / 3, 100 + 40 / 3, 210, 100)
    c.push("z")
    g.add(c)
    a = 4.0  # y = 4 x (1 - x/10): slope at the ends 4
    arc = 2 * (10 / 2) * (math.sqrt(1 + a * a) / 2 + math.asinh(a) / (2 * a))
    expect(file, unit, "paths", 5, 0, 1600 - 100 * pi + 72 * pi + 2 * (2 / 3 * 10 * 10), 160 + 20 * pi + 12 * pi + 24 + 2 * (arc + 10),
           "frame with a hole of radius 10, half disc of radius 12, two parabolas of base 10 and height 10")
    g = layer("open")
    g.add(d.line((0, 0), (3, 4)))
    g.add(d.polyline([(0, 10), (10, 10), (10, 20)], fill="none"))
    g.add(d.path("M0 50 s 0 0 10 0 t 10 0"))
    expect(file, unit, "open", 0, 3, 0, 5 + 20 + 20, "a line of 5, two of 10, two of 10")
    # Nested transforms: matrix in rotate in scale in translate.
    g = layer("nested")
    outer = g.add(d.g(transform="translate(7 9) scale(2)"))
    inner = outer.add(d.g(transform="rotate(33, 4, 5)"))
    shear = inner.add(d.g(transform="matrix(1 0 0.5 3 1 2), skewY(10)"))
    shear.add(d.rect((1, 2), (5, 4)))
    shear.add(d.circle((20, 20), 2))
    expect(file, unit, "nested", 2, 0, (20 + 4 * pi) * 4 * 3, -1, "a shear keeps areas: times 2^2 times 3")
    # A symbol and a group used twice.
    pad = d.defs.add(d.g(id="pad"))
    pad.add(d.rect((0, 0), (4, 2)))
    symbol = d.defs.add(d.symbol(id="sign"))
    symbol.viewbox(0, 0, 10, 10)
    symbol.add(d.circle((5, 5), 5))
    g = layer("used")
    g.add(d.use("#pad", insert=(10, 10)))
    g.add(d.use("#pad", insert=(20, 10), transform="scale(3)"))
    g.add(d.use("#sign", insert=(50, 50), size=(20, 20)))
    expect(file, unit, "used", 3, 0, 8 + 72 + 100 * pi, 12 + 36 + 20 * pi, "pads of 4 x 2, once by 3; a disc of radius 10")
    hidden = d.add(d.g(id="hidden", display="none"))
    hidden.add(d.rect((0, 0), (1, 1)))
    d.add(d.text("not a shape", insert=(0, 0)))
    d.saveas(file, pretty=True)


# One unit is a micrometre: 0.3 mm over 300 units; and a millimetre: 300 mm over 300 units.
svg("shapes-um.svg", "um", size=("0.3mm", "0.3mm"), viewBox="0 0 300 300")
svg("shapes-mm.svg", "mm", size=("30cm", "30cm"), viewBox="0 0 300 300")
# No size: the unit must be said.
svg("shapes-no-unit.svg", "um", size=("100%", "100%"), viewBox="0 0 300 300")

# A program for constructions, OpenSCAD 2021.01: loose lines on one layer without a unit, and a path in millimetres with a document type.
if openscad := shutil.which("openscad"):
    for file in ("comb-no-unit.dxf", "comb-mm.svg"):
        subprocess.run([openscad, "-o", file, "comb.scad"], check=True, capture_output=True)
for file, unit, name in (("comb-no-unit.dxf", "um", "0"), ("comb-mm.svg", "mm", "")):
    # Circles are polygons of 180 corners; the ellipse is one drawn out threefold.
    disc = lambda r: 90 * r * r * math.sin(2 * math.pi / 180)
    ring = lambda r: 360 * r * math.sin(math.pi / 180)
    corners = [(36 * math.cos(2 * math.pi * k / 180), 12 * math.sin(2 * math.pi * k / 180)) for k in range(181)]
    oval = sum(math.dist(a, b) for a, b in zip(corners, corners[1:]))
    expect(file, unit, name, 4, 0, 400 * 120 + 5 * 40 * 200 - disc(40) - 3 * disc(12) + disc(90),
           2 * 400 + 2 * 120 + 5 * 2 * 200 + ring(40) + oval + ring(90),
           "comb of 400 x 120 with five teeth of 40 x 200, holes of 40 and 36 x 12, island of 90")

with open("expected.csv", "w", newline="") as f:
    f.write(f"# made by make.py with {PROGRAMS}; areas and lengths from textbook geometry; length -1: not worked out\n")
    writer = csv.writer(f, lineterminator="\n")
    writer.writerow(["file", "unit", "layer", "closed", "open", "area", "length", "how"])
    writer.writerows(rows)
