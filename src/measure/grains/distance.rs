//! Distances to what is not covered.

use crate::raster::Raster;

/// Farther than any two places of a picture.
const FAR: f64 = 1e20;

/// How far each place lies inside of what is covered, pixels from its outline: half a pixel in the outermost ones, negative outside. Outside
/// the picture is neither.
pub(crate) fn inside_distance(mask: &Raster<bool>) -> Raster<f32> {
    let mut inside = squared(mask, true);
    let outside = squared(mask, false);
    for (value, other) in inside.values.iter_mut().zip(&outside.values) {
        *value = if *value > 0.0 { value.sqrt() - 0.5 } else { 0.5 - other.sqrt() };
    }
    inside
}

/// Squared distance of each place that is so to the nearest one that is not.
///
/// Source: Felzenszwalb & Huttenlocher 2012, Distance transforms of sampled functions, Theory Comput. 8:415.
fn squared(mask: &Raster<bool>, so: bool) -> Raster<f32> {
    let mut out = mask.map(|v| if v == so { FAR as f32 } else { 0.0 });
    let (columns, rows) = (mask.columns, mask.rows);
    let mut envelope = Envelope::new(columns.max(rows));
    let mut line = vec![0.0; rows];
    for column in 0..columns {
        for (row, value) in line.iter_mut().enumerate() {
            *value = f64::from(out.values[row * columns + column]);
        }
        envelope.lower(&line, |row, value| out.values[row * columns + column] = value as f32);
    }
    let mut line = vec![0.0; columns];
    for row in 0..rows {
        for (column, value) in line.iter_mut().enumerate() {
            *value = f64::from(out.values[row * columns + column]);
        }
        envelope.lower(&line, |column, value| out.values[row * columns + column] = value as f32);
    }
    out
}

/// The lower envelope of parabolas.
struct Envelope {
    at: Vec<usize>,
    from: Vec<f64>,
}

impl Envelope {
    fn new(longest: usize) -> Self {
        Self { at: vec![0; longest], from: vec![0.0; longest + 1] }
    }

    fn lower(&mut self, values: &[f64], mut put: impl FnMut(usize, f64)) {
        let (at, from) = (&mut self.at, &mut self.from);
        let mut last = 0;
        at[0] = 0;
        from[0] = -FAR;
        from[1] = FAR;
        let own = |q: usize| values[q] + (q * q) as f64;
        for q in 1..values.len() {
            let meets = |p: usize| (own(q) - own(p)) / (2.0 * (q - p) as f64);
            let mut meeting = meets(at[last]);
            while last > 0 && meeting <= from[last] {
                last -= 1;
                meeting = meets(at[last]);
            }
            // The first parabola of all is hidden if the new one lies below it everywhere.
            last += 1;
            at[last] = q;
            from[last] = meeting;
            from[last + 1] = FAR;
        }
        let mut k = 0;
        for q in 0..values.len() {
            while from[k + 1] < q as f64 {
                k += 1;
            }
            put(q, (q as f64 - at[k] as f64).powi(2) + values[at[k]]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_those_found_by_trying_all() {
        let mut mask = Raster::filled(23, 17, true);
        let mut state = 5u32;
        for value in &mut mask.values {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *value = state >> 28 > 1;
        }
        let found = inside_distance(&mask);
        let place = |k: usize| ((k % 23) as f64, (k / 23) as f64);
        for k in 0..mask.area() {
            let nearest = (0..mask.area())
                .filter(|other| mask.values[*other] != mask.values[k])
                .map(|other| ((place(k).0 - place(other).0).powi(2) + (place(k).1 - place(other).1).powi(2)).sqrt())
                .fold(f64::MAX, f64::min);
            let expected = if mask.values[k] { nearest - 0.5 } else { 0.5 - nearest };
            assert!((f64::from(found.values[k]) - expected).abs() < 1e-5, "{k}");
        }
    }
}
