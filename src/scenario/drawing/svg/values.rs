//! Values of attributes: numbers, lengths, transforms.

use crate::drawing::limits::LARGEST_NUMBER;
use kurbo::Affine;
use std::str::FromStr;
use svgtypes::{Error, NumberListParser};

/// Metres per pixel of CSS: 96 to the inch (W3C, CSS Values and Units).
pub(crate) const PIXEL: f64 = 25.4e-3 / 96.0;

/// A number that no drawing needs.
pub(crate) fn too_large(number: f64) -> String {
    format!("the number {number:e} is larger than any drawing needs (at most {LARGEST_NUMBER:e})")
}

/// What is wrong with a text, and where.
pub(crate) fn fault(text: &str, error: &Error) -> String {
    let at = match error {
        Error::UnexpectedEndOfStream => usize::MAX,
        Error::InvalidNumber(at)
        | Error::UnexpectedData(at)
        | Error::InvalidChar(_, at)
        | Error::InvalidString(_, at) => *at,
        Error::InvalidValue | Error::InvalidIdent => 1,
    };
    let rest: String = text.chars().skip(at - 1).take(20).collect();
    if rest.trim().is_empty() {
        return "something is missing at its end".to_owned();
    }
    if !matches!(error, Error::InvalidNumber(_)) {
        return format!("\"{rest}\" is not understood (character {at})");
    }
    let end = rest.find(|c: char| !matches!(c, '0'..='9' | '+' | '-' | '.' | 'e' | 'E')).unwrap_or(rest.len());
    match rest[..end].parse::<f64>() {
        Ok(number) => too_large(number),
        Err(_) => format!("\"{rest}\" stands where a number must stand (character {at})"),
    }
}

/// At most so many numbers and nothing else.
pub(crate) fn numbers(text: &str, most: usize) -> Result<Vec<f64>, String> {
    let mut numbers = Vec::new();
    for number in NumberListParser::from(text.trim_end()) {
        let number = number.map_err(|error| fault(text, &error))?;
        if number.abs() > LARGEST_NUMBER {
            return Err(too_large(number));
        }
        if numbers.len() == most {
            return Err(format!("more than {most} numbers"));
        }
        numbers.push(number);
    }
    Ok(numbers)
}

/// A view box: least x and y, width and height.
pub(crate) fn view_box(text: &str) -> Result<[f64; 4], String> {
    match numbers(text, 4)?[..] {
        [x, y, w, h] if w > 0.0 && h > 0.0 => Ok([x, y, w, h]),
        [_, _, _, _] => Err("width and height must be positive".to_owned()),
        _ => Err("four numbers are needed: x, y, width and height".to_owned()),
    }
}

/// A length with a unit that has a size, m.
pub(crate) fn physical(text: &str) -> Option<f64> {
    let text = text.trim();
    let split = text.trim_end_matches(|c: char| c.is_alphabetic() || c == '%');
    let value: f64 = split.trim().parse().ok()?;
    let unit = match &text[split.len()..] {
        "mm" => 1e-3,
        "cm" => 1e-2,
        "in" => 25.4e-3,
        "pt" => 25.4e-3 / 72.0,
        "pc" => 25.4e-3 / 6.0,
        "Q" => 0.25e-3,
        // Not of the standard; what else could be meant?
        "um" | "\u{b5}m" | "\u{3bc}m" => 1e-6,
        "nm" => 1e-9,
        _ => return None,
    };
    Some(value * unit)
}

/// A list of transforms, the first the outermost.
pub(crate) fn transform(text: &str) -> Result<Affine, String> {
    let svgtypes::Transform { a, b, c, d, e, f } =
        svgtypes::Transform::from_str(text).map_err(|error| fault(text, &error))?;
    match [a, b, c, d, e, f].into_iter().find(|v| v.is_nan() || v.abs() > LARGEST_NUMBER) {
        Some(large) => Err(too_large(large)),
        None => Ok(Affine::new([a, b, c, d, e, f])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Point;

    #[test]
    fn transforms_in_a_list_apply_from_the_right() {
        let p = transform("translate(10, 0) rotate(90) scale(2 3)").expect("sound") * Point::new(1.0, 1.0);
        assert!((p - Point::new(7.0, 2.0)).hypot() < 1e-12, "{p}");
        let p = transform("rotate(90 1 1),skewX(45)").expect("sound") * Point::new(0.0, 1.0);
        assert!((p - Point::new(1.0, 1.0)).hypot() < 1e-12, "{p}");
    }

    #[test]
    fn faults_say_where() {
        for (text, part) in [
            ("rotate(1 2)", "\")\" stands where a number must stand (character 11)"),
            ("scale(2) turn(1)", "\"turn(1)\" is not understood (character 10)"),
            ("scale(1", "missing at its end"),
            ("scale(1e300)", "larger than any drawing needs"),
            ("scale(1e9) scale(1e9)", "larger than any drawing needs"),
        ] {
            let what = transform(text).expect_err(text);
            assert!(what.contains(part), "{text}: {what}");
        }
        for (text, part) in [("1 2x", "\"x\""), ("1 1e400", "larger"), ("1,2 3", "more than 2"), ("-", "\"-\"")] {
            let what = numbers(text, 2).expect_err(text);
            assert!(what.contains(part), "{text}: {what}");
        }
        assert_eq!(numbers(" 1,-.5e1 ", 2), Ok(vec![1.0, -5.0]));
        assert!(view_box("0 0 1").is_err() && view_box("0 0 1 0").is_err() && view_box("0 0 1 2").is_ok());
    }

    #[test]
    fn lengths_and_their_units() {
        assert!((physical("25.4mm").expect("a length") - 25.4e-3).abs() < 1e-15);
        assert!((physical("72pt").expect("a length") - 25.4e-3).abs() < 1e-15);
        assert_eq!(physical("100"), None);
        assert_eq!(physical("100%"), None);
    }
}
