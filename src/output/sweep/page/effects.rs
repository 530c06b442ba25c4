//! What each setting does on the average.

use super::judged::Judged;
use crate::page::note;
use crate::sweep::effects;
use maud::{Markup, PreEscaped, html};

pub(super) fn section(sweep: &Judged) -> Markup {
    if sweep.space.axes.is_empty() {
        return note("No setting varies.");
    }
    let rows = effects::rows(sweep.result, &sweep.space);
    html! {
        p class="caption" {
            "Means over all points at one value of the setting, whatever the others are: "
            @if sweep.space.is_grid() { "one dot per value of the grid; the bar is the 95\u{a0}% interval due to chance between prints. " }
            @else { "points grouped into eight equal parts of the axis; the bar is the 95\u{a0}% interval of the mean over these points (their other settings differ). " }
            "Dashed: the limit, or the wanted share. A flat row of dots means that the setting hardly matters on average; a window that depends on two settings together shows in the picture above, not here."
        }
        @for row in &rows {
            h3 { (row.title) }
            div class="effects" { @for plot in &row.plots { figure { (PreEscaped(plot.svg())) } } }
        }
    }
}
