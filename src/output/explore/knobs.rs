//! Which setting moves which figure.

use crate::knobs::told_rows;
use motefall_figures::knobs::{Effect, Knobs};
use serde_json::{Value, json};

/// The power of each setting that each figure follows; figures are those with a limit, or without any, of what lies on targets.
pub fn knobs(knobs: &Knobs) -> Value {
    let rows = told_rows(knobs);
    let figure = |k: &usize| {
        let row = &knobs.expected.figures[*k];
        json!({ "id": row.kind.id, "place": row.place, "label": row.kind.label })
    };
    let effect = |effect: &Effect| {
        json!({
            "key": effect.key,
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
