//! The basic shapes.

use super::path;
use super::tree::Element;
use super::values::{PIXEL, numbers, physical};
use crate::drawing::curves::{RawLine, add_arc, circle, ellipse, whole};
use crate::drawing::limits::MOST_POINTS;
use crate::drawing::{DrawingError, Ends};
use kurbo::{Point, Vec2};
use std::f64::consts::FRAC_PI_2;

/// Units of the drawing per pixel of CSS, by which lengths with units are read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct UnitsPerPixel(pub(crate) f64);

impl UnitsPerPixel {
    /// An attribute's length in units of the drawing.
    pub(super) fn length(self, element: &Element, name: &str) -> Result<Option<f64>, DrawingError> {
        let Some(text) = element.get(name) else { return Ok(None) };
        if let Some(metres) = physical(text) {
            return Ok(Some(metres / PIXEL * self.0));
        }
        let plain = text.trim();
        let plain = plain.strip_suffix("px").unwrap_or(plain);
        let what = match numbers(plain, 1).as_deref() {
            Ok([value]) => return Ok(Some(*value)),
            Ok(_) => "a number is missing".to_owned(),
            Err(_) if plain.ends_with('%') => "lengths in % are not read".to_owned(),
            Err(what) => what.clone(),
        };
        Err(element.broken(name, &what))
    }

    /// Several lengths; those left out are 0.
    pub(crate) fn lengths<const N: usize>(self, element: &Element, names: [&str; N]) -> Result<[f64; N], DrawingError> {
        let mut lengths = [0.0; N];
        for (length, name) in lengths.iter_mut().zip(names) {
            *length = self.length(element, name)?.unwrap_or(0.0);
        }
        Ok(lengths)
    }
}

/// The lines of a shape, and its name for messages; `None` if the element is no shape.
pub(crate) fn lines(
    element: &Element,
    pixel: UnitsPerPixel,
) -> Result<Option<(&'static str, Vec<RawLine>)>, DrawingError> {
    Ok(Some(match element.name.as_str() {
        "rect" => ("rectangle", vec![(rectangle(element, pixel)?, Ends::Closed)]),
        "circle" => {
            let [cx, cy, r] = pixel.lengths(element, ["cx", "cy", "r"])?;
            ("circle", vec![whole(circle(Point::new(cx, cy), r))])
        }
        "ellipse" => {
            let [cx, cy, rx, ry] = pixel.lengths(element, ["cx", "cy", "rx", "ry"])?;
            ("ellipse", vec![whole(ellipse(Point::new(cx, cy), Vec2::new(rx, 0.0), Vec2::new(0.0, ry)))])
        }
        "line" => {
            let [x1, y1, x2, y2] = pixel.lengths(element, ["x1", "y1", "x2", "y2"])?;
            ("line", vec![(vec![Point::new(x1, y1), Point::new(x2, y2)], Ends::Open)])
        }
        "polyline" => ("polyline", vec![(corners(element)?, Ends::Open)]),
        "polygon" => ("polygon", vec![(corners(element)?, Ends::Closed)]),
        "path" => ("path", element.read("d", path::parts)?.unwrap_or_default()),
        _ => return Ok(None),
    }))
}

/// The corners of a polyline or polygon.
fn corners(element: &Element) -> Result<Vec<Point>, DrawingError> {
    let numbers = element.read("points", |text| numbers(text, 2 * MOST_POINTS))?.unwrap_or_default();
    let (pairs, rest) = numbers.as_chunks::<2>();
    if !rest.is_empty() {
        return Err(element.broken("points", "a number is missing at its end"));
    }
    Ok(pairs.iter().map(|[x, y]| Point::new(*x, *y)).collect())
}

/// A rectangle, its corners rounded if asked for.
fn rectangle(element: &Element, pixel: UnitsPerPixel) -> Result<Vec<Point>, DrawingError> {
    let [x, y, w, h] = pixel.lengths(element, ["x", "y", "width", "height"])?;
    if w < 0.0 || h < 0.0 {
        return Err(element.broken("width", "it must not be negative"));
    }
    let (rx, ry) = (pixel.length(element, "rx")?, pixel.length(element, "ry")?);
    let [rx, ry] = [rx.or(ry).unwrap_or(0.0).min(0.5 * w), ry.or(rx).unwrap_or(0.0).min(0.5 * h)];
    if rx <= 0.0 || ry <= 0.0 {
        return Ok([(x, y), (x + w, y), (x + w, y + h), (x, y + h)].map(Point::from).to_vec());
    }
    let mut points = vec![Point::new(x, y + ry)];
    let centers = [(x + rx, y + ry), (x + w - rx, y + ry), (x + w - rx, y + h - ry), (x + rx, y + h - ry)];
    for (k, center) in centers.map(Point::from).into_iter().enumerate() {
        let shown = ellipse(center, Vec2::new(rx, 0.0), Vec2::new(0.0, ry));
        let from = (k as f64 + 2.0) * FRAC_PI_2;
        points.push(shown * Vec2::from_angle(from).to_point());
        add_arc(&mut points, shown, from, FRAC_PI_2);
    }
    Ok(points)
}
