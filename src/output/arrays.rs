//! Maps and particles as arrays that numpy loads.

use motefall_figures::{FarMap, Particle, Pile};
use ndarray::{Array1, Array2};
use ndarray_npy::{NpzWriter, WriteNpyExt, WriteNpzError};
use std::io::Cursor;

/// A map as `.npy`, 32-bit floats, values times `factor`.
pub(crate) fn npy(map: &Array2<f64>, factor: f64) -> Result<Vec<u8>, ndarray_npy::WriteNpyError> {
    let mut bytes = Vec::with_capacity(map.len() * 4 + 128);
    map.mapv(|v| (v * factor) as f32).write_npy(&mut bytes)?;
    Ok(bytes)
}

/// Particles per tile of the coarse map in a print, mean of the prints.
pub(crate) fn far(far: &FarMap) -> Result<Vec<u8>, ndarray_npy::WriteNpyError> {
    let grid = far.grid();
    let counts = Array2::from_shape_fn((grid.rows, grid.columns), |(row, column)| far.count(row, column) as f64);
    npy(&counts, 1.0 / f64::from(far.prints().max(1)))
}

/// The particles as `.npz`: `x_um`, `y_um`, `z_um`, `diameter_um` (32-bit floats), `powder` (16-bit), `droplet` (64-bit).
pub(crate) fn particles_npz(pile: &Pile) -> Result<Vec<u8>, WriteNpzError> {
    let particles = pile.particles();
    let mut npz = NpzWriter::new(Cursor::new(Vec::new()));
    let column =
        |value: fn(&Particle) -> f64| particles.iter().map(|p| (value(p) * 1e6) as f32).collect::<Array1<f32>>();
    npz.add_array("x_um", &column(|p| p.x))?;
    npz.add_array("y_um", &column(|p| p.y))?;
    npz.add_array("z_um", &pile.heights().iter().map(|z| (z * 1e6) as f32).collect::<Array1<f32>>())?;
    npz.add_array("diameter_um", &column(|p| p.diameter))?;
    npz.add_array("powder", &particles.iter().map(|p| p.powder).collect::<Array1<u16>>())?;
    npz.add_array("droplet", &particles.iter().map(|p| p.droplet).collect::<Array1<u64>>())?;
    Ok(npz.finish()?.into_inner())
}
