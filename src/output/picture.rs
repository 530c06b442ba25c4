//! Pictures as PNG: colour maps of the chip, and the deposit at particle scale as seen from above.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use motefall_figures::{Grid, Pile};
use motefall_physics::contours::{Bounds, Contours};
use motefall_physics::inputs::{Region, Role};
use motefall_physics::map::outline::{self, as_contours};
use ndarray::Array2;
use std::borrow::Cow;

/// A part of the chip plane, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct View {
    /// Left and right.
    pub(crate) x: [f64; 2],
    /// Lower and upper.
    pub(crate) y: [f64; 2],
}

impl View {
    /// The whole grid.
    pub(crate) fn of_grid(grid: &Grid) -> Self {
        let [x, y] = grid.origin;
        Self { x: [x, x + grid.pitch * grid.columns as f64], y: [y, y + grid.pitch * grid.rows as f64] }
    }

    /// All of a box.
    pub(crate) fn of_bounds(Bounds { low, high }: Bounds) -> Self {
        Self { x: [low[0], high[0]], y: [low[1], high[1]] }
    }

    /// Smallest view around a region.
    pub(crate) fn of_region(region: &Region) -> Self {
        Self::of_bounds(outline::bounds(&region.outline))
    }

    /// Width, m.
    pub(crate) fn width(&self) -> f64 {
        self.x[1] - self.x[0]
    }

    /// Height, m.
    pub(crate) fn height(&self) -> f64 {
        self.y[1] - self.y[0]
    }

    /// Whether two views share any area.
    pub(crate) fn overlaps(&self, other: &View) -> bool {
        self.x[0] < other.x[1] && other.x[0] < self.x[1] && self.y[0] < other.y[1] && other.y[0] < self.y[1]
    }
}

/// A map cut to a view and thinned to a number of pixels; row 0 at the top as pictures have it.
#[derive(Debug, Clone)]
pub(crate) struct Raster {
    /// What it shows (whole map pixels around the asked view), m.
    pub(crate) view: View,
    /// Values; NaN does not occur.
    pub(crate) values: Array2<f64>,
}

/// Cuts a view out of a map; blocks of pixels are averaged until neither side has more than `most` pixels.
/// `None` if the view lies beside the map.
pub(crate) fn cut(grid: &Grid, map: &Array2<f64>, view: &View, most: usize) -> Option<Raster> {
    let (rows, columns) = map.dim();
    let range = |low: f64, high: f64, origin: f64, n: usize| -> Option<(usize, usize)> {
        let first = ((low - origin) / grid.pitch + 1e-6).floor().max(0.0) as usize;
        let last = ((high - origin) / grid.pitch - 1e-6).ceil().clamp(0.0, n as f64) as usize;
        (first < last).then_some((first, last))
    };
    let (c0, c1) = range(view.x[0], view.x[1], grid.origin[0], columns)?;
    let (r0, r1) = range(view.y[0], view.y[1], grid.origin[1], rows)?;
    let block = (c1 - c0).max(r1 - r0).div_ceil(most.max(1)).max(1);
    let size = ((r1 - r0).div_ceil(block), (c1 - c0).div_ceil(block));
    let mut values = Array2::zeros(size);
    for i in 0..size.0 {
        for j in 0..size.1 {
            let (a0, b0) = (r0 + i * block, c0 + j * block);
            let (a1, b1) = ((a0 + block).min(r1), (b0 + block).min(c1));
            let mut sum = 0.0;
            for a in a0..a1 {
                sum += (b0..b1).map(|b| map[[a, b]]).filter(|v| v.is_finite()).sum::<f64>();
            }
            values[[size.0 - 1 - i, j]] = sum / ((a1 - a0) * (b1 - b0)) as f64;
        }
    }
    let shown = View {
        x: [
            grid.origin[0] + c0 as f64 * grid.pitch,
            grid.origin[0] + (c0 + size.1 * block).min(columns.max(c1)) as f64 * grid.pitch,
        ],
        y: [
            grid.origin[1] + r0 as f64 * grid.pitch,
            grid.origin[1] + (r0 + size.0 * block).min(rows.max(r1)) as f64 * grid.pitch,
        ],
    };
    Some(Raster { view: shown, values })
}

/// The part of a map that holds nearly all of it (0.5 to 99.5 % along each side), with a margin; `None` if it is bare.
pub(crate) fn where_it_is(grid: &Grid, map: &Array2<f64>) -> Option<View> {
    let (mut by_column, mut by_row) = (vec![0.0; grid.columns], vec![0.0; grid.rows]);
    for ((row, column), v) in map.indexed_iter().filter(|(_, v)| v.is_finite()) {
        by_column[column] += v;
        by_row[row] += v;
    }
    let span = |sums: &[f64], origin: f64| {
        let total: f64 = sums.iter().sum();
        let mut sum = 0.0;
        let (mut first, mut last) = (None, 0);
        for (i, v) in sums.iter().enumerate() {
            sum += v;
            if sum > 0.005 * total && first.is_none() {
                first = Some(i);
            }
            if sum <= 0.995 * total {
                last = i + 1;
            }
        }
        first.map(|first| [origin + first as f64 * grid.pitch, origin + (last + 1) as f64 * grid.pitch])
    };
    let (x, y) = (span(&by_column, grid.origin[0])?, span(&by_row, grid.origin[1])?);
    let margin = (0.2 * (x[1] - x[0]).max(y[1] - y[0])).max(4.0 * grid.pitch);
    Some(View { x: [x[0] - margin, x[1] + margin], y: [y[0] - margin, y[1] + margin] })
}

/// Value at the bright end of the colour bar: the 99th percentile of what is not bare, rounded up to two digits, so that
/// a few tall grains do not darken everything else.
pub(crate) fn top_value(map: &Array2<f64>) -> f64 {
    let mut values: Vec<f64> = map.iter().copied().filter(|v| *v > 0.0 && v.is_finite()).collect();
    if values.is_empty() {
        return 0.0;
    }
    let place = ((values.len() - 1) as f64 * 0.99) as usize;
    let (_, value, _) = values.select_nth_unstable_by(place, f64::total_cmp);
    let power = 10f64.powi(value.log10().floor() as i32 - 1);
    (*value / power).ceil() * power
}

/// Colour of what is bare: apart from every colour of the scale, so that single stray particles show.
pub(crate) const BARE: [u8; 3] = [17, 19, 24];

/// The colour map: even to the eye, readable without colour vision and in grey print. Its darkest part is left out, for
/// contrast to [`BARE`].
pub(crate) fn colour(share: f64) -> [u8; 3] {
    let c = colorous::VIRIDIS.eval_continuous(0.1 + 0.9 * share.clamp(0.0, 1.0));
    [c.r, c.g, c.b]
}

/// PNG of a map: [`BARE`] where there is nothing, otherwise [`colour`] from 0 to `top`.
pub(crate) fn map_png(values: &Array2<f64>, top: f64) -> Result<Vec<u8>, png::EncodingError> {
    let (rows, columns) = values.dim();
    let palette: Vec<u8> = BARE.into_iter().chain((0..255).flat_map(|i| colour(f64::from(i) / 254.0))).collect();
    let scale = if top > 0.0 { 254.0 / top } else { 0.0 };
    let index = |v: &f64| if *v > 0.0 { 1 + (v * scale).round().min(254.0) as u8 } else { 0 };
    let pixels: Vec<u8> = values.iter().map(index).collect();
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, columns as u32, rows as u32);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_palette(palette);
    encoder.write_header()?.write_image_data(&pixels)?;
    Ok(out)
}

/// PNG of shades from 0 to 1 in [`colour`], [`BARE`] where there is none.
pub(crate) fn shades_png(shades: &Array2<Option<f64>>) -> Result<Vec<u8>, png::EncodingError> {
    let (rows, columns) = shades.dim();
    let pixels: Vec<u8> = shades.iter().flat_map(|shade| shade.map_or(BARE, colour)).collect();
    encoded(&pixels, [rows, columns], png::ColorType::Rgb)
}

/// Grey PNG from black at 0 to white at `top` and above.
pub(crate) fn grey_png(values: &Array2<f64>, top: f64) -> Result<Vec<u8>, png::EncodingError> {
    let (rows, columns) = values.dim();
    let scale = if top > 0.0 { 255.0 / top } else { 0.0 };
    let pixels: Vec<u8> = values.iter().map(|v| (v * scale).round().clamp(0.0, 255.0) as u8).collect();
    encoded(&pixels, [rows, columns], png::ColorType::Grayscale)
}

fn encoded(pixels: &[u8], [rows, columns]: [usize; 2], colours: png::ColorType) -> Result<Vec<u8>, png::EncodingError> {
    let mut out = Vec::new();
    let mut encoder = png::Encoder::new(&mut out, columns as u32, rows as u32);
    encoder.set_color(colours);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.write_header()?.write_image_data(pixels)?;
    Ok(out)
}

const POWDER_TINTS: [[u8; 3]; 6] =
    [[245, 226, 176], [80, 160, 240], [32, 168, 96], [208, 72, 192], [120, 88, 240], [168, 168, 172]];

/// Tints of powders in the particle picture, by index, of the same hues as their curves in plots (`s1`, `s2`, ...): sand,
/// blue, green, magenta, violet, grey. They are told apart without red or green vision, too.
pub(crate) fn powder_tint(powder: usize) -> [u8; 3] {
    POWDER_TINTS[powder % POWDER_TINTS.len()]
}

/// Grey of what carries the particles: metal electrode, membrane, bare chip.
fn ground(role: Option<Role>) -> [f64; 3] {
    match role {
        Some(Role::Target | Role::Counter | Role::Electrode) => [82.0, 84.0, 88.0],
        Some(Role::Window) => [46.0, 48.0, 52.0],
        Some(Role::KeepOut) => [58.0, 58.0, 60.0],
        None => [30.0, 31.0, 34.0],
    }
}

/// The deposit from above, as a PNG of `columns` pixels' width: particles as shaded discs with bright rims (secondary
/// electrons leave a steep flank more easily), lower ones first.
pub(crate) fn particles_png(
    pile: &Pile,
    regions: &[Region],
    view: &View,
    columns: usize,
) -> Result<Vec<u8>, png::EncodingError> {
    let rows = ((columns as f64 * view.height() / view.width()).round() as usize).max(1);
    let per_metre = columns as f64 / view.width();
    let mut pixels = vec![[0.0f64; 3]; rows * columns];

    // Regions that matter more lie on top: windows below electrodes.
    let rank = |role: Role| match role {
        Role::Target | Role::Counter | Role::Electrode => 2,
        Role::KeepOut => 1,
        Role::Window => 0,
    };
    let mut shapes: Vec<(Role, Cow<'_, Contours>)> = regions
        .iter()
        .filter(|r| View::of_region(r).overlaps(view))
        .map(|r| (r.role, as_contours(&r.outline)))
        .collect();
    shapes.sort_by_key(|(role, _)| rank(*role));
    for row in 0..rows {
        let y = view.y[1] - (row as f64 + 0.5) / per_metre;
        let line = &mut pixels[row * columns..][..columns];
        line.fill(ground(None));
        for (role, contours) in &shapes {
            // Pixels whose middle lies inside.
            let column = |x: f64| (((x - view.x[0]) * per_metre - 0.5).ceil().max(0.0) as usize).min(columns);
            for [left, right] in contours.spans(y) {
                line[column(left)..column(right)].fill(ground(Some(*role)));
            }
        }
    }

    let mut order: Vec<_> = pile
        .iter()
        .filter(|(p, _)| {
            let r = p.diameter * 0.7;
            p.x + r > view.x[0] && p.x - r < view.x[1] && p.y + r > view.y[0] && p.y - r < view.y[1]
        })
        .collect();
    order.sort_by(|(_, a), (_, b)| a.total_cmp(b));
    for (particle, _) in order {
        let (cx, cy) = ((particle.x - view.x[0]) * per_metre, (view.y[1] - particle.y) * per_metre);
        let radius = 0.5 * particle.diameter * per_metre;
        let tint = powder_tint(particle.powder as usize).map(f64::from);
        let halo = radius * 1.35 + 0.5;
        let (r0, r1) = ((cy - halo).floor().max(0.0) as usize, ((cy + halo).ceil().max(0.0) as usize).min(rows));
        let (c0, c1) = ((cx - halo).floor().max(0.0) as usize, ((cx + halo).ceil().max(0.0) as usize).min(columns));
        for row in r0..r1 {
            for column in c0..c1 {
                let (dx, dy) = (column as f64 + 0.5 - cx, row as f64 + 0.5 - cy);
                let distance = dx.hypot(dy);
                let pixel = &mut pixels[row * columns + column];
                if distance > radius {
                    let shade = 1.0 - 0.38 * (1.0 - (distance - radius) / (halo - radius)).clamp(0.0, 1.0);
                    *pixel = pixel.map(|v| v * shade);
                }
                let cover = (radius - distance + 0.5).clamp(0.0, 1.0).min((2.0 * radius).powi(2).min(1.0));
                if cover > 0.0 {
                    let out = (distance / radius.max(1e-9)).min(1.0);
                    let slope = 1.0 - (1.0 - out * out).sqrt();
                    let light = 0.60 + 0.42 * slope - 0.10 * (dx + dy) / (radius.max(1.0) * 1.414);
                    for (v, t) in pixel.iter_mut().zip(tint) {
                        *v += cover * ((t * light).min(255.0) - *v);
                    }
                }
            }
        }
    }

    let bytes: Vec<u8> = pixels.iter().flat_map(|p| p.map(|v| v.round().clamp(0.0, 255.0) as u8)).collect();
    encoded(&bytes, [rows, columns], png::ColorType::Rgb)
}

/// A PNG as an address that needs no network.
pub(crate) fn data_address(png: &[u8]) -> String {
    format!("data:image/png;base64,{}", STANDARD.encode(png))
}

#[cfg(test)]
mod tests {
    use super::*;
    use motefall_figures::Particle;
    use motefall_physics::inputs::Outline;

    fn grid(rows: usize, columns: usize) -> Grid {
        Grid { origin: [-2.0e-6, 0.0], pitch: 1e-6, columns, rows }
    }

    #[test]
    fn a_cut_is_flipped_and_keeps_the_mean() {
        let map = Array2::from_shape_fn((4, 4), |(r, c)| (r * 4 + c) as f64);
        let all = cut(&grid(4, 4), &map, &View::of_grid(&grid(4, 4)), 2).expect("inside");
        // Upper left block of the picture: rows 2 and 3, columns 0 and 1: (8 + 9 + 12 + 13) / 4 = 10.5.
        assert_eq!(all.values[[0, 0]], 10.5);
        assert_eq!(all.values.mean(), map.mean());
        assert_eq!(all.view, View::of_grid(&grid(4, 4)));
        let beside = View { x: [1e-3, 2e-3], y: [0.0, 1e-6] };
        assert!(cut(&grid(4, 4), &map, &beside, 2).is_none());
    }

    #[test]
    fn the_deposit_is_found_and_one_tall_grain_does_not_set_the_scale() {
        let g = grid(100, 100);
        let mut map = Array2::zeros((100, 100));
        assert!(where_it_is(&g, &map).is_none());
        assert_eq!(top_value(&map), 0.0);
        // A block of 20 by 20 pixels from row 40 and column 30; the origin lies at (-2, 0) um.
        for (row, column) in (40..60).flat_map(|r| (30..50).map(move |c| (r, c))) {
            map[[row, column]] = 123e-9;
        }
        map[[45, 35]] = 5e-6;
        // 123 nm, rounded up to two digits.
        assert!((top_value(&map) - 130e-9).abs() < 1e-15);
        let view = where_it_is(&g, &map).expect("a deposit");
        // Margin: a fifth of 20 um, at least 4 pixels of 1 um: 4 um on each side; one pixel of play.
        for (found, expected) in [(view.x[0], 24e-6), (view.x[1], 52e-6), (view.y[0], 36e-6), (view.y[1], 64e-6)] {
            assert!((found - expected).abs() <= 1.4e-6, "{found} for {expected}");
        }
    }

    #[test]
    fn shapes_are_filled_where_they_are() {
        // Thumbnails of 40 by 40 pixels over 4 by 4: the middle of a pixel inside takes the shape's grey.
        let view = View { x: [-2.0, 2.0], y: [-2.0, 2.0] };
        let square = Outline::Rectangle { center: [0.0, 0.0], size: [2.0, 2.0], rotation: std::f64::consts::FRAC_PI_4 };
        let disc = Outline::Disc { center: [0.0, 0.0], radius: 1.0 };
        for (outline, inside) in [
            (square, (|x, y| x.abs() + y.abs() < 2f64.sqrt()) as fn(f64, f64) -> bool),
            (disc, |x, y| x * x + y * y < 0.998),
        ] {
            let region = |role| Region { name: "shape".into(), role, outline: outline.clone() };
            let png =
                |regions: &[Region]| pixels_of(&particles_png(&Pile::default(), regions, &view, 40).expect("png"));
            let grey = |role| ground(role)[0] as u8;
            // The electrode lies on the window, whichever comes first.
            for regions in [[region(Role::Window), region(Role::Target)], [region(Role::Target), region(Role::Window)]]
            {
                let shown = png(&regions);
                for (k, pixel) in shown.chunks_exact(3).enumerate() {
                    let (x, y) = (-1.95 + 0.1 * (k % 40) as f64, 1.95 - 0.1 * (k / 40) as f64);
                    let wanted = if inside(x, y) { Some(Role::Target) } else { None };
                    assert_eq!(pixel[0], grey(wanted), "{x} {y}");
                }
            }
        }
    }

    fn pixels_of(png: &[u8]) -> Vec<u8> {
        let mut reader = png::Decoder::new(std::io::Cursor::new(png)).read_info().expect("a png");
        let mut pixels = vec![0; reader.output_buffer_size().expect("a size")];
        reader.next_frame(&mut pixels).expect("pixels");
        pixels
    }

    #[test]
    fn the_higher_particle_hides_the_lower() {
        let view = View { x: [-1e-6, 1e-6], y: [-1e-6, 1e-6] };
        let at = |z, powder| (Particle { x: 0.0, y: 0.0, diameter: 1e-6, powder, droplet: 0 }, z);
        let png = |particles: [(Particle, f64); 2]| {
            particles_png(&particles.into_iter().collect(), &[], &view, 64).expect("png")
        };
        let one = png([at(1e-6, 1), at(0.5e-6, 0)]);
        let other = png([at(0.5e-6, 0), at(1e-6, 1)]);
        let swapped = png([at(1e-6, 0), at(0.5e-6, 1)]);
        assert_eq!(one, other);
        assert_ne!(one, swapped);
    }

    /// CIE L*a*b* of a colour as seen with all cones, without the long ones, and without the middle ones.
    ///
    /// Source: Viénot, Brettel & Mollon 1999, Digital video colourmaps for checking the legibility of displays by dichromats, Color Res.
    /// Appl. 24:243, tables of cone responses and of their reductions (from memory); sRGB and L*a*b* as in IEC 61966-2-1 and CIE 15.
    fn seen(rgb: [u8; 3]) -> [[f64; 3]; 3] {
        let linear = rgb.map(|c| {
            let c = f64::from(c) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        });
        let of = |rows: [[f64; 3]; 3], v: [f64; 3]| rows.map(|row| row.iter().zip(v).map(|(a, b)| a * b).sum::<f64>());
        let cones =
            of([[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]], linear);
        let back = [
            [0.080_944_447_9, -0.130_504_409, 0.116_721_066],
            [-0.010_248_533_5, 0.054_019_326_6, -0.113_614_708],
            [-0.000_365_296_938, -0.004_121_614_69, 0.693_511_405],
        ];
        let [l, m, s] = cones;
        [cones, [2.02344 * m - 2.52581 * s, m, s], [l, 0.494207 * l + 1.24827 * s, s]].map(|cones| {
            let rgb = of(back, cones).map(|c| c.clamp(0.0, 1.0));
            let xyz = of([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], rgb);
            let curve = |t: f64| if t > 0.008856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
            let [x, y, z] = [xyz[0] / 0.95047, xyz[1], xyz[2] / 1.08883].map(curve);
            [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
        })
    }

    /// Least distance of two colours for readers with all cones, without the long and without the middle ones.
    fn apart(a: [u8; 3], b: [u8; 3]) -> f64 {
        let distance = |(p, q): ([f64; 3], [f64; 3])| p.iter().zip(q).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt();
        seen(a).into_iter().zip(seen(b)).map(distance).fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn colours_of_curves_and_powders_are_apart_without_red_or_green_vision() {
        // Ten times what the eye just tells apart beside each other (2.3: Mahy et al. 1994, Color Res. Appl. 19:105, from memory), less a bit.
        const LEAST: f64 = 20.0;
        // Planted faults: rose against teal for readers without middle cones, blue against violet for those without long ones.
        assert!(apart([176, 64, 122], [18, 128, 111]) < LEAST && apart([28, 104, 171], [107, 75, 163]) < LEAST);
        let check = |what: &str, colours: &[[u8; 3]]| {
            for (i, a) in colours.iter().enumerate() {
                for (j, b) in colours.iter().enumerate().skip(i + 1) {
                    assert!(apart(*a, *b) >= LEAST, "{what}: {i} and {j} are {:.1} apart", apart(*a, *b));
                }
            }
        };
        check("powders", &POWDER_TINTS);
        let style = concat!(include_str!("colours.css"), include_str!("page.css"));
        let themes: Vec<Vec<[u8; 3]>> = style
            .lines()
            .filter(|line| line.contains("--s0:"))
            .map(|line| {
                let colour = |k: usize| {
                    let text =
                        line.split(&format!("--s{k}: #")).nth(1).and_then(|rest| rest.get(..6)).expect("six digits");
                    [0, 2, 4].map(|at| u8::from_str_radix(&text[at..at + 2], 16).expect("a number"))
                };
                (0..7).map(colour).collect()
            })
            .collect();
        assert_eq!(themes.len(), 3, "light, dark and print");
        themes.iter().for_each(|colours| check("curves", colours));
    }
}
