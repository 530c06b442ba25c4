//! What a chip takes on the bench: time and ink, with warm-up and chip change.

use crate::electrode_view::HOUR;
use motefall_physics::inputs::{Inputs, Layer};

/// Time and ink of a print and of a chip. Ink is at the set output: the mist runs while the shutter is closed, whatever becomes of it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct BenchUse {
    /// Whole time of the print with moves and pauses, s.
    pub print_time: f64,
    /// Ink that leaves the vials as mist while the stage is at work, m^3.
    pub ink_used: f64,
    /// Time from chip to chip: print, chip change, and its share of the warm-up, s.
    pub time_per_chip: f64,
    /// Ink that leaves the vials as mist from chip to chip, m^3.
    pub ink_per_chip: f64,
    /// Whole chips that the fills of the vials are enough for; `None` if no fill is given.
    pub chips_per_fill: Option<f64>,
    /// Share of the solids that has settled when the last chip of a fill is done, 0 to 1; `None` if no settling is given.
    pub settled: Option<f64>,
}

impl BenchUse {
    /// From the time of each layer with its moves, s.
    pub fn new(inputs: &Inputs, print_times: &[f64]) -> Self {
        let layers = || inputs.layers.iter().zip(print_times.iter().copied());
        let print_time = layers().map(|(layer, time)| layer.pause + time).sum();
        let ink_used = layers().map(|(layer, time)| ink_rate(layer) * time).sum();
        let ink_per_chip = layers().map(|(layer, time)| Vial::of(layer, time).per_chip()).sum();
        let fills = layers().filter_map(|(layer, time)| Some(Vial::of(layer, time).chips(layer.atomiser.fill?)));
        let chips_per_fill = fills.min_by(f64::total_cmp);
        // Vials of later layers warm up while the first prints, or in the pause before them.
        let warm_up = inputs.layers.first().map_or(0.0, |first| first.output.warm_up / chips_of_warm_up(first));
        let change = inputs.layers.iter().map(|layer| layer.output.chip_change).fold(0.0, f64::max);
        let time_per_chip = warm_up + print_time + change;
        let settled = |layer: &Layer| {
            let chips = chips_per_fill.unwrap_or_else(|| chips_of_warm_up(layer)).max(1.0);
            Some(settled(layer.ink.settling?, chips * time_per_chip))
        };
        let settled = inputs.layers.iter().filter_map(settled).max_by(f64::total_cmp);
        Self { print_time, ink_used, time_per_chip, ink_per_chip, chips_per_fill, settled }
    }
}

/// Ink that leaves a layer's vial as mist, m^3/s.
fn ink_rate(layer: &Layer) -> f64 {
    layer.atomiser.mist_load * layer.flows.carrier.0
}

fn chips_of_warm_up(layer: &Layer) -> f64 {
    f64::from(layer.output.chips_per_warm_up)
}

/// Share that has settled after a time (s) at a rate (the share of the first hour, per s): each hour takes the same share of what is left.
fn settled(rate: f64, time: f64) -> f64 {
    1.0 - (1.0 - rate * HOUR).max(0.0).powf(time / HOUR)
}

/// What a vial gives, m^3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vial {
    /// During a warm-up.
    pub warm_up: f64,
    /// During a print and the change of the chip after it.
    pub chip: f64,
    /// Chips printed after one warm-up.
    chips_of_warm_up: f64,
}

impl Vial {
    /// Of a layer that takes a time with its moves, s.
    pub fn of(layer: &Layer, print_time: f64) -> Self {
        let rate = ink_rate(layer);
        Self {
            warm_up: rate * layer.output.warm_up,
            chip: rate * (print_time + layer.output.chip_change),
            chips_of_warm_up: chips_of_warm_up(layer),
        }
    }

    /// With its share of the warm-up.
    fn per_chip(self) -> f64 {
        self.chip + self.warm_up / self.chips_of_warm_up
    }

    /// Whole chips that a fill (m^3) is enough for: so many after each warm-up, the last warm-up for fewer.
    pub fn chips(self, fill: f64) -> f64 {
        let sessions = (fill / (self.chips_of_warm_up * self.per_chip())).floor();
        let left = fill - sessions * self.chips_of_warm_up * self.per_chip();
        let more = ((left - self.warm_up) / self.chip).floor();
        sessions * self.chips_of_warm_up + more.clamp(0.0, self.chips_of_warm_up)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use motefall_physics::units::StandardFlow;

    /// 12 sccm of carrier with 10 µL of ink per litre: 0.12 µL a minute. A print of 2 min, 3 min to change the chip, a warm-up of 10 min for
    /// every 4 chips.
    fn inputs(fill: Option<f64>) -> Inputs {
        let mut inputs = testing::inputs();
        let layer = &mut inputs.layers[0];
        layer.flows.carrier = StandardFlow(12e-6 / 60.0);
        layer.atomiser.mist_load = 1e-5;
        layer.atomiser.fill = fill;
        layer.output.warm_up = 600.0;
        layer.output.chip_change = 180.0;
        layer.output.chips_per_warm_up = 4;
        layer.ink.settling = Some(0.1 / HOUR);
        inputs
    }

    fn near(value: f64, known: f64) -> bool {
        (value / known - 1.0).abs() < 1e-9
    }

    #[test]
    fn a_chip_by_hand() {
        let used = BenchUse::new(&inputs(None), &[120.0]);
        assert!(near(used.print_time, 120.0) && near(used.ink_used, 0.24e-9), "{used:?}");
        // 2 + 3 + 10/4 = 7.5 min, and 0.12 µL in each of them.
        assert!(near(used.time_per_chip, 450.0) && near(used.ink_per_chip, 0.9e-9), "{used:?}");
        assert_eq!(used.chips_per_fill, None);
        // Four chips take half an hour: 1 - sqrt(0.9).
        assert!(near(used.settled.expect("given"), 0.051_316_701_949_486), "{used:?}");
    }

    #[test]
    fn the_chips_of_a_fill_by_hand() {
        // Four chips with their warm-up take 3.6 µL, a warm-up 1.2 µL, each further chip 0.6 µL.
        for (microlitres, chips) in
            [(1.7, 0.0), (1.81, 1.0), (3.59, 3.0), (3.61, 4.0), (5.3, 4.0), (5.5, 5.0), (7.3, 8.0)]
        {
            let used = BenchUse::new(&inputs(Some(microlitres * 1e-9)), &[120.0]);
            assert_eq!(used.chips_per_fill, Some(chips), "{microlitres} µL");
        }
        // Eight chips take an hour.
        let used = BenchUse::new(&inputs(Some(7.3e-9)), &[120.0]);
        assert!(near(used.settled.expect("given"), 0.1), "{used:?}");
    }

    #[test]
    fn of_layers_the_vial_that_is_empty_first_counts() {
        let mut inputs = inputs(Some(1e-6));
        let mut second = inputs.layers[0].clone();
        (second.pause, second.atomiser.fill, second.output.chips_per_warm_up) = (60.0, Some(1.81e-9), 1);
        inputs.layers.push(second);
        let used = BenchUse::new(&inputs, &[120.0, 240.0]);
        // 2 + 1 + 4 min of print, 3 min of change, 2.5 min of the first warm-up.
        assert!(near(used.time_per_chip, 750.0), "{used:?}");
        // 0.9 µL; and 4 + 3 + 10 min of 0.12 µL, more than the fill.
        assert!(near(used.ink_per_chip, 2.94e-9) && used.chips_per_fill == Some(0.0), "{used:?}");
    }
}
