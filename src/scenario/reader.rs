//! Reads values out of a parsed file after the table of keys, and collects every fault on the way.
//!
//! A value with a fault reads as NaN (or as a stand-in), so that checks across keys stay silent about it: every
//! comparison with NaN is false. Nothing read this way is used once there is a fault.

use super::faults::{Fault, MOST_KEPT, did_you_mean, nearest};
use super::key::{Key, Kind, Need, Number, Section, UNITS, Unit, show_number};
use super::keys::{ALTERNATIVES, MOST_OTHER_SECTIONS, MOST_SECTIONS, NOT_INHERITED, PRINT_LAYER, RENAMED, root};
use crate::inputs::UnverifiedDefault;
use crate::words::Words;
use std::cell::{Cell, RefCell};
use std::collections::HashSet;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Collects faults and assumed values.
#[derive(Debug, Default)]
pub struct Collector {
    faults: RefCell<Vec<Fault>>,
    left_out: Cell<usize>,
    assumed: RefCell<Vec<UnverifiedDefault>>,
}

impl Collector {
    /// Whether no more faults are kept. If so, one more is counted.
    fn is_full(&self) -> bool {
        let is_full = self.faults.borrow().len() >= MOST_KEPT;
        self.left_out.set(self.left_out.get() + usize::from(is_full));
        is_full
    }

    /// Adds a fault, or counts it if there are very many.
    pub fn fault(
        &self,
        span: Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        why: impl Into<String>,
        advice: impl Into<String>,
    ) {
        if self.is_full() {
            return;
        }
        let fault = Fault {
            span: Some(span),
            title: title.into(),
            label: label.into(),
            why: why.into(),
            advice: advice.into(),
        };
        self.faults.borrow_mut().push(fault);
    }

    /// All faults so far, the number of those that were not kept, and assumed values. A fault found several times counts once: layers share what stands at the top of the file.
    pub fn into_parts(self) -> (Vec<Fault>, usize, Vec<UnverifiedDefault>) {
        let faults = self.faults.into_inner();
        let mut seen = HashSet::new();
        let is_first: Vec<bool> = faults.iter().map(|fault| seen.insert(fault)).collect();
        let first = faults.iter().zip(is_first).filter(|(_, is_first)| *is_first).map(|(fault, _)| fault.clone());
        (first.collect(), self.left_out.get(), self.assumed.into_inner())
    }
}

/// A section of the file beside its part of the table of keys.
#[derive(Debug, Clone)]
pub struct Reader<'a> {
    collector: &'a Collector,
    spec: &'static Section,
    path: String,
    table: Option<&'a DeTable<'a>>,
    span: Range<usize>,
    /// Whether missing keys are faults: not in a section whose absence has been reported already.
    complain: bool,
    /// In a layer: the same section at the top of the file, with its path. It gives what the layer leaves out.
    below: Option<(String, &'a DeTable<'a>)>,
    /// In a layer: its number, from 1.
    layer: Option<usize>,
}

/// A value of the file and where it stands.
pub type Value<'a> = Spanned<DeValue<'a>>;

impl<'a> Reader<'a> {
    /// The whole file.
    pub fn root(collector: &'a Collector, table: &'a DeTable<'a>) -> Self {
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

    fn inner(&self, spec: &'static Section, path: String, table: &'a DeTable<'a>, span: Range<usize>) -> Self {
        let inner = Self { spec, path, table: Some(table), span, below: None, ..self.clone() };
        inner.report_unknown_keys();
        inner
    }

    /// Name of the shape's kind, or of the section.
    pub fn kind(&self) -> &'static str {
        self.spec.name
    }

    /// Whether the section is a layer or stands within one.
    pub fn is_layer(&self) -> bool {
        self.layer.is_some()
    }

    /// Where a key's value stands, or the section's header.
    pub fn span(&self, name: &str) -> Range<usize> {
        self.value(name).map_or(self.span.clone(), |value| value.span())
    }

    /// Whether the user wrote the key.
    pub fn has(&self, name: &str) -> bool {
        self.value(name).is_some()
    }

    /// Whether the section itself was written.
    pub fn is_given(&self) -> bool {
        self.table.is_some()
    }

    /// Names in repeated sections, with the sections, whatever else is wrong with them. Reports nothing.
    pub fn names_in(&self, list: &str) -> Vec<(&'a str, Self)> {
        let Some(DeValue::Array(items)) = self.value(list).map(Spanned::get_ref) else { return Vec::new() };
        let named = items.iter().filter_map(|item| {
            let table = item.get_ref().as_table()?;
            let name = table.get("name")?.get_ref().as_str()?;
            Some((name.trim(), Self { table: Some(table), span: item.span(), below: None, ..self.clone() }))
        });
        named.filter(|(name, _)| !name.is_empty()).collect()
    }

    /// Path of the section.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// A key with the path of its section.
    pub fn full(&self, name: &str) -> String {
        let path = match &self.below {
            Some((below, _)) if self.own(name).is_none() && self.inherited(name).is_some() => below,
            _ => &self.path,
        };
        if path.is_empty() { name.to_owned() } else { format!("{path}.{name}") }
    }

    /// Reports a fault at a key's value.
    pub fn fault(
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
    pub fn assume(&self, name: &str, value: String, advice: &str) {
        let assumed = UnverifiedDefault { key: self.of_layer(name), value, advice: advice.to_owned() };
        self.collector.assumed.borrow_mut().push(assumed);
    }

    /// Adds the value that a key takes from another, if nobody can know it without measuring. `written` gives it in the key's unit.
    pub fn assume_followed(&self, name: &str, written: impl FnOnce(&Key) -> f64) {
        let key = self.key(name);
        if let (Need::Follows(advice), Some(spec)) = (key.need, number_spec(key)) {
            self.assume(name, spec.unit.show(written(key)), advice);
        }
    }

    /// The value as it was written, here or, for a layer, at the top of the file.
    pub fn value(&self, name: &str) -> Option<&'a Value<'a>> {
        self.own(name).or_else(|| self.inherited(name))
    }

    fn own(&self, name: &str) -> Option<&'a Value<'a>> {
        self.table?.get(name)
    }

    /// What the top of the file gives to a layer that leaves the key out, and does not give its alternative either.
    fn inherited(&self, name: &str) -> Option<&'a Value<'a>> {
        let (_, table) = self.below.as_ref()?;
        let replaced = ALTERNATIVES.iter().any(|[key, other]| *key == name && self.own(other).is_some());
        if replaced || NOT_INHERITED.contains(&name) { None } else { table.get(name) }
    }

    /// The layers, with the top of the file behind them; `None` if the file has none.
    pub fn layers(&self) -> Option<Vec<Self>> {
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

    fn key(&self, name: &str) -> &'static Key {
        self.spec.key(name).expect("the code asks only for keys of the table")
    }

    fn report_unknown_keys(&self) {
        let Some(table) = self.table else { return };
        let is_shape = self
            .spec
            .key("kind")
            .is_some_and(|key| matches!(key.kind, Kind::Choice([word]) if *word == self.spec.name));
        for (written, value) in table {
            let name: &str = written.get_ref();
            if self.spec.key(name).is_some() || self.collector.is_full() {
                continue;
            }
            let place =
                if self.path.is_empty() { "at the top of the file".to_owned() } else { format!("in `{}`", self.path) };
            let of = if is_shape { format!(" (kind \"{}\")", self.spec.name) } else { String::new() };
            let (label, advice) = self.suggest(name, value);
            self.collector.fault(written.span(), format!("unknown key `{name}` {place}{of}"), label, "", advice);
        }
    }

    /// Whether an unknown key was clearly meant to be this one.
    fn is_misspelt(&self, key: &Key) -> bool {
        let tables = self.table.into_iter().chain(self.below.as_ref().map(|(_, table)| *table));
        let unknown = tables
            .flatten()
            .map(|(written, _)| written.get_ref().as_ref())
            .filter(|name| self.spec.key(name).is_none())
            .take(100);
        unknown.into_iter().any(|name: &str| match other_unit(self.spec, name) {
            Some((meant, ..)) => meant.name == key.name,
            None => nearest(name, self.spec.keys.iter().map(|k| k.name)) == Some(key.name),
        })
    }

    /// What an unknown key may have been meant to be.
    fn suggest(&self, name: &str, value: &Value<'_>) -> (String, String) {
        if let Some((_, new)) = RENAMED.iter().find(|(old, new)| *old == name && self.spec.key(new).is_some()) {
            return (format!("now called `{new}`"), format!("write `{new}` instead of `{name}`"));
        }
        if let Some((key, from, to)) = other_unit(self.spec, name) {
            let label = format!("did you mean `{}`?", key.name);
            // A number that the key cannot take in its own unit may have been meant in that unit.
            let takes = |v: f64| number_spec(key).is_none_or(|spec| (spec.least..=spec.most).contains(&v));
            let written = match number_of(value.get_ref()).map(|v| (v, tidy(to.of_si(from.to_si(v))))) {
                Some((v, turned)) if !takes(turned) && takes(v) => format!("write `{} = {}`", key.name, show_number(v)),
                Some((_, turned)) => format!("write `{} = {}`", key.name, show_number(turned)),
                None => format!("write `{} = ...`", key.name),
            };
            return (label, format!("this key is counted in {}: {written}", to.symbol));
        }
        let keys = || self.spec.keys.iter().map(|key| key.name);
        if let Some(near) = nearest(name, keys()) {
            return (format!("did you mean `{near}`?"), format!("rename it to `{near}`, or remove it"));
        }
        let homes = homes_of(name);
        if !homes.is_empty() {
            return (
                format!("belongs in {}", homes.join(" or ")),
                "move it there, below that section's header".to_owned(),
            );
        }
        let all: Vec<&str> = keys().collect();
        ("not known here".to_owned(), format!("keys here: {}", all.join(", ")))
    }

    /// The value, or what stands for it: reports a missing one.
    fn required(&self, key: &Key) -> Option<&'a Value<'a>> {
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
    pub fn wrong_type(&self, name: &str, value: &Value<'_>, wanted: &str) {
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

    /// A number in SI; NaN stands for a faulty or missing one.
    pub fn number(&self, name: &str) -> f64 {
        self.optional(name).unwrap_or(f64::NAN)
    }

    /// A number in SI, if it was given or has a default; NaN stands for a faulty one.
    pub fn optional(&self, name: &str) -> Option<f64> {
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
    pub fn numbers(&self, name: &str) -> Vec<f64> {
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
    pub fn point(&self, name: &str) -> [f64; 2] {
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
    pub fn points(&self, name: &str) -> Vec<[f64; 2]> {
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
    pub fn integer(&self, name: &str) -> Option<u64> {
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
    pub fn text(&self, name: &str) -> String {
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
    pub fn choice<T: Words>(&self, name: &str) -> T {
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
    pub fn choices<T: Words>(&self, name: &str) -> Vec<T> {
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
    pub fn flag(&self, name: &str) -> bool {
        let key = self.key(name);
        let Some(value) = self.required(key) else { return matches!(key.need, Need::Word("true")) };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_type(name, value, "true or false");
            false
        })
    }

    /// A section; if it is left out, all its keys take their defaults.
    pub fn table(&self, name: &str) -> Self {
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
    pub fn optional_table(&self, name: &str) -> Option<Self> {
        self.has(name).then(|| self.table(name))
    }

    /// Repeated sections, of which the kind of a shape decides the keys.
    pub fn tables(&self, name: &str) -> Vec<Self> {
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

/// A key of the section that has the same stem as `name` and another unit: the key, the unit of `name`, its own unit.
pub fn other_unit(section: &Section, name: &str) -> Option<(&'static Key, Unit, Unit)> {
    section.keys.iter().find_map(|key| {
        let to = number_spec(key)?.unit;
        let stem = key.name.strip_suffix(to.suffix)?.trim_end_matches('_');
        let rest = name.strip_prefix(stem)?.trim_start_matches('_');
        let from = UNITS.iter().find(|unit| unit.kind == to.kind && unit.suffix == rest && **unit != to)?;
        Some((key, *from, to))
    })
}

/// Another unit of the same kind in which the number would be allowed, and what it is in the key's own unit.
pub fn other_reading(spec: &Number, written: f64) -> Option<(Unit, f64)> {
    let unit = spec.unit;
    let mut meant = UNITS.iter().filter(|other| other.kind == unit.kind && **other != unit).filter_map(|other| {
        let value = tidy(unit.of_si(other.to_si(written)));
        (spec.least..=spec.most).contains(&value).then_some((*other, value))
    });
    meant.next()
}

/// The numbers of a key, if it holds any.
pub fn number_spec(key: &Key) -> Option<Number> {
    match key.kind {
        Kind::Number(spec) | Kind::Numbers(spec) | Kind::Point(spec) | Kind::Points(spec, _) => Some(spec),
        _ => None,
    }
}

/// A value as a number, if it is one.
pub fn number_of(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(number) => i128::from_str_radix(number.as_str(), number.radix()).ok().map(|n| n as f64),
        DeValue::Float(number) => number.as_str().parse().ok(),
        _ => None,
    }
}

/// What to write instead of a number that was given as a text, with or without its unit.
fn without_quotes(key: &Key, value: &DeValue<'_>) -> Option<String> {
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
pub enum Worded {
    /// The number in the key's own unit.
    Number(f64),
    /// A number in a unit that is not known to be of the key's kind.
    OtherUnit,
}

/// Reads a number as people write it: with a decimal comma, and with a unit behind it. `None` if it does not begin with a number.
pub fn worded_number(spec: &Number, text: &str) -> Option<Worded> {
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
pub fn plain_sign(c: char) -> char {
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
pub fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// The header of a section.
fn bracketed(key: &Key, full: &str) -> String {
    if matches!(key.kind, Kind::Tables(_)) { format!("[[{full}]]") } else { format!("[{full}]") }
}

/// What to write for a missing key, whose path in the file is `full`.
fn example(key: &Key, full: &str) -> String {
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

/// Sections elsewhere in the file that have a key of this name.
pub fn homes_of(name: &str) -> Vec<String> {
    fn search(section: &'static Section, path: &str, name: &str, found: &mut Vec<String>) {
        for key in section.keys {
            let inner_path = if path.is_empty() { key.name.to_owned() } else { format!("{path}.{}", key.name) };
            match key.kind {
                Kind::Table(inner) => {
                    if inner.key(name).is_some() {
                        found.push(format!("[{inner_path}]"));
                    }
                    search(inner, &inner_path, name, found);
                }
                // What a layer holds stands at the top of the file, too.
                Kind::Tables(inner) if inner.name == PRINT_LAYER.name => {}
                Kind::Tables(inner) => {
                    if inner.key(name).is_some() {
                        found.push(format!("[[{inner_path}]]"));
                    }
                    search(inner, &inner_path, name, found);
                }
                _ => {}
            }
        }
    }
    let mut found = Vec::new();
    search(&root::TABLE, "", name, &mut found);
    if found.len() > 3 { Vec::new() } else { found }
}
