//! The bead that a line becomes when it carries more liquid than holds where it lands.
//!
//! Liquid cannot stand steeper at its edge than the contact angle. Mist lands densest about the axis, so a line overflows from there into
//! its thin skirt: the contact line runs outward until what has landed between its two sides fits under a circular segment that meets the
//! chip at the contact angle, and the particles go with the liquid. What lands farther out stays. So the bead's width grows steadily with
//! the amount of liquid, from the dense part of the line to wider than where anything landed. Once wetted, the chip stays wetted: the
//! contact line does not come back as the bead dries.

use crate::constants::GAS_CONSTANT;
use crate::head::drying::stefan_flow;
use crate::inputs::SolventPart;
use crate::materials::solvent::VapourCurve;
use std::f64::consts::PI;

/// Intervals of the table of a bead's quantiles.
const QUANTILES: usize = 256;

/// Area of a circular segment, m^2: A = (w / (2 sin t))^2 (t - sin t cos t).
///
/// Width w of contact, m; contact angle t, rad, above 0 and below pi. Geometry.
pub fn segment_area(width: f64, contact_angle: f64) -> f64 {
    let (sin, cos) = contact_angle.sin_cos();
    (0.5 * width / sin).powi(2) * (contact_angle - sin * cos)
}

/// Width of contact, m, of a circular segment of an area (m^2): the inverse of [`segment_area`].
pub fn segment_width(area: f64, contact_angle: f64) -> f64 {
    let (sin, cos) = contact_angle.sin_cos();
    2.0 * sin * (area / (contact_angle - sin * cos)).sqrt()
}

/// Height of a circular segment, m: h = (w/2) tan(t/2).
pub fn segment_height(width: f64, contact_angle: f64) -> f64 {
    0.5 * width * (0.5 * contact_angle).tan()
}

/// Heat conductivity of the liquid of a bead, W/(m K). An ESTIMATE: organic solvents have 0.13 to 0.26, water 0.6.
pub const LIQUID_CONDUCTIVITY: f64 = 0.2;

/// What a bead has around it.
#[derive(Debug, Clone, Copy)]
pub struct Around<'a> {
    /// [`super::wind::strip_conductance`] for each solvent's vapour.
    pub conductances: &'a [f64],
    /// Vapour pressures in the gas, Pa, per solvent.
    pub vapour: &'a [f64],
    /// Temperatures of the chip and of the gas, K, and the heat that each gives the surface per length and kelvin, W/(m K).
    pub chip: Heat,
    /// The same of the gas.
    pub gas: Heat,
}

/// A body that gives heat to the surface of a bead.
#[derive(Debug, Clone, Copy)]
pub struct Heat {
    /// K.
    pub temperature: f64,
    /// Heat per length of the bead and kelvin, W/(m K).
    pub conductance: f64,
}

/// The solvents of a bead as it dries.
#[derive(Debug, Clone)]
pub struct BeadSolvents<'a> {
    solvents: &'a [SolventPart],
    curves: Vec<VapourCurve>,
    /// Gas pressure, Pa.
    pressure: f64,
}

impl<'a> BeadSolvents<'a> {
    /// Under gas of a pressure, Pa.
    pub fn new(solvents: &'a [SolventPart], pressure: f64) -> Self {
        Self { solvents, curves: solvents.iter().map(|part| part.solvent.vapour_curve()).collect(), pressure }
    }

    /// What a bead that holds these volumes (any unit) of each solvent loses of them per second, m^2/s of cross-section.
    ///
    /// dA_i/dt = S_i D_i F (p_i - e_i) M_i / (R Tf rho_i). S_i: conductance; F: [`stefan_flow`]. p_i are pressures over the liquid as it is now,
    /// Pa, by Raoult's law at the temperature T of its surface; e_i those of the gas; rho_i density of the solvent, kg/m^3; D and Tf at
    /// the mean of T and the gas's temperature. Solvents do not come back from the gas.
    ///
    /// T is such that heat from the chip through the liquid and from the gas make up for the latent heat.
    pub fn rates(&self, liquid: &[f64], around: &Around) -> Vec<f64> {
        let moles: Vec<f64> = self
            .solvents
            .iter()
            .zip(liquid)
            .map(|(part, v)| v * part.solvent.density / part.solvent.molar_mass)
            .collect();
        self.rates_at(self.surface_temperature(&moles, around), &moles, around)
    }

    fn rates_at(&self, temperature: f64, moles: &[f64], around: &Around) -> Vec<f64> {
        let all: f64 = moles.iter().sum();
        let over = |i: usize| moles[i] / all * self.curves[i].log_pressure(temperature).0.exp();
        let stefan = stefan_flow((0..moles.len()).map(over).sum(), around.vapour.iter().sum(), self.pressure);
        let film = 0.5 * (temperature + around.gas.temperature);
        let rate = |i: usize| {
            let solvent = &self.solvents[i].solvent;
            let vapour = (over(i) - around.vapour[i]).max(0.0) * solvent.molar_mass / (GAS_CONSTANT * film);
            around.conductances[i] * solvent.vapour_diffusivity(film, self.pressure) * stefan * vapour / solvent.density
        };
        (0..moles.len()).map(rate).collect()
    }

    /// By secants from where nothing evaporates.
    fn surface_temperature(&self, moles: &[f64], around: &Around) -> f64 {
        let Around { chip, gas, .. } = around;
        let heat = |t: f64| {
            let latent =
                |(i, rate): (usize, f64)| rate * self.solvents[i].solvent.density * self.curves[i].latent_heat(t);
            let latent: f64 = self.rates_at(t, moles, around).into_iter().enumerate().map(latent).sum();
            chip.conductance * (chip.temperature - t) + gas.conductance * (gas.temperature - t) - latent
        };
        let both = chip.conductance + gas.conductance;
        let mut last = (chip.conductance * chip.temperature + gas.conductance * gas.temperature) / both;
        let mut last_heat = heat(last);
        // A vapour pressure falls by some 5 % per kelvin.
        let mut here = last + last_heat / (both - 0.05 * last_heat);
        for _ in 0..20 {
            if (here - last).abs() < 0.01 {
                break;
            }
            let heat = heat(here);
            let next = here - heat * (here - last) / (heat - last_heat);
            (last, last_heat, here) = (here, heat, next);
        }
        here
    }
}

/// Largest share of a bead's liquid that dries in one step: the error is below 0.5 % of the liquid in the case tested below. Below a tenth of
/// a pass's liquid it is a share of that.
const DRYING_STEP: f64 = 0.01;
const LITTLE: f64 = 0.1;
/// A bead with less than this share of a pass's liquid is dry.
const DRY: f64 = 1e-3;

/// Where the nozzle is while a bead dries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nozzle {
    /// Above it: liquid lands.
    Above,
    /// Elsewhere.
    Away,
}

/// Parts in which the liquid of a pass lands.
const LANDING_PARTS: u32 = 16;

/// Times of one pass over a place, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassTimes {
    /// While the nozzle is above it.
    pub above: f64,
    /// From then until it comes again.
    pub away: f64,
}

/// What each pass brings, as cross-sections, m^2.
#[derive(Debug, Clone, Copy)]
pub struct PassLoad<'a> {
    /// Of each solvent.
    pub liquid: &'a [f64],
    /// Solids, which stay.
    pub solids: f64,
    /// Pores between settled solids over the solids' own volume.
    pub pores: f64,
}

/// A bead in one pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassBead {
    /// Its largest cross-section of liquid and solids, m^2.
    pub area: f64,
    /// What its particles do before the next pass.
    pub particles: Particles,
}

/// What the particles of a bead do until more liquid comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Particles {
    /// They float, and go with the liquid when the next pass widens it.
    Afloat,
    /// The liquid has fallen to what fills the pores between them: they stay where they lie. That later liquid does not lift them again is an
    /// assumption.
    Settled,
}

/// A bead pass by pass.
///
/// Each pass brings its load evenly while the nozzle is above. All the time the liquid loses
/// `rates(nozzle, largest, liquid)` (m^2/s of each solvent), where `largest` is the largest cross-section so far: the contact line does not
/// come back. The more volatile solvents leave first.
pub fn bead_by_pass(
    load: PassLoad,
    passes: u32,
    times: PassTimes,
    rates: impl Fn(Nozzle, f64, &[f64]) -> Vec<f64>,
) -> Vec<PassBead> {
    let PassLoad { liquid: per_pass, solids, pores } = load;
    debug_assert!(solids >= 0.0 && pores >= 0.0 && times.above >= 0.0 && times.away >= 0.0);
    let mut liquid = vec![0.0; per_pass.len()];
    let dry = DRY * per_pass.iter().sum::<f64>();
    let mut largest: f64 = 0.0;
    let part = 1.0 / f64::from(LANDING_PARTS);
    (0..passes)
        .map(|pass| {
            let mut widest: f64 = 0.0;
            for landed in 1..=LANDING_PARTS {
                for (left, more) in liquid.iter_mut().zip(per_pass) {
                    *left += part * more;
                }
                let held = (f64::from(pass) + part * f64::from(landed)) * solids;
                widest = widest.max(liquid.iter().sum::<f64>() + held);
                largest = largest.max(widest);
                dry_for(&mut liquid, part * times.above, dry, |liquid| rates(Nozzle::Above, largest, liquid));
            }
            dry_for(&mut liquid, times.away, dry, |liquid| rates(Nozzle::Away, largest, liquid));
            let settled = liquid.iter().sum::<f64>() <= pores * f64::from(pass + 1) * solids;
            PassBead { area: widest, particles: if settled { Particles::Settled } else { Particles::Afloat } }
        })
        .collect()
}

/// Dries liquid for a time, s. Less than `dry` in all is none.
fn dry_for(liquid: &mut [f64], mut time: f64, dry: f64, rates: impl Fn(&[f64]) -> Vec<f64>) {
    while time > 0.0 {
        let left: f64 = liquid.iter().sum();
        if left <= dry {
            liquid.fill(0.0);
            return;
        }
        let rates = rates(liquid);
        let lost: f64 = rates.iter().sum();
        if lost <= 0.0 {
            return;
        }
        let step = time.min(DRYING_STEP * left.max(LITTLE * dry / DRY) / lost);
        for (left, rate) in liquid.iter_mut().zip(rates) {
            *left = (*left - rate * step).max(0.0);
        }
        time -= step;
    }
}

/// How a bead's solids lie across it: as the liquid's height over the contact width, a circular segment.
#[derive(Debug, Clone)]
pub struct SegmentProfile {
    /// Places, in half widths, below which 0, 1/n, 2/n ... 1 of the bead lies.
    quantiles: Vec<f64>,
}

impl SegmentProfile {
    /// For a contact angle, rad, above 0 and below pi.
    pub fn new(contact_angle: f64) -> Self {
        // By the angle a from the top: x = R sin a, height = R (cos a - cos t); the integral is R^2 ((a + sin a cos a)/2 - cos t sin a). Beyond
        // a right angle the liquid hangs over the contact line; its solids are taken to end within it, spread like the rest.
        let (sin, cos) = contact_angle.sin_cos();
        let half = if contact_angle > 0.5 * PI { PI - contact_angle } else { contact_angle };
        let below = |a: f64| 0.5 * (a + a.sin() * a.cos()) - cos * a.sin();
        let whole = below(half);
        let inner = (1..QUANTILES).map(|k| {
            let wanted = (2.0 * k as f64 / QUANTILES as f64 - 1.0) * whole;
            let (mut low, mut high) = (-half, half);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if below(middle) < wanted { low = middle } else { high = middle }
            }
            (0.5 * (low + high)).sin() / sin
        });
        // The height vanishes at the ends, so no search finds them sharply.
        Self { quantiles: std::iter::once(-1.0).chain(inner).chain(std::iter::once(1.0)).collect() }
    }

    /// Place, in half widths (-1 to 1), below which a share (0 to 1) of the bead lies.
    #[inline]
    pub fn quantile(&self, share: f64) -> f64 {
        let place = share.clamp(0.0, 1.0) * QUANTILES as f64;
        let k = (place as usize).min(QUANTILES - 1);
        let (a, b) = (self.quantiles[k], self.quantiles[k + 1]);
        a + (place - k as f64) * (b - a)
    }
}

/// Where the liquid of a line, or of parallel lines side by side, and the particles in it, end up in the bead that it becomes.
#[derive(Debug, Clone)]
pub struct Remap {
    /// Half the width within which liquid counts as the line's own, m; the rest lies beside it.
    half: f64,
    /// Share of that liquid which lands below even steps from one edge to the other.
    shares: Vec<f64>,
    /// For each step from the middle to the edge: the cross-section (m^2, of all liquid within `half`) with which the bead reaches it.
    needs: Vec<f64>,
    /// Half the width of the narrowest bead, m.
    narrowest: f64,
    contact_angle: f64,
    profile: SegmentProfile,
}

/// A bead of liquid: what lands within `from` lies within `half_width`, m from its middle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bead {
    from: f64,
    /// Half the contact width, m.
    pub half_width: f64,
    /// Share of the liquid that lands below the bead's lower edge, and between its edges.
    below: f64,
    between: f64,
}

/// Even number of intervals of a line's table. A ring seen from the side is infinitely steep at its edges, so they are many.
const STEPS: usize = 512;
/// Places across a footprint that stand for all of it, in radii: the middles of four parts of equal area of a disc cut by parallel lines.
const ACROSS_FOOTPRINT: [f64; 4] = [-0.608_6, -0.197_3, 0.197_3, 0.608_6];

/// Droplets that land on a ring around the nozzle's axis.
#[derive(Debug, Clone, Copy)]
pub struct Ring {
    /// Radius, m.
    pub radius: f64,
    /// Radius of each droplet's footprint, m.
    pub footprint: f64,
    /// Liquid that lands there; any unit.
    pub volume: f64,
}

/// Mean radius of the footprints of what lands, m, weighted by volume.
pub fn mean_footprint(rings: &[Ring]) -> f64 {
    let whole: f64 = rings.iter().map(|ring| ring.volume).sum();
    rings.iter().map(|ring| ring.volume * ring.footprint).sum::<f64>() / whole.max(f64::MIN_POSITIVE)
}

/// How what lands on rings around the axis of a line is spread across it.
#[derive(Debug, Clone)]
pub struct Across {
    /// Distance from the axis beyond which nothing lands, m.
    edge: f64,
    /// Share that lands below even steps from one edge to the other.
    shares: Vec<f64>,
}

impl Across {
    /// A ring of radius r, seen along the line, lies below x with the share 1/2 + asin(x/r)/pi.
    pub fn new(rings: &[Ring]) -> Self {
        let whole: f64 = rings.iter().map(|ring| ring.volume).sum();
        let below = |x: f64| -> f64 {
            let of_ring = |ring: &Ring| -> f64 {
                let sum: f64 = ACROSS_FOOTPRINT
                    .iter()
                    .map(|place| {
                        let from_axis = x - place * ring.footprint;
                        if from_axis >= ring.radius {
                            1.0
                        } else if from_axis <= -ring.radius {
                            0.0
                        } else {
                            0.5 + (from_axis / ring.radius).asin() / PI
                        }
                    })
                    .sum();
                0.25 * ring.volume * sum
            };
            rings.iter().map(of_ring).sum::<f64>() / whole
        };
        let edge = rings.iter().map(|ring| ring.radius + ring.footprint).fold(0.0, f64::max);
        // Both sides are alike.
        let right: Vec<f64> = (0..=STEPS).map(|k| below(edge * k as f64 / STEPS as f64)).collect();
        let left = right[1..].iter().rev().map(|share| 1.0 - share);
        Self { edge, shares: left.chain(right.iter().copied()).collect() }
    }

    /// Share that lands below a place across the line, m from its axis.
    fn below(&self, x: f64) -> f64 {
        let place = (x / self.edge + 1.0) * STEPS as f64;
        if place <= 0.0 || self.edge == 0.0 {
            return 0.0;
        }
        let k = place as usize;
        if k >= 2 * STEPS { 1.0 } else { self.shares[k] + (place - k as f64) * (self.shares[k + 1] - self.shares[k]) }
    }

    /// Half the width about the axis within which a share lands, m.
    pub fn half_width(&self, share: f64) -> f64 {
        let (mut low, mut high) = (0.0, self.edge);
        for _ in 0..50 {
            let half = 0.5 * (low + high);
            if self.below(half) - self.below(-half) < share { low = half } else { high = half }
        }
        0.5 * (low + high)
    }
}

impl Remap {
    /// For parallel lines at a spacing (m). What lands within `half` (m) of their middle counts as theirs; what would become a bead of less
    /// than `narrowest` (m) to each side stays where it lands.
    pub fn new(across: &Across, lines: usize, spacing: f64, half: f64, narrowest: f64, contact_angle: f64) -> Self {
        let apart = 0.5 * (lines as f64 - 1.0) * spacing;
        let all = |x: f64| -> f64 { (0..lines).map(|line| across.below(x - line as f64 * spacing + apart)).sum() };
        let (first, last) = (all(-half), all(half));
        let at = |k: usize| (all(half * (2.0 * k as f64 / STEPS as f64 - 1.0)) - first) / (last - first);
        let shares: Vec<f64> = (0..=STEPS).map(at).collect();
        const MIDDLE: usize = STEPS / 2;
        let need = |k: usize| {
            let within = shares[MIDDLE + k] - shares[MIDDLE - k];
            let holds = segment_area(2.0 * half * k as f64 / MIDDLE as f64, contact_angle);
            // Where nothing lands, no amount is enough; a bead of no width needs none.
            if k == 0 { 0.0 } else { holds / within }
        };
        let needs = (0..=MIDDLE).map(need).collect();
        Self { half, needs, shares, narrowest, contact_angle, profile: SegmentProfile::new(contact_angle) }
    }

    /// The bead that a cross-section of liquid (m^2) becomes; `None` if there is none and everything stays where it lands.
    ///
    /// Its half width b solves A F(b) = S(2 b): liquid A, share F that lands within b of the middle, segment S ([`segment_area`]). The
    /// largest b counts: a ring overflows to both sides.
    pub fn bead(&self, area: f64) -> Option<Bead> {
        let last = self.needs.len() - 1;
        let reached = self.needs.iter().rposition(|need| *need <= area)?;
        if reached == last {
            let half_width = 0.5 * segment_width(area, self.contact_angle);
            return (half_width > self.narrowest).then_some(Bead {
                from: self.half,
                half_width,
                below: 0.0,
                between: 1.0,
            });
        }
        let (need, next) = (self.needs[reached], self.needs[reached + 1]);
        let more = if next.is_finite() { (area - need) / (next - need) } else { 0.0 };
        let half_width = self.half * (reached as f64 + more) / last as f64;
        let below = self.share(-half_width);
        (half_width > self.narrowest).then_some(Bead {
            from: half_width,
            half_width,
            below,
            between: self.share(half_width) - below,
        })
    }

    /// The largest cross-section of liquid, m^2, whose bead is no wider than so much to each side of the middle, m.
    pub fn holds(&self, half_width: f64) -> f64 {
        let within = self.share(half_width) - self.share(-half_width);
        segment_area(2.0 * half_width, self.contact_angle) / within
    }

    /// Share of the line's own liquid that lands below a place across it.
    #[inline]
    fn share(&self, across: f64) -> f64 {
        let place = ((across / self.half + 1.0) * (0.5 * STEPS as f64)).clamp(0.0, STEPS as f64);
        let k = (place as usize).min(STEPS - 1);
        self.shares[k] + (place - k as f64) * (self.shares[k + 1] - self.shares[k])
    }

    /// Where a place across the line (m from its middle) comes to lie. What lands beside the bead stays.
    #[inline]
    pub fn moved(&self, across: f64, bead: Bead) -> f64 {
        if across.abs() >= bead.from {
            return across;
        }
        bead.half_width * self.profile.quantile((self.share(across) - bead.below) / bead.between)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::materials::solvent::Solvent;
    use proptest::prelude::*;

    #[test]
    fn a_half_cylinder_by_hand() {
        // 10 um wide at 90 degrees: pi 25/2 = 39.26991 um^2, 5 um high.
        assert!((segment_area(10e-6, 0.5 * PI) * 1e12 - 39.269_908).abs() < 1e-6);
        assert!((segment_height(10e-6, 0.5 * PI) * 1e6 - 5.0).abs() < 1e-12);
        assert!((segment_width(39.269_908e-12, 0.5 * PI) * 1e6 - 10.0).abs() < 1e-6);
    }

    const CHIP: Heat = Heat { temperature: 293.15, conductance: 1e9 };

    #[test]
    fn a_strip_of_water_by_hand() {
        // Water at 293.15 K: 2339 Pa, D 24.2 mm^2/s or so: 24.2e-6 * 2339 * 0.018015 / (8.31446 * 293.15) = 4.1838e-7 kg/(m s); times a
        // conductance of 0.5 over 998.2 kg/m^3: 2.0957e-10 m^2/s = 210 um^2/s; Stefan flow 1 + 0.02309/2 = 1.0116. In gas half saturated: half
        // of it, save for the Stefan flow of 1.0176.
        let water = Solvent::built_in("water", 293.15).expect("built in");
        let own = water.vapour_diffusivity(293.15, 101_325.0) * water.saturation_pressure(293.15) / (24.2e-6 * 2339.0);
        let parts = [SolventPart { mass_fraction: 1.0, solvent: water }];
        let bead = BeadSolvents::new(&parts, 101_325.0);
        let rate = |around: f64| {
            bead.rates(&[1e-12], &Around { conductances: &[0.5], vapour: &[around], chip: CHIP, gas: CHIP })[0]
        };
        assert!((rate(0.0) / (2.0957e-10 * 1.0116 * own) - 1.0).abs() < 1e-3, "{}", rate(0.0));
        let half = 0.5 * parts[0].solvent.saturation_pressure(293.15);
        assert!((rate(half) / rate(0.0) - 0.5 * 1.0176 / 1.0116).abs() < 1e-3);
        assert_eq!(rate(1e5), 0.0);
    }

    /// Chip at 60 C that gives 3 W/(m K), gas at 20 C that gives 1: 50 C if nothing evaporates. Water that does takes its latent heat from both.
    #[test]
    fn the_surface_of_a_bead_is_as_cool_as_its_heat_makes_it() {
        let parts =
            [SolventPart { mass_fraction: 1.0, solvent: Solvent::built_in("water", 293.15).expect("built in") }];
        let bead = BeadSolvents::new(&parts, 101_325.0);
        let heat = |celsius: f64, conductance| Heat { temperature: 273.15 + celsius, conductance };
        let at = |conductance: f64| {
            let around =
                Around { conductances: &[conductance], vapour: &[0.0], chip: heat(60.0, 3.0), gas: heat(20.0, 1.0) };
            let t = bead.surface_temperature(&[1.0], &around);
            (t - 273.15, bead.rates(&[1.0], &around)[0])
        };
        assert!((at(0.0).0 - 50.0).abs() < 1e-6);
        for conductance in [1.0, 30.0, 1000.0] {
            let (t, rate) = at(conductance);
            let latent_heat = parts[0].solvent.vapour_curve().latent_heat(273.15 + t);
            let gap = 3.0 * (60.0 - t) + (20.0 - t) - rate * parts[0].solvent.density * latent_heat;
            println!("{conductance}: {t:.2} C");
            assert!(gap.abs() < 0.1, "{conductance}: {t} C leaves {gap} W/m");
        }
        // So much that hardly any heat is left: as cold as it takes.
        assert!(at(1000.0).0 < 20.0);
    }

    const AT_ONCE: f64 = 0.0;

    #[test]
    fn passes_add_up_unless_they_dry() {
        // 9 of liquid and 1 of solids, 4 dry away in between: 10, 16, 22. With 30 the solids stay: 10, 11, 12.
        let times = PassTimes { above: AT_ONCE, away: 2.0 };
        let load = PassLoad { liquid: &[9.0], solids: 1.0, pores: 0.5 };
        let at = |rate: f64| bead_by_pass(load, 3, times, |_, _, _| vec![rate]);
        for (rate, by_hand) in [(2.0, [10.0, 16.0, 22.0]), (15.0, [10.0, 11.0, 12.0])] {
            assert!(at(rate).iter().zip(by_hand).all(|(a, b)| (a.area - b).abs() < 1e-9), "{:?}", at(rate));
        }
    }

    /// 9 of liquid and 1 of solids a pass, whose pores hold half as much: 8.4 dry away in between, and 0.6 is left above the pores' 0.5; of the
    /// next 9.6 it is 1.2 over 1.0. With 8.6 it is 0.4 in pores of 0.5.
    #[test]
    fn particles_settle_when_the_liquid_falls_into_their_pores() {
        let times = PassTimes { above: AT_ONCE, away: 1.0 };
        let load = PassLoad { liquid: &[9.0], solids: 1.0, pores: 0.5 };
        let states = |rate: f64| -> Vec<Particles> {
            bead_by_pass(load, 2, times, |_, _, _| vec![rate]).iter().map(|bead| bead.particles).collect()
        };
        assert_eq!(states(8.4), [Particles::Afloat; 2]);
        assert_eq!(states(8.6), [Particles::Settled; 2]);
    }

    /// 16 of liquid land in 4 s, 2 a second dry meanwhile: 16 parts of 1, each of which loses 0.5 before the next. So 1, 1.5 ... 8.5 and 8 at
    /// the end. Elsewhere nothing dries: the next pass ends 8 higher. As fast as it lands, no part finds the one before.
    #[test]
    fn liquid_dries_while_it_lands() {
        let times = PassTimes { above: 4.0, away: 100.0 };
        let at = |rate: f64| {
            let load = PassLoad { liquid: &[16.0], solids: 0.0, pores: 0.0 };
            let rates = |nozzle, _, _: &[f64]| vec![if nozzle == Nozzle::Above { rate } else { 0.0 }];
            bead_by_pass(load, 2, times, rates).iter().map(|bead| bead.area).collect::<Vec<_>>()
        };
        let slow = at(2.0);
        assert!((slow[0] - 8.5).abs() < 1e-9 && (slow[1] - 16.5).abs() < 1e-9, "{slow:?}");
        let quick = at(1e3);
        assert!((quick[0] - 1.0).abs() < 0.02 && (quick[1] - 1.0).abs() < 0.02, "{quick:?}");
    }

    /// 4 of each of two solvents that leave at 2 x and 0.02 x per second, x their share of the liquid. By hand: da/a = 100 db/b, so
    /// a = 4 (b/4)^100; and a/2 + 50 b falls by 1 a second: 202 - 10 = 192 after 10 s. Both hold at a = 0.066, b = 3.839. A mixture that
    /// kept its composition would have dried up.
    #[test]
    fn the_volatile_solvent_leaves_first() {
        let load = PassLoad { liquid: &[4.0, 4.0], solids: 0.0, pores: 0.0 };
        let beads = bead_by_pass(load, 2, PassTimes { above: AT_ONCE, away: 10.0 }, |_, _, liquid| {
            let all = liquid[0] + liquid[1];
            vec![2.0 * liquid[0] / all, 0.02 * liquid[1] / all]
        });
        let b = |a: f64| 3.84 - a / 100.0;
        let mut a = 0.0;
        for _ in 0..50 {
            a = 4.0 * (b(a) / 4.0f64).powi(100);
        }
        assert!((beads[0].area - 8.0).abs() < 1e-12);
        let left = beads[1].area - 8.0;
        assert!((left / (a + b(a)) - 1.0).abs() < 0.01, "{left} against {}", a + b(a));
    }

    #[test]
    fn a_bead_dries_at_the_width_that_it_has_wetted() {
        let widest = std::cell::RefCell::new(Vec::new());
        let load = PassLoad { liquid: &[5.0], solids: 0.5, pores: 0.5 };
        bead_by_pass(load, 2, PassTimes { above: AT_ONCE, away: 1.0 }, |_, largest, _| {
            widest.borrow_mut().push(largest);
            vec![100.0]
        });
        assert!(widest.borrow().iter().all(|area| *area == 5.5 || *area == 6.0), "{widest:?}");
    }

    #[test]
    fn quantiles_follow_the_segments_height() {
        for degrees in [2.0, 25.0, 60.0, 90.0, 120.0, 170.0_f64] {
            let angle = degrees.to_radians();
            let profile = SegmentProfile::new(angle);
            let radius = 1.0 / angle.sin();
            let height = |x: f64| (radius * radius - x * x).max(0.0).sqrt() - radius * angle.cos();
            // Simpson over the height between two quantiles against their share.
            let integral = |a: f64, b: f64| {
                const STEPS: usize = 2000;
                let step = (b - a) / STEPS as f64;
                let inner: f64 =
                    (1..STEPS).map(|k| height(a + k as f64 * step) * if k % 2 == 1 { 4.0 } else { 2.0 }).sum();
                (height(a) + inner + height(b)) * step / 3.0
            };
            let whole = integral(-1.0, 1.0);
            if degrees <= 90.0 {
                assert!((whole / segment_area(2.0, angle) - 1.0).abs() < 1e-4, "{degrees}");
            }
            for k in [1, 16, 64, 128, 200, 255] {
                let x = profile.quantile(f64::from(k) / 256.0);
                assert!((integral(-1.0, x) / whole - f64::from(k) / 256.0).abs() < 1e-4, "{degrees} {k}");
            }
            assert!((profile.quantile(1.0) - 1.0).abs() < 1e-12 && (profile.quantile(0.0) + 1.0).abs() < 1e-12);
        }
    }

    fn two_rings() -> Across {
        let ring = |radius| Ring { radius, footprint: 0.0, volume: 1.0 };
        Across::new(&[ring(10e-6), ring(4e-6)])
    }

    /// 100,000 places on a line, half on the axis's ring of 10 um and half on one of 4 um, become a segment of 50 um: shares below ten
    /// places agree to 0.5 % (chance 0.16 %), all stay within the bead, and their order is kept.
    #[test]
    fn a_line_becomes_a_segment_and_nothing_is_lost() {
        use rand::{RngExt, SeedableRng, rngs::Xoshiro256PlusPlus};
        let angle = 30f64.to_radians();
        let half = 10e-6;
        let remap = Remap::new(&two_rings(), 1, 0.0, half, 1e-6, angle);
        let mut random = Xoshiro256PlusPlus::seed_from_u64(5);
        let places: Vec<f64> = (0..100_000)
            .map(|k| [10e-6, 4e-6][k % 2] * (1.0 - 1e-9) * (random.random::<f64>() * 2.0 * PI).cos())
            .collect();
        let bead = remap.bead(segment_area(50e-6, angle)).expect("a bead");
        assert!((bead.half_width / 25e-6 - 1.0).abs() < 1e-9);
        let mut moved: Vec<f64> = places.iter().map(|x| remap.moved(*x, bead)).collect();
        assert!(places.iter().zip(&moved).all(|(a, b)| a * b >= -1e-18 && b.abs() <= 25e-6 * (1.0 + 1e-12)));
        moved.sort_by(f64::total_cmp);
        let profile = SegmentProfile::new(angle);
        for tenth in 1..10 {
            let share = f64::from(tenth) / 10.0;
            let wanted = 25e-6 * profile.quantile(share);
            let below = moved.partition_point(|x| *x < wanted) as f64 / moved.len() as f64;
            assert!((below - share).abs() < 0.005, "{below} lie below the quantile of {share}");
        }
        // Planted fault: as they landed they are no segment.
        let mut landed: Vec<f64> = places.iter().map(|x| x * 25e-6 / half).collect();
        landed.sort_by(f64::total_cmp);
        let below = landed.partition_point(|x| *x < 25e-6 * profile.quantile(0.1)) as f64 / landed.len() as f64;
        assert!((below - 0.1).abs() > 0.005, "{below}");
    }

    /// A bead of half width b holds what lands within b: by hand for two rings, of which within 6 um lie all of the inner one and
    /// 2 asin(0.6)/pi = 0.4097 of the outer one, 0.7048 of all.
    #[test]
    fn a_bead_holds_what_lands_between_its_edges() {
        let angle = 25f64.to_radians();
        let remap = Remap::new(&two_rings(), 1, 0.0, 10e-6, 1e-6, angle);
        let area = segment_area(12e-6, angle) / 0.7048;
        assert!((remap.holds(6e-6) / area - 1.0).abs() < 0.002, "{} {area}", remap.holds(6e-6));
        let bead = remap.bead(area).expect("a bead");
        assert!((bead.half_width / 6e-6 - 1.0).abs() < 0.002, "{bead:?}");
        // What lands outside stays, what lands inside stays inside, and there is no gap at its edge.
        let edge = bead.half_width;
        assert_eq!(remap.moved(1.01 * edge, bead), 1.01 * edge);
        assert!((remap.moved(edge * (1.0 - 1e-12), bead) / edge - 1.0).abs() < 1e-6);
        // Wider than where anything lands: all of it, and the plain segment.
        let wide = remap.bead(segment_area(30e-6, angle)).expect("a bead");
        assert!((wide.half_width / 15e-6 - 1.0).abs() < 1e-9);
        // As narrow as a droplet: none.
        assert_eq!(remap.bead(0.5 * remap.holds(1e-6)), None);
        assert_eq!(remap.bead(0.0), None);
    }

    #[test]
    fn a_beads_width_grows_steadily_with_its_liquid() {
        // A narrow core and a wide skirt: 9 parts on a disc of 3 um, 1 part out to 20 um.
        let rings: Vec<Ring> = (0..100)
            .map(|k| (f64::from(k) + 0.5) / 100.0)
            .flat_map(|share| {
                [(3e-6, 9.0), (20e-6, 1.0)].map(|(radius, volume)| Ring {
                    radius: radius * share.sqrt(),
                    footprint: 0.5e-6,
                    volume,
                })
            })
            .collect();
        let across = Across::new(&rings);
        let angle = 25f64.to_radians();
        let remap = Remap::new(&across, 1, 0.0, across.half_width(0.99), 0.5e-6, angle);
        let width = |area: f64| remap.bead(area).map_or(0.0, |bead| bead.half_width);
        let mut area = 0.05e-12;
        let mut widths = vec![];
        while area < 500e-12 {
            widths.push(width(area));
            area *= 1.05;
        }
        assert!(widths[0] < 1.2e-6 && *widths.last().expect("some") > 30e-6, "{widths:?}");
        for pair in widths.windows(2).filter(|pair| pair[0] > 0.0) {
            // A fixed amount of liquid widens by 2.5 % for 5 % more; a skirt that joins makes it at most 5 %.
            assert!(pair[1] > pair[0] && pair[1] < 1.055 * pair[0], "{pair:?}");
        }
    }

    #[test]
    fn lines_side_by_side_share_a_bead() {
        // Three lines 8 um apart on rings of 5 um: symmetric, and the edges go to the bead's.
        let across = Across::new(&[Ring { radius: 5e-6, footprint: 1e-6, volume: 1.0 }]);
        // 99 % of a ring: 5 sin(0.99 * 90 degrees) = 4.9994 um and the most of a footprint.
        assert!((5.3e-6..5.7e-6).contains(&across.half_width(0.99)), "{}", across.half_width(0.99));
        let half = 8e-6 + 6e-6;
        let remap = Remap::new(&across, 3, 8e-6, half, half, 0.5);
        let bead = remap.bead(segment_area(60e-6, 0.5)).expect("a bead");
        for x in [0.0, 1e-6, 5e-6, 9e-6, 13.9e-6] {
            assert!((remap.moved(x, bead) + remap.moved(-x, bead)).abs() < 1e-12, "{x}");
        }
        assert!((remap.moved(half * (1.0 - 1e-9), bead) - 30e-6).abs() < 1e-9);
        assert_eq!(remap.bead(0.999 * segment_area(2.0 * half, 0.5)), None);
        assert!(remap.bead(1.001 * segment_area(2.0 * half, 0.5)).is_some());
    }

    proptest! {
        #[test]
        fn width_and_area_are_inverse_and_scale(width in 1e-7..1e-3f64, degrees in 1.0..179.0f64) {
            let angle = degrees.to_radians();
            let area = segment_area(width, angle);
            prop_assert!((segment_width(area, angle) / width - 1.0).abs() < 1e-9);
            prop_assert!((segment_area(2.0 * width, angle) / area - 4.0).abs() < 1e-9);
            prop_assert!(area > 0.0 && segment_height(width, angle) > 0.0);
        }
    }
}
