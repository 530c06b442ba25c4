//! The window cut through the recommended setting, as a drawing.

use super::words::{doubt_words, expected_words, shown_value};
use crate::numbers::share;
use crate::picture::colour;
use crate::plot::escape;
use motefall_figures::advice::{Advice, Cut};
use std::fmt::Write;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 400.0;
/// Left, top, right and bottom of the field.
const FIELD: [f64; 4] = [90.0, 12.0, 440.0, 340.0];

/// The expected share of passing prints over two settings.
pub(super) fn cut(advice: &Advice, cut: &Cut) -> String {
    let [a, b] = cut.settings.map(|k| &advice.freed[k]);
    let [left, top, right, bottom] = FIELD;
    let (columns, rows) = (cut.values[0].len() as f64, cut.values[1].len() as f64);
    let (wide, high) = ((right - left) / columns, (bottom - top) / rows);
    let mut out = format!(
        r#"<svg class="plot" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{}">"#,
        escape(&format!("Expected share of passing prints over {} and {}", a.key, b.key))
    );
    for (row, shares) in cut.shares.iter().enumerate() {
        for (column, told) in shares.iter().enumerate() {
            let (x, y) = (left + wide * column as f64, bottom - high * (row + 1) as f64);
            let [x_value, y_value] = [shown_value(a, cut.values[0][column]), shown_value(b, cut.values[1][row])];
            let doubts = &cut.doubts[row][column];
            let doubted =
                if doubts.is_empty() { String::new() } else { format!("; in doubt: {}", doubt_words(doubts)) };
            let words = told.map_or("cannot run".to_owned(), |told| format!("{} pass{doubted}", expected_words(told)));
            let fill = told.map_or("none".to_owned(), |told| {
                let [red, green, blue] = colour(told);
                format!("#{red:02x}{green:02x}{blue:02x}")
            });
            let _ = write!(
                out,
                r#"<rect x="{x:.1}" y="{y:.1}" width="{:.1}" height="{:.1}" fill="{fill}"><title>{}</title></rect>"#,
                wide + 0.3,
                high + 0.3,
                escape(&format!("{} {x_value}, {} {y_value}: {words}", a.key, b.key))
            );
            if !doubts.is_empty() {
                out += &hatch([x, y], [wide, high]);
            }
        }
    }
    let first = advice.choices.first().map(|choice| &choice.candidate.values);
    let at = |axis: usize| {
        let value = first?[cut.settings[axis]];
        cut.values[axis].iter().position(|other| *other == value)
    };
    if let (Some(column), Some(row)) = (at(0), at(1)) {
        let (x, y) = (left + wide * (column as f64 + 0.5), bottom - high * (row as f64 + 0.5));
        let _ = write!(
            out,
            r##"<circle cx="{x:.1}" cy="{y:.1}" r="6" fill="none" stroke="#fff" stroke-width="4"/><circle cx="{x:.1}" cy="{y:.1}" r="6" fill="none" stroke="#000" stroke-width="1.6"/>"##
        );
    }
    // Every other value, and the last.
    for (column, value) in cut.values[0].iter().enumerate().step_by(3) {
        let x = left + wide * (column as f64 + 0.5);
        let _ = write!(
            out,
            r#"<text class="tick" x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            bottom + 16.0,
            escape(&shown_value(a, *value))
        );
    }
    for (row, value) in cut.values[1].iter().enumerate().step_by(2) {
        let y = bottom - high * (row as f64 + 0.5) + 4.0;
        let _ = write!(
            out,
            r#"<text class="tick" x="{:.1}" y="{y:.1}" text-anchor="end">{}</text>"#,
            left - 6.0,
            escape(&shown_value(b, *value))
        );
    }
    let _ = write!(
        out,
        r#"<text class="tick" x="{:.1}" y="{:.1}" text-anchor="middle">{}</text><text class="tick" transform="translate(14 {:.1}) rotate(-90)" text-anchor="middle">{}</text>"#,
        0.5 * (left + right),
        bottom + 40.0,
        escape(&a.key),
        0.5 * (top + bottom),
        escape(&b.key)
    );
    legend(&mut out);
    out + "</svg>"
}

/// Two strokes across a cell, light over dark, so that they show on every colour.
fn hatch([x, y]: [f64; 2], [wide, high]: [f64; 2]) -> String {
    let stroke = |part: f64| {
        format!(
            "M{:.1} {:.1}L{:.1} {:.1}",
            x + (part - 0.25) * wide,
            y + 0.85 * high,
            x + (part + 0.25) * wide,
            y + 0.15 * high
        )
    };
    let path = stroke(0.3) + &stroke(0.7);
    format!(
        r##"<path d="{path}" stroke="#fff" stroke-width="2.6" pointer-events="none"/><path d="{path}" stroke="#101418" stroke-width="1.1" pointer-events="none"/>"##
    )
}

/// Colours and what they mean.
fn legend(out: &mut String) {
    let [_, top, right, _] = FIELD;
    for (k, told) in [1.0, 0.9, 0.75, 0.5, 0.25, 0.0].into_iter().enumerate() {
        let [red, green, blue] = colour(told);
        let y = top + 22.0 * k as f64;
        let _ = write!(
            out,
            r##"<rect x="{:.1}" y="{y:.1}" width="16" height="16" fill="#{red:02x}{green:02x}{blue:02x}"/><text class="tick" x="{:.1}" y="{:.1}">{}</text>"##,
            right + 18.0,
            right + 40.0,
            y + 13.0,
            share(told)
        );
    }
}
