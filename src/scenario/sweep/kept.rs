//! A scenario's own text with other numbers in it: comments and order stay.

use super::knobs::{Knob, MEDIAN_SECTION, REPLACED, Turnable};
use super::target::Step;
use toml_edit::{DocumentMut, Item, Table, Value};

impl Turnable {
    /// The text of the scenario as its author wrote it, with other values of some of its numbers, to stand beside it. What the text does not hold is
    /// added where it belongs.
    pub fn text_kept(&self, values: &[(&Knob, f64)]) -> String {
        let text = &self.scenario.source_text;
        // What passed every check is TOML.
        let Ok(mut document) = text.parse::<DocumentMut>() else { return text.clone() };
        if values.iter().any(|(knob, _)| knob.replaces())
            && let Some(section) = document.get_mut(MEDIAN_SECTION).and_then(Item::as_table_like_mut)
        {
            section.remove(REPLACED);
        }
        for (knob, value) in values {
            put(document.as_item_mut(), knob.place(), number(*value));
        }
        document.to_string()
    }

    /// The same with a section at its end in place of those that search among settings: `[sweep]` or `[advise]`.
    pub fn text_to_search(&self, values: &[(&Knob, f64)], section: &str) -> String {
        let text = self.text_kept(values);
        let Ok(mut document) = text.parse::<DocumentMut>() else { return text };
        for name in ["sweep", "advise"] {
            document.remove(name);
        }
        format!("{}\n\n{section}", document.to_string().trim_end())
    }
}

/// A number as a person would write it.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 { Value::from(value as i64) } else { Value::from(value) }
}

/// Puts a number into its place. What stands before and behind the old one stays.
fn put(item: &mut Item, place: &[Step], new: Value) {
    match place {
        [] => {
            let decor = item.as_value().map(|old| old.decor().clone());
            let mut new = new;
            if let Some(decor) = decor {
                *new.decor_mut() = decor;
            }
            *item = Item::Value(new);
        }
        [Step::Key(key), rest @ ..] => {
            let Some(table) = item.as_table_like_mut() else { return };
            let missing = || if rest.is_empty() { Item::None } else { Item::Table(Table::new()) };
            put(table.entry(key).or_insert_with(missing), rest, new);
        }
        [Step::Item(k), rest @ ..] => {
            if let Some(tables) = item.as_array_of_tables_mut() {
                if let Some(table) = tables.get_mut(*k) {
                    let mut inner = Item::Table(std::mem::take(table));
                    put(&mut inner, rest, new);
                    if let Item::Table(changed) = inner {
                        *table = changed;
                    }
                }
            } else if let Some(value) = item.as_array_mut().and_then(|array| array.get_mut(*k)) {
                let mut inner = Item::Value(value.clone());
                put(&mut inner, rest, new);
                if let Item::Value(changed) = inner {
                    *value = changed;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::shipped;
    use std::path::Path;

    /// Every number of every shipped scenario, changed by itself: the text that was kept gives the same inputs as the values put into the file
    /// that was read, and every comment stands.
    #[test]
    fn a_kept_text_means_what_was_set() {
        for name in ["sodium-chip.toml", "first-line.toml", "two-electrode-cell.toml"] {
            let scenario = shipped(name);
            let comments = |text: &str| text.lines().filter(|line| line.contains('#')).count();
            for dial in scenario.dials() {
                let knob = &dial.knob;
                let value = if knob.is_whole { knob.value + 1.0 } else { knob.value * 1.01 + 0.001 };
                let Ok(inputs) = scenario.with(&[(knob, value)]) else { continue };
                let text = scenario.text_kept(&[(knob, value)]);
                let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
                let again =
                    crate::parse(&text, name, &folder).unwrap_or_else(|faults| panic!("{}\n{faults}", knob.key));
                assert_eq!(format!("{:?}", again.inputs), format!("{inputs:?}"), "{name}: {}", knob.key);
                assert_eq!(comments(&text), comments(&scenario.scenario.source_text), "{name}: {}", knob.key);
            }
            assert_eq!(scenario.text_kept(&[]), scenario.scenario.source_text);
        }
    }

    #[test]
    fn only_the_number_changes() {
        let scenario = shipped("sodium-chip.toml");
        let knob = scenario.knob("landing.chip_c").expect("it is there");
        let text = scenario.text_kept(&[(&knob, 75.5)]);
        let old = "chip_c = 80                         # each pass dries before the next";
        let new = old.replace("80", "75.5");
        assert_eq!(text, scenario.scenario.source_text.replace(old, &new));
    }
}
