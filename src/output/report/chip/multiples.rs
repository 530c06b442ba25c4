//! Every map by itself.

use super::LONG;
use super::view::{close_view, total_thickness};
use crate::names::{MapFile, maps};
use crate::numbers;
use crate::picture::{self, View, data_address};
use crate::words::capital;
use maud::{Markup, html};
use motefall_figures::Prediction;

/// Every map around the deposit.
pub(crate) fn multiples(p: &Prediction) -> Result<Markup, png::EncodingError> {
    let total = total_thickness(p);
    let deposit = picture::where_it_is(&p.maps.grid, &total).unwrap_or(View::of_grid(&p.maps.grid));
    let (long, short) = (deposit.width().max(deposit.height()), deposit.width().min(deposit.height()));
    let view = if long > LONG * short {
        let (w, h) = if deposit.width() > deposit.height() { (6.0 * short, short) } else { (short, 6.0 * short) };
        close_view(p, &total, w, h)
    } else {
        deposit
    };
    let class = if view.width() > 3.0 * view.height() { "multiples long" } else { "multiples" };
    let figures = maps(p).iter().map(|map| figure(p, map, &view)).collect::<Result<Vec<_>, _>>()?;
    Ok(html! { div class=(class) { @for f in figures { (f) } } })
}

/// A map with its scale; nothing where it lies beside the view.
fn figure(p: &Prediction, map: &MapFile, view: &View) -> Result<Markup, png::EncodingError> {
    let Some(raster) = picture::cut(&p.maps.grid, &map.map, view, 420) else { return Ok(html! {}) };
    let top = if map.unit.is_empty() { 1.0 } else { picture::top_value(&raster.values) };
    let png = picture::map_png(&raster.values, top)?;
    let (h, w) = raster.values.dim();
    let gradient: String =
        (0..=12).map(|i| picture::colour(f64::from(i) / 12.0)).map(|[r, g, b]| format!(",rgb({r},{g},{b})")).collect();
    let most = match map.unit {
        "lambda" => format!("{}\u{a0}λ", numbers::significant(top, 2)),
        "" => "100 %".into(),
        _ if top > 0.0 => numbers::length(top),
        _ => "0".into(),
    };
    let crisp = if w < 200 { "image-rendering:pixelated" } else { "" };
    Ok(html! {
        figure {
            img src=(data_address(&png)) alt=(map.what) width=(w) height=(h)
                style=(format!("display:block;width:100%;height:auto;max-height:420px;object-fit:contain;{crisp}"));
            div style=(format!("height:8px;margin-top:8px;border-radius:2px;background:linear-gradient(90deg{gradient})")) {}
            div style="display:flex;justify-content:space-between;font-size:12.5px" { span { "0" } span { (most) } }
            figcaption { (capital(&map.what)) }
        }
    })
}
