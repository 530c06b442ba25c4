//! A search among settings as the page asks for it, and as a scenario does.

use super::place::Kind;
use super::subject::Values;
use serde::Deserialize;

/// A search among settings, as the page asks for it.
#[derive(Debug)]
pub(super) enum Search {
    Sweep(AskedSweep),
    Advice(AskedAdvice),
}

/// Axes of a sweep.
#[derive(Debug, Deserialize)]
pub(super) struct AskedSweep {
    #[serde(default)]
    values: Values,
    axes: Vec<AskedAxis>,
    prints: u32,
}

#[derive(Debug, Deserialize)]
struct AskedAxis {
    key: String,
    least: f64,
    most: f64,
    points: u32,
    #[serde(default)]
    log: bool,
}

/// What an advice may change; empty: what is usual.
#[derive(Debug, Deserialize)]
pub(super) struct AskedAdvice {
    #[serde(default)]
    values: Values,
    #[serde(default)]
    free: Vec<AskedFree>,
}

#[derive(Debug, Deserialize)]
struct AskedFree {
    key: String,
    least: f64,
    most: f64,
    #[serde(default)]
    step: Option<f64>,
}

impl Search {
    pub(super) fn kind(&self) -> Kind {
        match self {
            Self::Sweep(_) => Kind::Sweep,
            Self::Advice(_) => Kind::Advice,
        }
    }

    pub(super) fn values(&self) -> &Values {
        match self {
            Self::Sweep(AskedSweep { values, .. }) | Self::Advice(AskedAdvice { values, .. }) => values,
        }
    }

    /// The section of the scenario that asks for it.
    pub(super) fn section(&self) -> String {
        let quoted = |key: &str| toml::Value::String(key.to_owned()).to_string();
        match self {
            Self::Sweep(AskedSweep { axes, prints, .. }) => {
                let axis = |AskedAxis { key, least, most, points, log }: &AskedAxis| {
                    let scale = if *log { "scale = \"log\"\n" } else { "" };
                    format!(
                        "\n[[sweep.axis]]\nkey = {}\nfrom = {least:?}\nto = {most:?}\ncount = {points}\n{scale}",
                        quoted(key)
                    )
                };
                format!("[sweep]\nprints = {prints}\n{}", axes.iter().map(axis).collect::<String>())
            }
            Self::Advice(AskedAdvice { free, .. }) => {
                let section = |AskedFree { key, least, most, step }: &AskedFree| {
                    let step = step.map_or(String::new(), |step| format!("step = {step:?}\n"));
                    format!("[[advise.free]]\nkey = {}\nleast = {least:?}\nmost = {most:?}\n{step}\n", quoted(key))
                };
                free.iter().map(section).collect()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_search_is_asked_for_as_in_a_file() {
        let sweep: AskedSweep = serde_json::from_value(json!({
            "axes": [{ "key": "path['a b'].speed_mm_s", "least": 1, "most": 2.5, "points": 4, "log": true }], "prints": 20
        }))
        .expect("a sweep");
        let section = Search::Sweep(sweep).section();
        let table: toml::Table = section.parse().expect("it is TOML");
        assert_eq!(table["sweep"]["prints"].as_integer(), Some(20));
        let axis = &table["sweep"]["axis"][0];
        assert_eq!(axis["key"].as_str(), Some("path['a b'].speed_mm_s"));
        assert_eq!([&axis["from"], &axis["to"]].map(|end| end.as_float()), [Some(1.0), Some(2.5)]);
        assert_eq!((axis["count"].as_integer(), axis["scale"].as_str()), (Some(4), Some("log")));

        let advice = json!({ "free": [{ "key": "flow.sheath_sccm", "least": 20, "most": 80, "step": 0.5 }] });
        let advice = Search::Advice(serde_json::from_value(advice).expect("an advice")).section();
        let table: toml::Table = advice.parse().expect("it is TOML");
        assert_eq!(table["advise"]["free"][0]["step"].as_float(), Some(0.5));
        let usual = Search::Advice(AskedAdvice { values: Values::new(), free: vec![] }).section();
        assert_eq!(usual, "");
    }
}
