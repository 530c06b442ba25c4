//! Capacity of active materials.

use crate::constants::FARADAY;

/// Theoretical capacity of an active material, C/kg: x F / M (Faraday's law).
///
/// `molar_mass` M, kg/mol per formula unit; `electrons` x passed per formula unit. Divide by 3600 for mAh/g.
pub fn faraday_capacity(molar_mass: f64, electrons: f64) -> f64 {
    electrons * FARADAY / molar_mass
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lithium_iron_phosphate_by_hand() {
        // 96485.332/0.157757 = 611607.3 C/kg; /3600 = 169.89 mAh/g
        assert!((faraday_capacity(0.157_757, 1.0) / 3600.0 - 169.89).abs() < 0.01);
    }
}
