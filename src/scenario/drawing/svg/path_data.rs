//! Path data of SVG: all commands, absolute and relative. Grammar and arcs as in the recommendation (W3C 2011, Scalable Vector
//! Graphics 1.1, chapter 8 and appendix F.6; from memory).

use crate::drawing::LARGEST_NUMBER;
use crate::drawing::curves::{bezier, ellipse_arc};
use std::f64::consts::TAU;

type Point = [f64; 2];

/// A part of a path, and whether it was closed.
pub type Subpath = (Vec<Point>, bool);

/// Most points of a path: a bound on time and memory.
const MOST_POINTS: usize = crate::drawing::MOST_POINTS;

/// Reads numbers and flags out of a text.
pub struct Scanner<'a> {
    text: &'a [u8],
    /// Bytes read so far.
    pub at: usize,
}

impl<'a> Scanner<'a> {
    /// From the beginning.
    pub fn new(text: &'a str) -> Self {
        Self { text: text.as_bytes(), at: 0 }
    }

    fn peek(&self) -> Option<u8> {
        self.text.get(self.at).copied()
    }

    /// Passes over blanks and at most one comma.
    fn separator(&mut self) {
        let mut comma = false;
        while let Some(c) = self.peek() {
            match c {
                b' ' | b'\t' | b'\r' | b'\n' | b'\x0c' => {}
                b',' if !comma => comma = true,
                _ => break,
            }
            self.at += 1;
        }
    }

    /// Whether nothing but blanks is left.
    pub fn is_done(&mut self) -> bool {
        self.separator();
        self.peek().is_none()
    }

    /// A letter, if one is next.
    fn letter(&mut self) -> Option<u8> {
        self.separator();
        let found = self.peek().filter(u8::is_ascii_alphabetic);
        self.at += usize::from(found.is_some());
        found
    }

    /// The next number; as many characters as make one.
    pub fn number(&mut self) -> Result<f64, String> {
        self.separator();
        let begin = self.at;
        let mut end = begin;
        let digit = |k: usize| self.text.get(k).is_some_and(u8::is_ascii_digit);
        if matches!(self.text.get(end), Some(b'+' | b'-')) {
            end += 1;
        }
        while digit(end) {
            end += 1;
        }
        if self.text.get(end) == Some(&b'.') {
            end += 1;
            while digit(end) {
                end += 1;
            }
        }
        if matches!(self.text.get(end), Some(b'e' | b'E')) {
            let sign = usize::from(matches!(self.text.get(end + 1), Some(b'+' | b'-')));
            if digit(end + 1 + sign) {
                end += 1 + sign;
                while digit(end) {
                    end += 1;
                }
            }
        }
        let text = std::str::from_utf8(&self.text[begin..end]).unwrap_or("");
        let value: f64 = text.parse().map_err(|_| {
            let rest: String = String::from_utf8_lossy(&self.text[begin..]).chars().take(20).collect();
            if rest.is_empty() {
                "a number is missing at its end".to_owned()
            } else {
                format!("\"{rest}\" stands where a number must stand (character {})", begin + 1)
            }
        })?;
        if !value.is_finite() || value.abs() > LARGEST_NUMBER {
            return Err(format!("the number {text} is larger than any drawing needs (at most {LARGEST_NUMBER:e})"));
        }
        self.at = end;
        Ok(value)
    }

    /// A 0 or a 1; nothing need stand between it and what follows.
    fn flag(&mut self) -> Result<bool, String> {
        self.separator();
        let found = match self.peek() {
            Some(b'0') => false,
            Some(b'1') => true,
            _ => return Err(format!("a 0 or 1 is missing (character {})", self.at + 1)),
        };
        self.at += 1;
        Ok(found)
    }

    fn point(&mut self, from: Point) -> Result<Point, String> {
        Ok([from[0] + self.number()?, from[1] + self.number()?])
    }
}

/// The parts of a path, curves as straight pieces.
pub fn subpaths(data: &str) -> Result<Vec<Subpath>, String> {
    let mut scanner = Scanner::new(data);
    let mut parts: Vec<Subpath> = Vec::new();
    let mut points: Vec<Point> = Vec::new();
    let (mut here, mut start) = ([0.0; 2], [0.0; 2]);
    // Control point before, of a curve of the third and of the second degree.
    let (mut cubic, mut quadratic): (Option<Point>, Option<Point>) = (None, None);
    let mut command: Option<u8> = None;
    let (mut total, mut counted) = (0, 0);
    while !scanner.is_done() {
        let letter = scanner.letter();
        let given = match (letter, command) {
            (Some(letter), _) => letter,
            // Further points after the first of a move are lines.
            (None, Some(b'M')) => b'L',
            (None, Some(b'm')) => b'l',
            (None, Some(b'Z' | b'z') | None) => {
                return Err(format!("a command letter is missing (character {})", scanner.at + 1));
            }
            (None, Some(before)) => before,
        };
        if command.is_none() && !matches!(given, b'M' | b'm') {
            return Err("a path begins with M".to_owned());
        }
        command = Some(given);
        let zero = if given.is_ascii_lowercase() { here } else { [0.0; 2] };
        if points.is_empty() && !matches!(given.to_ascii_uppercase(), b'M' | b'Z') {
            points.push(here);
        }
        let (mut next_cubic, mut next_quadratic) = (None, None);
        let reflected = |control: Option<Point>| {
            control.map_or(here, |control| [2.0 * here[0] - control[0], 2.0 * here[1] - control[1]])
        };
        match given.to_ascii_uppercase() {
            b'M' => {
                let at = scanner.point(zero)?;
                if points.len() > 1 {
                    parts.push((std::mem::take(&mut points), false));
                }
                points = vec![at];
                (here, start) = (at, at);
            }
            b'L' => {
                here = scanner.point(zero)?;
                points.push(here);
            }
            b'H' => {
                here[0] = zero[0] + scanner.number()?;
                points.push(here);
            }
            b'V' => {
                here[1] = zero[1] + scanner.number()?;
                points.push(here);
            }
            b'C' | b'S' => {
                let a = if given.eq_ignore_ascii_case(&b'C') { scanner.point(zero)? } else { reflected(cubic) };
                let (b, to) = (scanner.point(zero)?, scanner.point(zero)?);
                bezier(&mut points, &[here, a, b, to]);
                (here, next_cubic) = (to, Some(b));
            }
            b'Q' | b'T' => {
                let a = if given.eq_ignore_ascii_case(&b'Q') { scanner.point(zero)? } else { reflected(quadratic) };
                let to = scanner.point(zero)?;
                bezier(&mut points, &[here, a, to]);
                (here, next_quadratic) = (to, Some(a));
            }
            b'A' => {
                let radii = [scanner.number()?.abs(), scanner.number()?.abs()];
                let turn = scanner.number()?.to_radians();
                let (large, positive) = (scanner.flag()?, scanner.flag()?);
                let to = scanner.point(zero)?;
                arc(&mut points, here, radii, turn, large, positive, to);
                here = to;
            }
            b'Z' => {
                if points.len() > 1 {
                    parts.push((std::mem::take(&mut points), true));
                }
                points.clear();
                here = start;
            }
            other => return Err(format!("the path command {} is not known", char::from(other))),
        }
        (cubic, quadratic) = (next_cubic, next_quadratic);
        // Points of finished parts are counted once, when the next part begins.
        if parts.len() > counted {
            total += parts[counted..].iter().map(|part| part.0.len()).sum::<usize>();
            counted = parts.len();
        }
        if total + points.len() > MOST_POINTS {
            return Err(format!("it has more than {MOST_POINTS} points"));
        }
    }
    if points.len() > 1 {
        parts.push((points, false));
    }
    Ok(parts)
}

/// An arc of an ellipse between two points, without its first point.
fn arc(points: &mut Vec<Point>, from: Point, radii: [f64; 2], turn: f64, large: bool, positive: bool, to: Point) {
    let [mut rx, mut ry] = radii;
    if from == to {
        return;
    }
    if rx == 0.0 || ry == 0.0 {
        points.push(to);
        return;
    }
    let (sin, cos) = turn.sin_cos();
    let half = [0.5 * (from[0] - to[0]), 0.5 * (from[1] - to[1])];
    let [x, y] = [cos * half[0] + sin * half[1], cos * half[1] - sin * half[0]];
    // Radii that do not reach are enlarged.
    let short = (x / rx).hypot(y / ry);
    if short > 1.0 {
        rx *= short;
        ry *= short;
    }
    let square = (x / rx).powi(2) + (y / ry).powi(2);
    let size = ((1.0 - square).max(0.0) / square).sqrt() * if large == positive { -1.0 } else { 1.0 };
    let inner = [size * rx * y / ry, -size * ry * x / rx];
    let center = [
        cos * inner[0] - sin * inner[1] + 0.5 * (from[0] + to[0]),
        sin * inner[0] + cos * inner[1] + 0.5 * (from[1] + to[1]),
    ];
    let begin = ((y - inner[1]) / ry).atan2((x - inner[0]) / rx);
    let end = ((-y - inner[1]) / ry).atan2((-x - inner[0]) / rx);
    let mut sweep = (end - begin).rem_euclid(TAU);
    if !positive && sweep > 0.0 {
        sweep -= TAU;
    }
    ellipse_arc(points, center, [rx * cos, rx * sin], [-ry * sin, ry * cos], begin, sweep);
    points.pop();
    points.push(to);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::signed_area;

    fn one(data: &str) -> Subpath {
        let parts = subpaths(data).unwrap_or_else(|fault| panic!("{data}: {fault}"));
        assert_eq!(parts.len(), 1, "{data}");
        parts.into_iter().next().expect("one")
    }

    #[test]
    fn all_commands_absolute_and_relative() {
        // A unit square in six ways.
        for data in [
            "M0 0L1 0L1 1L0 1Z",
            "m0,0 1,0 0,1 -1,0z",
            "M0 0H1V1H0Z",
            "M5 5m-5-5h1v1h-1z",
            "M0 0 1 0 1 1 0 1z",
            "M.0.0C.5 0 1 0 1 0S1 .5 1 1Q0 1 0 1T0 0z",
        ] {
            let (points, closed) = one(data);
            assert!(closed, "{data}");
            let mut ring = points;
            ring.push(ring[0]);
            assert!((signed_area(&ring) - 1.0).abs() < 1e-12, "{data}: {}", signed_area(&ring));
        }
        // A smooth curve after a curve mirrors its control point: the mirror image of the first half.
        let (wave, _) = one("M0 0Q1 2 2 0T4 0");
        let low = wave.iter().map(|p| p[1]).fold(0.0, f64::min);
        assert!((low + 1.0).abs() < 1e-3, "{low}");
        let (wave, _) = one("M0 0C0 1 2 1 2 0S4-1 4 0");
        let low = wave.iter().map(|p| p[1]).fold(0.0, f64::min);
        assert!((low + 0.75).abs() < 1e-3, "{low}");
    }

    #[test]
    fn arcs_go_the_way_their_flags_say() {
        // From (1, 0) to (0, 1) with radius 1: quarter circles about (0, 0) and (1, 1), short and long.
        for (flags, center, length) in
            [("0 1", [0.0, 0.0], 0.25), ("0 0", [1.0, 1.0], 0.25), ("10", [0.0, 0.0], 0.75), ("1,1", [1.0, 1.0], 0.75)]
        {
            let (points, _) = one(&format!("M1 0A1 1 0 {flags} 0 1"));
            assert!(
                points.iter().all(|p| ((p[0] - center[0]).hypot(p[1] - center[1]) - 1.0).abs() < 1e-9),
                "{flags}: {points:?}"
            );
            let sum: f64 = points.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum();
            assert!((sum / (TAU * length) - 1.0).abs() < 1e-4, "{flags}: {sum}");
        }
        // Flags without blanks, and radii that are too small: half a circle over the distance.
        let (points, _) = one("m0 0a.1.1 0 013 4");
        assert_eq!(points.last(), Some(&[3.0, 4.0]));
        assert!(points.iter().all(|p| ((p[0] - 1.5).hypot(p[1] - 2.0) - 2.5).abs() < 1e-9));
    }

    #[test]
    fn parts_open_and_closed() {
        let parts = subpaths("M0 0L1 0M2 2L3 3L3 2Zl1 1").expect("sound");
        assert_eq!(parts.len(), 3);
        assert_eq!(parts.iter().map(|p| p.1).collect::<Vec<_>>(), [false, true, false]);
        assert_eq!(parts[2].0, [[2.0, 2.0], [3.0, 3.0]]);
        assert!(subpaths("").expect("nothing").is_empty());
    }

    #[test]
    fn faults_say_where() {
        assert!(subpaths("L1 1").expect_err("no M").contains("begins with M"));
        assert!(subpaths("M1").expect_err("half a point").contains("missing"));
        assert!(subpaths("M0 0L1 x").expect_err("a letter").contains("character 8"));
        assert!(subpaths("M0 0 L 1e400 0").expect_err("too large").contains("larger"));
        assert!(subpaths("M0 0L nan 0").is_err() && subpaths("M0 0Z 1 1").is_err() && subpaths("M0 0P1 1").is_err());
    }
}
