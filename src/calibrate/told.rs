//! Which unknowns the lines can tell, and which they cannot tell apart.
//!
//! A slope is what a value does as an unknown moves by its spread before, in units of the value's own uncertainty. The singular values of all
//! slopes say how well each combination of unknowns is told: one of singular value s keeps 1/sqrt(1 + s^2) of its spread.

use crate::unknowns::Unknown;
use nalgebra::DMatrix;

/// Singular value below which a combination keeps more than 0.7 of its spread: the lines do not tell it.
const TOLD: f64 = 1.0;
/// Part of a combination from which an unknown belongs to it.
const PART: f64 = 0.35;

/// Slopes of values (rows) with unknowns (columns).
pub(crate) type Slopes = DMatrix<f64>;

/// How well an unknown would be told if it were the only one: root of the sum of its squared slopes.
pub(crate) fn seen(slopes: &Slopes, unknown: usize) -> f64 {
    slopes.column(unknown).norm()
}

/// What the lines do not tell, in words.
pub(crate) fn untold(slopes: &Slopes, unknowns: &[Unknown]) -> Vec<String> {
    // Square, so that there is a singular value for each unknown.
    let rows = slopes.nrows().max(slopes.ncols());
    let padded = slopes.clone().resize_vertically(rows, 0.0);
    let decomposed = padded.svd(false, true);
    let Some(combinations) = decomposed.v_t else { return vec![] };
    let of = |k: usize| {
        let combination = combinations.row(k);
        let mut parts: Vec<usize> = (0..unknowns.len()).collect();
        parts.sort_by(|a, b| combination[*b].abs().total_cmp(&combination[*a].abs()));
        let most = combination.amax();
        let belong = parts.iter().filter(|j| combination[**j].abs() >= PART * most).count();
        // What is seen by itself is untold only beside another, however little that needs to move.
        let alone = belong == 1 && seen(slopes, parts[0]) >= TOLD;
        parts.truncate(if alone { 2 } else { belong });
        words(&parts, &combination.iter().copied().collect::<Vec<_>>(), slopes, unknowns)
    };
    let is_untold = |k: &usize| decomposed.singular_values[*k] < TOLD;
    let mut all: Vec<String> = (0..unknowns.len()).filter(is_untold).map(of).collect();
    all.dedup();
    all
}

fn words(parts: &[usize], combination: &[f64], slopes: &Slopes, unknowns: &[Unknown]) -> String {
    let name = |k: usize| unknowns[k].name.as_str();
    let seen: Vec<usize> = parts.iter().copied().filter(|k| seen(slopes, *k) >= TOLD).collect();
    match &seen[..] {
        [] => {
            let names: Vec<&str> = parts.iter().map(|k| name(*k)).collect();
            format!(
                "These lines tell little of: {}. What was thought possible before stays possible.",
                names.join(" and ")
            )
        }
        [one] => format!("These lines tell little of: {}.", name(*one)),
        [first, others @ ..] => {
            let changes: Vec<String> = others
                .iter()
                .map(|k| {
                    let same = combination[*k] * combination[*first] > 0.0;
                    format!("{} {}", if same { "more" } else { "less" }, name(*k))
                })
                .collect();
            format!(
                "These lines cannot tell apart: more {} together with {} leaves them as they are.",
                name(*first),
                changes.join(" and ")
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::first_line;
    use crate::unknowns::asked;

    fn unknowns() -> Vec<Unknown> {
        let scenario = first_line();
        let keys = ["atomiser.mist_load_ul_per_l", "ink.powder[1].mass_percent", "landing.contact_angle_deg"];
        keys.map(|key| asked(&scenario, key).expect("a key")).to_vec()
    }

    /// Mist load and solids move all values alike, the contact angle does by itself: two of three combinations are told, and mist load with
    /// solids is the third.
    #[test]
    fn what_moves_all_alike_is_not_told_apart() {
        let slopes = DMatrix::from_row_slice(3, 3, &[8.0, 8.1, 0.1, 8.0, 7.9, 5.0, 8.0, 8.0, -5.0]);
        let words = untold(&slopes, &unknowns());
        assert_eq!(words.len(), 1, "{words:?}");
        assert!(words[0].contains("cannot tell apart") && words[0].contains("less"), "{words:?}");
        assert!(words[0].contains("mist load") && words[0].contains("alumina in the ink"), "{words:?}");
        assert!(!words[0].contains("contact angle"), "{words:?}");
        // Told apart.
        let slopes = DMatrix::from_row_slice(3, 3, &[8.0, 0.0, 0.0, 0.0, 8.0, 0.0, 0.0, 0.0, 8.0]);
        assert!(untold(&slopes, &unknowns()).is_empty());
        // One line of one value tells one combination.
        let slopes = DMatrix::from_row_slice(1, 3, &[8.0, 8.0, 0.01]);
        let words = untold(&slopes, &unknowns());
        assert!(words.iter().any(|words| words.contains("cannot tell apart")), "{words:?}");
        assert!(words.iter().any(|words| words.contains("tell little of: contact angle")), "{words:?}");
    }
}
