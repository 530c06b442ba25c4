//! The program as a user meets it: what is printed and written, and what is refused.

use super::draw::{PLAIN, Scene, Taken, grey_png};
use assert_cmd::Command;
use assert_cmd::assert::Assert;
use predicates::prelude::*;
use std::fs;
use std::path::PathBuf;
use tempfile::TempDir;

struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a temporary folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn with(self, name: &str, bytes: &[u8]) -> Self {
        fs::write(self.path(name), bytes).expect("writable");
        self
    }

    fn run(&self, arguments: &[&str]) -> Assert {
        let mut command = Command::new(env!("CARGO_BIN_EXE_motefall"));
        command.current_dir(self.0.path()).env_remove("COLUMNS").arg("measure").args(arguments).assert()
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).expect("readable").flatten();
        let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// What is refused with code 2, words on standard error, and nothing written.
    fn refuses(&self, arguments: &[&str], words: &[&str]) {
        let before = self.names();
        let assert = self.run(arguments).code(2).stdout("");
        let error = String::from_utf8_lossy(&assert.get_output().stderr).into_owned();
        for words in words {
            assert!(error.contains(words), "{arguments:?}: `{words}` is not in {error}");
        }
        assert_eq!(self.names(), before, "{arguments:?}");
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).expect("readable")
    }
}

fn line(seed: u64) -> Vec<u8> {
    Scene::line(900, 600, 0.05, 35.0, 1500, 60, seed).png(Taken { noise: 0.08, uneven: 0.2, streaks: 2, ..PLAIN }, seed)
}

fn contains(text: &str) -> predicates::str::ContainsPredicate {
    predicate::str::contains(text)
}

#[test]
fn a_line_is_measured_and_written_down() {
    let bench = Bench::new().with("a.png", &line(1)).with("b.png", &line(2));
    bench
        .run(&["a.png", "--nm-per-px", "50", "--row", "measured.csv", "--item", "stroke", "--sizes", "sizes.csv"])
        .code(0)
        .stderr("")
        .stdout(contains("a.png: a line").and(contains("width at half height")).and(contains("edge roughness")))
        .stdout(contains("strays were counted").and(contains("Wrote a-measured.png.")));
    assert_eq!(bench.names(), ["a-measured.png", "a.png", "b.png", "measured.csv", "sizes.csv"]);
    assert!(bench.text("sizes.csv").contains("\nlower_um,upper_um,amount\n"));
    // Two are one measurement, and the row goes to the end of the file.
    let before = bench.text("measured.csv");
    let both = ["a.png", "b.png", "--nm-per-px", "50", "--row", "measured.csv", "--name", "both", "--no-overlay"];
    bench.run(&both).code(0).stdout(contains("between files").and(contains("Mean of 2 files")));
    let after = bench.text("measured.csv");
    let row: Vec<&str> = after.strip_prefix(&before).expect("the file goes on").trim_end().split(',').collect();
    assert_eq!((row.len(), row[0], row[13]), (15, "both", "image"));
    let width: f64 = row[3].parse().expect("a width");
    // From a tenth to a tenth of its height the bell is 4.292 * 35 pixels of 50 nm wide, 7.51 µm, and so few discs scatter by a tenth.
    assert!((6.7..8.3).contains(&width), "{width}");
    // Half height and 99 % of a picture are not those of the mass, and its coverage is of no region.
    assert_eq!((row[5], row[7], row[11]), ("", "", ""));
    bench.refuses(&both, &["--row measured.csv: line 3 is already of `both` by image", "give another --name"]);
}

/// Of 60 discs too few lie at the edges; of 700 a tenth of what the middle covers is less than the 2 % from which on predictions look for edges;
/// of 5000 the line is dense.
#[test]
fn sparse_lines_have_no_edges_or_none_that_are_predicted() {
    let picture = |discs: usize| Scene::line(900, 600, 0.05, 35.0, discs, 0, 1).png(PLAIN, 1);
    let bench =
        Bench::new().with("few.png", &picture(60)).with("sparse.png", &picture(700)).with("dense.png", &picture(5000));
    let said = |name: &str| {
        let arguments = [name, "--nm-per-px", "50", "--no-overlay", "--of", "line", "--row", "rows.csv"];
        let output = bench.run(&arguments).code(0).get_output().stdout.clone();
        let said = String::from_utf8(output).expect("text").split_whitespace().collect::<Vec<_>>().join(" ");
        let row = fs::read_to_string(bench.path("rows.csv")).unwrap_or_default();
        let width = row.lines().last().and_then(|row| row.split(',').nth(3)).unwrap_or_default();
        (said, width.to_owned())
    };
    let (few, row) = said("few.png");
    assert!(few.contains("The width from edge to edge is not given: the line is so sparse"), "{few}");
    assert!(few.contains("Nothing is left to write down, so rows.csv is as it was") && row.is_empty(), "{few} {row}");
    let (sparse, row) = said("sparse.png");
    assert!(sparse.contains("The width from edge to edge is not in the row") && row.is_empty(), "{sparse} {row}");
    assert!(sparse.contains("Particles are so few that the profile was smoothed over"), "{sparse}");
    let (dense, row) = said("dense.png");
    assert!(!dense.contains("not in the row: its edges"), "{dense}");
    let width: f64 = row.parse().expect("a width");
    // 4.292 * 35 pixels of 50 nm, less the micrometre over which is averaged outwards, and more by what is covered most: a bell of 34 % is flatter.
    assert!((6.0..8.3).contains(&width), "{width}");
}

#[test]
fn help_fits_a_window() {
    let output = Bench::new().run(&["--help"]).code(0).get_output().stdout.clone();
    let text = String::from_utf8(output).expect("help is text");
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    assert!(text.contains("motefall measure line.tif --crop bottom=60 --nm-per-px 12.5"));
}

#[test]
fn overlays_replace_overlays_only() {
    let bench = Bench::new().with("a.png", &line(1));
    for _ in 0..2 {
        bench.run(&["a.png", "--nm-per-px", "50"]).code(0);
    }
    let bench = bench.with("a-measured.png", &line(3));
    bench.refuses(&["a.png", "--nm-per-px", "50"], &["a-measured.png is there and is no overlay", "--no-overlay"]);
}

#[test]
fn the_scale_is_taken_where_it_can_be_trusted() {
    let grey = Scene::field(200, 150, 0.2, 1.0, 5.0, 1.2, 5).taken(PLAIN, 5);
    let bench = Bench::new()
        .with("none.png", &grey_png(&grey, 200, None))
        .with("screen.png", &grey_png(&grey, 200, Some(3780)))
        .with("good.png", &grey_png(&grey, 200, Some(20_000_000)))
        .with("screen.tif", &Tiff::of(&grey, 200).dpi(72).bytes())
        .with("good.tif", &Tiff::of(&grey, 200).dpi(508_000).bytes());
    bench.refuses(
        &["none.png"],
        &["none.png: it is not known how large a pixel is (the file does not say)", "--nm-per-px"],
    );
    bench.refuses(&["none.png", "--nm-per-px", "0.02"], &["0.02 nm is less than an atom", "µm"]);
    bench.refuses(&["screen.png"], &["96 pixels per inch, which is a default for screens"]);
    bench.refuses(&["screen.tif"], &["72 pixels per inch, which is a default for screens"]);
    for good in ["good.png", "good.tif"] {
        bench.run(&[good, "--no-overlay"]).code(0).stdout(contains("Scale: 50 nm per pixel, as the file says"));
        let given = [good, "--nm-per-px", "40", "--no-overlay"];
        bench.run(&given).code(0).stdout(contains("40 nm per pixel, as given; the file says 50 nm"));
    }
}

#[test]
fn all_kinds_of_pictures_give_the_same() {
    let grey = Scene::field(200, 150, 0.2, 1.0, 5.0, 1.2, 5).taken(PLAIN, 5);
    let wide: Vec<u8> = grey.iter().flat_map(|v| (u16::from(*v) * 257).to_le_bytes()).collect();
    let bench = Bench::new()
        .with("a.png", &grey_png(&grey, 200, None))
        .with("b.tif", &Tiff::of(&grey, 200).bytes())
        .with("c.tif", &Tiff { bits: 16, ..Tiff::of(&wide, 200) }.bytes())
        .with("d.tif", &Tiff { palette: true, ..Tiff::of(&grey, 200) }.bytes());
    let figures = |name: &str| {
        let output = bench.run(&[name, "--nm-per-px", "50", "--no-overlay"]).code(0).get_output().stdout.clone();
        let text = String::from_utf8(output).expect("text");
        text.lines().filter(|line| line.contains('±')).map(str::to_owned).collect::<Vec<_>>()
    };
    let first = figures("a.png");
    assert!(first.len() > 4, "{first:?}");
    // The same greys in 8 and 16 bit, and through a palette that leads to them.
    for other in ["b.tif", "c.tif", "d.tif"] {
        assert_eq!(figures(other), first, "{other}");
    }
}

#[test]
fn a_data_bar_is_told_and_cropped() {
    let mut grey = Scene::field(400, 300, 0.2, 1.0, 6.0, 1.2, 6).taken(PLAIN, 6);
    // A white bar with dark signs, and a scale bar.
    for row in 0..40 {
        grey.extend(
            (0..400).map(|column| if (15..25).contains(&row) && column % 7 < 3 && column < 150 { 0 } else { 255 }),
        );
    }
    let bench = Bench::new().with("a.png", &grey_png(&grey, 400, None));
    let plain = ["a.png", "--nm-per-px", "50", "--no-overlay", "--of", "field"];
    bench.run(&plain).code(0).stdout(contains("seems to have a data bar").and(contains("--crop bottom=40")));
    let cropped = [&plain[..], &["--crop", "bottom=40"]].concat();
    bench.run(&cropped).code(0).stdout(contains("data bar").not());
    bench
        .refuses(&[&plain[..], &["--crop", "bottom=400"]].concat(), &["--crop bottom=400 leaves nothing of 400 x 340"]);
    bench.refuses(&[&plain[..], &["--crop", "under=4"]].concat(), &["bottom=60"]);
}

#[test]
fn what_cannot_be_measured_is_refused() {
    let noise = Scene { columns: 300, rows: 200, discs: vec![] }.png(PLAIN, 9);
    let even = grey_png(&[90; 60_000], 300, None);
    let mut whole = Scene::line(600, 500, 0.0, 60.0, 6000, 20, 7);
    whole.discs.iter_mut().for_each(|disc| disc.y -= 230.0);
    let field = Scene::field(300, 200, 0.2, 1.0, 5.0, 1.2, 5).png(PLAIN, 5);
    let cut = line(1);
    let bench = Bench::new()
        .with("noise.png", &noise)
        .with("even.png", &even)
        .with("leaves.png", &whole.png(PLAIN, 7))
        .with("field.png", &field)
        .with("dark.png", &Scene::field(600, 450, 0.3, 1.0, 8.0, 1.2, 8).png(Taken { dark: true, ..PLAIN }, 8))
        .with("cut.png", &cut[..cut.len() / 2])
        .with("words.png", b"hello")
        .with("photo.png", b"\xff\xd8\xff\xe0 and so on")
        .with("huge.png", &huge())
        .with("a.png", &line(1));
    let refuses = |name: &str, more: &[&str], words: &[&str]| {
        bench.refuses(&[&[name, "--nm-per-px", "50", "--row", "measured.csv"], more].concat(), words);
    };
    refuses("noise.png", &[], &["noise.png: ", "all ground or all particles", "--dark"]);
    refuses("even.png", &[], &["even.png: ", "all ground or all particles"]);
    refuses(
        "leaves.png",
        &[],
        &["leaves.png: the line leaves the picture", "towards the top", "take a picture with bare ground"],
    );
    refuses("dark.png", &[], &["dark.png: its bright part makes up", "of the picture's frame", "--dark or --bright"]);
    refuses("noise.png", &["--dark"], &["noise.png: ", "give --bright if particles are brighter"]);
    // What is said is done, but not without a word.
    let said = ["a.png", "--nm-per-px", "50", "--dark", "--no-overlay"];
    bench.run(&said).code(0).stdout(contains("if that is the ground, give --bright"));
    refuses("a.png", &["--along", "y"], &["a.png: it holds no line", "leave --along y out", "--along x for a line"]);
    refuses("field.png", &["--of", "line"], &["field.png: it holds no line", "--of field"]);
    refuses(
        "cut.png",
        &[],
        &["cut.png: it begins like a picture but is damaged or cut short", "copy or save it again"],
    );
    refuses("words.png", &[], &["words.png: it is no picture"]);
    refuses("photo.png", &[], &["photo.png: it is a JPEG, which changes grey values", "save the picture anew"]);
    refuses(
        "huge.png",
        &[],
        &["huge.png: it has 60000 x 60000 pixels, and at most 48 million are read", "cut the part"],
    );
    refuses("missing.png", &[], &["missing.png: there is no such file"]);
    refuses("a.png", &["field.png"], &["they are no measurement of the same", "--of"]);
    refuses("a.png", &["a.png"], &["a.png: it is the same as a file before it"]);
    refuses("a.png", &["trace.csv"], &["trace.csv is a trace and others are pictures"]);
    refuses("a.png", &["--threshold", "0,5"], &["decimal point"]);
}

#[test]
fn a_trace_is_measured_and_bad_ones_are_refused() {
    let rows = |height: &dyn Fn(f64) -> String| -> String {
        let rows = (0..400).map(|k| (f64::from(k) * 0.5, height(f64::from(k) * 0.5)));
        rows.map(|(x, height)| format!("{x},{height}\n")).collect()
    };
    let bell = |x: f64| 500.0 * (-0.5 * ((x - 100.0) / 12.0).powi(2)).exp() + 0.4 * x + 5.0 * (x * 7.3).sin();
    let good = format!("# invented\ndistance_um,height_nm\n{}", rows(&|x| format!("{:.3}", bell(x))));
    let bench = Bench::new()
        .with("good.csv", good.as_bytes())
        .with("comma.csv", good.replace("\n100,", "\n100,3,").as_bytes())
        .with("nan.csv", good.replace("\n100,", "\n100,NaN\n100.1,").as_bytes())
        .with("back.csv", good.replace("\n100,", "\n99,").as_bytes())
        .with("old.csv", b"name,width\n");
    bench
        .run(&["good.csv", "--row", "measured.csv", "--name", "t1"])
        .code(0)
        .stdout(contains("cross-section").and(contains("peak height")));
    let text = bench.text("measured.csv");
    let row: Vec<&str> = text.lines().last().expect("a row").split(',').collect();
    // 2.3548 * 12 µm wide, 0.5 µm high, sqrt(2 pi) * 12 * 0.5 = 15.04 µm².
    let value = |k: usize| row[k].parse::<f64>().expect("a number");
    assert_eq!((row[0], row[13], row[3]), ("t1", "profile", ""));
    for (found, truth) in [(value(5), 28.26), (value(9), 500.0)] {
        assert!((found / truth - 1.0).abs() < 0.02, "{found} {truth}");
    }
    // What a profilometer's calibration is good for stands in the row and is told.
    let told = contains("Distances are taken to be good to 1 %").and(contains("heights to 10 %"));
    bench.run(&["good.csv", "--row", "coarse.csv", "--height-error", "10"]).code(0).stdout(told);
    let coarse = bench.text("coarse.csv");
    let sd = |row: &str| row.split(',').nth(10).and_then(|cell| cell.parse::<f64>().ok()).expect("a number");
    let (fine, coarse) = (sd(text.lines().last().expect("a row")), sd(coarse.lines().last().expect("a row")));
    assert!((10.0..25.0).contains(&fine) && (48.0..60.0).contains(&coarse), "{fine} {coarse}");
    bench.refuses(&["good.csv", "--height-error", "2,5"], &["decimal point"]);
    bench.refuses(&["comma.csv"], &["comma.csv: line 203: it has 3 values under 2 columns", "decimal point"]);
    bench.refuses(&["nan.csv"], &["nan.csv: line 203: the height `NaN` is no finite number"]);
    bench.refuses(&["back.csv"], &["back.csv: line 203: the distance is not larger", "sort the points"]);
    bench.refuses(
        &["good.csv", "--row", "old.csv"],
        &["--row old.csv: its first line has not all columns of this row", "new file"],
    );
}

/// A PNG that says to have 60 000 x 60 000 pixels: its header alone, with the right checksum.
fn huge() -> Vec<u8> {
    let mut chunk = b"IHDR".to_vec();
    chunk.extend(60_000u32.to_be_bytes());
    chunk.extend(60_000u32.to_be_bytes());
    chunk.extend([8, 0, 0, 0, 0]);
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    bytes.extend(13u32.to_be_bytes());
    bytes.extend(&chunk);
    bytes.extend(crc32fast::hash(&chunk).to_be_bytes());
    bytes.extend(0u32.to_be_bytes());
    bytes.extend(b"IDAT");
    bytes.extend(crc32fast::hash(b"IDAT").to_be_bytes());
    bytes
}

/// A TIFF of one strip (TIFF 6.0).
struct Tiff<'a> {
    samples: &'a [u8],
    columns: u32,
    bits: u16,
    palette: bool,
    dpi: Option<u32>,
}

impl<'a> Tiff<'a> {
    fn of(samples: &'a [u8], columns: u32) -> Self {
        Self { samples, columns, bits: 8, palette: false, dpi: None }
    }

    fn dpi(self, dpi: u32) -> Self {
        Self { dpi: Some(dpi), ..self }
    }

    fn bytes(&self) -> Vec<u8> {
        let rows = self.samples.len() as u32 / self.columns / u32::from(self.bits / 8);
        // Samples, then a rational, then a palette of greys turned upside down, whose indices are turned, too.
        let samples: Vec<u8> =
            if self.palette { self.samples.iter().map(|v| 255 - v).collect() } else { self.samples.to_vec() };
        let ratio = 8 + samples.len() as u32;
        let palette = ratio + 8;
        let mut entries: Vec<(u16, u16, u32, u32)> = vec![
            (256, 4, 1, self.columns),
            (257, 4, 1, rows),
            (258, 3, 1, self.bits.into()),
            (259, 3, 1, 1),
            (262, 3, 1, if self.palette { 3 } else { 1 }),
            (273, 4, 1, 8),
            (277, 3, 1, 1),
            (278, 4, 1, rows),
            (279, 4, 1, samples.len() as u32),
        ];
        if self.dpi.is_some() {
            entries.extend([(282, 5, 1, ratio), (283, 5, 1, ratio), (296, 3, 1, 2)]);
        }
        if self.palette {
            entries.push((320, 3, 768, palette));
        }
        let mut bytes = b"II*\0".to_vec();
        let directory = palette + if self.palette { 1536 } else { 0 };
        bytes.extend(directory.to_le_bytes());
        bytes.extend(&samples);
        bytes.extend(self.dpi.unwrap_or(1).to_le_bytes());
        bytes.extend(1u32.to_le_bytes());
        if self.palette {
            let greys = (0..768u16).flat_map(|k| ((255 - k % 256) * 257).to_le_bytes());
            bytes.extend(greys);
        }
        bytes.extend((entries.len() as u16).to_le_bytes());
        for (tag, kind, count, value) in entries {
            bytes.extend(tag.to_le_bytes());
            bytes.extend(kind.to_le_bytes());
            bytes.extend(count.to_le_bytes());
            bytes.extend(value.to_le_bytes());
        }
        bytes.extend(0u32.to_le_bytes());
        bytes
    }
}
