//! Numbers as people write them.

use crate::key::{Key, Kind, Number, UNITS, Unit, show_number};
use toml::de::DeValue;

/// Another unit of the same kind in which the number would be allowed, and what it is in the key's own unit.
pub(crate) fn other_reading(spec: &Number, written: f64) -> Option<(Unit, f64)> {
    let unit = spec.unit;
    let mut meant = UNITS.iter().filter(|other| other.kind == unit.kind && **other != unit).filter_map(|other| {
        let value = tidy(unit.of_si(other.to_si(written)));
        (spec.least..=spec.most).contains(&value).then_some((*other, value))
    });
    meant.next()
}

/// The numbers of a key, if it holds any.
pub(crate) fn number_spec(key: &Key) -> Option<Number> {
    match key.kind {
        Kind::Number(spec) | Kind::Numbers(spec) | Kind::Point(spec) | Kind::Points(spec, _) => Some(spec),
        _ => None,
    }
}

/// A value as a number, if it is one.
pub(crate) fn number_of(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(number) => i128::from_str_radix(number.as_str(), number.radix()).ok().map(|n| n as f64),
        DeValue::Float(number) => number.as_str().parse().ok(),
        _ => None,
    }
}

/// What to write instead of a number that was given as a text, with or without its unit.
pub(super) fn without_quotes(key: &Key, value: &DeValue<'_>) -> Option<String> {
    let DeValue::String(text) = value else { return None };
    let name = key.name;
    match (key.kind, number_spec(key)) {
        (Kind::Number(spec), _) => {
            let number = worded_number(&spec, text)?;
            Some(match number {
                Worded::Number(number) => {
                    format!("write `{name} = {}`, without quotes: the key names the unit", show_number(number))
                }
                Worded::OtherUnit => {
                    let symbol = spec.unit.symbol;
                    let unit = if symbol.is_empty() { "without a unit".to_owned() } else { format!("in {symbol}") };
                    format!(
                        "write `{name} = ...` with the number alone, {unit}, without quotes: the key names the unit"
                    )
                }
            })
        }
        (_, Some(spec)) => match worded_number(&spec, text)? {
            Worded::Number(number) => {
                Some(format!("write {} there, without quotes: the key names the unit", show_number(number)))
            }
            Worded::OtherUnit => None,
        },
        (Kind::Integer(..) | Kind::IntegerOrAuto(..), None) => {
            let number: u64 = text.trim().parse().ok()?;
            Some(format!("write `{name} = {number}`, without quotes"))
        }
        _ => None,
    }
}

/// What a number in words says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Worded {
    /// The number in the key's own unit.
    Number(f64),
    /// A number in a unit that is not known to be of the key's kind.
    OtherUnit,
}

/// Reads a number as people write it: with a decimal comma, and with a unit behind it. `None` if it does not begin with a number.
pub(crate) fn worded_number(spec: &Number, text: &str) -> Option<Worded> {
    let plain: String = text.trim().chars().map(plain_sign).collect();
    let decimal = if plain.contains('.') { plain } else { plain.replacen(',', ".", 1) };
    // 'e' belongs to the number only where digits follow.
    let split = (0..=decimal.len()).rev().find(|end| decimal.get(..*end).is_some_and(is_number))?;
    let number: f64 = decimal[..split].parse().ok()?;
    let symbol = decimal[split..].trim();
    let is_meant = |unit: &Unit| {
        let same_degree = match unit.symbol {
            "deg" => symbol == "\u{b0}",
            "C" => symbol.eq_ignore_ascii_case("\u{b0}c"),
            _ => false,
        };
        unit.kind == spec.unit.kind
            && (symbol.eq_ignore_ascii_case(&unit.symbol.replace('µ', "u"))
                || symbol.eq_ignore_ascii_case(unit.suffix)
                || same_degree)
    };
    if symbol.is_empty() {
        return Some(Worded::Number(number));
    }
    let unit = std::iter::once(&spec.unit).chain(UNITS).find(|unit| is_meant(unit));
    Some(unit.map_or(Worded::OtherUnit, |unit| Worded::Number(tidy(spec.unit.of_si(unit.to_si(number))))))
}

fn is_number(text: &str) -> bool {
    text.ends_with(|c: char| c.is_ascii_digit() || c == '.') && text.parse::<f64>().is_ok_and(f64::is_finite)
}

/// A sign of a keyboard in place of one that looks like it.
pub(crate) fn plain_sign(c: char) -> char {
    match c {
        '\u{b5}' | '\u{3bc}' => 'u',
        '\u{2212}' | '\u{2013}' | '\u{2014}' => '-',
        '\u{201c}' | '\u{201d}' | '\u{201e}' | '\u{201f}' | '\u{ab}' | '\u{bb}' | '\u{2033}' => '"',
        '\u{2018}' | '\u{2019}' | '\u{201a}' | '\u{201b}' | '\u{2032}' => '\'',
        '\u{a0}' | '\u{202f}' | '\u{2007}' | '\u{2009}' | '\u{3000}' => ' ',
        other => other,
    }
}

/// Removes the last digits' noise of a conversion.
pub(crate) fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}
