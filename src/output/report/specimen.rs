//! The print as a specimen: what the beam sees, what the potentiostat sees, what reaches places that must stay clean.

use super::chip::{self, data_address, rings_data};
use crate::numbers;
use crate::numbers::trimmed;
use crate::picture::{self, View};
use crate::plot::{escape, nice_below};
use maud::{Markup, PreEscaped, html};
use motefall_figures::electrode_view::{BULK_PARTICLES, Electrode, electrodes};
use motefall_figures::keep_out::keep_outs;
use motefall_figures::{Estimate, Figure, GapOutcome, Prediction, PrintFigure, RegionFigure, beam_view, estimate_at};
use motefall_physics::inputs::{Region, Role};
use ndarray::Array2;
use std::fmt::Write;

/// Longest side of a picture, pixels.
const PIXELS: f64 = 900.0;
/// Room for a picture, drawing units.
const ROOM: [f64; 2] = [560.0, 560.0];
/// Most regions in a table of shares.
const MOST_ROWS: usize = 12;

/// The estimate of a figure at a place.
fn figure<'a>(p: &'a Prediction, figure: impl Into<Figure>, place: Option<&str>) -> Option<&'a Estimate> {
    estimate_at(&p.figures, figure, place)
}

/// A figure of the print in words, with its unit.
fn words(p: &Prediction, of: PrintFigure) -> String {
    numbers::figure(figure(p, of, None), of.kind()).to_string()
}

/// An estimate in words, in the unit of a figure.
fn shown(estimate: Option<&Estimate>, figure: RegionFigure) -> String {
    let kind = figure.kind();
    estimate.map_or_else(|| "–".into(), |_| numbers::figure(estimate, kind).below(kind.unit))
}

/// Section 'What the beam sees'.
pub fn beam(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let regions: Vec<&Region> =
        p.inputs.regions.iter().filter(|r| r.role.is_printed() || r.role == Role::Window).take(MOST_ROWS).collect();
    let picture = transmitted(p)?;
    let beam = &p.inputs.beam;
    let layers = beam_view::layers_depth(beam);
    Ok(html! {
        h2 id="beam" { "What the beam sees" }
        div class=(if picture.is_some() { "pair" } else { "" }) {
            @if let Some(picture) = picture { (picture) }
            figure {
                @if regions.is_empty() {
                    p class="note" { "No region has the role target, counter or window, so there are no shares to give." }
                } @else {
                    div class="beam-shares" {
                        span class="head" { "area" } span class="head" { "bare, usable, too thick" } span class="head n" { "bare (%)" } span class="head n" { "usable (%)" } span class="head n" { "too thick (%)" }
                        @for region in &regions {
                            @let usable = figure(p, RegionFigure::Usable, Some(&region.name)).map(|e| e.mean);
                            @let thick = figure(p, RegionFigure::TooThick, Some(&region.name)).map(|e| e.mean);
                            span { (region.name) }
                            @if let (Some(usable), Some(thick)) = (usable, thick) {
                                @let bare = (1.0 - usable - thick).max(0.0);
                                (share_bar([bare, usable, thick]))
                                @for id in [RegionFigure::Bare, RegionFigure::Usable, RegionFigure::TooThick] { span class="n" { (shown(figure(p, id, Some(&region.name)), id)) } }
                            } @else {
                                span class="note" { "off the window, or off the fine map" } span {} span {} span {}
                            }
                        }
                    }
                }
                div class="scroll fit" style="margin-top:14px" { table {
                    thead { tr { th { "area" } th class="n" { "mean depth (λ)" } th class="n" { "largest particle (µm)" } th class="n" { "particles above 0.5\u{a0}µm" } } }
                    tbody { @for region in &regions { tr {
                        td { (region.name) }
                        @for id in [RegionFigure::MeanFreePaths, RegionFigure::LargestParticle, RegionFigure::CoarseParticles] {
                            td class="n" { (shown(figure(p, id, Some(&region.name)), id)) }
                        }
                    } } }
                } }
                figcaption {
                    b { "How much of an area is of use. " }
                    "Empty: bare, the beam meets nothing but " (if beam.layers.is_empty() { "vacuum" } else { "the layers listed here" })
                    "; solid: usable, under at least one particle and within the limit; hatched: deeper than "
                    (trimmed(beam.limit)) " inelastic mean free paths (λ), all layers together, so that images fade. Means over "
                    (numbers::counted(p.verdict.n.into(), "print", "prints")) "; the three shares add up to 100\u{a0}%. The deposit of a square of " (numbers::length(p.inputs.map.resolution)) " is taken to lie evenly on its covered part. "
                    @if p.inputs.regions.iter().any(|r| r.role == Role::Window) { "A window's particles are those outside its electrodes. " }
                    br;
                    (trimmed(beam.voltage / 1e3)) "\u{a0}kV. Layers besides the deposit: "
                    @if beam.layers.is_empty() { "none given (membranes and liquid go under " code { "[[beam.layer]]" } ")" }
                    @for (i, layer) in beam.layers.iter().enumerate() {
                        @if i > 0 { ", " }
                        (layer.material) " " (numbers::length(layer.thickness)) " (λ " (numbers::length(layer.mean_free_path)) ")"
                    }
                    @if !beam.layers.is_empty() { ", together " (numbers::significant(layers, 3)) "\u{a0}λ" }
                    ". Deposit: "
                    @for (i, powder) in p.inputs.powders().iter().enumerate() {
                        @if i > 0 { ", " }
                        (powder.name) " λ " (p.powder_mean_free_paths().get(i).map_or_else(String::new, |path| numbers::length(*path)))
                    }
                    "."
                }
            }
        }
    })
}

/// Bare, usable and too thick as one bar.
fn share_bar([bare, usable, thick]: [f64; 3]) -> Markup {
    let piece = |class: &str, at: f64, share: f64| {
        html! { @if share > 0.0 { div class=(format!("piece {class}")) style=(format!("left:{:.3}%;width:{:.3}%", at * 100.0, share * 100.0)) {} } }
    };
    html! { div class="track" { (piece("bare", 0.0, bare)) (piece("usable", bare, usable)) (piece("thick", bare + usable, thick)) } }
}

/// The target in transmitted light, and how it was drawn.
fn transmitted(p: &Prediction) -> Result<Option<Markup>, png::EncodingError> {
    let Some(region) = chip::main_region(p) else { return Ok(None) };
    let area = picture::bounds(&picture::corners(&region.outline));
    let margin = 0.08 * area.width().max(area.height());
    let view = View { x: [area.x[0] - margin, area.x[1] + margin], y: [area.y[0] - margin, area.y[1] + margin] };
    let beam = &p.inputs.beam;
    let paths = &p.powder_mean_free_paths();
    let (view, depth) = if p.particles.is_empty() {
        let Some(map) = beam_view::depth_map(&p.maps.thickness, paths, beam) else { return Ok(None) };
        let Some(raster) = picture::cut(&p.maps.grid, &map, &view, PIXELS as usize) else { return Ok(None) };
        (raster.view, raster.values)
    } else {
        let pitch = view.width().max(view.height()) / PIXELS;
        let size = [view.height(), view.width()].map(|side| ((side / pitch).round() as usize).max(1));
        let depth = beam_view::depth_picture(&p.particles, paths, beam, [view.x[0], view.y[1]], pitch, size);
        (view, depth)
    };
    let open = beam_view::transmitted(beam_view::layers_depth(beam));
    let light = depth.mapv(beam_view::transmitted);
    let png = picture::grey_png(&light, open)?;
    let scale = (ROOM[0] / view.width()).min(ROOM[1] / view.height());
    let (w, h) = (view.width() * scale, view.height() * scale);
    let width = w.max(0.6 * ROOM[0]);
    let x0 = 0.5 * (width - w);
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {width:.1} {:.1}" role="img" aria-label="Transmitted picture of {}"><image href="{}" x="{x0:.1}" y="0" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        h + 58.0,
        escape(&region.name),
        data_address(&png)
    );
    let outline = rings_data(&region.outline, &view, scale, [x0, 0.0]);
    let _ = write!(
        svg,
        r##"<path d="{outline}" fill="none" stroke="#fff" stroke-width="2.4" stroke-opacity="0.7"/><path d="{outline}" fill="none" stroke="#14506a" stroke-width="1.1"/>"##
    );
    let bar = nice_below(width * 0.3 / scale);
    let _ = write!(
        svg,
        r#"<path class="ruler" d="M0 {:.1}h{:.1}"/><text class="outlabel" x="0" y="{:.1}">{}</text>"#,
        h + 14.0,
        bar * scale,
        h + 35.0,
        numbers::length(bar)
    );
    let (left, right) = (0.5 * width, width - 10.0);
    for i in 0..48 {
        let grey = (f64::from(i) + 0.5) / 48.0 * 255.0;
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="10" fill="rgb({grey:.0},{grey:.0},{grey:.0})" shape-rendering="crispEdges"/>"#,
            left + (right - left) * f64::from(i) / 48.0,
            h + 8.0,
            (right - left) / 48.0 + 0.6
        );
    }
    let _ = write!(
        svg,
        r#"<rect x="{left:.1}" y="{:.1}" width="{:.1}" height="10" fill="none" stroke="currentColor" stroke-width="0.6"/><text class="small" x="{left:.1}" y="{:.1}">0</text><text class="small" x="{right:.1}" y="{:.1}" text-anchor="end">{}</text><text class="small" x="{:.1}" y="{:.1}" text-anchor="middle">share transmitted</text></svg>"#,
        h + 8.0,
        right - left,
        h + 34.0,
        h + 34.0,
        numbers::percent(open),
        0.5 * (left + right),
        h + 50.0
    );
    Ok(Some(html! {
        figure {
            div style=(format!("max-width:{width:.0}px;margin:0 auto")) { (PreEscaped(svg)) }
            figcaption {
                b { "The target as a transmission microscope would show it" }
                @if p.verdict.n > 1 { ", first of " (p.verdict.n) " prints" }
                ". Grey: share of the electrons that cross without losing energy, exp(−t/λ); white is what the "
                (if beam.layers.is_empty() { "empty beam" } else { "membranes and other layers alone" }) " let through. Blue line: edge of " (region.name) ". "
                @if p.particles.is_empty() { "Drawn from the map. " @if let Some(why) = p.too_many_particles() { (why) } @else { "No single particle is known." } } @else { "Drawn from the chords of the single particles." }
                " Diffraction and scattering out of a small aperture darken real pictures further."
            }
        }
    }))
}

/// Section 'What the potentiostat sees'.
pub fn potentiostat(p: &Prediction) -> Markup {
    let all = electrodes(&p.inputs, &p.figures);
    let with_charge = p.inputs.powders().iter().any(|powder| powder.capacity > 0.0);
    html! {
        h2 id="potentiostat" { "What the potentiostat sees" }
        @if all.is_empty() {
            p class="note" { "No region has the role target or counter, so there is no electrode to measure." }
        } @else if !with_charge {
            p class="note" { "No powder of the ink has a capacity (" code { "capacity_mah_g" } "), so there is no charge to give." }
        } @else {
            div class="scroll" { table {
                thead { tr {
                    th { "electrode" } th class="n" { "mass (pg)" } th class="n" { "capacity (nAh)" }
                    @for rate in &p.inputs.cell.rates { th class="n" { "current at " (trimmed(*rate)) "C" } }
                    th class="n" { "active particles" } th class="n" { "charge of one (pC)" } th class="n" { "joined (%)" }
                } }
                tbody { @for e in &all { (electrode_row(e)) } }
            } }
            p class="note" {
                "Theoretical capacity of all that lies on the electrode; a current of nC passes it in 1/n hours. After ± and in brackets: 95 % interval of the mean over prints. "
                "Joined: active particles that rest on the electrode or on conducting particles that lead to it, at the heights at which grains come to rest that stick where they first touch; a low estimate, since drying and pressing bring more contacts."
            }
            @for e in all.iter().filter(|e| e.is_individual()) {
                p { b { (e.region) ": few particles. " } "With fewer than about " (numbers::significant(BULK_PARTICLES, 3)) " active particles a cell responds particle by particle rather than as a bulk electrode (Kang et al. 2023, ACS Nano 17:21493)." }
            }
        }
        dl class="facts" {
            @if figure(p, PrintFigure::CapacityRatio, None).is_some() {
                div { dt { "Counter to working capacity" } dd { (words(p, PrintFigure::CapacityRatio)) } }
            }
            div { dt { "Print time with moves" } dd { (words(p, PrintFigure::PrintTime)) } }
            div { dt { "Ink used" } dd { (words(p, PrintFigure::InkUsed)) } }
        }
        (bridges(p))
    }
}

fn electrode_row(e: &Electrode) -> Markup {
    html! { tr {
        td { (e.region) span class="why" { (if e.role == Role::Counter { "counter electrode" } else { "working electrode" }) } }
        td class="n" { (shown(e.mass.as_ref(), RegionFigure::Mass)) }
        td class="n" { (shown(e.capacity.as_ref(), RegionFigure::Capacity)) }
        @for (_, current) in &e.currents { td class="n" { (current_words(current.as_ref())) } }
        td class="n" { (shown(e.active.as_ref(), RegionFigure::ActiveParticles)) }
        td class="n" { (shown(e.charge.as_ref(), RegionFigure::ChargePerParticle)) }
        td class="n" { (shown(e.joined.as_ref(), RegionFigure::Joined)) }
    } }
}

/// A current with its interval, in the unit that suits it.
fn current_words(current: Option<&Estimate>) -> String {
    let Some(current) = current else { return "–".into() };
    let (factor, unit) = [(1e15, "fA"), (1e12, "pA"), (1e9, "nA"), (1e6, "µA")]
        .into_iter()
        .find(|(factor, _)| current.mean * factor < 999.5)
        .unwrap_or((1e3, "mA"));
    let scaled = Estimate {
        mean: current.mean * factor,
        interval: current.interval.map(|ends| ends.map(|end| end * factor)),
        ..*current
    };
    // A figure with the factor 1 lends its way of showing digits.
    let plain = RegionFigure::MeanFreePaths.kind();
    format!("{}\u{a0}{unit}", numbers::figure(Some(&scaled), plain).value)
}

/// Gaps between electrodes: how near to a short circuit.
fn bridges(p: &Prediction) -> Markup {
    let Some(bridging) = &p.bridging else {
        let electrodes = p.inputs.regions.iter().filter(|region| region.role.is_electrode()).count();
        let head = match electrodes {
            0 => return html! {},
            1 => "Joined particles: not known",
            _ => "Joined particles and bridges between electrodes: not known",
        };
        return p.too_many_particles().map_or_else(|| html! {}, |why| html! { h3 { (head) } p class="note" { (why) } });
    };
    let row = |gap: &GapOutcome| {
        html! { tr {
            td { (gap.between[0]) " to " (gap.between[1]) }
            td class="n" { (numbers::length(gap.width)) }
            td class="n" { (gap.bridged) " of " (bridging.prints) }
            td class="n" { (length_or_none(gap.largest.extent)) }
            td class="n" { (numbers::count(gap.largest.particles)) }
            td class="n" { (numbers::percent(gap.mean_spanned)) }
        } }
    };
    html! {
        h3 { "Bridges between electrodes: probability " (words(p, PrintFigure::Bridge)) }
        div class="scroll" { table {
            thead { tr { th { "gap" } th class="n" { "width" } th class="n" { "prints with a bridge" } th class="n" { "largest cluster spans" } th class="n" { "its particles" } th class="n" { "spanned, mean of prints" } } }
            tbody { @for gap in &bridging.gaps { (row(gap)) } }
        } }
        p class="note" {
            "A bridge is a chain of conducting particles from one electrode to the other that touch seen from above, to a gap of 1\u{a0}nm, whatever their heights: a high estimate. "
            "Clusters are those of particles on the bare chip between the two electrodes, where the distances from both add up to at most 1.5 times the gap's width; what lies on an electrode belongs to that electrode, and a way over a third electrode counts as the bridges that it is made of. "
            "How far a cluster spans is counted from the first electrode of the gap toward the second; one that bridges spans all of it. "
            "The largest cluster is the one of all prints that spans most of the gap; the last column is the share of the gap's width that the largest cluster of a print spans, mean of the prints. Where no print had a bridge, the probability is an upper bound at 95 % confidence."
            @if !p.inputs.powders().iter().any(|powder| powder.conduction == motefall_physics::inputs::Conduction::Conducting) { " No powder of this ink conducts, so none can form." }
        }
    }
}

fn length_or_none(length: f64) -> String {
    if length > 0.0 { numbers::length(length) } else { "–".into() }
}

/// Section 'How far strays go'.
pub fn strays(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let places = keep_outs(&p.inputs, &p.figures);
    let map = far_map(p)?;
    let table = html! {
        @if places.is_empty() {
            p class="note" { "No region has the role electrode or keep-out: nothing is named that must stay clean." }
        } @else {
            div class="scroll fit" { table {
                thead { tr { th { "must stay clean" } th class="n" { "particles in a print" } th class="n" { "at least one" } th class="n" { "farthest (µm)" } } }
                tbody { @for place in places.iter().take(40) { tr {
                    td { (place.region) span class="why" { (if place.role == Role::KeepOut { "keep-out" } else { "other electrode" }) } }
                    td class="n" { (shown(place.particles.as_ref(), RegionFigure::Particles)) }
                    td class="n" { (shown(place.hit.as_ref(), RegionFigure::HitProbability)) }
                    td class="n" { (shown(place.farthest.as_ref(), RegionFigure::FarthestParticle)) }
                } } }
            } }
            p class="note" {
                "At least one: probability that a print puts any particle there; an upper bound where no print did. Farthest: distance from the nearest printed electrode of the particle inside that lies farthest from it; median with its 95 % interval and largest of the prints that had any."
            }
        }
        @if figure(p, PrintFigure::FarthestStray, None).is_some() {
            p { "On the whole chip, distance of the farthest particle of a print from the nearest printed electrode: " (words(p, PrintFigure::FarthestStray)) @if p.verdict.n > 1 { " of the prints" } "." }
        }
    };
    Ok(html! {
        h2 id="strays" { "How far strays go" }
        @if let Some(map) = map { div class="pair" { (map) div { (table) } } } @else { (table) }
    })
}

/// Densities of particles on coarse tiles, on a logarithm, with the regions.
fn far_map(p: &Prediction) -> Result<Option<Markup>, png::EncodingError> {
    let grid = p.far.grid();
    let prints = f64::from(p.far.prints().max(1));
    // Particles per mm^2 and print.
    let per_tile = 1.0 / (prints * (grid.pitch * 1e3).powi(2));
    let density =
        Array2::from_shape_fn((grid.rows, grid.columns), |(row, column)| p.far.count(row, column) as f64 * per_tile);
    let most = density.iter().copied().fold(0.0, f64::max);
    if most <= 0.0 {
        return Ok(None);
    }
    // What there is to see: every region and every tile that holds a particle, with two tiles of margin.
    let mut view = View { x: [f64::INFINITY, f64::NEG_INFINITY], y: [f64::INFINITY, f64::NEG_INFINITY] };
    let mut hold = |x: [f64; 2], y: [f64; 2]| {
        view = View { x: [view.x[0].min(x[0]), view.x[1].max(x[1])], y: [view.y[0].min(y[0]), view.y[1].max(y[1])] };
    };
    for region in &p.inputs.regions {
        let b = picture::bounds(&picture::corners(&region.outline));
        hold(b.x, b.y);
    }
    for ((row, column), _) in density.indexed_iter().filter(|(_, d)| **d > 0.0) {
        let [x, y] = [(column, 0), (row, 1)].map(|(at, k)| grid.origin[k] + at as f64 * grid.pitch);
        hold([x, x + grid.pitch], [y, y + grid.pitch]);
    }
    let margin = 2.0 * grid.pitch;
    let wanted = View { x: [view.x[0] - margin, view.x[1] + margin], y: [view.y[0] - margin, view.y[1] + margin] };
    let Some(raster) = picture::cut(&grid, &density, &wanted, 4096) else { return Ok(None) };
    let view = raster.view;
    let decades = (most / per_tile).log10().max(1.0);
    // One particle in all prints is the dark end of the scale.
    let shade = |d: f64| (d / per_tile).log10() / decades;
    let png = picture::shades_png(&raster.values.mapv(|d| if d > 0.0 { Some(shade(d)) } else { None }))?;
    let scale = (ROOM[0] / view.width()).min(ROOM[1] / view.height());
    let (w, h) = (view.width() * scale, view.height() * scale);
    let width = w.max(0.7 * ROOM[0]);
    let x0 = 0.5 * (width - w);
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<svg class="map" viewBox="0 0 {width:.1} {:.1}" role="img" aria-label="Density of particles over the whole chip"><image class="crisp" href="{}" x="{x0:.1}" y="0" width="{w:.2}" height="{h:.2}" preserveAspectRatio="none"/>"#,
        h + 62.0,
        data_address(&png)
    );
    for region in &p.inputs.regions {
        let d = rings_data(&region.outline, &view, scale, [x0, 0.0]);
        let (stroke_width, dash) = chip::outline_style(region.role);
        let _ = write!(
            svg,
            r#"<path class="halo" stroke-width="{:.1}" d="{d}"/><path class="outline" stroke-width="{:.1}" stroke-dasharray="{dash}" d="{d}"><title>{}</title></path>"#,
            stroke_width + 1.6,
            0.8 * stroke_width,
            escape(&region.name)
        );
    }
    let bar = nice_below(width * 0.3 / scale);
    let y = h + 16.0;
    let _ = write!(
        svg,
        r#"<path class="ruler" d="M0 {y:.1}h{:.1}"/><text class="outlabel" x="0" y="{:.1}">{}</text>"#,
        bar * scale,
        y + 21.0,
        numbers::length(bar)
    );
    let (left, right) = (0.45 * width, width - 18.0);
    for i in 0..64 {
        let [r, g, b] = picture::colour((f64::from(i) + 0.5) / 64.0);
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="10" fill="rgb({r},{g},{b})" shape-rendering="crispEdges"/>"#,
            left + (right - left) * f64::from(i) / 64.0,
            y - 8.0,
            (right - left) / 64.0 + 0.6
        );
    }
    let first = per_tile.log10().ceil() as i32;
    let last = (per_tile.log10() + decades + 1e-9).floor() as i32;
    let step = ((last - first) / 5 + 1).max(1);
    for exponent in (first..=last).step_by(step as usize) {
        let x = left + (right - left) * shade(10f64.powi(exponent));
        let _ = write!(
            svg,
            r#"<path class="tickline" d="M{x:.1} {:.1}v4"/><text class="small" x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"#,
            y + 2.0,
            y + 20.0,
            numbers::ten_to(exponent)
        );
    }
    let _ = write!(
        svg,
        r#"<text class="small" x="{:.1}" y="{:.1}" text-anchor="middle">particles per mm² in a print</text></svg>"#,
        0.5 * (left + right),
        y + 40.0
    );
    Ok(Some(html! {
        figure {
            div style=(format!("max-width:{width:.0}px;margin:0 auto")) { (PreEscaped(svg)) }
            figcaption {
                b { "Particles over the whole chip" } ", on tiles of " (numbers::length(grid.pitch)) ". Colour: number of particles per area in a print, on a logarithm, mean of "
                (p.far.prints()) (if p.far.prints() == 1 { " print" } else { " prints" }) "; the dark end is a single particle in all of them, black is none. "
                "Outlines as in the thickness map: solid: printed; dashed: other electrode; dotted: window; dash-dot: keep-out. "
                (numbers::length(view.width())) " × " (numbers::length(view.height())) "."
            }
        }
    }))
}
