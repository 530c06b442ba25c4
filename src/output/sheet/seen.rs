//! What to check first when the test line is out of range.

use super::contents::heading;
use maud::{Markup, html};

/// What is seen, and what to check, the cheapest first.
const CHECKS: [(&str, &str); 4] = [
    (
        "Wider than expected",
        "stand-off too far · sheath too low, or leaks at the head · carrier too high · chip colder than set, so that the wet line runs \
         (an even, bead-like edge) · nozzle tip dirty or chipped",
    ),
    (
        "Narrower",
        "stand-off too near · sheath too high · mist not run in, or too little of it: is it thinner as well? · carrier leaks before the \
         head · nozzle partly clogged",
    ),
    (
        "Less thick",
        "mist run in long enough? · ink settled, or vial too low · speed and passes as set? · carrier too low, or leaks between vial and \
         head · wet tube wall or bend · nozzle partly clogged · solids of the ink: dry and weigh a drop",
    ),
    (
        "Particles beside",
        "stand-off too far · sheath on, not less than set? · carrier too high · shutter leaks or closes late: look at the line's ends · \
         nozzle rim wet · draught at the stage · head too warm or gas too dry: droplets dry and stray",
    ),
];

/// The section.
pub(super) fn section() -> Markup {
    html! {
        (heading("Out of range", "what to check first, from left to right, the cheapest first: common practice, no source. Change one thing, print a line, measure."))
        table class="seen" { tbody { @for (seen, check) in CHECKS { tr { th { (seen) } td { (check) } } } } }
    }
}
