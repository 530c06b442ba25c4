//! Lengths, masses, volumes and times in the unit that suits them.

use super::figure::suited;
use super::plain::significant;
use motefall_figures::PrintFigure;

/// A length, m.
pub fn length(metres: f64) -> String {
    if metres >= 0.999e-3 {
        format!("{}\u{a0}mm", three_digits(metres * 1e3))
    } else if metres >= 0.999e-6 {
        format!("{}\u{a0}µm", three_digits(metres * 1e6))
    } else {
        format!("{}\u{a0}nm", three_digits(metres * 1e9))
    }
}

fn three_digits(value: f64) -> String {
    let text = significant(value, 3);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').into() } else { text }
}

/// A mass, kg.
pub fn mass(kilograms: f64) -> String {
    let (factor, unit) = [(1e15, "pg"), (1e12, "ng"), (1e9, "µg"), (1e6, "mg")]
        .into_iter()
        .find(|(f, _)| kilograms.abs() * f < 999.5)
        .unwrap_or((1e3, "g"));
    format!("{}\u{a0}{unit}", significant(kilograms * factor, 3))
}

/// A volume of ink, m^3.
pub fn ink(volume: f64) -> String {
    if volume >= 1e-6 {
        return format!("{}\u{a0}mL", significant(volume * 1e6, 3));
    }
    let kind = PrintFigure::InkUsed.kind();
    let (factor, unit) = suited(kind, volume * kind.per_si);
    format!("{}\u{a0}{unit}", significant(volume * kind.per_si * factor, 3))
}

/// A time, s.
pub fn duration(seconds: f64) -> String {
    match seconds {
        s if s < 120.0 => format!("{}\u{a0}s", significant(s, 3)),
        s if s < 7200.0 => format!("{}\u{a0}min", significant(s / 60.0, 3)),
        s if s < 48.0 * 3600.0 => format!("{}\u{a0}h", significant(s / 3600.0, 3)),
        s => format!("{}\u{a0}days", significant(s / 86400.0, 3)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_unit_suits_the_value() {
        let plain = |text: String| text.replace('\u{a0}', " ");
        assert_eq!([2e-3, 3.5e-6, 40e-9].map(length).map(plain), ["2 mm", "3.5 µm", "40 nm"]);
        assert_eq!([2.5e-15, 1e-12, 3.2e-7].map(mass).map(plain), ["2.50 pg", "1.00 ng", "320 µg"]);
        assert_eq!([2.33e-12, 4e-8, 2e-6].map(ink).map(plain), ["2.33 nL", "40.0 µL", "2.00 mL"]);
        assert_eq!(
            [42.0, 600.0, 36_000.0, 864_000.0].map(duration).map(plain),
            ["42.0 s", "10.0 min", "10.0 h", "10.0 days"]
        );
    }
}
