//! Numbers, points, texts and words.

use super::numbers::{number_of, number_spec, other_reading};
use super::section::{Reader, Value};
use crate::faults::did_you_mean;
use crate::key::{Kind, Need, Number, show_number};
use motefall_physics::words::Words;
use toml::de::DeValue;

impl Reader<'_> {
    /// A number in SI; NaN stands for a faulty or missing one.
    pub(crate) fn number(&self, name: &str) -> f64 {
        self.optional(name).unwrap_or(f64::NAN)
    }

    /// A number in SI, if it was given or has a default; NaN stands for a faulty one.
    pub(crate) fn optional(&self, name: &str) -> Option<f64> {
        let key = self.key(name);
        let spec = number_spec(key).expect("the table says that it is a number");
        match (self.required(key), key.need) {
            (Some(value), _) => Some(self.check(name, &spec, value)),
            (None, Need::Default(v)) => Some(spec.unit.to_si(v)),
            (None, Need::Assumed(v, advice)) => {
                self.assume(name, spec.unit.show(v), advice);
                Some(spec.unit.to_si(v))
            }
            (None, Need::Required) => Some(f64::NAN),
            (None, Need::Optional | Need::Follows(_) | Need::Word(_)) => None,
        }
    }

    /// Checks one number; SI, or NaN if it has a fault.
    fn check(&self, name: &str, spec: &Number, value: &Value<'_>) -> f64 {
        let unit = spec.unit;
        let Some(written) = number_of(value.get_ref()) else {
            let in_unit =
                if unit.symbol.is_empty() { "a number".to_owned() } else { format!("a number (in {})", unit.symbol) };
            self.wrong_type(name, value, &in_unit);
            return f64::NAN;
        };
        if written.is_finite() && (spec.least..=spec.most).contains(&written) {
            return unit.to_si(written);
        }
        if self.collector.is_full() {
            return f64::NAN;
        }
        let full = self.full(name);
        let range = format!("{} to {}", show_number(spec.least), unit.show(spec.most));
        let title = format!(
            "`{full}` is {}, but must lie between {} and {}",
            unit.show(written),
            show_number(spec.least),
            unit.show(spec.most)
        );
        let advice = self.slip(name, spec, written).unwrap_or_else(|| format!("write a value from {range}"));
        self.collector.fault(value.span(), title, format!("allowed: {range}"), spec.why, advice);
        f64::NAN
    }

    /// What to write if the number would be right in another unit.
    fn slip(&self, name: &str, spec: &Number, written: f64) -> Option<String> {
        let (other, value) = other_reading(spec, written)?;
        let symbol = if spec.unit.symbol.is_empty() { "a plain ratio" } else { spec.unit.symbol };
        Some(format!(
            "`{name}` is counted in {symbol}: if {} was meant, write `{name} = {}`",
            other.show(written),
            show_number(value)
        ))
    }

    /// A list of numbers in SI; empty if left out.
    pub(crate) fn numbers(&self, name: &str) -> Vec<f64> {
        let key = self.key(name);
        let Kind::Numbers(spec) = key.kind else { unreachable!("the table says that it is a list of numbers") };
        let Some(value) = self.required(key) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(name, value, "a list of numbers, e.g. [90, 90]");
            return Vec::new();
        };
        items.iter().map(|item| self.check(name, &spec, item)).collect()
    }

    /// A point in SI.
    pub(crate) fn point(&self, name: &str) -> [f64; 2] {
        let key = self.key(name);
        let Kind::Point(spec) = key.kind else { unreachable!("the table says that it is a point") };
        self.required(key).map_or([f64::NAN; 2], |value| self.point_of(name, &spec, value))
    }

    fn point_of(&self, name: &str, spec: &Number, value: &Value<'_>) -> [f64; 2] {
        match value.get_ref() {
            DeValue::Array(items) if items.len() == 2 => {
                [self.check(name, spec, &items[0]), self.check(name, spec, &items[1])]
            }
            _ => {
                self.wrong_type(name, value, &format!("a pair of numbers [x, y] in {}", spec.unit.symbol));
                [f64::NAN; 2]
            }
        }
    }

    /// A list of points in SI.
    pub(crate) fn points(&self, name: &str) -> Vec<[f64; 2]> {
        let key = self.key(name);
        let Kind::Points(spec, fewest) = key.kind else { unreachable!("the table says that it is a list of points") };
        let Some(value) = self.required(key) else { return Vec::new() };
        match value.get_ref() {
            DeValue::Array(items) if items.len() >= fewest => {
                items.iter().map(|item| self.point_of(name, &spec, item)).collect()
            }
            _ => {
                self.wrong_type(
                    name,
                    value,
                    &format!("a list of at least {fewest} points [[x, y], ...] in {}", spec.unit.symbol),
                );
                Vec::new()
            }
        }
    }

    /// A whole number; `None` for "auto", for a missing one without a default, and for a faulty one.
    pub(crate) fn integer(&self, name: &str) -> Option<u64> {
        let key = self.key(name);
        let (Kind::Integer(least, most) | Kind::IntegerOrAuto(least, most)) = key.kind else {
            unreachable!("the table says that it is a whole number")
        };
        let auto = matches!(key.kind, Kind::IntegerOrAuto(..));
        let Some(value) = self.required(key) else {
            return if let Need::Default(v) = key.need { Some(v as u64) } else { None };
        };
        let or_auto = if auto { " or \"auto\"" } else { "" };
        match value.get_ref() {
            DeValue::String(text) if auto && text == "auto" => None,
            DeValue::Integer(number) => {
                let parsed = i128::from_str_radix(number.as_str(), number.radix()).ok();
                let found = parsed.and_then(|n| u64::try_from(n).ok()).filter(|n| (least..=most).contains(n));
                if found.is_none() {
                    let title = format!("`{}` is {number}, but must lie between {least} and {most}", self.full(name));
                    let advice = format!("write a whole number from {least} to {most}{or_auto}");
                    self.collector.fault(value.span(), title, format!("allowed: {least} to {most}"), key.help, advice);
                }
                found
            }
            _ => {
                self.wrong_type(name, value, &format!("a whole number{or_auto}"));
                None
            }
        }
    }

    /// A text; empty if left out or faulty.
    pub(crate) fn text(&self, name: &str) -> String {
        let key = self.key(name);
        let Some(value) = self.required(key) else { return String::new() };
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_type(name, value, "a text in quotes");
            return String::new();
        };
        if text.trim().is_empty() && matches!(key.need, Need::Required) {
            self.fault(
                name,
                format!("`{}` is empty", self.full(name)),
                "needs a text",
                key.help,
                "write at least one letter",
            );
        }
        text.trim().to_owned()
    }

    /// The value of one of the words; the first stands for a faulty one.
    pub(crate) fn choice<T: Words>(&self, name: &str) -> T {
        let key = self.key(name);
        let Kind::Choice(words) = key.kind else { unreachable!("the table says that it is a choice") };
        assert_eq!(words, T::WORDS, "the table has the words of this type");
        let chosen = match (self.required(key), key.need) {
            (Some(value), _) => self.word(name, words, value),
            (None, Need::Word(word)) => words.iter().position(|w| *w == word),
            (None, _) => None,
        };
        T::ALL[chosen.unwrap_or(0)]
    }

    /// The values of a list of words; faulty ones are left out.
    pub(crate) fn choices<T: Words>(&self, name: &str) -> Vec<T> {
        let key = self.key(name);
        let Kind::Choices(words) = key.kind else { unreachable!("the table says that it is a list of choices") };
        assert_eq!(words, T::WORDS, "the table has the words of this type");
        let Some(value) = self.required(key) else { return Vec::new() };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(name, value, "a list of words");
            return Vec::new();
        };
        items.iter().filter_map(|item| self.word(name, words, item)).map(|i| T::ALL[i]).collect()
    }

    fn word(&self, name: &str, words: &'static [&'static str], value: &Value<'_>) -> Option<usize> {
        let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_type(name, value, &format!("one of {}", quoted.join(", ")));
            return None;
        };
        let found = words.iter().position(|word| word.eq_ignore_ascii_case(text));
        if found.is_none() {
            let hint = did_you_mean(text, words.iter().copied());
            let title = format!("`{}` is \"{text}\", which is not known", self.full(name));
            self.collector.fault(value.span(), title, hint, "", format!("write one of {}", quoted.join(", ")));
        }
        found
    }

    /// true or false; the table's default if left out.
    pub(crate) fn flag(&self, name: &str) -> bool {
        let key = self.key(name);
        let Some(value) = self.required(key) else { return matches!(key.need, Need::Word("true")) };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_type(name, value, "true or false");
            false
        })
    }
}
