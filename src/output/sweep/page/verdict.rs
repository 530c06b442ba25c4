//! Whether there is a window.

use super::judged::Judged;
use crate::numbers::{counted, share as percent, shares};
use crate::page::{Decision, joined, verdict};
use crate::sweep::extra::Extra;
use crate::sweep::rank::{Class, Ranked};
use maud::{Markup, html};
use motefall_figures::CautionKind;
use motefall_figures::statistics::wilson_95;
use motefall_figures::sweep::PointStats;

/// The box at the head of the page.
pub(super) fn section(sweep: &Judged, extra: &Extra) -> Markup {
    let Some(best) = sweep.best() else {
        let why = html! { "The reasons stand further down; every setting of this sweep lies outside what the program can compute." };
        return verdict(Decision::No, "✕ No point could run", why);
    };
    let (decision, head) = match best.class {
        _ if sweep.result.limits.is_empty() => (Decision::Open, "No limits set".to_string()),
        Class::Sure => (Decision::Yes, "✓ There is a window".into()),
        Class::Likely => (Decision::Open, "? A window is likely, but not yet certain".into()),
        Class::Below => (Decision::No, format!("✕ No point passes in {} of its prints", sweep.wanted())),
    };
    let best_words = if best.class == Class::Below { "The best is point " } else { "Recommended: point " };
    let doubts = doubts(sweep.stats(best));
    verdict(
        decision,
        &head,
        html! {
            (how_many(sweep, best)) br;
            (best_words) (sweep.number_of(best.index)) ", " (sweep.settings(best.index))
            @if let Some(stats) = sweep.stats(best) { ". " (pass_words(stats)) "." }
            (what_would_tell(sweep, best))
            @if !doubts.is_empty() { br; "With caution: " (joined("; ", doubts.iter().map(|words| html! { (words) }))) "." }
            @if let Some(link) = &extra.best_report { br; a href=(link) { "Report of a print at this setting" } }
        },
    )
}

/// How many points pass often enough.
fn how_many(sweep: &Judged, best: &Ranked) -> Markup {
    let wanted_share = sweep.result.plan.wanted_share;
    let likely = sweep.ran().filter(|s| f64::from(s.met) / f64::from(s.prints) + 1e-9 >= wanted_share).count();
    let sure = sweep.ran().filter(|s| wilson_95(s.met.min(s.prints), s.prints)[0] + 1e-9 >= wanted_share).count();
    let all = sweep.ran().count() as u64;
    let wanted = sweep.wanted();
    html! {
        @if sweep.result.limits.is_empty() { "Every print counts as passing. Set limits under " code { "acceptance" } " to find a window. " }
        @else if best.class == Class::Below {
            "At none of " (counted(all, "point that ran", "points that ran")) " do " (wanted) " of the prints pass. "
        } @else {
            "At " (likely) " of " (counted(all, "point", "points")) " at least " (wanted) " of the prints pass; at "
            @if sure == 0 { "none" } @else { (sure) }
            " of these for certain (even the lower end of the 95\u{a0}% interval reaches " (wanted) "). "
        }
    }
}

/// What more prints would show, where a window is likely only.
fn what_would_tell(sweep: &Judged, best: &Ranked) -> Markup {
    if sweep.result.limits.is_empty() || best.class != Class::Likely {
        return html! {};
    }
    let most = sweep.ran().map(|s| s.prints).max().unwrap_or(0);
    match fewest_prints(sweep.result.plan.wanted_share).filter(|n| *n > most) {
        Some(n) => html! {
            br; "With " (counted(most.into(), "print", "prints")) " a point it cannot be certain: the interval lies above " (sweep.wanted()) " from " (n) " prints on, if all pass. Run more prints."
        },
        None => html! { br; "More prints at the best points would settle it." },
    }
}

/// `48 of 50 prints pass: 96 % (87 to 99 %)`.
fn pass_words(stats: &PointStats) -> String {
    let share = f64::from(stats.met) / f64::from(stats.prints.max(1));
    let between = shares(wilson_95(stats.met.min(stats.prints), stats.prints));
    format!("{} of {} prints pass: {} ({between})", stats.met, stats.prints, percent(share))
}

/// The fewest prints whose interval can lie above the wanted share: all pass, n/(n + z^2) >= wanted.
fn fewest_prints(wanted: f64) -> Option<u32> {
    (1..=100_000).find(|n| wilson_95(*n, *n)[0] >= wanted)
}

/// Why the model may be off at a point, in a few words each.
fn doubts(stats: Option<&PointStats>) -> Vec<&'static str> {
    let here = stats.map_or(&[][..], |stats| &stats.cautions);
    CautionKind::doubts(here).into_iter().map(CautionKind::words).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fewest_prints_by_hand() {
        // n/(n + z^2) >= 0.9: n >= 9 * 3.8415 = 34.57.
        assert_eq!(fewest_prints(0.9), Some(35));
    }
}
