//! What line widths would be with other values of what is not known, in words.

use crate::width_doubts::{LiftEffect, Tried, WidthDoubts};
use motefall_physics::inputs::Layer;

/// What is known of shear lift at this setting.
pub(super) fn lift_words(layer: &Layer, doubts: Option<&WidthDoubts>) -> String {
    let factor = layer.flight.lift_factor;
    let state = match factor > 0.0 {
        true => format!("Shear lift acts with a factor of {factor:.2}"),
        false => "Shear lift is off".to_owned(),
    };
    let effect = doubts.and_then(|doubts| doubts.lift.as_ref()).map_or(String::new(), |lift| {
        format!(
            " Here the band that holds 90 % of a dry line's solids is {} µm wide without lift, and {} µm with a factor of {}: it {}.",
            micro(lift.without),
            in_row(&lift.with, " and ", |tried| micro(tried.width)),
            in_row(&lift.with, " and ", |tried| tried.value.to_string()),
            lift_does(lift)
        )
    });
    format!(
        "{state}: no published law is known to hold for droplets in such jets. Whether it narrows or widens a line depends on the setting, \
         because droplets cross the axis.{effect} Fit flight.lift_factor last, to lines at two stand-offs or more, when all else is measured."
    )
}

/// Change of a width, relative, below which nothing is said of its sign: about what these widths may be wrong by. An estimate.
const SLIGHT: f64 = 0.1;

/// What lift does to the width of lines.
fn lift_does(lift: &LiftEffect) -> &'static str {
    let narrows = lift.with.iter().any(|tried| tried.width < lift.without * (1.0 - SLIGHT));
    let widens = lift.with.iter().any(|tried| tried.width > lift.without * (1.0 + SLIGHT));
    match (narrows, widens) {
        (false, false) => "hardly matters for the width of lines",
        (false, true) => "widens lines",
        (true, false) => "narrows lines",
        (true, true) => "narrows lines with one factor and widens them with another",
    }
}

/// How far line widths depend on the shape of the nozzle, where that is assumed.
pub(super) fn nozzle_words(layer: &Layer, doubts: &WidthDoubts) -> Option<String> {
    let part = |tried: &[Tried], name: &str, unit: &str, set: f64, shown: f64| {
        let values = in_row(tried, " or ", |tried| format!("{:.0}", tried.value * shown));
        let widths = in_row(tried, " or ", |tried| micro(tried.width));
        let set = set * shown;
        let words = format!("; with a {name} of {values} {unit} instead of {set:.0} it would be {widths} µm wide");
        if tried.is_empty() { String::new() } else { words }
    };
    let head = &layer.head;
    let angles = part(&doubts.half_angle, "half angle of the taper", "degrees", head.half_angle, 1f64.to_degrees());
    let lands = part(&doubts.land, "land", "µm", head.land, 1e6);
    (!doubts.half_angle.is_empty() || !doubts.land.is_empty()).then(|| {
        format!(
            " Line widths depend on the shape of the nozzle: the band that holds 90 % of a dry line's solids is {} µm wide here{angles}{lands}.",
            micro(doubts.set)
        )
    })
}

fn micro(length: f64) -> String {
    format!("{:.1}", length * 1e6)
}

/// `a, b and c`.
fn in_row(all: &[Tried], last_joined_by: &str, word: impl Fn(&Tried) -> String) -> String {
    let words: Vec<String> = all.iter().map(word).collect();
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{}{last_joined_by}{last}", rest.join(", ")),
        _ => words.concat(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;

    #[test]
    fn lift_is_told_with_the_sign_that_was_computed() {
        let mut layer = testing::inputs().layers.remove(0);
        let mut told = |factor: f64, without: f64, with: &[(f64, f64)]| {
            layer.flight.lift_factor = factor;
            let with = with.iter().map(|(value, width)| Tried { value: *value, width: width * 1e-6 }).collect();
            let lift = Some(LiftEffect { without: without * 1e-6, with });
            lift_words(&layer, Some(&WidthDoubts { set: 0.0, lift, half_angle: vec![], land: vec![] }))
        };
        let text = told(0.25, 9.6, &[(0.25, 20.5)]);
        assert!(text.starts_with("Shear lift acts with a factor of 0.25"), "{text}");
        assert!(
            text.contains("9.6 µm wide without lift, and 20.5 µm with a factor of 0.25: it widens lines."),
            "{text}"
        );
        assert!(told(0.25, 28.7, &[(0.25, 21.9)]).contains("it narrows lines."));
        let text = told(0.0, 9.6, &[(0.1, 9.8), (0.25, 20.5), (1.0, 23.7)]);
        assert!(text.starts_with("Shear lift is off") && text.contains("it widens lines."), "{text}");
        assert!(text.contains("9.8, 20.5 and 23.7 µm with a factor of 0.1, 0.25 and 1"), "{text}");
        assert!(
            told(0.0, 10.0, &[(0.1, 8.0), (1.0, 14.0)]).contains("narrows lines with one factor and widens them with")
        );
        assert!(told(0.0, 10.0, &[(0.1, 9.5), (1.0, 10.5)]).contains("it hardly matters"));
    }

    #[test]
    fn an_assumed_nozzle_is_told_with_what_it_does() {
        let mut layer = testing::inputs().layers.remove(0);
        (layer.head.half_angle, layer.head.land) = (6f64.to_radians(), 150e-6);
        let tried = |value: f64, width: f64| Tried { value, width };
        let half_angle = vec![tried(3f64.to_radians(), 21.1e-6), tried(15f64.to_radians(), 29.3e-6)];
        let land = vec![tried(0.0, 11.7e-6), tried(450e-6, 11.2e-6)];
        let mut doubts = WidthDoubts { set: 11.4e-6, lift: None, half_angle, land };
        let text = nozzle_words(&layer, &doubts).expect("both are assumed");
        assert!(
            text.contains("half angle of the taper of 3 or 15 degrees instead of 6 it would be 21.1 or 29.3 µm"),
            "{text}"
        );
        assert!(text.contains("11.4 µm wide here") && text.contains("land of 0 or 450 µm instead of 150"), "{text}");
        doubts.half_angle.clear();
        assert!(!nozzle_words(&layer, &doubts).expect("the land is assumed").contains("half angle"));
        doubts.land.clear();
        assert_eq!(nozzle_words(&layer, &doubts), None);
    }
}
