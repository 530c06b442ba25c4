//! What is missing or of another type, and what to write.

use super::numbers::without_quotes;
use super::section::{Reader, Value};
use crate::key::{Key, Kind, Need, show_number};
use toml::de::DeValue;

impl<'a> Reader<'a> {
    /// The value, or what stands for it: reports a missing one.
    pub(super) fn required(&self, key: &Key) -> Option<&'a Value<'a>> {
        let value = self.value(key.name);
        if value.is_none() && self.complain && matches!(key.need, Need::Required) && !self.is_misspelt(key) {
            let full = self.full(key.name);
            let section = if self.path.is_empty() { "the file".to_owned() } else { format!("`{}`", self.path) };
            self.collector.fault(
                self.span.clone(),
                format!("`{full}` is missing"),
                format!("{section} needs `{}`", key.name),
                format!("{}: {}", key.name, key.help),
                self.how_to_add(key),
            );
        }
        value
    }

    /// What to write for a missing key.
    fn how_to_add(&self, key: &Key) -> String {
        let full = self.full(key.name);
        let in_layer = full.strip_prefix("layer[").and_then(|rest| rest.split_once("].")).map(|(_, rest)| rest);
        let Some(rest) = in_layer else { return format!("add {}", example(key, &full)) };
        let here = example(key, &format!("layer.{rest}"));
        match key.kind {
            Kind::Table(_) | Kind::Tables(_) => {
                format!("add {here}, or `{}` at the top of the file for all layers", bracketed(key, rest))
            }
            _ => format!("add {here}"),
        }
    }

    /// Reports a value that is not of the wanted type.
    pub(crate) fn wrong_type(&self, name: &str, value: &Value<'_>, wanted: &str) {
        let got = match value.get_ref() {
            DeValue::String(text) => format!("the text \"{text}\""),
            DeValue::Boolean(flag) => format!("{flag}"),
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a section".to_owned(),
            DeValue::Datetime(_) => "a date".to_owned(),
            DeValue::Integer(number) => format!("the number {number}"),
            DeValue::Float(number) => format!("the number {number}"),
        };
        let full = self.full(name);
        let key = self.spec.key(name);
        let advice = key.and_then(|key| without_quotes(key, value.get_ref())).unwrap_or_else(|| match key {
            Some(key) => format!("write {}", example(key, &self.full(key.name))),
            None => format!("write it as {wanted}"),
        });
        self.collector.fault(
            value.span(),
            format!("`{full}` is {got}, but must be {wanted}"),
            format!("this is {got}"),
            "",
            advice,
        );
    }
}

/// The header of a section.
pub(super) fn bracketed(key: &Key, full: &str) -> String {
    if matches!(key.kind, Kind::Tables(_)) { format!("[[{full}]]") } else { format!("[{full}]") }
}

/// What to write for a missing key, whose path in the file is `full`.
pub(super) fn example(key: &Key, full: &str) -> String {
    let name = key.name;
    match key.kind {
        Kind::Number(n) => format!("`{name} = ...`, {} to {}", show_number(n.least), n.unit.show(n.most)),
        Kind::Numbers(n) if n.unit.symbol.is_empty() => format!("`{name} = [..., ...]`"),
        Kind::Numbers(n) => format!("`{name} = [..., ...]` in {}", n.unit.symbol),
        Kind::Point(n) => format!("`{name} = [x, y]` in {}", n.unit.symbol),
        Kind::Points(n, _) => format!("`{name} = [[x, y], [x, y], ...]` in {}", n.unit.symbol),
        Kind::Integer(least, most) => format!("`{name} = ...`, a whole number from {least} to {most}"),
        Kind::IntegerOrAuto(least, most) => {
            format!("`{name} = ...`, a whole number from {least} to {most}, or `{name} = \"auto\"`")
        }
        Kind::Text => format!("`{name} = \"...\"`"),
        Kind::Choice(words) => format!("`{name} = \"...\"`, one of {}", words.join(", ")),
        Kind::Choices(words) => format!("`{name} = [\"...\"]`, any of {}", words.join(", ")),
        Kind::Flag => format!("`{name} = true` or `{name} = false`"),
        Kind::Table(spec) => {
            let needed = spec.keys.iter().filter(|k| matches!(k.need, Need::Required)).map(|k| k.name);
            match needed.collect::<Vec<_>>().join(", ") {
                none if none.is_empty() => format!("a section `[{full}]`"),
                needed => format!("a section `[{full}]` with at least {needed}"),
            }
        }
        Kind::Tables(_) | Kind::Shapes(_) => format!("at least one section `[[{full}]]`"),
    }
}
