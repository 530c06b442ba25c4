//! A section of the file beside its part of the table of keys.

use super::collector::Collector;
use super::numbers::number_spec;
use crate::key::{Key, Need, Section};
use crate::keys::{ALTERNATIVES, NOT_INHERITED, root};
use motefall_physics::inputs::UnverifiedDefault;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A section of the file beside its part of the table of keys.
#[derive(Debug, Clone)]
pub(crate) struct Reader<'a> {
    pub(super) collector: &'a Collector,
    pub(super) spec: &'static Section,
    pub(super) path: String,
    pub(super) table: Option<&'a DeTable<'a>>,
    pub(super) span: Range<usize>,
    /// Whether missing keys are faults: not in a section whose absence has been reported already.
    pub(super) complain: bool,
    /// In a layer: the same section at the top of the file, with its path. It gives what the layer leaves out.
    pub(super) below: Option<(String, &'a DeTable<'a>)>,
    /// In a layer: its number, from 1.
    pub(super) layer: Option<usize>,
}

/// A value of the file and where it stands.
pub(crate) type Value<'a> = Spanned<DeValue<'a>>;

impl<'a> Reader<'a> {
    /// The whole file.
    pub(crate) fn root(collector: &'a Collector, table: &'a DeTable<'a>) -> Self {
        // The root has no header: what is missing there is reported at the first byte.
        let root = Self {
            collector,
            spec: &root::TABLE,
            path: String::new(),
            table: Some(table),
            span: 0..0,
            complain: true,
            below: None,
            layer: None,
        };
        root.report_unknown_keys();
        root
    }

    pub(super) fn inner(
        &self,
        spec: &'static Section,
        path: String,
        table: &'a DeTable<'a>,
        span: Range<usize>,
    ) -> Self {
        let inner = Self { spec, path, table: Some(table), span, below: None, ..self.clone() };
        inner.report_unknown_keys();
        inner
    }

    /// Name of the shape's kind, or of the section.
    pub(crate) fn kind(&self) -> &'static str {
        self.spec.name
    }

    /// Whether the section is a layer or stands within one.
    pub(crate) fn is_layer(&self) -> bool {
        self.layer.is_some()
    }

    /// Where a key's value stands, or the section's header.
    pub(crate) fn span(&self, name: &str) -> Range<usize> {
        self.value(name).map_or(self.span.clone(), |value| value.span())
    }

    /// Whether the user wrote the key.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.value(name).is_some()
    }

    /// Whether the section itself was written.
    pub(crate) fn is_given(&self) -> bool {
        self.table.is_some()
    }

    /// Names in repeated sections, with the sections, whatever else is wrong with them. Reports nothing.
    pub(crate) fn names_in(&self, list: &str) -> Vec<(&'a str, Self)> {
        let Some(DeValue::Array(items)) = self.value(list).map(Spanned::get_ref) else { return Vec::new() };
        let named = items.iter().filter_map(|item| {
            let table = item.get_ref().as_table()?;
            let name = table.get("name")?.get_ref().as_str()?;
            Some((name.trim(), Self { table: Some(table), span: item.span(), below: None, ..self.clone() }))
        });
        named.filter(|(name, _)| !name.is_empty()).collect()
    }

    /// Path of the section.
    pub(crate) fn path(&self) -> &str {
        &self.path
    }

    /// A key with the path of its section.
    pub(crate) fn full(&self, name: &str) -> String {
        let path = match &self.below {
            Some((below, _)) if self.own(name).is_none() && self.inherited(name).is_some() => below,
            _ => &self.path,
        };
        if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
    }

    /// Reports a fault at a key's value.
    pub(crate) fn fault(
        &self,
        name: &str,
        title: impl Into<String>,
        label: impl Into<String>,
        why: impl Into<String>,
        advice: impl Into<String>,
    ) {
        self.collector.fault(self.span(name), title, label, why, advice);
    }

    /// Full name of a key with its layer, which a key taken from the top of the file does not have by itself.
    fn of_layer(&self, name: &str) -> String {
        let full = self.full(name);
        match self.layer {
            Some(n) if !full.starts_with("layer[") => format!("layer[{n}].{full}"),
            _ => full,
        }
    }

    /// Adds a value that was assumed for a key that was left out, with advice how to measure it.
    pub(crate) fn assume(&self, name: &str, value: String, advice: &str) {
        let assumed = UnverifiedDefault { key: self.of_layer(name), value, advice: advice.to_owned() };
        self.collector.assumed.borrow_mut().push(assumed);
    }

    /// Adds the value that a key takes from another, if nobody can know it without measuring. `written` gives it in the key's unit.
    pub(crate) fn assume_followed(&self, name: &str, written: impl FnOnce(&Key) -> f64) {
        let key = self.key(name);
        if let (Need::Follows(advice), Some(spec)) = (key.need, number_spec(key)) {
            self.assume(name, spec.unit.show(written(key)), advice);
        }
    }

    /// The value as it was written, here or, for a layer, at the top of the file.
    pub(crate) fn value(&self, name: &str) -> Option<&'a Value<'a>> {
        self.own(name).or_else(|| self.inherited(name))
    }

    pub(super) fn own(&self, name: &str) -> Option<&'a Value<'a>> {
        self.table?.get(name)
    }

    /// What the top of the file gives to a layer that leaves the key out, and does not give its alternative either.
    pub(super) fn inherited(&self, name: &str) -> Option<&'a Value<'a>> {
        let (_, table) = self.below.as_ref()?;
        let replaced = ALTERNATIVES.iter().any(|[key, other]| *key == name && self.own(other).is_some());
        if replaced || NOT_INHERITED.contains(&name) { None } else { table.get(name) }
    }

    pub(super) fn key(&self, name: &str) -> &'static Key {
        self.spec.key(name).expect("the code asks only for keys of the table")
    }
}
