//! Which part of the chip is shown.

use crate::picture::View;
use motefall_figures::Prediction;
use motefall_physics::inputs::{Region, Role};
use ndarray::Array2;

/// Sum of all powders' thickness maps.
pub(crate) fn total_thickness(p: &Prediction) -> Array2<f64> {
    let mut total = Array2::zeros(p.maps.coverage.dim());
    for map in &p.maps.thickness {
        total += map;
    }
    total
}

/// The region that is to be printed on, or the first one.
pub(crate) fn main_region(p: &Prediction) -> Option<&Region> {
    p.inputs.regions.iter().find(|r| r.role == Role::Target).or(p.inputs.regions.first())
}

/// Where the deposit is: its centre of mass within a view; the view's middle if it is bare.
fn centre_of_mass(p: &Prediction, total: &Array2<f64>, view: &View) -> [f64; 2] {
    let grid = &p.maps.grid;
    let (mut sum, mut x, mut y) = (0.0, 0.0, 0.0);
    for ((row, column), v) in total.indexed_iter() {
        let px = grid.origin[0] + (column as f64 + 0.5) * grid.pitch;
        let py = grid.origin[1] + (row as f64 + 0.5) * grid.pitch;
        if *v > 0.0 && px >= view.x[0] && px <= view.x[1] && py >= view.y[0] && py <= view.y[1] {
            sum += v;
            x += v * px;
            y += v * py;
        }
    }
    if sum > 0.0 { [x / sum, y / sum] } else { [0.5 * (view.x[0] + view.x[1]), 0.5 * (view.y[0] + view.y[1])] }
}

/// The part that is enlarged: around the deposit on the target.
pub(super) fn close_view(p: &Prediction, total: &Array2<f64>, width: f64, height: f64) -> View {
    let whole = View::of_grid(&p.maps.grid);
    let area = main_region(p).map(View::of_region).filter(|b| b.overlaps(&whole)).unwrap_or(whole);
    let [cx, cy] = centre_of_mass(p, total, &area);
    View { x: [cx - width / 2.0, cx + width / 2.0], y: [cy - height / 2.0, cy + height / 2.0] }
}

/// Width of the particle picture: the target with some margin, so that a middling particle stays visible.
pub(super) fn close_width(p: &Prediction) -> f64 {
    let breadth = main_region(p).map_or(30e-6, |r| {
        let b = View::of_region(r);
        b.width().min(b.height())
    });
    let mut diameters: Vec<f64> = p.pile.particles().iter().map(|p| p.diameter).collect();
    let visible = if diameters.is_empty() {
        40e-6
    } else {
        let middle = diameters.len() / 2;
        150.0 * *diameters.select_nth_unstable_by(middle, f64::total_cmp).1
    };
    (1.3 * breadth).min(visible).clamp(4e-6, 40e-6)
}
