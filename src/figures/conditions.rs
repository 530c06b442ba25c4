//! What is known of a layer before any droplet flies, and how its droplets fly.

use motefall_physics::path::motion::Stroke;

/// What follows from the inputs of a layer before any droplet flies. SI.
#[derive(Debug, Clone)]
pub struct Conditions {
    /// Gas density in the head, kg/m^3.
    pub gas_density: f64,
    /// Gas viscosity in the head, Pa s.
    pub gas_viscosity: f64,
    /// Gas mean free path in the head, m.
    pub mean_free_path: f64,
    /// Carrier flow at head conditions, m^3/s.
    pub carrier_flow: f64,
    /// Sheath flow at head conditions, m^3/s.
    pub sheath_flow: f64,
    /// Mean gas speed at the nozzle exit, m/s.
    pub exit_speed: f64,
    /// Gas speed on the axis at the exit, m/s.
    pub centre_speed: f64,
    /// Nozzle Reynolds number, mean speed and diameter.
    pub reynolds: f64,
    /// Mach number on the centreline at the exit.
    pub mach: f64,
    /// Stand-off in nozzle diameters.
    pub stand_off_ratio: f64,
    /// Radius of the aerosol core at the exit without inertia, m.
    pub core_radius: f64,
    /// Residence time in the tube, s.
    pub tube_time: f64,
    /// Residence time in the head along the axis, s.
    pub head_time: f64,
    /// Count median droplet diameter at the atomiser, m.
    pub droplet_median: f64,
    /// Mass median droplet diameter there, m: half of the liquid is in larger ones.
    pub droplet_mass_median: f64,
    /// Mean droplet volume at the atomiser, m^3.
    pub droplet_mean_volume: f64,
    /// Droplets leaving the atomiser per second, steady state.
    pub droplet_rate: f64,
    /// Whole time of the layer with moves, without the pause before it, s.
    pub print_time: f64,
    /// Time with the shutter open, s.
    pub open_time: f64,
    /// Ink leaving the vial as mist during `print_time`, m^3.
    pub ink_used: f64,
    /// Density of the ink, kg/m^3.
    pub ink_density: f64,
    /// Share of the ink's liquid that is left at the nozzle exit, 0 to 1.
    pub liquid_left: f64,
    /// Saturation of the gas around the droplets at the nozzle exit, first solvent.
    pub exit_saturation: f64,
    /// Per powder of the ink: share of its mass in the ink that can ride in droplets, 0 to 1.
    pub printable_share: Vec<f64>,
    /// Per powder of the ink: mean number of particles in a droplet at the atomiser.
    pub particles_per_droplet: Vec<f64>,
    /// Per powder of the ink: inelastic mean free path used for the beam, m.
    pub powder_mean_free_path: Vec<f64>,
    /// Path of the nozzle axis with the shutter state, for drawing.
    pub strokes: Vec<Stroke>,
}

/// Fate of one droplet diameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LandingPoint {
    /// Droplet diameter at the nozzle exit, m.
    pub diameter: f64,
    /// Share of the aerosol flow from which such droplets land, 0 to 1.
    pub landed: f64,
    /// Landing radii at 5, 50 and 95 % of the landed flow, m; NaN if none lands.
    pub radius: [f64; 3],
    /// Impact speed on the axis, m/s; NaN if none lands.
    pub impact_speed: f64,
}
