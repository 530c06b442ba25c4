//! Points that stand for the area of a region.

use motefall_physics::contours::Bounds;
use motefall_physics::inputs::Outline;
use motefall_physics::map::outline;
use std::f64::consts::FRAC_PI_2;

/// How closely points lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Points {
    /// For a figure itself.
    Close,
    /// For what changes it.
    Wide,
}

/// Side of a panel, m, at least, and about the most panels of an outline, of close and of wide points. What a jet leaves has edges, and an
/// edge within a panel is taken for a slope: so panels are small rather than of high order.
const PANEL: f64 = 1e-6;
const MOST_PANELS: [f64; 2] = [1000.0, 300.0];
/// Panels across the shorter side of a rectangle, at least if they are not too small: lines mostly go along the longer one.
const FEWEST_ACROSS: f64 = 24.0;
/// Gauss-Legendre nodes on -1..1, two of them of the weight 1: exact for powers up to the third (Abramowitz & Stegun 1964, table 25.4).
const NODES: [f64; 2] = [-0.577_350_269_189_625_8, 0.577_350_269_189_625_8];

/// A point and the area that it stands for, m^2.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) point: [f64; 2],
    pub(super) area: f64,
}

/// The area that points stand for together, m^2.
pub(super) fn area(places: &[Place]) -> f64 {
    places.iter().map(|place| place.area).sum()
}

/// Points of an outline.
pub(super) fn places(outline: &Outline, points: Points) -> Vec<Place> {
    let Bounds { low, high } = outline::bounds(outline);
    let panel = ((high[0] - low[0]) * (high[1] - low[1]) / MOST_PANELS[points as usize]).sqrt().max(PANEL);
    let nodes = |from: f64, to: f64| nodes(from, to, panel);
    match outline {
        Outline::Rectangle { center, size, rotation } => {
            let (sin, cos) = rotation.sin_cos();
            let short = usize::from(size[1] < size[0]);
            let across = FEWEST_ACROSS.max(size[short] / panel).min((size[short] / PANEL).ceil());
            let panels = |k: usize| if k == short { across } else { MOST_PANELS[points as usize] / across };
            let along = |k: usize| self::nodes(-0.5 * size[k], 0.5 * size[k], (size[k] / panels(k)).max(PANEL));
            let (xs, ys) = (along(0), along(1));
            product(&xs, |_| ys.clone(), |[x, y]| [center[0] + cos * x - sin * y, center[1] + sin * x + cos * y])
        }
        Outline::Disc { center, radius } => {
            // Even in the angle along y, so that nodes crowd where the chord changes fast.
            let angles = nodes(-FRAC_PI_2 * radius, FRAC_PI_2 * radius);
            let ys: Vec<(f64, f64)> = angles
                .iter()
                .map(|(arc, weight)| (center[1] + radius * (arc / radius).sin(), weight * (arc / radius).cos()))
                .collect();
            let chord = |y: f64| {
                let half = (radius * radius - (y - center[1]) * (y - center[1])).max(0.0).sqrt();
                nodes(center[0] - half, center[0] + half)
            };
            product(&ys, chord, |[y, x]| [x, y])
        }
        Outline::Area(area) => {
            let ys = nodes(low[1], high[1]);
            let stretches = |y: f64| area.contours.spans(y).iter().flat_map(|[from, to]| nodes(*from, *to)).collect();
            product(&ys, stretches, |[y, x]| [x, y])
        }
    }
}

fn product(
    outer: &[(f64, f64)],
    inner: impl Fn(f64) -> Vec<(f64, f64)>,
    point: impl Fn([f64; 2]) -> [f64; 2],
) -> Vec<Place> {
    let row = |(u, of_u): &(f64, f64)| -> Vec<Place> {
        inner(*u).iter().map(|(v, of_v)| Place { point: point([*u, *v]), area: of_u * of_v }).collect()
    };
    outer.iter().flat_map(row).collect()
}

/// Nodes and weights over a stretch, in panels about so long.
pub(super) fn nodes(from: f64, to: f64, panel: f64) -> Vec<(f64, f64)> {
    let count = ((to - from) / panel).ceil().max(1.0) as usize;
    let half = 0.5 * (to - from) / count as f64;
    (0..count)
        .flat_map(|k| {
            let middle = from + (2 * k + 1) as f64 * half;
            NODES.map(|node| (middle + half * node, half))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn areas_and_moments_are_those_of_the_shapes() {
        let turned = Outline::Rectangle { center: [1e-6, 2e-6], size: [30e-6, 7e-6], rotation: 0.3 };
        let disc = Outline::Disc { center: [1e-6, 2e-6], radius: 11e-6 };
        let corners = vec![[-9e-6, -4e-6], [11e-6, -4e-6], [1e-6, 14e-6]];
        // Second moments about the middle: a b (a^2 + b^2)/12, pi r^4/2, and of a triangle of base b and height h about its centroid
        // b h (3 b^2 + 4 h^2)/144 (sides equal).
        let (b, h): (f64, f64) = (20e-6, 18e-6);
        for (outline, area, moment) in [
            (turned, 210e-12, 210e-12 * (900e-12 + 49e-12) / 12.0),
            (disc, std::f64::consts::PI * 121e-12, std::f64::consts::PI * 11e-6_f64.powi(4) / 2.0),
            (Outline::polygon(corners), 0.5 * b * h, b * h * (3.0 * b * b + 4.0 * h * h) / 144.0),
        ] {
            let all = places(&outline, Points::Wide);
            let sum: f64 = all.iter().map(|place| place.area).sum();
            let about = |p: [f64; 2]| (p[0] - 1e-6).powi(2) + (p[1] - 2e-6).powi(2);
            let second: f64 = all.iter().map(|place| place.area * about(place.point)).sum();
            assert!((sum / area - 1.0).abs() < 1e-6 && (second / moment - 1.0).abs() < 1e-6, "{sum:e} {second:e}");
        }
    }
}
