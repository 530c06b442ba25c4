//! What to check first when the test line is out of range.

use super::contents::heading;
use maud::{Markup, html};

/// What is seen, and what to check, the cheapest first.
const CHECKS: [(&str, &str); 4] = [
    (
        "Wider",
        "stand-off too far · sheath too low, or leaks at the head · carrier too high · chip too cold: the wet line runs to an even bead · \
         nozzle tip dirty or chipped",
    ),
    (
        "Narrower",
        "stand-off too near · sheath too high · too little mist (thinner as well?): see below · nozzle partly clogged",
    ),
    (
        "Less thick",
        "mist run in? · speed and passes as set? · ink settled, vial low · carrier too low, or leaks before the head · tube wall wet · \
         nozzle partly clogged · solids of the ink: dry and weigh a drop",
    ),
    (
        "Particles beside",
        "stand-off too far · sheath too low · carrier too high · shutter leaks or is late: look at the line's ends · nozzle rim wet · \
         draught · head too warm or gas too dry: droplets dry and stray",
    ),
];

/// The section.
pub(super) fn section() -> Markup {
    html! {
        (heading("Out of range", "check from left to right, the cheapest first (common practice, no source); change one thing, print a line, measure"))
        table class="seen" { tbody { @for (seen, check) in CHECKS { tr { th { (seen) } td { (check) } } } } }
    }
}
