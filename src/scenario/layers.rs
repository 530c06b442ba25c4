//! Layers of a scenario: what they take from the top of the file is named once.

use crate::inputs::UnverifiedDefault;
use std::collections::{HashMap, HashSet};

/// Unverified defaults that all of so many layers take, under the key at the top of the file; the others with their layer.
pub fn shared_defaults(assumed: Vec<UnverifiedDefault>, layers: usize) -> Vec<UnverifiedDefault> {
    fn of_layer(key: &str) -> Option<&str> {
        let (number, rest) = key.strip_prefix("layer[")?.split_once("].")?;
        number.parse::<usize>().is_ok().then_some(rest)
    }
    let mut taken: HashMap<&str, usize> = HashMap::new();
    for rest in assumed.iter().filter_map(|default| of_layer(&default.key)) {
        *taken.entry(rest).or_default() += 1;
    }
    let mut seen = HashSet::new();
    let shared = assumed.iter().map(|default| {
        let key = of_layer(&default.key).filter(|rest| taken[rest] == layers).unwrap_or(&default.key);
        UnverifiedDefault { key: key.to_owned(), ..default.clone() }
    });
    shared.filter(|default| seen.insert((default.key.clone(), default.value.clone()))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_all_layers_take_is_named_once() {
        let default = |key: &str| UnverifiedDefault { key: key.into(), value: "1".into(), advice: "measure".into() };
        let assumed = ["layer[1].a.x", "layer[1].a.y", "layer[2].a.x", "spread.z"].map(default).to_vec();
        let keys: Vec<String> = shared_defaults(assumed, 2).into_iter().map(|u| u.key).collect();
        assert_eq!(keys, ["a.x", "layer[1].a.y", "spread.z"]);
    }
}
