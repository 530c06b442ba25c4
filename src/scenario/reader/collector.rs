//! Faults and assumed values, gathered while a file is read.

use crate::faults::{Fault, MOST_KEPT};
use motefall_physics::inputs::UnverifiedDefault;
use std::cell::{Cell, RefCell};
use std::collections::HashSet;
use std::ops::Range;

/// Collects faults and assumed values.
#[derive(Debug, Default)]
pub(crate) struct Collector {
    faults: RefCell<Vec<Fault>>,
    left_out: Cell<usize>,
    pub(super) assumed: RefCell<Vec<UnverifiedDefault>>,
}

impl Collector {
    /// Whether no more faults are kept. If so, one more is counted.
    pub(super) fn is_full(&self) -> bool {
        let is_full = self.faults.borrow().len() >= MOST_KEPT;
        self.left_out.set(self.left_out.get() + usize::from(is_full));
        is_full
    }

    /// Adds a fault, or counts it if there are very many.
    pub(crate) fn fault(
        &self,
        span: Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        why: impl Into<String>,
        advice: impl Into<String>,
    ) {
        if self.is_full() {
            return;
        }
        let fault = Fault {
            span: Some(span),
            title: title.into(),
            label: label.into(),
            why: why.into(),
            advice: advice.into(),
        };
        self.faults.borrow_mut().push(fault);
    }

    /// All faults so far, the number of those that were not kept, and assumed values. A fault found several times counts once: layers share what stands at the top of the file.
    pub(crate) fn into_parts(self) -> (Vec<Fault>, usize, Vec<UnverifiedDefault>) {
        let faults = self.faults.into_inner();
        let mut seen = HashSet::new();
        let is_first: Vec<bool> = faults.iter().map(|fault| seen.insert(fault)).collect();
        let first = faults.iter().zip(is_first).filter(|(_, is_first)| *is_first).map(|(fault, _)| fault.clone());
        (first.collect(), self.left_out.get(), self.assumed.into_inner())
    }
}
