//! Layers of a scenario: what they take from the top of the file is named once.

use crate::inputs::UnverifiedDefault;

/// Unverified defaults that all of so many layers take, under the key at the top of the file; the others with their layer.
pub fn shared_defaults(assumed: Vec<UnverifiedDefault>, layers: usize) -> Vec<UnverifiedDefault> {
    let of_layer = |key: &str| {
        let (number, rest) = key.strip_prefix("layer[")?.split_once("].")?;
        Some((number.parse::<usize>().ok()?, rest.to_owned()))
    };
    let mut out: Vec<UnverifiedDefault> = Vec::new();
    for default in &assumed {
        let mut default = default.clone();
        if let Some((_, rest)) = of_layer(&default.key) {
            let taken = assumed.iter().filter(|other| of_layer(&other.key).is_some_and(|(_, key)| key == rest)).count();
            if taken == layers {
                default.key = rest;
            }
        }
        if !out.contains(&default) {
            out.push(default);
        }
    }
    out
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
