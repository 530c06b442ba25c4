//! What settings that were printed tell of themselves and of others.

use super::Values;
use super::desk::OfPrint;

/// Prints that told a figure, counted besides those that were made: where a few told nothing, the next may.
const TOLD_BESIDES: f64 = 0.5;

/// A setting that was printed.
pub(super) struct Tried {
    pub(super) values: Values,
    pub(super) places: Vec<f64>,
    /// Of the figure of each limit: mean and standard deviation over the prints that told it, and their number.
    pub(super) moments: Vec<Option<[f64; 3]>>,
    /// Of each limit: the expected mean thickness at its place.
    drivers: Vec<Option<f64>>,
    /// Prints, and of each limit how many of them told its figure.
    prints: f64,
    telling: Vec<f64>,
}

impl Tried {
    pub(super) fn new(values: Values, places: Vec<f64>, prints: &[OfPrint], drivers: Vec<Option<f64>>) -> Self {
        let telling = |k: usize| prints.iter().filter(|print| print[k].is_some()).count() as f64;
        Self {
            values,
            places,
            moments: (0..drivers.len()).map(|k| moments(prints, k)).collect(),
            telling: (0..drivers.len()).map(telling).collect(),
            drivers,
            prints: prints.len() as f64,
        }
    }

    /// How much a setting at some places is like this one.
    fn likeness(&self, places: &[f64]) -> f64 {
        let distance: f64 = places.iter().zip(&self.places).map(|(a, b)| (a - b).powi(2)).sum();
        1.0 / (distance + 1e-4).powi(2)
    }
}

/// Share of the prints of a setting that tell the figure of a limit, by those that were made of it and its like; 1 where all that were made
/// anywhere told it.
pub(super) fn share_telling(tried: &[Tried], k: usize, places: &[f64]) -> f64 {
    if tried.iter().all(|other| other.telling[k] == other.prints) {
        return 1.0;
    }
    let (mut telling, mut all) = (TOLD_BESIDES, TOLD_BESIDES);
    let nearest = tried.iter().map(|other| other.likeness(places)).fold(0.0, f64::max);
    for other in tried {
        // Prints of what is alike count as the setting's own.
        let weight = other.likeness(places) / nearest;
        telling += weight * other.telling[k];
        all += weight * other.prints;
    }
    telling / all
}

/// A figure that only prints tell, of a setting that was not printed: by the nearest that were, in proportion to the mean thickness at its
/// place (`here`) if it has one.
pub(super) fn by_neighbours(tried: &[Tried], k: usize, places: &[f64], here: Option<f64>) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for other in tried {
        let Some([mean, ..]) = other.moments[k].filter(|[mean, ..]| *mean > 0.0) else { continue };
        let scaled = match (here, other.drivers[k]) {
            (Some(here), Some(there)) => mean * here / there,
            _ => mean,
        };
        let weight = other.likeness(places);
        sum += weight * scaled.ln();
        weights += weight;
    }
    (weights > 0.0).then(|| (sum / weights).exp())
}

/// Mean and standard deviation of a figure over prints, and how many told it.
fn moments(prints: &[OfPrint], k: usize) -> Option<[f64; 3]> {
    let values: Vec<f64> = prints.iter().filter_map(|print| Some(print[k]?.0)).collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (n > 1.0).then(|| [mean, (squares / (n - 1.0)).sqrt(), n])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tried(place: f64, told: usize, of: usize) -> Tried {
        let prints: Vec<OfPrint> = (0..of).map(|print| vec![(print < told).then_some((1.0, false))]).collect();
        Tried::new(vec![place], vec![place], &prints, vec![None])
    }

    #[test]
    fn what_a_print_cannot_tell_counts_where_it_happens() {
        // What all tell is no matter.
        let all = [tried(0.1, 16, 16), tried(0.6, 40, 40)];
        assert_eq!(share_telling(&all, 0, &[0.3]), 1.0);
        // Its own prints tell most of a setting: 16.5 of 16.5, and 8.5 of 16.5.
        let some = [tried(0.1, 16, 16), tried(0.6, 8, 16)];
        assert!(share_telling(&some, 0, &[0.1]) > 0.999);
        assert!((share_telling(&some, 0, &[0.6]) - 8.5 / 16.5).abs() < 1e-3);
        // Halfway between the two: 24.5 of 32.5.
        assert!((share_telling(&some, 0, &[0.35]) - 24.5 / 32.5).abs() < 1e-3);
    }
}
