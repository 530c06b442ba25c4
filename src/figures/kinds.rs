//! The list of figures: identifier, name, unit, where each applies.

/// Where a figure applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// Regions of the chip.
    Region,
    /// Items of the path.
    Item,
    /// The whole print.
    Print,
}

/// A figure that the program can give and that a limit can be set on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureKind {
    /// Identifier used in scenarios and tables; ends with the unit where there is one.
    pub id: &'static str,
    /// Name in words.
    pub label: &'static str,
    /// Unit in which it is shown.
    pub unit: &'static str,
    /// Shown value = SI value times this.
    pub per_si: f64,
    /// Where it applies.
    pub scope: Scope,
    /// What it means, one sentence.
    pub meaning: &'static str,
}

macro_rules! kinds {
    ($($id:literal, $label:literal, $unit:literal, $per_si:expr, $scope:ident, $meaning:literal;)*) => {
        /// Every figure, deciding ones first.
        pub const KINDS: &[FigureKind] = &[
            $(FigureKind { id: $id, label: $label, unit: $unit, per_si: $per_si, scope: Scope::$scope, meaning: $meaning },)*
        ];
    };
}

kinds! {
    "coverage_percent", "coverage", "%", 1e2, Region, "share of the region's area under at least one particle";
    "mean_thickness_nm", "mean solid thickness", "nm", 1e9, Region, "solid volume over area, as a beam sees it";
    "thickness_cv_percent", "unevenness of thickness", "%", 1e2, Region, "standard deviation over mean of the thickness, from square to square";
    "thickness_p5_nm", "thickness, 5th percentile", "nm", 1e9, Region, "5 % of the region is thinner, averaged over squares";
    "thickness_p50_nm", "thickness, median", "nm", 1e9, Region, "half of the region is thinner, averaged over squares";
    "thickness_p95_nm", "thickness, 95th percentile", "nm", 1e9, Region, "5 % of the region is thicker, averaged over squares";
    "thickness_p99_nm", "thickness, 99th percentile", "nm", 1e9, Region, "1 % of the region is thicker, averaged over squares";
    "too_thick_percent", "too thick for the beam", "%", 1e2, Region, "share of the area under particles, or under the layers alone, where all together exceed the limit in mean free paths; the deposit of a square lies evenly on its covered part";
    "usable_percent", "usable for the beam", "%", 1e2, Region, "share of the area that is under at least one particle and not too thick for the beam";
    "bare_percent", "bare", "%", 1e2, Region, "share of the area under no particle";
    "mean_free_paths", "thickness in mean free paths", "", 1.0, Region, "mean of thickness over inelastic mean free path, deposit and other layers together";
    "mass_pg", "solid mass", "pg", 1e15, Region, "mass of the particles whose centre is inside";
    "particles", "particles", "", 1.0, Region, "number of particles whose centre is inside";
    "active_particles", "active particles", "", 1.0, Region, "number of particles with a capacity";
    "capacity_nah", "theoretical capacity", "nAh", 1.0 / 3.6e-6, Region, "sum over powders of mass times theoretical capacity";
    "current_1c_na", "current at 1C", "nA", 1e9, Region, "current that passes the theoretical capacity in one hour";
    "joined_percent", "active particles joined", "%", 1e2, Region, "share of the active particles over the electrode that rest on it or on conducting particles that lead to it";
    "joined_capacity_percent", "capacity joined", "%", 1e2, Region, "share of the capacity over the electrode in particles that are joined to it";
    "charge_per_particle_pc", "charge of an active particle", "pC", 1e12, Region, "theoretical capacity over the number of active particles";
    "largest_particle_um", "largest particle", "µm", 1e6, Region, "diameter of the largest particle inside";
    "coarse_particles", "particles above 0.5 µm", "", 1.0, Region, "number of particles larger than 0.5 µm";
    "hit_probability", "probability of at least one particle", "", 1.0, Region, "share of prints with at least one particle inside; upper bound if none";
    "farthest_particle_um", "farthest particle", "µm", 1e6, Region, "distance from the nearest printed electrode to the particle inside that lies farthest from it";
    "edge_width_um", "width from edge to edge", "µm", 1e6, Item, "as one measures it in a micrograph: between the outermost places on both sides where particles still cover a tenth as much of the line's length as where they cover most";
    "line_width_um", "line width (FWHM)", "µm", 1e6, Item, "full width at half maximum of the mean profile";
    "width_90_um", "width holding 90 % of the mass", "µm", 1e6, Item, "narrowest band about the line's centre that holds 90 % of the profile's mass";
    "width_99_um", "width holding 99 % of the mass", "µm", 1e6, Item, "narrowest band about the line's centre that holds 99 % of the profile's mass";
    "peak_thickness_nm", "peak of the profile", "nm", 1e9, Item, "largest value of the mean profile";
    "edge_roughness_um", "edge roughness (3 sigma)", "µm", 1e6, Item, "three standard deviations of the half-height edges from their best-fit lines";
    "landed_percent", "mist solids that land", "%", 1e2, Print, "share of the solids leaving the vial that reach the chip plane";
    "on_target_percent", "landed solids on target", "%", 1e2, Print, "share of the landed solids inside target regions";
    "overspray_percent", "overspray", "%", 1e2, Print, "share of the landed solids outside target regions";
    "overspray_reach_um", "reach of the overspray", "µm", 1e6, Print, "distance from the nearest target edge within which 99 % of the solids lie that land within 20 nozzle radii of the axis";
    "farthest_stray_um", "farthest stray particle", "µm", 1e6, Print, "distance from the nearest printed electrode to the particle that landed farthest from it; droplets are followed to 20 nozzle radii from the axis";
    "bridge_probability", "probability of a bridge", "", 1.0, Print, "share of prints in which conducting particles, seen from above, join two electrodes; upper bound if none";
    "capacity_ratio", "counter to working capacity", "", 1.0, Print, "theoretical capacity of the counter electrodes over that of the targets";
    "print_time_s", "print time", "s", 1.0, Print, "with all moves";
    "ink_used_ul", "ink used", "µL", 1e9, Print, "ink leaving the vials as mist while the stage is at work, shutter closed or not; pauses left aside";
}

impl FigureKind {
    /// Whether the figure belongs to all prints together and a single print only says yes or no.
    pub fn is_share_of_prints(&self) -> bool {
        matches!(self.id, "hit_probability" | "bridge_probability")
    }

    /// Whether it is a whole number of particles.
    pub fn is_count(&self) -> bool {
        matches!(self.id, "particles" | "active_particles" | "coarse_particles")
    }

    /// Whether a single particle of each print decides it: a mean over prints says little, for one print in ten sets it.
    pub fn is_extreme(&self) -> bool {
        matches!(self.id, "largest_particle_um" | "farthest_particle_um" | "farthest_stray_um")
    }

    /// Whether it is continuous and many particles of a print share in it, so that a distance from its mean can be told in standard
    /// deviations between prints.
    pub fn has_normal_margin(&self) -> bool {
        !(self.is_count() || self.is_extreme() || self.is_share_of_prints())
    }

    /// Whether it is that of squares of the edge `map.resolution_um`, over each of which thickness is averaged.
    pub fn is_of_squares(&self) -> bool {
        matches!(
            self.id,
            "thickness_cv_percent"
                | "thickness_p5_nm"
                | "thickness_p50_nm"
                | "thickness_p95_nm"
                | "thickness_p99_nm"
                | "too_thick_percent"
                | "usable_percent"
        )
    }

    /// Whether it says something of the beam that crosses a region.
    pub fn is_of_beam(&self) -> bool {
        matches!(self.id, "too_thick_percent" | "usable_percent" | "mean_free_paths")
    }

    /// Whether it is measured over the area of a region, not by counting particles.
    pub fn is_of_area(&self) -> bool {
        self.is_of_squares()
            || matches!(self.id, "coverage_percent" | "bare_percent" | "mean_thickness_nm" | "mean_free_paths")
    }

    /// Whether it takes the single particles of a print.
    pub fn needs_particles(&self) -> bool {
        matches!(self.id, "joined_percent" | "joined_capacity_percent" | "bridge_probability")
    }

    /// Largest value the figure can have, SI; `None` if there is none. The least is 0 for all.
    pub fn most(&self) -> Option<f64> {
        // The unevenness is a ratio too, but may exceed 1.
        (self.unit == "%" && self.id != "thickness_cv_percent" || self.is_share_of_prints()).then_some(1.0)
    }
}

/// Looks a figure up by its identifier.
pub fn kind(id: &str) -> Option<&'static FigureKind> {
    KINDS.iter().find(|k| k.id == id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_are_unique() {
        for (i, a) in KINDS.iter().enumerate() {
            assert!(KINDS[i + 1..].iter().all(|b| b.id != a.id), "{} stands twice", a.id);
        }
    }
}
