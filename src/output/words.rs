//! What is said in several places: the decision, limits, names.

use crate::numbers::{self, trimmed};
use crate::page::Decision;
use motefall_figures::{Caution, Fate, Prediction, Severity, Verdict, statistics};
use motefall_physics::inputs::Limit;

/// First letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// The decision in one sentence.
pub(crate) fn verdict_sentence(verdict: &Verdict, required_share: f64) -> String {
    let low = verdict.share_interval[0];
    let counted = format!(
        "{} of {} met every limit; at least {} must. If the model and its inputs hold, the share over many prints lies \
         between {} (95 % interval)",
        verdict.met,
        numbers::counted(verdict.n.into(), "print", "prints"),
        numbers::share(required_share),
        numbers::shares(verdict.share_interval).replace(" to ", " and ")
    );
    match verdict.accepted {
        Some(true) if low + 1e-9 < required_share => {
            format!("Accepted, but not yet for certain: {counted}. More prints would settle it.")
        }
        Some(true) => format!("Accepted: {counted}."),
        Some(false) => format!("Not accepted: {counted}."),
        None => "No limits were set, so nothing is decided.".into(),
    }
}

/// How a decision is marked, and its first words.
pub(crate) fn decision(verdict: &Verdict, required_share: f64) -> (Decision, &'static str) {
    match verdict.accepted {
        Some(true) if verdict.share_interval[0] + 1e-9 < required_share => {
            (Decision::Open, "✓ Accepted, but not yet for certain")
        }
        Some(true) => (Decision::Yes, "✓ Accepted"),
        Some(false) => (Decision::No, "✕ Not accepted"),
        None => (Decision::Open, "No limits set"),
    }
}

/// How a limit is marked: met by all prints, by as many as must pass, or by fewer.
pub(crate) fn met_class(met: u32, prints: u32, required_share: f64) -> &'static str {
    match f64::from(met) {
        _ if met == prints => "all",
        met if met >= required_share * f64::from(prints) => "enough",
        _ => "some",
    }
}

/// A limit in words: `at least 90 %`, `80 to 120 nm`.
pub(crate) fn limit_words(limit: &Limit) -> String {
    let kind = limit.figure.kind();
    let trim = |v: f64| trimmed(v * kind.per_si);
    let unit = kind.unit;
    let words = match (limit.min, limit.max) {
        (Some(min), Some(max)) => format!("{} to {}", trim(min), trim(max)),
        (Some(min), None) => format!("at least {}", trim(min)),
        (None, Some(max)) => format!("at most {}", trim(max)),
        (None, None) => return "no bound".into(),
    };
    if unit.is_empty() { words } else { format!("{words}\u{a0}{unit}") }
}

/// What a limit is set on: `coverage, working electrode`. `resolution` is the edge of the squares that figures are averaged over, m, if known.
pub(crate) fn limit_name(limit: &Limit, resolution: Option<f64>) -> String {
    let kind = limit.figure.kind();
    let name = resolution.map_or_else(|| kind.label.into(), |resolution| numbers::label_at(kind, resolution));
    limit.place.as_ref().map_or(name.clone(), |place| format!("{name}, {place}"))
}

/// Words of a fate, and the region if it is one.
pub(crate) fn fate_words(fate: &Fate) -> (&'static str, Option<&str>) {
    match fate {
        Fate::TubeSettling => ("settled in the tube", None),
        Fate::TubeDiffusion => ("diffused to the tube wall", None),
        Fate::TubeBend => ("hit a tube bend", None),
        Fate::HeadWall => ("hit the wall of the head", None),
        Fate::Escaped => ("carried away by the gas", None),
        Fate::Bounced => ("bounced off", None),
        Fate::Region(name) => ("landed on", Some(name)),
        Fate::Elsewhere => ("landed on the chip outside every region", None),
        Fate::OffChip => ("landed beyond the chip", None),
    }
}

/// Word of a severity.
pub(crate) fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Safety => "safety",
        Severity::Caution => "caution",
        Severity::Note => "note",
    }
}

/// Cautions, gravest first, otherwise in order.
pub(crate) fn cautions(p: &Prediction) -> Vec<&Caution> {
    let mut all: Vec<_> = p.cautions.iter().collect();
    all.sort_by_key(|c| std::cmp::Reverse(c.severity()));
    all
}

/// 95 % interval of the probability of a bridge; without any, up to the upper bound.
pub(crate) fn bridge_interval(bridged: u32, prints: u32) -> [f64; 2] {
    match bridged {
        0 => [0.0, statistics::zero_hit_bound(prints)],
        _ => statistics::wilson_95(bridged, prints),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_met_by_as_many_prints_as_must_pass_bears_no_cross() {
        assert_eq!(met_class(20, 20, 0.9), "all");
        assert_eq!(met_class(18, 20, 0.9), "enough");
        assert_eq!(met_class(17, 20, 0.9), "some");
        assert_eq!(met_class(0, 1, 0.9), "some");
    }
}
