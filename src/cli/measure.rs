//! The command `measure`: micrographs and traces of printed lines.

use super::failure::{Exit, Failure, OrFail};
use super::predict::width;
use super::say::say;
use anyhow::anyhow;
use clap::{Args, ValueEnum};
use motefall_files::plain_file;
use motefall_files::whole_file::Prepared;
use motefall_measure::{
    Along, Brightness, Calibrated, Crop, Figure, ImageMeasured, ImageOptions, Kind, Method, OVERLAY_COLOURS, Row,
    Separation, Sought, TraceMeasured, Value, Values, combined, is_overlay, measure_image, measure_trace, scatter,
    size_histogram, sizes_csv,
};
use motefall_output::numbers::{at_precision, significant, trimmed};
use std::fmt::Write;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};

/// Largest file that is read, bytes.
const LARGEST_FILE: u64 = 800_000_000;
/// Half of a 95 % interval in standard deviations (normal law, from memory: 1.96).
const NORMAL_95: f64 = 1.96;
/// Standard deviation of the scale if it is not given, percent: common practice, no source.
const SCALE_ERROR: f64 = 1.0;
/// Standard deviation of the height calibration of a profilometer if it is not given, percent: common practice, no source.
const HEIGHT_ERROR: f64 = 2.0;
/// Longest bar of the histogram, signs.
const LONGEST_BAR: f64 = 40.0;

/// Measure pictures and profilometer traces of printed lines
///
/// Finds particles in micrographs (PNG or TIFF of 8 or 16 bit) and gives coverage, the line's widths,
/// strays, edge roughness and particle sizes, each with its uncertainty; from a trace (CSV) width,
/// height and cross-section. Several files given together are one measurement: their mean.
#[derive(Debug, Args)]
#[command(
    verbatim_doc_comment,
    after_help = "Examples:
  motefall measure line.tif --crop bottom=60 --nm-per-px 12.5
  motefall measure a.png b.png c.png --nm-per-px 12.5 --name line-1 --item stroke --row measured.csv
  motefall measure trace.csv --row measured.csv

A trace has the columns distance_um and height_nm (or other units), one trace in a file.
Look at the overlay of a picture before you trust its numbers."
)]
pub(super) struct Measure {
    /// Pictures (PNG, TIFF) or traces (CSV) of one line
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// Side of a pixel, nm (default: what the file says, where that can be trusted)
    #[arg(long, value_name = "NM", value_parser = positive)]
    nm_per_px: Option<f64>,
    /// Standard deviation of the scale of pictures and of distances in traces, percent
    #[arg(long, value_name = "PERCENT", default_value_t = SCALE_ERROR, value_parser = not_negative)]
    scale_error: f64,
    /// Standard deviation of the height calibration of traces, percent
    #[arg(long, value_name = "PERCENT", default_value_t = HEIGHT_ERROR, value_parser = not_negative)]
    height_error: f64,
    /// Cut off, such as bottom=60 (a data bar), or keep x,y,width,height; in pixels
    #[arg(long, value_name = "PART", value_parser = str::parse::<Crop>)]
    crop: Option<Crop>,
    /// Particles are darker than the ground
    #[arg(long, conflicts_with = "bright")]
    dark: bool,
    /// Particles are brighter (default, unless what is bright makes up most of the frame)
    #[arg(long)]
    bright: bool,
    /// Grey value between ground and particles (default: found), in the file's counts
    #[arg(long, value_name = "GREY", value_parser = not_negative)]
    threshold: Option<f64>,
    /// The line runs along the rows (x) or the columns (y), within 12 degrees (default: found)
    #[arg(long, value_name = "AXIS")]
    along: Option<Axis>,
    /// What the picture shows (default: found)
    #[arg(long, value_name = "WHAT")]
    of: Option<Shows>,
    /// Name of the line in the measurements file (default: name of the first file)
    #[arg(long)]
    name: Option<String>,
    /// Path item of the scenario that printed it
    #[arg(long)]
    item: Option<String>,
    /// Region of the scenario that the picture shows, and nothing else, for its coverage
    #[arg(long)]
    region: Option<String>,
    /// Add a row to a measurements file, which is made if it is not there
    #[arg(long, value_name = "FILE")]
    row: Option<PathBuf>,
    /// Write the size histogram as a table that a scenario can name
    #[arg(long, value_name = "FILE")]
    sizes: Option<PathBuf>,
    /// Folder for overlay pictures (default: this one); earlier overlays are replaced
    #[arg(long, value_name = "FOLDER", conflicts_with = "no_overlay")]
    overlays: Option<PathBuf>,
    /// Write no overlay pictures
    #[arg(long)]
    no_overlay: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Axis {
    X,
    Y,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Shows {
    Line,
    Spot,
    Field,
}

fn positive(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|value: &f64| value.is_finite() && *value > 0.0);
    value.ok_or_else(|| "give a number above zero with a decimal point, such as 12.5".to_owned())
}

fn not_negative(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|value: &f64| value.is_finite() && *value >= 0.0);
    value.ok_or_else(|| "give a number from zero on with a decimal point, such as 1.5".to_owned())
}

impl Measure {
    /// Runs the command.
    pub(super) fn run(self) -> Result<Exit, Failure> {
        let is_trace = |file: &PathBuf| file.extension().is_some_and(|end| end.eq_ignore_ascii_case("csv"));
        if self.files.iter().all(is_trace) {
            return self.traces();
        }
        if let Some(trace) = self.files.iter().find(|file| is_trace(file)) {
            return Err(Failure::BadInput(anyhow!(
                "{} is a trace and others are pictures; measure them one after the other, each gets its own row",
                trace.display()
            )));
        }
        self.pictures()
    }

    fn pictures(&self) -> Result<Exit, Failure> {
        let options = self.options();
        let all = self.each(|bytes| measure_image(bytes, &options))?;
        let kinds: Vec<Kind> = all.iter().map(|image| image.kind).collect();
        if let Some(other) = kinds.iter().position(|kind| *kind != kinds[0]) {
            return Err(Failure::BadInput(anyhow!(
                "{} shows {}, and {} shows {}: they are no measurement of the same; measure them apart, or say with --of what all of them show",
                self.files[0].display(),
                all[0].found(),
                self.files[other].display(),
                all[other].found()
            )));
        }
        let values: Vec<Values> = all.iter().map(|image| image.values.clone()).collect();
        let mut text = String::new();
        for (file, image) in self.files.iter().zip(&all) {
            let _ = writeln!(text, "{}: {}", file.display(), image.found());
        }
        table(&mut text, &values, ["threshold", "focus", "scale, overlap"]);
        histogram(&mut text, &all);
        let mut notes: Vec<String> = vec![];
        for (file, image) in self.files.iter().zip(&all) {
            let place = if all.len() > 1 { format!("{}: ", file.display()) } else { String::new() };
            notes.extend(image.cautions.iter().map(|caution| format!("{place}{caution}")));
        }
        list(&mut text, "Mind", &notes);
        let mut assumed = all[0].assumed();
        if all.len() > 1 {
            assumed.insert(0, format!("The lines below are of {}.", self.files[0].display()));
        }
        assumed.push(format!(
            "The scale is taken to be good to {} % (--scale-error), one standard deviation.",
            trimmed(self.scale_error)
        ));
        list(&mut text, "How it was measured", &assumed);
        let mut files = self.overlays(&all, &mut text)?;
        if let Some(path) = &self.sizes {
            let bins = size_histogram(&all);
            if bins.is_empty() || all.iter().any(|image| image.network.is_one()) {
                let why = "single particles cannot be told in it, or none lies wholly in it, so there are no sizes; leave --sizes out";
                return Err(Failure::BadInput(anyhow!("{}: {why}", self.files[0].display())));
            }
            files.push((path.clone(), sizes_csv(&bins).into_bytes()));
        }
        let mut one = combined(&values);
        if kinds[0] == Kind::Line && self.region.is_none() && self.row.is_some() {
            one.remove(&Figure::Coverage);
            text.push_str("The coverage is not in the row: it is that of the picture, not of a region (--region).\n");
        }
        if let Some(why) = all.iter().find_map(ImageMeasured::why_edges_are_not_compared).filter(|_| self.row.is_some())
        {
            one.remove(&Figure::EdgeWidth);
            let _ = writeln!(text, "{why}");
        }
        files.extend(self.row(Method::Image, one, &mut text)?);
        finish(files, text)
    }

    fn options(&self) -> ImageOptions {
        ImageOptions {
            pixel: self.nm_per_px.map(|nm| nm * 1e-9),
            scale_error: 0.01 * self.scale_error,
            crop: self.crop.unwrap_or_default(),
            brightness: match (self.dark, self.bright) {
                (true, _) => Some(Brightness::Dark),
                (_, true) => Some(Brightness::Bright),
                _ => None,
            },
            separation: self.threshold.map_or(Separation::Found, Separation::Grey),
            along: self.along.map(|axis| match axis {
                Axis::X => Along::X,
                Axis::Y => Along::Y,
            }),
            sought: self.of.map_or(Sought::Any, |of| {
                Sought::Only(match of {
                    Shows::Line => Kind::Line,
                    Shows::Spot => Kind::Spot,
                    Shows::Field => Kind::Field,
                })
            }),
        }
    }

    fn traces(&self) -> Result<Exit, Failure> {
        let calibrated = Calibrated { distance: 0.01 * self.scale_error, height: 0.01 * self.height_error };
        let all: Vec<TraceMeasured> = self.each(|bytes| measure_trace(bytes, calibrated))?;
        let values: Vec<Values> = all.iter().map(|trace| trace.values.clone()).collect();
        let mut text = String::new();
        for file in &self.files {
            let _ = writeln!(text, "{}: a trace across a line", file.display());
        }
        table(&mut text, &values, ["levelling", "smoothing", "calibration"]);
        let mut assumed = all[0].assumed();
        assumed.push(format!(
            "Distances are taken to be good to {} % (--scale-error) and heights to {} % (--height-error), one standard deviation each; a step of \
             known height tells the latter.",
            trimmed(self.scale_error),
            trimmed(self.height_error)
        ));
        list(&mut text, "How it was measured", &assumed);
        let files = self.row(Method::Profile, combined(&values), &mut text)?.into_iter().collect();
        finish(files, text)
    }

    /// Measures each file.
    fn each<T, E: std::error::Error + Send + Sync + 'static>(
        &self,
        measure: impl Fn(&[u8]) -> Result<T, E>,
    ) -> Result<Vec<T>, Failure> {
        let mut seen: Vec<u64> = vec![];
        let one = |file: &PathBuf| {
            let bytes = plain_file::read(file, LARGEST_FILE)
                .map_err(|error| Failure::BadInput(anyhow!("{}: {error}; correct the name", file.display())))?;
            let mut hasher = DefaultHasher::new();
            bytes.hash(&mut hasher);
            if seen.contains(&hasher.finish()) {
                let why = "it is the same as a file before it, and twice it would count twice; give each picture once";
                return Err(Failure::BadInput(anyhow!("{}: {why}", file.display())));
            }
            seen.push(hasher.finish());
            measure(&bytes).map_err(|error| Failure::BadInput(anyhow!("{}: {error}", file.display())))
        };
        self.files.iter().map(one).collect()
    }

    /// The overlays and where they go.
    fn overlays(&self, all: &[ImageMeasured], text: &mut String) -> Result<Vec<(PathBuf, Vec<u8>)>, Failure> {
        let mut files: Vec<(PathBuf, Vec<u8>)> = vec![];
        if self.no_overlay {
            return Ok(files);
        }
        for (file, image) in self.files.iter().zip(all) {
            let stem = file.file_stem().unwrap_or_default().to_string_lossy();
            let name = |k: usize| {
                let number = if k > 1 { format!("-{k}") } else { String::new() };
                self.overlays.clone().unwrap_or_default().join(format!("{stem}-measured{number}.png"))
            };
            let is_free = |path: &PathBuf| !files.iter().any(|(taken, _)| taken == path);
            let path = (1..).map(name).find(is_free).unwrap_or_else(|| name(1));
            let is_other = |path: &Path| plain_file::read(path, LARGEST_FILE).is_ok_and(|bytes| !is_overlay(&bytes));
            if is_other(&path) {
                return Err(Failure::BadInput(anyhow!(
                    "{} is there and is no overlay of ours, so it is left as it is; give another folder with --overlays, or --no-overlay",
                    path.display()
                )));
            }
            files.push((path, image.overlay().or_failed()?));
        }
        let _ = writeln!(text, "\nOverlay colours: {OVERLAY_COLOURS}.");
        Ok(files)
    }

    /// The measurements file with the new row.
    fn row(&self, method: Method, values: Values, text: &mut String) -> Result<Option<(PathBuf, Vec<u8>)>, Failure> {
        let Some(path) = &self.row else { return Ok(None) };
        let stem = self.files[0].file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let row = Row {
            name: self.name.clone().unwrap_or(stem),
            item: self.item.clone().unwrap_or_default(),
            region: self.region.clone().unwrap_or_default(),
            method,
            values,
        };
        if row.is_empty() {
            let _ = writeln!(text, "Nothing is left to write down, so {} is as it was.", path.display());
            return Ok(None);
        }
        let earlier = if path.symlink_metadata().is_ok() {
            let read = plain_file::read(path, LARGEST_FILE);
            Some(read.map_err(|error| Failure::BadInput(anyhow!("--row {}: {error}", path.display())))?)
        } else {
            None
        };
        let bytes = row
            .added_to(earlier.as_deref())
            .map_err(|error| Failure::BadInput(anyhow!("--row {}: {error}", path.display())))?;
        Ok(Some((path.clone(), bytes)))
    }
}

/// Writes all files, none of which comes to its place before all are on the disk, and tells the result.
fn finish(files: Vec<(PathBuf, Vec<u8>)>, mut text: String) -> Result<Exit, Failure> {
    let prepare = |(path, bytes): &(PathBuf, Vec<u8>)| Prepared::new(path, &[bytes]);
    let prepared: Vec<Prepared> = files.iter().map(prepare).collect::<Result<_, _>>().or_bad_input()?;
    for file in prepared {
        file.put().or_bad_input()?;
    }
    for (path, _) in &files {
        let _ = writeln!(text, "Wrote {}.", path.display());
    }
    say(&text)?;
    Ok(Exit::Done)
}

/// Figures with their 95 % intervals. What `Value` calls threshold, focus and scale has other names for traces.
fn table(text: &mut String, all: &[Values], [threshold, focus, scale]: [&str; 3]) {
    let named = |part: &str| match part {
        "threshold" => threshold.to_owned(),
        "focus" => focus.to_owned(),
        "scale" if scale == "calibration" => scale.to_owned(),
        other => other.to_owned(),
    };
    let one = combined(all);
    let mut rows = vec![["".into(), "value".to_owned(), "mostly by".to_owned(), "between files".to_owned()]];
    for (figure, value) in &one {
        let between = scatter(all, *figure).map_or(String::new(), |sd| {
            format!("{} {}", at_precision(sd * figure.per_si(), 0.1 * sd * figure.per_si()), figure.unit())
        });
        rows.push([figure.label().to_owned(), shown(*figure, value), named(value.foremost()), between]);
    }
    if all.len() < 2 {
        rows.iter_mut().for_each(|row| row[3].clear());
    }
    let widths: Vec<usize> =
        (0..4).map(|k| rows.iter().map(|row| row[k].chars().count()).max().unwrap_or(0) + 2).collect();
    text.push('\n');
    for row in rows {
        let mut line = String::from("  ");
        for (cell, width) in row.iter().zip(&widths) {
            line.push_str(cell);
            line.extend(std::iter::repeat_n(' ', width - cell.chars().count()));
        }
        let _ = writeln!(text, "{}", line.trim_end());
    }
    let _ = writeln!(
        text,
        "  ± is the 95 % interval: 1.96 standard deviations of chance, {threshold}, {focus} and {scale} together."
    );
    if all.len() > 1 {
        let _ = writeln!(text, "  Mean of {} files; between files: standard deviation of the single ones.", all.len());
    }
    let missing = all.iter().flat_map(Values::keys).find(|figure| !one.contains_key(figure));
    if let Some(figure) = missing {
        let _ = writeln!(text, "  What not all files have is left out ({} and such).", figure.label());
    }
}

/// A value as the reader sees it.
fn shown(figure: Figure, value: &Value) -> String {
    let (number, half) = (value.value * figure.per_si(), NORMAL_95 * value.sd() * figure.per_si());
    let unit = figure.unit();
    let text = if value.at_least {
        format!("at least {} {unit}", significant(number, 3))
    } else if half > 0.0 {
        format!("{} ± {} {unit}", at_precision(number, half), at_precision(half, half))
    } else {
        format!("{} {unit}", significant(number, 3))
    };
    text.replace(['\u{a0}', '\u{202f}'], " ")
}

/// Sizes as bars.
fn histogram(text: &mut String, all: &[ImageMeasured]) {
    let networks = all.iter().any(|image| image.network.is_one());
    let bins = size_histogram(all);
    if networks || bins.is_empty() {
        return;
    }
    let most = bins.iter().map(|bin| bin.amount).fold(0.0, f64::max);
    text.push_str("\n  Particles by the diameter of the disc of their area\n");
    for bin in &bins {
        let bar = "#".repeat((LONGEST_BAR * bin.amount / most).round() as usize);
        let ends = [bin.lower, bin.upper].map(|end| significant(end * 1e6, 3));
        let row = format!("  {:>6} to {:>6} µm {:>6}  {bar}", ends[0], ends[1], bin.seen);
        let _ = writeln!(text, "{}", row.trim_end());
    }
}

/// Sentences under a heading, wrapped.
fn list(text: &mut String, heading: &str, sentences: &[String]) {
    if sentences.is_empty() {
        return;
    }
    let width = width().clamp(60, 110);
    let _ = writeln!(text, "\n{heading}:");
    for sentence in sentences {
        let mut line = String::from("  -");
        for word in sentence.split_whitespace() {
            if line.chars().count() + 1 + word.chars().count() > width {
                let _ = writeln!(text, "{line}");
                line = String::from("   ");
            }
            line.push(' ');
            line.push_str(word);
        }
        let _ = writeln!(text, "{line}");
    }
}
