//! Silver lines of an aerosol jet. Mahajan, Frisbie & Francis 2013, Optimization of aerosol jet printing for high-resolution, high-aspect
//! ratio silver lines, ACS Appl. Mater. Interfaces 5:4856 (abstract; that and the page from memory), with its supporting information
//! (figure S1: width against stand-off).
//!
//! Stated: carrier 16 sccm, focusing ratio (sheath over carrier) 8, 2 mm/s, stand-off 2 mm; width rises only slightly up to 5 mm, beyond
//! that there is much overspray; width falls with focusing ratio and with speed, thickness rises with focusing ratio and falls with
//! speed. The widths themselves stand in the picture only: its axis runs from 30 to 60 µm, so that they lie in between.
//!
//! Not known to us, so assumed: nozzle (150 and 200 µm are tried), taper, ink, droplets, mist load, contact angle. So this bounds the
//! model and does not prove it. What does not agree is asserted as it is and said beside.

use motefall_figures::CautionKind;

use super::printed_line::{Line, assumed, band};
use crate::common::Case;

/// Ends of the axis on which the published widths lie, µm.
const PUBLISHED: [f64; 2] = [30.0, 60.0];

fn stated(nozzle: u32) -> Case {
    assumed()
        .set("flow.carrier_sccm", 16)
        .set("flow.sheath_sccm", 8 * 16)
        .set("path.0.speed_mm_s", 2)
        .set("flight.stand_off_mm", 2)
        .set("head.nozzle_um", nozzle)
        .set("head.land_um", nozzle)
}

/// Mist load by a factor of three about that assumed, contact angle by two about 30 degrees: what makes the narrowest and the widest line.
///
/// A bead's width goes as the root of its volume over its angle, if the angle is small: the band is a factor of sqrt(10 4) = 6.3 wide where
/// the bead sets the width, and narrower where the beam does.
///
/// How much of the ink dries in flight is not varied: four fifths of the solvent are water, which mostly dries. Of ethylene glycol alone the
/// middle line would be 85 µm wide, beyond what was published.
#[test]
fn published_widths_lie_within_the_band() {
    let mut widths = vec![];
    for nozzle in [150, 200] {
        let middle = Line::of(&stated(nozzle)).edge_width();
        println!("nozzle {nozzle}: {middle:.1} µm");
        assert!((PUBLISHED[0]..PUBLISHED[1]).contains(&middle), "nozzle {nozzle}: {middle} µm");
        for (load, angle) in [(3, 60), (30, 15)] {
            let case = stated(nozzle).set("atomiser.mist_load_ul_per_l", load).set("landing.contact_angle_deg", angle);
            widths.push(Line::of(&case).edge_width());
        }
    }
    let [low, high] = band(&widths);
    println!("{low:.1} to {high:.1} µm");
    assert!(low < PUBLISHED[0] && high > PUBLISHED[1] && high / low < 6.3, "{low} to {high} µm");
}

/// Published: width falls and thickness rises with the focusing ratio.
///
/// So it is here while the beam sets the width. Once the bead does, the width no longer falls, and the peak rises no further: the bead of a
/// given volume is the same however narrow the beam, while gas that flows faster leaves more liquid in the droplets (of ethylene glycol alone,
/// which hardly dries, both lines are 85 µm wide).
#[test]
fn focusing_narrows_and_raises_lines_until_the_bead_sets_their_width() {
    let at = |nozzle: u32, ratio: u32| Line::of(&stated(nozzle).set("flow.sheath_sccm", 16 * ratio));
    let lines = [2, 4, 8].map(|ratio| at(200, ratio));
    let widths = lines.each_ref().map(Line::edge_width);
    let peaks = lines.each_ref().map(Line::peak);
    println!("nozzle 200: {widths:.1?} µm, {peaks:.0?} nm");
    assert!(widths[0] > widths[1] && widths[1] > widths[2], "{widths:?}");
    assert!(peaks[0] < peaks[1] && peaks[0] < peaks[2], "{peaks:?}");
    assert!(!lines[0].warns_of(CautionKind::Bead) && lines[2].warns_of(CautionKind::Bead));
    // Not as published: all that is asserted is that the narrower nozzle, whose line is a bead at both, is as wide at both to a tenth.
    let beads = [4, 8].map(|ratio| at(150, ratio));
    let widths = beads.each_ref().map(Line::edge_width);
    println!("nozzle 150: {widths:.1?} µm, {:.0?} nm", beads.each_ref().map(Line::peak));
    assert!(beads.iter().all(|line| line.warns_of(CautionKind::Bead)));
    assert!((widths[1] / widths[0] - 1.0).abs() < 0.1, "{widths:?}");
}

/// Published: width and thickness fall with the speed.
#[test]
fn speed_narrows_and_lowers_lines() {
    let lines = [1, 2, 4].map(|speed| Line::of(&stated(200).set("path.0.speed_mm_s", speed)));
    let widths = lines.each_ref().map(Line::edge_width);
    let peaks = lines.each_ref().map(Line::peak);
    println!("{widths:.1?} µm, {peaks:.0?} nm");
    assert!(widths.is_sorted_by(|a, b| a > b), "{widths:?}");
    assert!(peaks.is_sorted_by(|a, b| a > b), "{peaks:?}");
}

/// Published: the width rises only slightly up to 5 mm (here: by less than a step of the picture's axis, 5 µm); beyond that there is
/// overspray (here: a steeper rise, and the jet is said to last no longer).
///
/// So it is with 200 µm. With 150 µm the jet is said to end before 4 mm already, and the rise hinges on the taper: 12 µm up to 5 mm with the
/// 8 degrees assumed here, 1 µm with 6 degrees and a land of 200 µm.
#[test]
fn lines_stay_narrow_up_to_five_millimetres() {
    let lines = [2, 5, 8].map(|stand_off| Line::of(&stated(200).set("flight.stand_off_mm", stand_off)));
    let widths = lines.each_ref().map(Line::edge_width);
    println!("{widths:.1?} µm");
    assert!((0.0..5.0).contains(&(widths[1] - widths[0])), "{widths:?}");
    assert!(widths[2] - widths[1] > 2.0 * (widths[1] - widths[0]), "{widths:?}");
    assert_eq!(lines.each_ref().map(|line| line.warns_of(CautionKind::JetLength)), [false, false, true]);
}
