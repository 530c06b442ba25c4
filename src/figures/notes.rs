//! How figures were measured, or why they could not be, in words.

use super::measure::Measurer;
use super::places::{Task, Work, tells_of_item};
use super::profile::{EDGE_WINDOW, END_SHARE, End, LEAST_EDGE_COVER};
use super::{FigureKind, FigureRow};
use motefall_physics::figure_kinds::{Figure, ItemFigure, PrintFigure};
use motefall_physics::inputs::Conduction;
use motefall_physics::map::tally::{REACH_BIN, REACH_BINS};

impl Measurer {
    /// Adds to the rows how a figure was measured, or why it could not be.
    pub(super) fn annotate(&self, rows: &mut [FigureRow]) {
        // Edges are sampled at a quarter of the line's width; for the note, of its mean width.
        let mut widths: Vec<Option<f64>> = vec![None; self.items.len()];
        let tasks: Vec<Task> = self.works.iter().flat_map(Work::tasks).collect();
        for (row, task) in rows.iter().zip(&tasks) {
            if let Task::Item(k, ItemFigure::LineWidth) = task {
                widths[*k] = row.estimate.map(|e| e.mean);
            }
        }
        for (row, task) in rows.iter_mut().zip(&tasks) {
            let known = row.estimate.is_some();
            let text = match task {
                Task::Region(..) | Task::Print(_) if !known && row.kind.needs_particles() => {
                    Some(self.why_not_joined(row.kind.figure))
                }
                Task::Region(k, _) => self.region_note(*k, row.kind, known),
                Task::Item(k, figure) if known => self.how_measured(*k, *figure, widths[*k]),
                Task::Item(k, figure) => Some(self.why_no_width(*k, *figure)),
                Task::Print(figure) if known => self.print_note(*figure),
                Task::Print(figure) => Some(self.why_not_of_print(*figure)),
            };
            if let Some(text) = text {
                row.note = Some(row.note.take().map_or(text.clone(), |note| format!("{note}; {text}")));
            }
        }
    }

    fn print_note(&self, figure: PrintFigure) -> Option<String> {
        let any_conducting = self.solids.iter().any(|solid| solid.conduction == Conduction::Conducting);
        match figure {
            PrintFigure::OversprayReach => Some(format!("interpolated in steps of {} µm", REACH_BIN * 1e6)),
            PrintFigure::Bridge => (!any_conducting).then(|| "no powder of the ink conducts".into()),
            PrintFigure::Landed
            | PrintFigure::OnTarget
            | PrintFigure::Overspray
            | PrintFigure::FarthestStray
            | PrintFigure::CapacityRatio
            | PrintFigure::PrintTime
            | PrintFigure::InkUsed
            | PrintFigure::TimePerChip
            | PrintFigure::InkPerChip
            | PrintFigure::ChipsPerFill
            | PrintFigure::Settled => None,
        }
    }

    fn why_not_of_print(&self, figure: PrintFigure) -> String {
        match figure {
            PrintFigure::Landed => "no solids left the vial".into(),
            PrintFigure::ChipsPerFill => "no vial's fill is given".into(),
            PrintFigure::Settled => "no ink's settling is given".into(),
            _ if self.targets.is_empty() => "no region has the role target".into(),
            PrintFigure::CapacityRatio => "no active particle on a target".into(),
            PrintFigure::OversprayReach => {
                let last = REACH_BIN * (REACH_BINS - 1) as f64;
                format!("nothing landed, or 1 % of it lies beyond {} mm", last * 1e3)
            }
            PrintFigure::OnTarget
            | PrintFigure::Overspray
            | PrintFigure::FarthestStray
            | PrintFigure::Bridge
            | PrintFigure::PrintTime
            | PrintFigure::InkUsed
            | PrintFigure::TimePerChip
            | PrintFigure::InkPerChip => "nothing landed".into(),
        }
    }

    fn why_not_joined(&self, figure: Figure) -> String {
        let is_bridge = figure == PrintFigure::Bridge.into();
        if is_bridge && self.electrodes.len() < 2 {
            "it takes two regions with the role target, counter or electrode".into()
        } else if is_bridge {
            "too many particles land to tell which of them touch".into()
        } else if self.solids.iter().all(|solid| solid.capacity <= 0.0) {
            "no powder of the ink is active".into()
        } else {
            "no active particle here, or too many particles land to tell which of them touch (a caution says so then)"
                .into()
        }
    }

    fn region_note(&self, k: usize, kind: &FigureKind, known: bool) -> Option<String> {
        let note = match (known, kind.is_from_counts()) {
            (true, true) if self.overlapped[k] => "without what lies on the regions over this window",
            (true, _) => return None,
            (false, true) => "no such particle here",
            (false, false) if self.beyond[k] => {
                "beyond the fine map, which would be too large with it; particles are counted all the same"
            }
            (false, false) if self.regions[k].area == 0 => {
                "smaller than the figures' pixels: choose a finer map.resolution_um"
            }
            (false, false) => "nothing landed here",
        };
        Some(note.into())
    }

    fn how_measured(&self, k: usize, figure: ItemFigure, width: Option<f64>) -> Option<String> {
        let strip = self.items[k].as_ref().ok()?;
        let (length, reach) = (strip.length() * 1e6, strip.reach() * 1e6);
        let end = match strip.lane().end() {
            End::Grid => "where the measured area ends",
            End::Neighbour => "half way to the next stroke",
        };
        match figure {
            ItemFigure::EdgeWidth => Some(format!(
                "over {length:.0} µm of length, covered share averaged over {} µm outwards; looked for within {reach:.0} µm of the axis, {end}",
                EDGE_WINDOW * 1e6
            )),
            ItemFigure::LineWidth => Some(format!(
                "mean profile over {length:.0} µm ({:.0} % left out at each end); its height is that of the line's middle, or of a place that is clearly higher, from parts of the line that did not choose the place",
                END_SHARE * 100.0
            )),
            ItemFigure::Width90 | ItemFigure::Width99 => {
                Some(format!("of the mass within {reach:.0} µm of the axis, {end}"))
            }
            ItemFigure::EdgeRoughness => Some(format!(
                "evaluated over {length:.0} µm of both edges, sampled every {:.2} µm; grains of powder count as roughness",
                strip.sampling(width?) * 1e6
            )),
            ItemFigure::PeakThickness => None,
        }
    }
    fn why_no_width(&self, k: usize, figure: ItemFigure) -> String {
        if let Err(reason) = &self.items[k] {
            return (*reason).into();
        }
        if !tells_of_item(figure, &self.shapes[k]) {
            return "given for lines only".into();
        }
        match figure {
            ItemFigure::EdgeRoughness => {
                "the line is too sparse, or shorter than ten samples of a quarter of its width".into()
            }
            ItemFigure::LineWidth => "too sparse: its height is not known to 25 %".into(),
            ItemFigure::EdgeWidth => format!(
                "particles cover less than {:.0} % of its length everywhere: there is no edge to see",
                LEAST_EDGE_COVER * 100.0
            ),
            ItemFigure::Width90 | ItemFigure::Width99 | ItemFigure::PeakThickness => "nothing landed along it".into(),
        }
    }
}
