//! How the picture of the window is to be read.

use super::judged::Judged;
use crate::numbers::{counted, share as percent, shares, significant};
use crate::page::joined;
use crate::sweep::effects::Basis;
use crate::sweep::rank::Class;
use crate::sweep::space::PassValue;
use maud::{Markup, html};
use motefall_figures::statistics::wilson_95;

/// How the pass probability between the points was found, and how well it is known.
pub(super) fn rule(sweep: &Judged) -> String {
    let space = &sweep.space;
    let between = if space.is_grid() {
        "Nothing was simulated between the points of the grid: there the pass probability is interpolated from point to point (as a normal deviate; in the logarithm on logarithmic axes). Where neighbours differ a lot, a finer sweep shows where the edge really is."
            .to_string()
    } else {
        format!(
            "Each place shows a plane fitted to the {} nearest points (to their pass probabilities as normal deviates; axes scaled to 0 to 1, near points weigh more). This smooths: a window looks somewhat narrower than it is, and steep edges softer. Hatched: farther than {} of an axis's length from any point, so not known.",
            space.neighbours,
            significant(space.reach, 2)
        )
    };
    let gaps =
        if sweep.failed() > 0 { " The picture is also hatched where the nearest point could not run." } else { "" };
    format!("{between}{gaps}{}", chance(sweep))
}

/// How far chance may dent the contour.
fn chance(sweep: &Judged) -> String {
    let mut prints: Vec<u32> = sweep.ran().map(|s| s.prints).collect();
    prints.sort_unstable();
    let Some(middle) = prints.get(prints.len() / 2).copied().filter(|_| !sweep.result.limits.is_empty()) else {
        return String::new();
    };
    let met = (f64::from(middle) * sweep.result.plan.wanted_share).round() as u32;
    format!(
        " Near the contour, {} only place the pass probability of a point between {}, so small dents in the contour are chance.",
        counted(middle.into(), "print", "prints"),
        shares(wilson_95(met.min(middle), middle)).replace(" to ", " and "),
    )
}

/// How the two axes were chosen.
pub(super) fn chosen(sweep: &Judged) -> Markup {
    let what = match sweep.basis {
        Basis::Pass => "pass probability",
        Basis::Margin => "margin (every point passes equally often)",
        Basis::Order => {
            return html! { "The axes are in the order of the scenario, since nothing differs between the points." };
        }
    };
    let shares = sweep.influence.iter().map(|(k, share)| html! { (sweep.name(*k)) " " (percent(*share)) });
    html! {
        "The axes are the settings that matter most. Share of the variation in " (what) " between the points that each explains by itself: "
        (joined(", ", shares)) "; the rest is interactions and chance."
    }
}

/// Why no contour is seen.
pub(super) fn unbounded(sweep: &Judged) -> String {
    let wanted = sweep.wanted();
    let at_best = sweep.best().map(|b| sweep.space.at(&sweep.space.places[b.index]));
    match sweep.best().map(|b| b.class) {
        _ if sweep.result.limits.is_empty() => "without limits every print passes".into(),
        None | Some(Class::Below) => format!("nowhere here do {wanted} of the prints pass"),
        Some(_) if !matches!(at_best, Some(PassValue::Share(p)) if p + 1e-9 >= sweep.result.plan.wanted_share) => {
            format!(
                "taken together with their neighbours nowhere here do {wanted} of the prints pass, though single points do"
            )
        }
        Some(_) if matches!(at_best, Some(PassValue::Share(p)) if p <= sweep.result.plan.wanted_share + 1e-9) => {
            format!("nowhere here do more than {wanted} of the prints pass")
        }
        Some(_) => format!(
            "{wanted} of the prints pass wherever the settings are known: the window reaches beyond the sweep, and wider axes would find its edges"
        ),
    }
}
