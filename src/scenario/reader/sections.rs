//! Sections within a section, once or repeated, and the layers.

use super::missing::example;
use super::section::Reader;
use crate::faults::did_you_mean;
use crate::key::{Kind, Need, Section};
use crate::keys::{MOST_OTHER_SECTIONS, MOST_SECTIONS};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

impl<'a> Reader<'a> {
    /// The layers, with the top of the file behind them; `None` if the file has none.
    pub(crate) fn layers(&self) -> Option<Vec<Self>> {
        let value = self.value("layer")?;
        if value.get_ref().as_array().is_some_and(|items| items.is_empty()) {
            self.fault(
                "layer",
                "`layer` is empty",
                "no layer",
                "a print needs at least one layer",
                "add a section `[[layer]]` with its name and its `[[layer.path]]`, or remove `layer`",
            );
        }
        let numbered = self.tables("layer").into_iter().enumerate();
        Some(
            numbered
                .map(|(i, layer)| Self {
                    below: self.table.map(|table| (String::new(), table)),
                    layer: Some(i + 1),
                    ..layer
                })
                .collect(),
        )
    }

    /// A section; if it is left out, all its keys take their defaults.
    pub(crate) fn table(&self, name: &str) -> Self {
        let key = self.key(name);
        let Kind::Table(spec) = key.kind else { unreachable!("the table says that it is a section") };
        let path = self.full(name);
        let found = self.required(key);
        let empty = |complain| Self { spec, path: path.clone(), table: None, complain, below: None, ..self.clone() };
        match found.map(|value| (value, value.get_ref())) {
            Some((value, DeValue::Table(table))) => {
                let below = self.own(name).and(self.inherited(name)).map(|value| (value, value.get_ref()));
                let own = self.inner(spec, path.clone(), table, value.span());
                let Some((value, DeValue::Table(table))) = below else { return own };
                let behind = self.below.as_ref().map_or("", |(path, _)| path.as_str());
                let path = if behind.is_empty() { name.to_owned() } else { format!("{behind}.{name}") };
                self.inner(spec, path.clone(), table, value.span());
                Self { below: Some((path, table)), ..own }
            }
            Some((value, _)) => {
                self.wrong_type(name, value, &format!("one section, written [{path}]"));
                empty(false)
            }
            None => empty(self.complain && !matches!(key.need, Need::Required)),
        }
    }

    /// A section, if it was given.
    pub(crate) fn optional_table(&self, name: &str) -> Option<Self> {
        self.has(name).then(|| self.table(name))
    }

    /// Repeated sections, of which the kind of a shape decides the keys.
    pub(crate) fn tables(&self, name: &str) -> Vec<Self> {
        let key = self.key(name);
        let Some(value) = self.required(key) else { return Vec::new() };
        let path = self.full(name);
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(name, value, &format!("repeated sections, each written [[{path}]]"));
            return Vec::new();
        };
        if items.is_empty() && matches!(key.need, Need::Required) {
            self.fault(
                name,
                format!("`{path}` is empty"),
                "nothing here",
                key.help,
                format!("add {}", example(key, &self.full(key.name))),
            );
        }
        let most = MOST_SECTIONS.iter().find(|(key, _)| *key == name).map_or(MOST_OTHER_SECTIONS, |(_, most)| *most);
        if items.len() > most {
            self.fault(
                name,
                format!("`{path}` stands {} times, but at most {most} times", items.len()),
                "too many",
                "each takes time and memory, and no bench has so many",
                format!("leave out all but {most}; many shapes of one purpose can stand in one drawing"),
            );
            return Vec::new();
        }
        let numbered = items.iter().enumerate().map(|(i, item)| (format!("{path}[{}]", i + 1), item));
        let tables = numbered.filter_map(|(path, item)| {
            let DeValue::Table(table) = item.get_ref() else {
                self.wrong_type(name, item, &format!("repeated sections, each written [[{}]]", self.full(name)));
                return None;
            };
            let spec = match key.kind {
                Kind::Tables(spec) => spec,
                Kind::Shapes(shapes) => self.shape(shapes, &path, table, item.span())?,
                _ => unreachable!("the table says that it repeats"),
            };
            Some(self.inner(spec, path, table, item.span()))
        });
        tables.collect()
    }

    fn shape(
        &self,
        shapes: &'static [Section],
        path: &str,
        table: &'a DeTable<'a>,
        span: Range<usize>,
    ) -> Option<&'static Section> {
        let names = || shapes.iter().map(|shape| shape.name);
        let all: Vec<String> = names().map(|name| format!("\"{name}\"")).collect();
        let advice = format!("write `kind = ` and one of {}", all.join(", "));
        let Some(value) = table.get("kind") else {
            self.collector.fault(span, format!("`{path}.kind` is missing"), "of which kind is it?", "", advice);
            return None;
        };
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_type("kind", value, &format!("one of {}", all.join(", ")));
            return None;
        };
        let found = shapes.iter().find(|shape| shape.name == text);
        if found.is_none() {
            let title = format!("`{path}.kind` is \"{text}\", which is not known");
            self.collector.fault(value.span(), title, did_you_mean(text, names()), "", advice);
        }
        found
    }
}
