//! What all prints together say: electrodes, keep-outs, limits, bridges.

use crate::ranges::capital;
use motefall_figures::electrode_view::{self, BULK_PARTICLES, Electrode};
use motefall_figures::expected::{Distance, distances};
use motefall_figures::{
    Bridging, Caution, CautionKind, FigureRow, GapOutcome, LimitOutcome, RegionFigure, estimate_at,
};
use motefall_physics::inputs::{Inputs, Role};

/// Share of joined active particles below which the result says so. An estimate.
const LOW_JOINED: f64 = 0.5;

/// Cautions that follow from what all prints gave.
pub(crate) fn of_figures(
    inputs: &Inputs,
    figures: &[FigureRow],
    limits: &[LimitOutcome],
    bridging: Option<&Bridging>,
) -> Vec<Caution> {
    let electrodes = electrode_view::electrodes(inputs, figures);
    let electrodes = electrodes.iter().flat_map(|electrode| [few_particles(electrode), not_joined(electrode)]);
    let bridges = bridging.iter().flat_map(|all| all.gaps.iter().map(|gap| bridge(gap, all.prints)));
    let limits = limits.iter().map(too_few_prints);
    electrodes
        .chain([keep_outs(inputs, figures), not_as_expected(figures)])
        .chain(limits)
        .chain(bridges)
        .flatten()
        .collect()
}

/// The figure that lies farthest from what is expected, if chance does not explain it.
fn not_as_expected(figures: &[FigureRow]) -> Option<Caution> {
    let beyond = |distance: &Distance| distance.errors.abs() / distance.most;
    let (row, distance) = distances(figures).max_by(|(_, a), (_, b)| beyond(a).total_cmp(&beyond(b)))?;
    let (estimate, value) = row.estimate.as_ref().zip(row.expected.as_ref()).filter(|_| beyond(&distance) > 1.0)?;
    let [mean, expected] = [estimate.mean, value.mean].map(|value| value * row.kind.per_si);
    Some(CautionKind::NotAsExpected.with(format!(
        "{}{}: {mean:.4} {unit} on average over the prints, but {expected:.4} {unit} expected without chance, {:.0} standard errors apart. Both \
         come from the same tables by different ways, so one of them is wrong here: trust neither before this is understood.",
        capital(row.kind.label),
        row.place.as_ref().map_or(String::new(), |place| format!(", {place}")),
        distance.errors.abs(),
        unit = row.kind.unit
    )))
}

fn few_particles(electrode: &Electrode<'_>) -> Option<Caution> {
    electrode.is_individual().then(|| {
        CautionKind::FewParticles.with(format!(
            "{} holds {:.0} active particles on average. Below about {BULK_PARTICLES:.0} a cell responds particle by particle and \
             not as a bulk electrode (Kang et al. 2023, ACS Nano 17:21493): compare single particles, not curves.",
            electrode.region,
            electrode.active.map_or(0.0, |active| active.mean)
        ))
    })
}

fn not_joined(electrode: &Electrode<'_>) -> Option<Caution> {
    let joined = electrode.joined.filter(|joined| joined.mean < LOW_JOINED)?;
    Some(CautionKind::NotJoined.with(format!(
        "Only {:.0} % of the active particles on {} rest on it or on conducting particles that lead to it. Contacts are those \
         of grains that stick where they first touch, so this is a low estimate; but the capacity given counts all of them.",
        100.0 * joined.mean,
        electrode.region
    )))
}

fn bridge(gap: &GapOutcome, prints: u32) -> Option<Caution> {
    (gap.bridged > 0).then(|| {
        CautionKind::Bridge.with(format!(
            "Conducting particles, seen from above, join {} and {} in {} of {prints} prints: the electrodes may be short-circuited. Heights \
             are not looked at, so this is a high estimate.",
            gap.between[0], gap.between[1], gap.bridged
        ))
    })
}

/// Keep-out regions on which particles land although no limit asks about them.
fn keep_outs(inputs: &Inputs, figures: &[FigureRow]) -> Option<Caution> {
    let limits = &inputs.acceptance.limits;
    let hits: Vec<String> = inputs
        .regions
        .iter()
        .filter(|region| region.role == Role::KeepOut)
        .filter(|region| !limits.iter().any(|limit| limit.place.as_ref() == Some(&region.name)))
        .filter_map(|region| {
            let mean = |figure: RegionFigure| Some(estimate_at(figures, figure, Some(&region.name))?.mean);
            (mean(RegionFigure::Particles)? > 0.0).then_some(())?;
            Some(format!("{} in {:.0} % of the prints", region.name, 100.0 * mean(RegionFigure::HitProbability)?))
        })
        .collect();
    (!hits.is_empty()).then(|| {
        CautionKind::KeepOutUnlimited.with(format!(
            "Particles land on a keep-out region, and nothing is decided because the scenario sets no limits: {}. With any limit set, \
             a print with a particle there does not pass, unless a limit on that region says otherwise.",
            hits.join(", ")
        ))
    })
}

/// A limit on a probability that so few prints cannot show to be met, though the share of them meets it.
fn too_few_prints(outcome: &LimitOutcome) -> Option<Caution> {
    let share = outcome.share.filter(|share| !share.meets(&outcome.limit))?;
    let needed = share.prints_to_show(&outcome.limit)?;
    let (limit, [low, high]) = (&outcome.limit, share.bounds);
    let beyond = match (limit.min, limit.max) {
        (_, Some(max)) if high > max => format!("up to {high:.2}, above the limit of {max}"),
        (min, _) => format!("down to {low:.2}, below the limit of {}", min.unwrap_or(0.0)),
    };
    let counted = match share.hits {
        0 => "in none of them".into(),
        hits => format!("in {hits} of them"),
    };
    let place = outcome.limit.place.as_ref().map_or(String::new(), |place| format!(", {place}"));
    Some(CautionKind::TooFewPrints.with(format!(
        "{} prints are too few for the limit on the {}{place}: it happened {counted}, which leaves a probability of {beyond}. Judged is \
         that bound, at 95 %, so no print counts as accepted. At least {needed} prints are needed if it stays so rare or so frequent \
         (prints or --prints).",
        share.n, outcome.kind().label,
    )))
}
