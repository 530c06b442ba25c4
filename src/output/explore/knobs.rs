//! Which setting moves which figure.

use crate::knobs::{is_sure, told_rows};
use motefall_figures::knobs::{Effect, Knobs};
use serde_json::{Value, json};

/// The power of each setting that each figure follows, of figures with a limit, or without any, of what lies on targets; not where too little
/// happens to tell. `label` gives the name of a setting by its key.
pub fn knobs(knobs: &Knobs, label: impl Fn(&str) -> String) -> Value {
    let rows: Vec<usize> = told_rows(knobs).into_iter().filter(|k| is_sure(&knobs.expected.figures[*k])).collect();
    let figure = |k: &usize| {
        let row = &knobs.expected.figures[*k];
        json!({ "id": row.kind.id, "place": row.place, "label": row.kind.label })
    };
    let effect = |effect: &Effect| {
        json!({
            "key": effect.key,
            "label": label(&effect.key),
            "value": effect.value,
            "unit": effect.unit,
            "unverified": effect.is_unverified,
            "powers": rows.iter().map(|k| effect.powers[*k]).collect::<Vec<_>>(),
        })
    };
    json!({
        "figures": rows.iter().map(figure).collect::<Vec<_>>(),
        "effects": knobs.effects.iter().map(effect).collect::<Vec<_>>(),
    })
}
