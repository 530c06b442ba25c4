//! Drawings written by other programs are read to 0.1 % of area and length, and broken or harmful ones are refused with a clear
//! message, soon and without much memory.
//!
//! The files in `tests/data/drawings` were written by ezdxf 1.4.5, svgwrite 1.4.3 and OpenSCAD 2021.01 (`make.py` there);
//! `expected.csv` holds areas and lengths from textbook geometry.

use motefall_physics::contours::{Bounds, Contours};
use motefall_physics::units::LengthUnit;
use motefall_scenario::drawing::{self, Drawing, DrawingError, Ends, ErrorKind, FilePlace, Format};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Longest time that reading may take for any file here. They take well below a second on an idle machine.
const SOON: Duration = Duration::from_secs(20);

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/drawings").join(name)
}

fn read(bytes: &[u8], format: Format, unit: Option<LengthUnit>) -> Result<Drawing, DrawingError> {
    let begin = Instant::now();
    let result = drawing::read(bytes, format, unit);
    let took = begin.elapsed();
    assert!(took < SOON, "{took:?}");
    result
}

fn dxf(text: &str) -> Result<Drawing, DrawingError> {
    read(text.as_bytes(), Format::Dxf, Some(LengthUnit::Micrometre))
}

fn svg(text: &str) -> Result<Drawing, DrawingError> {
    read(text.as_bytes(), Format::Svg, Some(LengthUnit::Micrometre))
}

/// Entities in a file of their own.
fn entities(body: &str) -> String {
    format!("0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
}

/// A block with a line, or with what else is given.
fn block(name: &str, body: &str) -> String {
    format!("0\nBLOCK\n8\n0\n2\n{name}\n10\n0\n20\n0\n{body}0\nENDBLK\n")
}

fn insert(name: &str) -> String {
    format!("0\nINSERT\n8\n0\n2\n{name}\n10\n0\n20\n0\n")
}

const LINE: &str = "0\nLINE\n8\n0\n10\n0\n20\n0\n11\n1\n21\n1\n";

#[test]
fn areas_and_lengths_of_files_by_other_programs_hold_to_a_thousandth() {
    let table = std::fs::read_to_string(file("expected.csv")).expect("it is there");
    let mut rows = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(table.as_bytes());
    let mut worst = (0.0f64, String::new());
    let mut n = 0;
    for row in rows.records() {
        let row = row.expect("a row");
        let (name, layer) = (&row[0], &row[2]);
        let unit = LengthUnit::ALL[LengthUnit::WORDS.iter().position(|word| *word == &row[1]).expect("a unit")];
        let number = |k: usize| row[k].parse::<f64>().expect("a number");
        let bytes = std::fs::read(file(name)).expect("it is there");
        let format = Format::of_name(name).expect("known");
        // The unit is what the file states; files that state none are refused without it.
        let states = !name.contains("r12") && !name.contains("no-unit");
        let drawing = if states {
            let own = read(&bytes, format, None).unwrap_or_else(|error| panic!("{name}: {error}"));
            assert!(
                (own.stated_unit.expect("stated") / unit.metres() - 1.0).abs() < 1e-9,
                "{name}: {:?}",
                own.stated_unit
            );
            own
        } else {
            assert_eq!(read(&bytes, format, None).expect_err("no unit").kind, ErrorKind::NoUnit);
            read(&bytes, format, Some(unit)).unwrap_or_else(|error| panic!("{name}: {error}"))
        };
        let layer = Some(layer).filter(|name| !name.is_empty());
        let contours = drawing.on_layer(layer).unwrap_or_else(|_| panic!("{name} has no layer {layer:?}"));
        let closed: Vec<_> = contours.iter().filter(|c| c.ends == Ends::Closed).collect();
        let open = contours.len() - closed.len();
        assert_eq!((closed.len(), open), (number(3) as usize, number(4) as usize), "{name}, {layer:?}");
        let length: f64 = contours.iter().map(|contour| contour.length()).sum::<f64>() / unit.metres();
        let area = Contours::new(closed.iter().map(|c| c.points.clone()).collect()).area() / unit.metres().powi(2);
        for (what, found, expected) in [("area", area, number(5)), ("length", length, number(6))] {
            if expected < 0.0 {
                continue;
            }
            let off = if expected == 0.0 { found.abs() } else { (found / expected - 1.0).abs() };
            if off > worst.0 {
                worst = (off, format!("{what} of {layer:?} in {name}: {found}, expected {expected}"));
            }
            assert!(off < 1e-3, "{what} of {layer:?} in {name}: {found}, expected {expected}");
        }
        n += 1;
    }
    println!("{n} layers; farthest off by {:.5} %: {}", 100.0 * worst.0, worst.1);
    assert!(n > 60, "{n}");
}

#[test]
fn places_are_right_too() {
    // To a nanometre. Centres of the discs (of 315 corners, so that opposite ones differ a little), and of the pads of the turned array; y of SVG runs upwards.
    let bytes = std::fs::read(file("shapes-r2000-um.dxf")).expect("it is there");
    let drawing = read(&bytes, Format::Dxf, None).expect("sound");
    let middle = |layer: &str, k: usize| {
        let contours = drawing.on_layer(Some(layer)).expect("a layer");
        let Bounds { low, high } = Contours::new(vec![contours[k].points.clone()]).bounds();
        [0, 1].map(|i| 0.5e6 * (low[i] + high[i]))
    };
    let near = |found: [f64; 2], x: f64, y: f64| {
        assert!((found[0] - x).abs() < 1e-3 && (found[1] - y).abs() < 1e-3, "{found:?} is not {x}, {y}")
    };
    near(middle("disc", 0), -20.0, -20.0);
    near(middle("pads", 0), 10.0, 10.0);
    let (sin, cos) = 30f64.to_radians().sin_cos();
    near(middle("pads", 5), 10.0 + 40.0 * cos - 15.0 * sin, 10.0 + 40.0 * sin + 15.0 * cos);
    // Mirrored by a scale of -1 about the base point; and a circle at 5 seen from behind.
    near(middle("mirrored", 0), 0.0, 0.0);
    near(middle("mirrored", 1), -5.0, 0.0);
    // The disc (3, 3) in the second row of the chip: turned by 180 degrees to (-23, -3), up by 50, then turned by 10.
    let (sin, cos) = 10f64.to_radians().sin_cos();
    near(middle("nested", 3), -23.0 * cos - 47.0 * sin, -23.0 * sin + 47.0 * cos);
    let bytes = std::fs::read(file("shapes-um.svg")).expect("it is there");
    let drawing = read(&bytes, Format::Svg, None).expect("sound");
    let contours = drawing.on_layer(Some("used")).expect("a layer");
    let Bounds { low, high } = Contours::new(vec![contours[1].points.clone()]).bounds();
    near([0.5e6 * (low[0] + high[0]), 0.5e6 * (low[1] + high[1])], 3.0 * 22.0, -3.0 * 11.0);
    assert!(drawing.ignored.iter().any(|(what, n)| what == "text" && *n == 1), "{:?}", drawing.ignored);
    assert!(drawing.ignored.iter().any(|(what, _)| what == "not displayed"));
}

#[test]
fn a_hatch_over_its_outline_is_taken_once_and_text_is_counted() {
    let bytes = std::fs::read(file("shapes-r2018-mm.dxf")).expect("it is there");
    let drawing = read(&bytes, Format::Dxf, None).expect("sound");
    assert_eq!(drawing.doubled, 1);
    assert!(drawing.ignored.iter().any(|(what, n)| what == "TEXT" && *n == 1), "{:?}", drawing.ignored);
}

#[test]
fn a_file_cut_off_anywhere_is_refused_or_told_apart() {
    for name in
        ["shapes-r12.dxf", "shapes-r2000-um.dxf", "shapes-binary-r2010.dxf", "shapes-binary-r12.dxf", "shapes-um.svg"]
    {
        let bytes = std::fs::read(file(name)).expect("it is there");
        let format = Format::of_name(name).expect("known");
        let step = (bytes.len() / 150).max(1);
        for end in (0..bytes.len() - 8).step_by(step) {
            let error = read(&bytes[..end], format, Some(LengthUnit::Micrometre)).expect_err("cut off");
            assert!(matches!(error.kind, ErrorKind::Truncated | ErrorKind::Broken), "{name} at {end}: {error:?}");
            assert!(!error.advice.is_empty() && !error.what.is_empty());
        }
    }
    let error = dxf("0\nSECTION\n2\nENTITIES\n0\nLINE\n").expect_err("cut off");
    assert_eq!((error.kind, error.place), (ErrorKind::Truncated, Some(FilePlace::Line(6))));
    assert!(error.to_string().contains("line 6") && error.to_string().contains("ends here"), "{error}");
}

#[test]
fn broken_bytes_never_panic() {
    // One byte after the other is changed; whatever comes out, it comes soon.
    for name in ["shapes-r12.dxf", "shapes-binary-r2010.dxf", "shapes-binary-r12.dxf", "shapes-um.svg"] {
        let bytes = std::fs::read(file(name)).expect("it is there");
        let format = Format::of_name(name).expect("known");
        let step = (bytes.len() / 120).max(1);
        for at in (0..bytes.len()).step_by(step) {
            for value in [b'9', b'-', b'<', 255] {
                let mut broken = bytes.clone();
                broken[at] = value;
                let _ = drawing::read(&broken, format, Some(LengthUnit::Micrometre));
            }
        }
    }
}

#[test]
fn ten_million_entities_are_refused_soon() {
    let many = entities(&"0\nPOINT\n".repeat(10_000_000));
    assert_eq!(many.len() / 1_000_000, 80);
    let begin = Instant::now();
    let error = dxf(&many).expect_err("too many");
    println!("{:?}: {error}", begin.elapsed());
    assert_eq!(error.kind, ErrorKind::TooMuch);
    assert!(error.to_string().contains("1000000 entities"), "{error}");
    // Lines by the million are too large a file.
    let error = dxf(&entities(&LINE.repeat(3_500_000))).expect_err("too large");
    assert!(error.to_string().contains("MB"), "{error}");
    let elements = format!("<svg>{}</svg>", "<p/>".repeat(10_000_000));
    let error = svg(&elements).expect_err("too many");
    assert_eq!(error.kind, ErrorKind::TooMuch);
    // Corners of one polyline, and points of a curve in many copies.
    let corners = "10\n0\n20\n0\n10\n1\n20\n1\n".repeat(700_000);
    let error = dxf(&entities(&format!("0\nLWPOLYLINE\n8\n0\n{corners}"))).expect_err("too many");
    assert!(error.to_string().contains("values"), "{error}");
    // Few characters, many points: arcs of a polyline, curves of a path in one part and in many.
    let arcs = "10\n0\n20\n0\n42\n1\n10\n1\n20\n1\n42\n1\n".repeat(400_000);
    let error = dxf(&entities(&format!("0\nLWPOLYLINE\n8\n0\n{arcs}"))).expect_err("too many");
    assert_eq!(error.kind, ErrorKind::TooMuch, "{error}");
    for part in ["c0 9 9 9 9 0", "M0 0c0 9 9 9 9 0"] {
        let error = svg(&format!("<svg><path d=\"M0 0{}\"/></svg>", part.repeat(1_000_000))).expect_err("too many");
        assert!(error.to_string().contains("points"), "{error}");
    }
    let circles = "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1\n".repeat(5_000);
    let error = dxf(&entities(&circles)).expect_err("too many");
    assert!(error.to_string().contains("points"), "{error}");
}

#[test]
fn numbers_that_are_none_or_too_large_are_refused_with_their_line() {
    for (bad, part) in
        [("nan", "NaN"), ("inf", "inf"), ("1e300", "larger than any drawing"), ("1e400", "inf"), ("one", "\"one\"")]
    {
        let error = dxf(&entities(&LINE.replace("21\n1", &format!("21\n{bad}")))).expect_err(bad);
        assert_eq!((error.kind, error.place), (ErrorKind::Broken, Some(FilePlace::Line(16))), "{error}");
        assert!(error.to_string().contains(part), "{bad}: {error}");
    }
    for bad in ["NaN", "Infinity", "1e300", "x"] {
        for element in [
            format!("<circle r=\"{bad}\"/>"),
            format!("<path d=\"M0 0L{bad} 1\"/>"),
            format!("<polygon points=\"0,0 1,{bad} 2,2\"/>"),
            format!("<g transform=\"scale({bad})\"><rect width=\"1\" height=\"1\"/></g>"),
        ] {
            let error = svg(&format!("<svg>\n<g>\n{element}\n</g></svg>")).expect_err(bad);
            assert_eq!((error.kind, error.place), (ErrorKind::Broken, Some(FilePlace::Line(3))), "{element}: {error}");
        }
    }
    // Sound numbers that together reach too far.
    let scales = "<g transform=\"scale(1e9)\">".repeat(3);
    let error =
        svg(&format!("<svg>{scales}<rect width=\"1\" height=\"1\"/>{}</svg>", "</g>".repeat(3))).expect_err("far");
    assert!(error.to_string().contains("farther"), "{error}");
    for (kind, body) in [
        ("radius", "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n-1\n"),
        ("knots", "0\nSPLINE\n8\n0\n71\n2\n10\n0\n20\n0\n10\n1\n20\n0\n10\n1\n20\n1\n40\n0\n"),
        ("degree", "0\nSPLINE\n8\n0\n71\n2000000000\n10\n0\n20\n0\n"),
        ("tilted", "0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n1\n210\n1\n220\n0\n230\n0\n"),
        ("passes through", "0\nSPLINE\n8\n0\n71\n3\n11\n0\n21\n0\n11\n1\n21\n0\n"),
        ("no value 11", "0\nLINE\n8\n0\n10\n0\n20\n0\n"),
        ("misses its value", "0\nHATCH\n8\n0\n91\n1\n92\n2\n72\n0\n73\n1\n93\n1000000000\n10\n0\n20\n0\n"),
    ] {
        let error = dxf(&entities(body)).expect_err(kind);
        assert!(error.to_string().contains(kind), "{kind}: {error}");
    }
}

#[test]
fn blocks_without_end_are_refused() {
    let with_blocks =
        |blocks: &str, body: &str| format!("0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n{}", entities(body));
    // In itself, and over a detour.
    let loop_of_two = [block("A", &insert("B")), block("B", &insert("A"))].concat();
    let error = dxf(&with_blocks(&loop_of_two, &insert("A"))).expect_err("without end");
    assert!(error.to_string().contains("A > B > A"), "{error}");
    assert!(dxf(&with_blocks(&block("A", &insert("a")), &insert("A"))).is_err());
    // Ten times ten times ten ... to the power of twelve.
    let mut tower = block("B0", LINE);
    for k in 1..=12 {
        let _ = write!(tower, "{}", block(&format!("B{k}"), &insert(&format!("B{}", k - 1)).repeat(10)));
    }
    let error = dxf(&with_blocks(&tower, &insert("B12"))).expect_err("too many");
    assert_eq!(error.kind, ErrorKind::TooMuch);
    // As an array of nothing, and deep.
    let array = format!("{}70\n32767\n71\n32767\n", insert("E"));
    assert_eq!(dxf(&with_blocks(&block("E", ""), &array)).expect_err("too many").kind, ErrorKind::TooMuch);
    let mut deep = block("B0", LINE);
    for k in 1..=1000 {
        let _ = write!(deep, "{}", block(&format!("B{k}"), &insert(&format!("B{}", k - 1))));
    }
    let error = dxf(&with_blocks(&deep, &insert("B1000"))).expect_err("too deep");
    assert!(error.to_string().contains("deep"), "{error}");
    let error = dxf(&entities(&insert("NOWHERE"))).expect_err("no such block");
    assert!(error.to_string().contains("NOWHERE"), "{error}");
}

#[test]
fn entities_of_xml_and_uses_without_end_are_refused() {
    let laughs = "<?xml version=\"1.0\"?>\n<!DOCTYPE svg [\n<!ENTITY a \"ha\">\n<!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">\n]>\n<svg><path d=\"&b;\"/></svg>";
    let error = svg(laughs).expect_err("entities");
    assert!(error.to_string().contains("entities") && error.advice.contains("plain SVG"), "{error}");
    // A document type by name alone is common and does no harm.
    let named = "<!DOCTYPE svg PUBLIC \"-//W3C//DTD SVG 1.1//EN\" \"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd\"><svg><rect width=\"2\" height=\"3\"/></svg>";
    assert_eq!(svg(named).expect("sound").contours.len(), 1);
    assert!(svg("<svg><path d=\"M0 0L1 &amp; 1\"/></svg>").is_err());
    assert!(svg("<svg><path d=\"&unknown;\"/></svg>").is_err());
    let own = "<svg><g id=\"a\"><use href=\"#a\"/></g></svg>";
    assert_eq!(svg(own).expect_err("without end").kind, ErrorKind::TooMuch);
    let two = "<svg><g id=\"a\"><use href=\"#b\"/></g><g id=\"b\"><use href=\"#a\"/></g></svg>";
    assert_eq!(svg(two).expect_err("without end").kind, ErrorKind::TooMuch);
    let mut tower = "<svg><defs><g id=\"u0\"><rect width=\"1\" height=\"1\"/></g>".to_owned();
    for k in 1..=12 {
        let _ = write!(tower, "<g id=\"u{k}\">{}</g>", format!("<use href=\"#u{}\"/>", k - 1).repeat(10));
    }
    tower.push_str("</defs><use href=\"#u12\"/></svg>");
    assert_eq!(svg(&tower).expect_err("too many").kind, ErrorKind::TooMuch);
    let deep = format!("<svg>{}{}</svg>", "<g>".repeat(200_000), "</g>".repeat(200_000));
    assert!(svg(&deep).expect_err("too deep").to_string().contains("deep"));
    assert!(svg("<html/>").expect_err("no SVG").to_string().contains("svg element"));
    assert!(read(&[0x1f, 0x8b, 8, 0], Format::Svg, None).expect_err("compressed").to_string().contains("compressed"));
    assert!(dxf("%PDF-1.4\nhello\n").expect_err("no DXF").advice.contains("DXF"));
}

#[test]
fn lengths_with_units_and_aspect() {
    let area = |text: &str, unit| {
        let drawing = read(text.as_bytes(), Format::Svg, unit).unwrap_or_else(|error| panic!("{text}: {error}"));
        Contours::new(drawing.contours.into_iter().map(|c| c.points).collect()).area()
    };
    let near = |found: f64, expected: f64| assert!((found / expected - 1.0).abs() < 1e-6, "{found} is not {expected}");
    // 10 mm x 5 mm, whatever the unit of the page.
    near(area("<svg width='20mm' height='20mm'><rect width='10mm' height='0.5cm'/></svg>", None), 50e-6);
    // 96 units are an inch if nothing else is said.
    near(area("<svg width='1in' height='1in'><rect width='96' height='48'/></svg>", None), 0.5 * 25.4e-3f64.powi(2));
    // The narrower of both decides, unless the picture may be stretched.
    let page = "<svg width='20mm' height='10mm' viewBox='0 0 100 100'";
    near(area(&format!("{page}><rect width='10' height='10'/></svg>"), None), 1e-6);
    near(area(&format!("{page} preserveAspectRatio='none'><rect width='10' height='10'/></svg>"), None), 2e-6);
    // What the user says goes before what the file states.
    near(area(&format!("{page}><rect width='10' height='10'/></svg>"), Some(LengthUnit::Micrometre)), 100e-12);
    // A page inside the page: 10 units shown in 50.
    near(
        area(
            "<svg><svg x='3' width='50' height='50' viewBox='0 0 10 10'><circle cx='5' cy='5' r='2'/></svg></svg>",
            Some(LengthUnit::Micrometre),
        ),
        100.0 * std::f64::consts::PI * 1e-12 * (1.0 - 6.63e-5),
    );
}

/// The least scenario with regions and a path out of a drawing.
fn scenario_text() -> String {
    let least = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios/good/least.toml"))
        .expect("it is there");
    let drawing = r#"
[[region]]
kind = "drawing"
name = "frame"
role = "target"
file = "shapes-um.svg"
layer = "paths"
at_um = [10, 20]
rotation_deg = 30

[[region]]
kind = "drawing"
name = "disc"
role = "electrode"
file = "shapes-r12.dxf"
drawing_unit = "um"
layer = "disc"
"#;
    format!("{least}\n{drawing}")
}

#[test]
fn a_scenario_names_a_drawing_and_its_echo_names_it_again() {
    use motefall_physics::inputs::{Outline, Shape};
    use motefall_scenario as scenario;
    let folder = file("");
    let parse = |text: &str| scenario::parse(text, "test.toml", &folder).unwrap_or_else(|faults| panic!("{faults}"));
    let read = parse(&scenario_text());
    let Outline::Area(frame) = &read.inputs.regions[read.inputs.regions.len() - 2].outline else {
        panic!("a drawn area")
    };
    let expected = 1645.36873903e-12;
    assert!((frame.contours.area() / expected - 1.0).abs() < 1e-3);
    // The frame's square runs from (0, 0) to (40, -40): its far corner, turned by 30 degrees and shifted.
    let (sin, cos) = 30f64.to_radians().sin_cos();
    let corner = [10e-6 + 40e-6 * (cos + sin), 20e-6 + 40e-6 * (sin - cos)];
    assert!(frame.contours.distance_to_edge(corner) < 1e-10);
    assert!(!frame.contours.contains([10e-6 + 20e-6 * (cos + sin), 20e-6 + 20e-6 * (sin - cos)]), "the hole");
    assert!(read.notes.iter().any(|note| note.contains("shapes-um.svg: not read were")), "{:?}", read.notes);
    // Echoed keys read again give the same.
    let resolved = scenario::resolved(&read.inputs);
    let regions = resolved["region"].as_array().expect("a list");
    let region = &regions[regions.len() - 2];
    assert_eq!(region["file"], "shapes-um.svg");
    assert_eq!(region["fingerprint"].as_str().map(str::len), Some(16));
    let again = scenario_text()
        .replace("layer = \"paths\"", &format!("layer = \"paths\"\nfingerprint = {}", region["fingerprint"]));
    assert_eq!(scenario::resolved(&parse(&again).inputs), resolved);

    // What is printed: an area by lines, and lines as they are.
    let path = |keys: &str| {
        let text = scenario_text();
        let head = text.find("[[region]]").expect("it is there");
        let drawn = format!(
            "[[path]]\nkind = \"drawing\"\nname = \"fill\"\nfile = \"shapes-um.svg\"\nspeed_mm_s = 1\n{keys}\n"
        );
        // The least scenario's own path gives way.
        let own: String =
            text[..head].lines().filter(|line| !line.starts_with("path =")).map(|line| format!("{line}\n")).collect();
        parse(&format!("{own}\n{drawn}"))
    };
    let filled = path("layer = \"rounded\"\nspacing_um = 5\nangle_deg = 90\nturns = \"shut\"\nedge = true");
    let Some(Shape::Filled(area)) = filled.inputs.items().last().map(|item| &item.shape) else { panic!("an area") };
    assert!((area.area.area() / 778.53981634e-12 - 1.0).abs() < 1e-3);
    let strokes = motefall_physics::path::strokes::strokes(filled.inputs.items().last().expect("one"), None);
    assert_eq!(strokes.len(), 1 + 8, "the edge, and eight upright lines over 40 µm");
    let echoed = &scenario::resolved(&filled.inputs)["path"];
    let echoed = echoed.as_array().and_then(|list| list.last()).expect("one");
    for (key, value) in [("angle_deg", 90.0), ("spacing_um", 5.0)] {
        assert_eq!(echoed[key], value);
    }
    assert_eq!((&echoed["turns"], &echoed["edge"]), (&"shut".into(), &true.into()));
    // Without a spacing it follows from the mist core, and is marked as an estimate.
    let usual = path("layer = \"rounded\"");
    assert!(usual.inputs.unverified.iter().any(|u| u.key.ends_with("spacing_um")), "{:?}", usual.inputs.unverified);
    let lines = path("layer = \"open\"\ndraw = \"lines\"");
    let Some(Shape::Polylines(drawn)) = lines.inputs.items().last().map(|item| &item.shape) else { panic!("lines") };
    let length: f64 =
        drawn.lines.iter().flat_map(|l| l.windows(2)).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
    assert!((length - 45e-6).abs() < 1e-10);
}

#[test]
fn a_sweep_notices_a_changed_drawing() {
    use motefall_scenario as scenario;
    let folder = tempfile::tempdir().expect("a folder");
    let copy = |replace: [&str; 2]| {
        let text = std::fs::read_to_string(file("shapes-um.svg")).expect("it is there");
        std::fs::write(folder.path().join("shapes-um.svg"), text.replace(replace[0], replace[1])).expect("writable");
        std::fs::copy(file("shapes-r12.dxf"), folder.path().join("shapes-r12.dxf")).expect("writable");
    };
    let text = scenario_text().replace("limit = []", "limit = [{ figure = \"overspray_percent\", max = 50 }]")
        + "\n[sweep]\naxis = [{ key = \"flow.carrier_sccm\", from = 5, to = 10 }]\n";
    let read = || scenario::parse_sweep(&text, "test.toml", folder.path()).unwrap_or_else(|faults| panic!("{faults}"));
    copy(["", ""]);
    let first = read();
    assert_eq!(first.identity(), read().identity());
    // A point's text stands in another folder and still finds the drawing.
    let point = first.text_at(&[5.0]);
    assert!(scenario::parse(&point, "point.toml", Path::new("/")).is_ok());
    let at_point = |sweep: &scenario::SweepScenario| format!("{:?}", sweep.inputs(&[5.0]).expect("a good point"));
    let before = at_point(&first);
    copy(["h40 v40", "h41 v40"]);
    let second = read();
    assert_ne!(first.identity(), second.identity());
    assert_ne!(before, at_point(&second));
    // A sweep that has begun goes on with what it read.
    assert_eq!(before, at_point(&first));
    std::fs::remove_file(folder.path().join("shapes-um.svg")).expect("it is there");
    assert_eq!(before, at_point(&first));
}
