//! What the electron beam sees of a print: how deep each place is in mean free paths, and how bright it looks.

use super::Particle;
use motefall_physics::inputs::{Beam, Inputs, Powder};
use motefall_physics::materials::beam;
use ndarray::Array2;

/// Share of the beam that crosses without inelastic scattering: exp(-t/lambda).
///
/// t thickness and lambda inelastic mean free path, m. It is the zero-loss share, and the brightness of a bright-field picture as far as
/// inelastic scattering makes it; elastic scattering out of a small aperture and diffraction come on top. Any depth.
/// Source: Poisson law of plural scattering, t/lambda = ln(It/I0), Egerton 2011, Electron energy-loss spectroscopy in the electron
/// microscope, 3rd ed., ch. 5.1.
pub fn transmitted(depth: f64) -> f64 {
    (-depth).exp()
}

/// Depth of the layers besides the deposit (membranes, liquid) in mean free paths: sum of t/lambda.
pub fn layers_depth(beam: &Beam) -> f64 {
    beam.layers.iter().map(|layer| layer.thickness / layer.mean_free_path).sum()
}

/// Inelastic mean free path of each powder of [`Inputs::powders`] at the beam's voltage, m: as given, or from the density.
pub fn mean_free_paths(inputs: &Inputs) -> Vec<f64> {
    let path = |powder: &&Powder| {
        powder.mean_free_path.unwrap_or_else(|| beam::mean_free_path(powder.density, inputs.beam.voltage))
    };
    inputs.powders().iter().map(path).collect()
}

/// Depth of each pixel in mean free paths, deposit and layers together. `thickness` per powder, m; its mean free path, m.
pub fn depth_map(thickness: &[Array2<f64>], mean_free_paths: &[f64], beam: &Beam) -> Option<Array2<f64>> {
    let mut depth = Array2::from_elem(thickness.first()?.dim(), layers_depth(beam));
    for (map, path) in thickness.iter().zip(mean_free_paths) {
        depth.zip_mut_with(map, |depth, thickness| *depth += thickness / path);
    }
    Some(depth)
}

/// Depth at each point of a picture in mean free paths, from the chords of single spheres; row 0 at the top.
///
/// `corner` is the upper left corner and `pitch` the pixel edge, m; a sphere smaller than a pixel is spread over the pixel of its centre.
pub fn depth_picture(
    particles: &[Particle],
    mean_free_paths: &[f64],
    beam: &Beam,
    corner: [f64; 2],
    pitch: f64,
    [rows, columns]: [usize; 2],
) -> Array2<f64> {
    let mut depth = Array2::from_elem((rows, columns), layers_depth(beam));
    for p in particles {
        let path = mean_free_paths[usize::from(p.powder)];
        let (u, v) = ((p.x - corner[0]) / pitch, (corner[1] - p.y) / pitch);
        let radius = 0.5 * p.diameter / pitch;
        if radius < 0.5 {
            if u >= 0.0 && v >= 0.0 && u < columns as f64 && v < rows as f64 {
                let volume = std::f64::consts::PI / 6.0 * p.diameter.powi(3);
                depth[[v as usize, u as usize]] += volume / (pitch * pitch * path);
            }
            continue;
        }
        let range = |at: f64, count: usize| {
            let first = (at - radius).floor().max(0.0) as usize;
            first..((at + radius).ceil().max(0.0) as usize).min(count)
        };
        for row in range(v, rows) {
            for column in range(u, columns) {
                let (dx, dy) = (column as f64 + 0.5 - u, row as f64 + 0.5 - v);
                let left = radius * radius - dx * dx - dy * dy;
                if left > 0.0 {
                    depth[[row, column]] += 2.0 * left.sqrt() * pitch / path;
                }
            }
        }
    }
    depth
}

/// A region's area by what the beam can do with it; counts of sub-pixels.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct AreaCounts {
    /// Under no particle, where the layers alone do not exceed the limit.
    pub(crate) bare: u64,
    /// Under a particle, and not too thick.
    pub(crate) usable: u64,
    /// Under a particle, where all layers together exceed the limit; everything if the layers alone do.
    pub(crate) too_thick: u64,
}

impl AreaCounts {
    /// Counts sub-pixels of a region: those covered and those bare, and whether each kind is too thick.
    #[inline]
    pub(crate) fn add(&mut self, covered: u64, bare: u64, covered_too_thick: bool, bare_too_thick: bool) {
        // No branch: whether a square is too thick is not to be guessed.
        let part = |all: u64, counts: bool| all * u64::from(counts);
        self.too_thick += part(covered, covered_too_thick) + part(bare, bare_too_thick);
        self.usable += part(covered, !covered_too_thick);
        self.bare += part(bare, !bare_too_thick);
    }

    /// All that was counted.
    pub(crate) fn total(&self) -> u64 {
        self.bare + self.usable + self.too_thick
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_physics::inputs::BeamLayer;

    fn beam() -> Beam {
        let layer = |thickness, mean_free_path| BeamLayer { material: "film".into(), thickness, mean_free_path };
        Beam { voltage: 200e3, layers: vec![layer(100e-9, 140e-9), layer(500e-9, 200e-9)], limit: 4.0 }
    }

    #[test]
    fn a_film_and_its_layers_by_hand() {
        // 100/140 + 500/200 = 0.714286 + 2.5; with 60 nm of 120 nm and 30 nm of 150 nm: + 0.5 + 0.2 = 3.914286.
        assert!((layers_depth(&beam()) - 3.214_286).abs() < 1e-6);
        let films = [60e-9, 30e-9].map(|t| Array2::from_elem((2, 3), t));
        let depth = depth_map(&films, &[120e-9, 150e-9], &beam()).expect("two films");
        assert!(depth.iter().all(|d| (d - 3.914_286).abs() < 1e-6));
        assert!((transmitted(depth[[0, 0]]) - 0.019_955).abs() < 1e-6);
        assert!(depth_map(&[], &[], &beam()).is_none());
    }

    #[test]
    fn chords_of_spheres_keep_their_volume() {
        let ball = |x: f64, y: f64, diameter: f64| Particle { x, y, diameter, powder: 0, droplet: 0 };
        let bare = Beam { layers: vec![], ..beam() };
        let at = |particles: &[Particle]| depth_picture(particles, &[100e-9], &bare, [-1e-6, 1e-6], 20e-9, [100, 100]);
        let depth = at(&[ball(10e-9, 10e-9, 600e-9)]);
        // Through the middle: 600/100. A row is counted from the top: y = 10 nm lies in row 49.
        assert!((depth[[49, 50]] - 6.0).abs() < 1e-9);
        // pi/6 0.6^3 um^3 over the pixel's area and the mean free path; the sum over pixels is good to about 1 %.
        let volume = depth.sum() * 100e-9 * (20e-9f64).powi(2);
        assert!((volume / (std::f64::consts::PI / 6.0 * 0.216e-18) - 1.0).abs() < 0.01, "{volume}");
        // A speck within one pixel keeps all of its volume.
        let speck = at(&[ball(-0.5e-6, 0.3e-6, 10e-9)]);
        assert!((speck.sum() * 100e-9 * (20e-9f64).powi(2) / (std::f64::consts::PI / 6.0 * 1e-24) - 1.0).abs() < 1e-12);
        assert_eq!(at(&[ball(3e-6, 0.0, 10e-9), ball(3e-6, 0.0, 600e-9)]).sum(), 0.0);
    }

    #[test]
    fn each_sub_pixel_counts_once() {
        let mut area = AreaCounts::default();
        area.add(8, 56, false, false);
        area.add(12, 4, true, false);
        area.add(0, 4, false, false);
        assert_eq!(area, AreaCounts { bare: 56 + 4 + 4, usable: 8, too_thick: 12 });
        area.add(1, 3, true, true);
        assert_eq!(area, AreaCounts { bare: 56 + 4 + 4, usable: 8, too_thick: 12 + 4 });
        assert_eq!(area.total(), 64 + 16 + 4 + 4);
    }
}
