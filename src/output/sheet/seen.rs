//! What to check first when the test line is out of range.

use super::contents::heading;
use maud::{Markup, html};

/// What is seen, and what to check, the cheapest first.
const CHECKS: [(&str, &str); 4] = [
    (
        "Wider",
        "stand-off too far · sheath low, or leaks at the head · carrier high · chip cold: the wet line runs to an even bead · nozzle dirty",
    ),
    (
        "Narrower",
        "stand-off too near · sheath high · too little mist (then thinner as well): see below · nozzle partly clogged",
    ),
    (
        "Less thick",
        "mist run in? · speed and passes? · ink settled, vial low · carrier low, or leaks before the head · tube wall wet · nozzle partly \
         clogged · solids of the ink: dry and weigh a drop",
    ),
    (
        "Particles beside",
        "stand-off too far · sheath low · carrier high · shutter leaks or is late: see the line's ends · nozzle rim wet · draught · head \
         warm or gas dry, so that droplets dry and stray",
    ),
];

/// The section.
pub(super) fn section() -> Markup {
    html! {
        (heading("Out of range", "check from left to right, the cheapest first (common practice, no source); change one thing, print a line, measure"))
        table class="seen" { tbody { @for (seen, check) in CHECKS { tr { th { (seen) } td { (check) } } } } }
    }
}
