//! A picture to judge a measurement by: outlines of the grains that were found, and edges of the line.

use crate::error::MeasureError;
use crate::image::{ImageMeasured, Seen};
use crate::raster::Raster;
use std::io::Cursor;

/// Side that small pictures are enlarged to, pixels.
const SIDE: usize = 2400;
/// Colours that are told apart without red or green vision.
const GRAIN: [u8; 3] = [255, 190, 40];
const CUT: [u8; 3] = [70, 150, 255];
const HALF: [u8; 3] = [240, 60, 200];
const BAND: [u8; 3] = [60, 230, 230];
const EDGE: [u8; 3] = [255, 255, 255];
/// Seam of what could be as light as the picture.
const SEAM: [u8; 3] = [0, 0, 0];
/// Lengths of dashes, pixels of the overlay.
const LONG: f64 = 12.0;
const SHORT: f64 = 3.0;
/// What a picture says of who made it, so that only such ones are replaced.
const MAKER: &str = "motefall measure";

/// What the colours of an overlay mean.
pub const OVERLAY_COLOURS: &str = "amber: outlines of grains; blue: those that the frame cuts; white: the edges of the line, and \
                                   dotted its centre; magenta: the line at half height and its edge point by point; dashed cyan: the band that holds 99 %";

impl ImageMeasured {
    /// The overlay as a PNG.
    pub fn overlay(&self) -> Result<Vec<u8>, MeasureError> {
        let seen = &self.seen;
        let zoom = (SIDE / seen.grey.columns.max(seen.grey.rows)).clamp(1, 4);
        let mut canvas = Canvas::new(&seen.grey, zoom);
        canvas.outlines(seen, self.network.is_one());
        canvas.line(seen);
        canvas.png().map_err(|error| MeasureError::Overlay(error.to_string()))
    }
}

/// Whether a file is an overlay of an earlier measurement, which may be replaced.
pub fn is_overlay(bytes: &[u8]) -> bool {
    let reader = png::Decoder::new(Cursor::new(bytes)).read_info();
    reader.is_ok_and(|reader| reader.info().uncompressed_latin1_text.iter().any(|chunk| chunk.text == MAKER))
}

struct Canvas {
    columns: usize,
    rows: usize,
    zoom: usize,
    pixels: Vec<u8>,
}

impl Canvas {
    /// The picture in grey, its middle 98 % of greys from dark to light.
    fn new(grey: &Raster<f32>, zoom: usize) -> Self {
        let mut sorted = grey.values.clone();
        let mut end = |share: f64| {
            let place = ((sorted.len() - 1) as f64 * share) as usize;
            *sorted.select_nth_unstable_by(place, f32::total_cmp).1
        };
        let (low, high) = (end(0.01), end(0.99));
        let (columns, rows) = (grey.columns * zoom, grey.rows * zoom);
        let mut pixels = Vec::with_capacity(columns * rows * 3);
        for row in 0..rows {
            for column in 0..columns {
                let share = (grey.at(column / zoom, row / zoom) - low) / (high - low).max(1e-6);
                pixels.extend([(share.clamp(0.0, 1.0) * 235.0) as u8; 3]);
            }
        }
        Self { columns, rows, zoom, pixels }
    }

    fn put(&mut self, column: usize, row: usize, colour: [u8; 3]) {
        let at = 3 * (row * self.columns + column);
        self.pixels[at..at + 3].copy_from_slice(&colour);
    }

    /// Pixels of grains beside something else.
    fn outlines(&mut self, seen: &Seen, is_network: bool) {
        let zoom = self.zoom;
        let labels = if is_network { seen.labels.map(|label| label.min(1)) } else { seen.labels.clone() };
        for row in 0..self.rows {
            for column in 0..self.columns {
                let label = labels.at(column / zoom, row / zoom);
                let differs = |column: usize, row: usize| labels.at(column / zoom, row / zoom) != label;
                let is_edge = label > 0
                    && (column > 0 && differs(column - 1, row)
                        || column + 1 < self.columns && differs(column + 1, row)
                        || row > 0 && differs(column, row - 1)
                        || row + 1 < self.rows && differs(column, row + 1));
                if is_edge {
                    let is_cut = !is_network && seen.is_cut[label as usize - 1];
                    self.put(column, row, if is_cut { CUT } else { GRAIN });
                }
            }
        }
    }

    fn line(&mut self, seen: &Seen) {
        let Some(line) = &seen.line else { return };
        for (bins, colour, dash) in [(line.read.half, HALF, None), (line.read.band, BAND, Some(LONG))] {
            for bin in bins {
                self.stroke(line.angle, line.first + bin, colour, dash);
            }
        }
        let centre = (0.5 * (line.read.half[0] + line.read.half[1]), Some(SHORT));
        let edges = line.edges.iter().flat_map(|edges| edges.ends).map(|bin| (bin, None));
        for (bin, dash) in edges.chain([centre]) {
            let across = line.first + bin;
            let beside = 1.0 / self.zoom as f64;
            [-beside, beside].into_iter().for_each(|by| self.stroke(line.angle, across + by, SEAM, dash));
            self.stroke(line.angle, across, EDGE, dash);
        }
        for points in line.roughness.iter().flat_map(|found| &found.points) {
            for (along, across) in points {
                self.dot(line.angle, *along, *across);
            }
        }
    }

    /// Column and row of a place along and across a direction from the middle of the picture, pixels of that.
    fn place(&self, angle: f64, along: f64, across: f64) -> (f64, f64) {
        let (sin, cos) = angle.sin_cos();
        let zoom = self.zoom as f64;
        let x = (along * cos - across * sin) * zoom + 0.5 * self.columns as f64;
        let y = (along * sin + across * cos) * zoom + 0.5 * self.rows as f64;
        (x, y)
    }

    fn stroke(&mut self, angle: f64, across: f64, colour: [u8; 3], dash: Option<f64>) {
        let reach = (self.columns as f64).hypot(self.rows as f64) / self.zoom as f64;
        let steps = (2.0 * reach * self.zoom as f64) as usize;
        for k in 0..steps {
            let along = (k as f64 / steps as f64 - 0.5) * reach;
            if dash.is_some_and(|dash| (along.abs() * self.zoom as f64 / dash) as usize % 2 == 1) {
                continue;
            }
            self.mark(self.place(angle, along, across), 0, colour);
        }
    }

    fn dot(&mut self, angle: f64, along: f64, across: f64) {
        self.mark(self.place(angle, along, across), 2, HALF);
    }

    fn mark(&mut self, (x, y): (f64, f64), size: i64, colour: [u8; 3]) {
        for row in y as i64 - size..=y as i64 + size {
            for column in x as i64 - size..=x as i64 + size {
                let inside = x >= 0.0 && y >= 0.0 && row >= 0 && column >= 0;
                if inside && (column as usize) < self.columns && (row as usize) < self.rows {
                    self.put(column as usize, row as usize, colour);
                }
            }
        }
    }

    fn png(&self) -> Result<Vec<u8>, png::EncodingError> {
        let mut out = Vec::new();
        let mut encoder = png::Encoder::new(&mut out, self.columns as u32, self.rows as u32);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        encoder.add_text_chunk("Software".to_owned(), MAKER.to_owned())?;
        encoder.write_header()?.write_image_data(&self.pixels)?;
        Ok(out)
    }
}
