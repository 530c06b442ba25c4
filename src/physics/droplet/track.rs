//! One droplet from the top of the taper to the chip.
//!
//! Newton's law with Stokes drag (slip, Schiller-Naumann), gravity and, if asked for, shear lift. Brownian spread in
//! flight is about 0.04 um and is left out. Steps are exact for a gas speed that changes linearly in time, so tiny
//! droplets (relaxation far shorter than a step) are as stable as large ones.

use crate::constants::GRAVITY;
use crate::jet::bore::field::{BoreCell, BoreField};
use crate::jet::field::{Cell, Field};
use crate::materials::drag;
use crate::materials::gas::GasState;
use std::sync::OnceLock;

/// Radius, in nozzle radii, beyond which a droplet counts as swept past the chip.
pub const ESCAPE_RADIUS: f64 = 20.0;
/// Share of it beyond which a landing tells that there may be more farther out.
pub const NEAR_ESCAPE: f64 = 0.9;
/// Steps per grid cell of the jet are 1/STEP.
const STEP: f64 = 0.5;
/// Share by which the bore shrinks in a step through the cone, and longest step there and in the land, bore radii.
const CONE_SHRINK: f64 = 0.02;
const LONGEST_BORE_STEP: f64 = 0.2;
/// Step where the cone turns into the land, nozzle radii, and its growth with the distance from there.
const EDGE_STEP: f64 = 0.05;
const EDGE_GROWTH: f64 = 0.1;
/// Steps after which a droplet counts as swept past: it is circling far out.
const STEP_LIMIT: usize = 20_000;

/// A droplet as its motion sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sphere {
    /// Diameter, m.
    pub diameter: f64,
    /// Density, kg/m^3.
    pub density: f64,
}

/// How a flight ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Arrival {
    /// On the chip plane.
    Landed {
        /// Distance from the nozzle axis, m; negative when the droplet crossed the axis.
        radius: f64,
        /// Speed on contact, m/s.
        speed: f64,
        /// Time since the top of the taper, s.
        time: f64,
    },
    /// On the wall of the taper.
    Wall,
    /// Swept past the chip.
    Escaped,
}

/// Everything that is the same for all droplets of a setting.
#[derive(Debug, Clone)]
pub struct Flyer {
    /// Gas field between exit and chip; `None`: straight flight from the exit plane (exact checks).
    pub field: Option<Field>,
    /// Bore above the exit.
    pub bore: BoreField,
    /// Gas in head and jet.
    pub gas: GasState,
    /// Nozzle radius, m.
    pub nozzle_radius: f64,
    /// Mean gas speed at the exit, m/s.
    pub exit_speed: f64,
    /// Share of the total flow that carries mist, 0 to 1.
    pub core_share: f64,
    /// Share of Saffman's lift applied.
    pub lift_factor: f64,
    /// What a [`super::Finder`] multiplies landing radii by: 1 is as tracked.
    pub radius_factor: f64,
    /// Refinement of the steps: 1 as standard, 2 for half steps.
    pub refinement: f64,
}

/// The drag factor tabulated over the square of the Reynolds number: within 1e-5 of [`drag::schiller_naumann`], without its power and
/// without a root, for which the next step would have to wait.
struct DragTable(Vec<f64>);

impl DragTable {
    /// Squared Reynolds numbers between which is tabulated, powers of two. Below, the factor differs from 1 by less than 3e-6; above, the
    /// relation itself is used.
    const LEAST: f64 = 1.0 / (1u64 << 46) as f64;
    const LARGEST: f64 = 4096.0;
    /// Bits of a float below its exponent and the first six of its digits: 64 nodes for each power of two.
    const BITS: u32 = 46;

    /// Node before a squared Reynolds number, counted from 0 for a float of no bits, and how far it lies towards the next.
    #[inline]
    fn place(square: f64) -> (usize, f64) {
        let bits = square.to_bits();
        let beyond = bits & ((1 << Self::BITS) - 1);
        ((bits >> Self::BITS) as usize, beyond as i64 as f64 * (1.0 / (1u64 << Self::BITS) as f64))
    }

    fn get() -> &'static Self {
        static TABLE: OnceLock<DragTable> = OnceLock::new();
        TABLE.get_or_init(|| {
            let (first, _) = Self::place(Self::LEAST);
            let (last, _) = Self::place(Self::LARGEST);
            let square = |node: usize| f64::from_bits((node as u64) << Self::BITS);
            Self((first..=last).map(|node| drag::schiller_naumann(square(node).sqrt())).collect())
        })
    }

    /// At a squared Reynolds number.
    #[inline]
    fn at(&self, square: f64) -> f64 {
        if square < Self::LEAST {
            return 1.0;
        }
        if square >= Self::LARGEST {
            return drag::schiller_naumann(square.sqrt());
        }
        let (node, along) = Self::place(square);
        let node = node - (Self::LEAST.to_bits() >> Self::BITS) as usize;
        self.0[node] + along * (self.0[node + 1] - self.0[node])
    }
}

/// Constants of one droplet in the units of the jet.
struct Motion {
    drag: &'static DragTable,
    /// Inverse of the relaxation time in Stokes drag.
    rate: f64,
    /// Squared Reynolds number over squared slip.
    square_per_slip: f64,
    gravity: f64,
    lift: Option<Lift>,
}

struct Lift {
    factor: f64,
    diameter: f64,
    mass: f64,
    exit_speed: f64,
    nozzle_radius: f64,
    gas_density: f64,
    gas_viscosity: f64,
}

/// Place and velocity, units of the jet.
#[derive(Clone, Copy)]
struct State {
    x: [f64; 2],
    v: [f64; 2],
}

impl Motion {
    /// Inverse relaxation time and body acceleration (radial, axial) in a gas `[radial, axial, shear]`.
    #[inline]
    fn forces(&self, v: [f64; 2], gas: [f64; 3]) -> (f64, [f64; 2]) {
        let slip = [gas[0] - v[0], gas[1] - v[1]];
        let square = slip[0] * slip[0] + slip[1] * slip[1];
        let rate = self.rate * self.drag.at(square * self.square_per_slip);
        let mut body = [0.0, self.gravity];
        if let Some(lift) = &self.lift {
            let speed = square.sqrt();
            let force = drag::shear_lift(
                speed * lift.exit_speed,
                gas[2].abs() * lift.exit_speed / lift.nozzle_radius,
                lift.diameter,
                lift.gas_density,
                lift.gas_viscosity,
            );
            let acceleration =
                lift.factor * force / lift.mass * lift.nozzle_radius / (lift.exit_speed * lift.exit_speed);
            // Saffman's force belongs to the slip along the stream: toward the faster gas where the droplet lags, toward the slower
            // where it runs ahead.
            let along = if speed > 0.0 { slip[1] / speed } else { 0.0 };
            body[0] += acceleration * along * gas[2].signum();
        }
        (rate, body)
    }

    /// One step of length `dt` in the gas `gas(x, z)`.
    #[inline]
    fn step(&self, state: State, dt: f64, mut gas: impl FnMut(f64, f64) -> [f64; 3]) -> State {
        let here = gas(state.x[0], state.x[1]);
        let (rate, body) = self.forces(state.v, here);
        let (relaxation, decay) = (1.0 / rate, (-dt * rate).exp());
        let mut guess = state;
        for k in 0..2 {
            let terminal = here[k] + body[k] * relaxation;
            guess.v[k] = terminal + (state.v[k] - terminal) * decay;
            guess.x[k] = state.x[k] + terminal * dt + (state.v[k] - terminal) * relaxation * (1.0 - decay);
        }
        let there = gas(guess.x[0], guess.x[1]);
        let (rate_there, body_there) = self.forces(guess.v, there);
        // Mean drag over the step: rates, not times, are averaged.
        let rate = 0.5 * (rate + rate_there);
        let (relaxation, decay) = (1.0 / rate, (-dt * rate).exp());
        let per_step = 1.0 / dt;
        let mut next = state;
        for k in 0..2 {
            let slope = (there[k] - here[k]) * per_step;
            let body = 0.5 * (body[k] + body_there[k]);
            let transient = state.v[k] - here[k] + (slope - body) * relaxation;
            next.v[k] = here[k] + slope * (dt - relaxation) + body * relaxation + transient * decay;
            next.x[k] = state.x[k]
                + here[k] * dt
                + slope * dt * (0.5 * dt - relaxation)
                + body * relaxation * dt
                + transient * relaxation * (1.0 - decay);
        }
        next
    }
}

impl Flyer {
    fn motion(&self, sphere: Sphere) -> Motion {
        let slip = drag::slip_correction(sphere.diameter, self.gas.mean_free_path);
        let relaxation = drag::relaxation_time(sphere.diameter, sphere.density, self.gas.viscosity, slip);
        let lift = (self.lift_factor > 0.0).then(|| Lift {
            factor: self.lift_factor,
            diameter: sphere.diameter,
            mass: sphere.density * std::f64::consts::PI / 6.0 * sphere.diameter.powi(3),
            exit_speed: self.exit_speed,
            nozzle_radius: self.nozzle_radius,
            gas_density: self.gas.density,
            gas_viscosity: self.gas.viscosity,
        });
        Motion {
            drag: DragTable::get(),
            rate: self.nozzle_radius / (relaxation * self.exit_speed),
            square_per_slip: drag::sphere_reynolds(
                self.exit_speed,
                sphere.diameter,
                self.gas.density,
                self.gas.viscosity,
            )
            .powi(2),
            gravity: GRAVITY * self.nozzle_radius / (self.exit_speed * self.exit_speed),
            lift,
        }
    }

    /// Flies a droplet that enters inside the share `flow_share` (0 to 1) of the aerosol flow.
    pub fn fly(&self, flow_share: f64, sphere: Sphere) -> Arrival {
        let entry = self.bore.entry(flow_share * self.core_share);
        let unit_time = self.nozzle_radius / self.exit_speed;
        let Some(field) = &self.field else {
            let radius = entry[0] / self.bore.line.wall(entry[1]).radius * self.nozzle_radius;
            return Arrival::Landed { radius, speed: self.exit_speed, time: 0.0 };
        };
        let motion = self.motion(sphere);
        let half = 0.5 * sphere.diameter / self.nozzle_radius;
        let Some((mut state, mut time)) = self.through_bore(entry, &motion, half) else { return Arrival::Wall };

        // Through the jet.
        let plate = field.stand_off() - half;
        let limit = STEP / self.refinement;
        let lifted = motion.lift.is_some();
        let mut cell = Cell::default();
        for _ in 0..STEP_LIMIT {
            let cells = field.cells_per_length(cell);
            let dt = limit / (state.v[0].abs() * cells[0] + state.v[1].abs() * cells[1] + 1e-9);
            let before = state;
            state = motion.step(state, dt, |x, z| {
                let gas = field.at(x * x, z, &mut cell);
                let shear = if lifted { 2.0 * x * field.shear_over_2r(z, cell) } else { 0.0 };
                [gas.radial_over_r * x, gas.axial, shear]
            });
            time += dt;
            if state.x[1] >= plate {
                let share = ((plate - before.x[1]) / (state.x[1] - before.x[1])).clamp(0.0, 1.0);
                let at = |a: f64, b: f64| a + share * (b - a);
                let velocity = [at(before.v[0], state.v[0]), at(before.v[1], state.v[1])];
                return Arrival::Landed {
                    radius: at(before.x[0], state.x[0]) * self.nozzle_radius,
                    speed: (velocity[0] * velocity[0] + velocity[1] * velocity[1]).sqrt() * self.exit_speed,
                    time: (time - (1.0 - share) * dt) * unit_time,
                };
            }
            if state.x[0].abs() > ESCAPE_RADIUS || state.x[1] < -1.0 {
                return Arrival::Escaped;
            }
        }
        Arrival::Escaped
    }

    /// Whether a droplet hits the wall of the taper.
    pub(crate) fn hits_wall(&self, flow_share: f64, sphere: Sphere) -> bool {
        let entry = self.bore.entry(flow_share * self.core_share);
        let half = 0.5 * sphere.diameter / self.nozzle_radius;
        self.field.is_some() && self.through_bore(entry, &self.motion(sphere), half).is_none()
    }

    /// State and time (in units of the jet) at the exit; `None` for a droplet that hits the wall.
    fn through_bore(&self, entry: [f64; 2], motion: &Motion, half: f64) -> Option<(State, f64)> {
        // The droplet enters at the gas's own speed: far up the bore it is slow.
        let mut cell = BoreCell::default();
        let gas = self.bore.at(entry[0], entry[1], &mut cell);
        let mut state = State { x: entry, v: [gas.radial, gas.axial] };
        let mut time = 0.0;
        let line = &self.bore.line;
        while state.x[1] < 0.0 {
            let bore = line.wall(state.x[1]).radius;
            let by_cone = (CONE_SHRINK / line.slope).min(LONGEST_BORE_STEP) * bore;
            let by_edge = EDGE_STEP + EDGE_GROWTH * (state.x[1] - line.throat).abs();
            let length = (by_cone.min(by_edge) / self.refinement).min(1e-9 - state.x[1]);
            let dt = length / state.v[1].max(0.05 / (bore * bore));
            state = motion.step(state, dt, |x, z| {
                let gas = self.bore.at(x, z, &mut cell);
                [gas.radial, gas.axial, gas.shear]
            });
            time += dt;
            if state.x[0].abs() + half >= line.wall(state.x[1]).radius {
                return None;
            }
        }
        Some((state, time))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tabulated_drag_is_the_relation() {
        for k in 0..4000 {
            // From below the table to beyond it.
            let reynolds = 1e-8 * 1.0064_f64.powi(k);
            let ratio = DragTable::get().at(reynolds * reynolds) / drag::schiller_naumann(reynolds);
            assert!((ratio - 1.0).abs() < 1e-5, "{reynolds} {ratio}");
        }
    }

    /// Lift on a droplet of 2 um and 1000 kg/m^3 at half the gas's speed or ahead of it, in gas of 1.2 kg/m^3 and 1.8e-5 Pa s that leaves
    /// a nozzle of 75 um radius at 20 m/s and loses one mean speed over a radius.
    ///
    /// By hand: w = 0.5 * 20 = 10 m/s, G = 20/75e-6 = 2.66667e5 /s, sqrt(rho mu G) = sqrt(1.2 * 1.8e-5 * 2.66667e5) = 2.4.
    /// Saffman: 1.615 * (2e-6)^2 * 10 * 2.4 = 1.5504e-10 N. Mei: Re = 1.2 * 10 * 2e-6/1.8e-5 = 1.33333, b = G d/(2 w) = 0.0266667,
    /// sqrt(b) = 0.163299, C = (1 - 0.0541174) exp(-0.133333) + 0.0541174 = 0.945883 * 0.875173 + 0.0541174 = 0.881929.
    /// Mass 1000 pi/6 8e-18 = 4.18879e-15 kg: 32 643 m/s^2, of which the jet's unit is 20^2/75e-6 = 5.33333e6: 0.0061206.
    /// Signs: Saffman 1965, The lift on a small sphere in a slow shear flow, J. Fluid Mech. 22:385, 'deflected towards the faster stream if
    /// the sphere lags', toward the slower if it leads (memory of the sentence, not of its words).
    #[test]
    fn lift_pulls_toward_the_faster_gas_when_lagging_and_away_when_ahead() {
        let lift = Lift {
            factor: 1.0,
            diameter: 2e-6,
            mass: 4.188_79e-15,
            exit_speed: 20.0,
            nozzle_radius: 75e-6,
            gas_density: 1.2,
            gas_viscosity: 1.8e-5,
        };
        let motion = Motion { drag: DragTable::get(), rate: 1.0, square_per_slip: 0.0, gravity: 0.0, lift: Some(lift) };
        let radial = |v: [f64; 2], gas: [f64; 3]| motion.forces(v, gas).1[0];
        let expected = 0.006_120_6;
        // In bore and jet the gas is fastest on the axis: its shear is negative at positive radius. Through the cone droplets lag: inward.
        let lagging = radial([0.0, 0.5], [0.0, 1.0, -1.0]);
        assert!((lagging / -expected - 1.0).abs() < 1e-4, "{lagging}");
        // On the other side of the axis shear and force change sign: inward again.
        assert!((radial([0.0, 0.5], [0.0, 1.0, 1.0]) / expected - 1.0).abs() < 1e-4);
        // Near the plate the gas slows down and droplets run ahead of it: outward.
        let ahead = radial([0.0, 0.8], [0.0, 0.3, -1.0]);
        assert!((ahead / expected - 1.0).abs() < 1e-4, "{ahead}");
        // Slip across the stream alone gives none, and none is there without shear.
        assert_eq!(radial([0.5, 0.3], [0.0, 0.3, -1.0]), 0.0);
        assert_eq!(radial([0.0, 0.5], [0.0, 1.0, 0.0]), 0.0);
    }

    /// The same signs in the flow of a real bore and a solved jet.
    #[test]
    fn gas_in_bore_and_jet_is_fastest_on_the_axis() {
        use crate::jet::bore::shape::Shape;
        let shape = Shape { inlet_radius: 6.0, slope: 0.105, land: 1.0, mixing_length: 5.0 };
        let bore = BoreField::similar(&shape, 0.0);
        for (x, z) in [(0.5, -0.5), (1.0, -3.0), (-0.5, -0.5)] {
            assert!(bore.at(x, z, &mut BoreCell::default()).shear * x < 0.0, "bore at {x}, {z}");
        }
        let numbers = crate::jet::solver::JetNumbers {
            reynolds: 100.0,
            stand_off_ratio: 5.0,
            exit: crate::jet::exit::ExitProfile::Blend(0.0),
            surroundings: crate::jet::solver::Surroundings::Open,
        };
        let solution = crate::jet::solver::solve(numbers, crate::jet::grid::Fineness::Coarse).expect("converges");
        let field = Field::new(&solution);
        for z in [0.5, 3.0, 8.0] {
            let mut cell = Cell::default();
            field.at(0.25, z, &mut cell);
            assert!(field.shear_over_2r(z, cell) < 0.0, "jet at {z}");
        }
    }

    #[test]
    fn the_steps_are_of_second_order_in_a_smooth_gas() {
        // A curved gas without kinks (a solved field has them at its cells' edges, where the order wanders between 1.8 and 2.3), drag
        // beyond Stokes, times of about the relaxation time. Halving the step must
        // quarter the error once steps are small (at larger ones two errors of opposite sign nearly cancel).
        let gas = |x: f64, z: f64| [x * (1.0 + 0.3 * z), 1.0 - z - 0.15 * z * z, 0.0];
        let motion =
            Motion { drag: DragTable::get(), rate: 1.0 / 0.7, square_per_slip: 9.0, gravity: 0.01, lift: None };
        let end = |steps: u32| {
            let mut state = State { x: [0.2, 0.0], v: [0.5, 2.0] };
            for _ in 0..steps {
                state = motion.step(state, 1.0 / f64::from(steps), gas);
            }
            state.x
        };
        let exact = end(8192);
        let (coarse, fine) = (end(128), end(256));
        for (k, exact) in exact.iter().enumerate() {
            let order = ((coarse[k] - exact) / (fine[k] - exact)).log2();
            assert!((order - 2.0).abs() < 0.15, "order {order}");
        }
    }
}
