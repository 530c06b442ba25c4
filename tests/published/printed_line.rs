//! What tests of published lines share: the expected line of a scenario that holds what a source states and assumes the rest.

use std::sync::OnceLock;

use motefall_figures::CautionKind;
use motefall_figures::expected::Expected;
use motefall_physics::jet::store::FieldStore;
use motefall_run::Silent;
use motefall_run::atlas::Atlas;
use motefall_run::expected::expected_in;

use crate::common::{Case, jets};

/// What the lines start from.
pub(super) fn assumed() -> Case {
    Case::from_text(include_str!("../data/literature-line.toml"))
}

/// The expected line of a case; jets and landing points are worked out once for all cases.
pub(super) struct Line(Expected);

impl Line {
    pub(super) fn of(case: &Case) -> Self {
        static JETS: OnceLock<FieldStore> = OnceLock::new();
        static ATLAS: OnceLock<Atlas> = OnceLock::new();
        let atlas = ATLAS.get_or_init(|| Atlas::new(JETS.get_or_init(jets)));
        Self(expected_in(&case.inputs(), atlas, &Silent).unwrap_or_else(|error| panic!("{error}")))
    }

    /// A figure of the line, in the unit of its identifier.
    pub(super) fn figure(&self, id: &str) -> f64 {
        let mut rows = self.0.figures.iter();
        let row = rows.find(|row| row.kind.id == id && row.place.as_deref() == Some("line"));
        let row = row.unwrap_or_else(|| panic!("{id} is a figure of a line"));
        row.value.as_ref().unwrap_or_else(|| panic!("{id} is known")).mean * row.kind.per_si
    }

    /// Width as a micrograph shows it, µm.
    pub(super) fn edge_width(&self) -> f64 {
        self.figure("edge_width_um")
    }

    /// Largest thickness, nm.
    pub(super) fn peak(&self) -> f64 {
        self.figure("peak_thickness_nm")
    }

    pub(super) fn warns_of(&self, kind: CautionKind) -> bool {
        self.0.cautions.iter().any(|caution| caution.kind == kind)
    }
}

/// Least and largest of some values.
pub(super) fn band(values: &[f64]) -> [f64; 2] {
    assert!(values.len() > 1, "a band takes several corners");
    let ends = [f64::INFINITY, f64::NEG_INFINITY];
    values.iter().fold(ends, |[low, high], &value| [low.min(value), high.max(value)])
}
