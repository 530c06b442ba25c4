//! Layers of a scenario: what they take from the top of the file is named once.

use motefall_physics::inputs::UnverifiedDefault;
use std::collections::{HashMap, HashSet};

/// Unverified defaults that all of so many layers take, under the key at the top of the file; the others with their layer.
pub(crate) fn shared_defaults(assumed: Vec<UnverifiedDefault>, layers: usize) -> Vec<UnverifiedDefault> {
    fn of_layer(key: &str) -> Option<&str> {
        let (number, rest) = key.strip_prefix("layer[")?.split_once("].")?;
        number.parse::<usize>().is_ok().then_some(rest)
    }
    // A default may follow from another key: it is shared if all layers have the same value.
    let mut taken: HashMap<(&str, &str), usize> = HashMap::new();
    for default in &assumed {
        if let Some(rest) = of_layer(&default.key) {
            *taken.entry((rest, &default.value)).or_default() += 1;
        }
    }
    let mut seen = HashSet::new();
    let shared = assumed.iter().map(|default| {
        let is_shared = |rest: &&str| taken[&(*rest, default.value.as_str())] == layers;
        let key = of_layer(&default.key).filter(is_shared).unwrap_or(&default.key);
        UnverifiedDefault { key: key.to_owned(), ..default.clone() }
    });
    shared.filter(|default| seen.insert((default.key.clone(), default.value.clone()))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_all_layers_take_is_named_once() {
        let default = |(key, value): (&str, &str)| UnverifiedDefault {
            key: key.into(),
            value: value.into(),
            advice: "measure".into(),
        };
        let keys = |assumed: [(&str, &str); 4]| -> Vec<String> {
            shared_defaults(assumed.map(default).to_vec(), 2).into_iter().map(|u| u.key).collect()
        };
        let shared = keys([("layer[1].a.x", "1"), ("layer[1].a.y", "1"), ("layer[2].a.x", "1"), ("spread.z", "1")]);
        assert_eq!(shared, ["a.x", "layer[1].a.y", "spread.z"]);
        let differ = keys([("layer[1].a.x", "1"), ("layer[1].a.y", "1"), ("layer[2].a.x", "2"), ("spread.z", "1")]);
        assert_eq!(differ, ["layer[1].a.x", "layer[1].a.y", "layer[2].a.x", "spread.z"]);
    }
}
