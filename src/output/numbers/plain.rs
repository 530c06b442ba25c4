//! Plain numbers: digits, groups, powers of ten, percent.

/// Joins groups of three digits; narrow and not breakable.
const GROUP: char = '\u{202f}';
/// Decimals beyond which no bench value is shown.
const MOST_DECIMALS: i32 = 9;

/// A number that a person gave: four digits at most, no zeros at the end.
pub fn trimmed(value: f64) -> String {
    without_zeros(significant(value, 4))
}

/// A setting as a person gave it, six digits at most: more than anyone sets, and few enough to hide the noise of unit conversion.
pub fn given(value: f64) -> String {
    without_zeros(significant(value, 6))
}

fn without_zeros(text: String) -> String {
    if text.contains('.') && !text.contains('×') {
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    } else {
        text
    }
}

/// A plain quantity with a number of significant digits: groups of three from five digits on, powers of ten for
/// the very large and very small.
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    if value == 0.0 {
        return "0".into();
    }
    let rounded: f64 = format!("{:.*e}", digits.saturating_sub(1), value).parse().unwrap_or(value);
    let exponent = rounded.abs().log10().floor() as i32;
    if !(-4..7).contains(&exponent) {
        return power_of_ten(rounded, digits, exponent);
    }
    fixed(rounded, digits as i32 - 1 - exponent)
}

/// A value with as many decimals as its uncertainty (any measure of it, same unit) calls for.
pub fn at_precision(value: f64, uncertainty: f64) -> String {
    if !value.is_finite() {
        "–".into()
    } else if uncertainty.is_finite() && uncertainty > 0.0 {
        match decimals_for_uncertainty(uncertainty) {
            // Zeros would hide the digits.
            5.. if value.abs() < 1e-3 => significant(value, 2),
            decimals => fixed(value, decimals),
        }
    } else {
        significant(value, 3)
    }
}

/// A value and its standard deviation to the same decimals, by which the deviation has two digits: `15.47 ± 0.61`.
pub fn with_sd(value: f64, sd: f64) -> String {
    format!("{} ± {}", beside_sd(value, sd), beside_sd(sd, sd))
}

/// A value to the decimals by which a standard deviation (same unit) has two digits.
pub fn beside_sd(value: f64, sd: f64) -> String {
    if !(value.is_finite() && sd.is_finite() && sd > 0.0) {
        return significant(value, 3);
    }
    // As it is rounded: 0.0996 is 0.10.
    let rounded: f64 = format!("{sd:.1e}").parse().unwrap_or(sd);
    fixed(value, 1 - rounded.log10().floor() as i32)
}

/// A count, with groups of three.
pub fn count(value: u64) -> String {
    group(&value.to_string())
}

/// A count with its noun: `1 print`, `20 prints`.
pub fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{}\u{a0}{}", count(n), if n == 1 { one } else { many })
}

/// A share of prints (0 to 1) in whole percent, without hiding that it is not quite all or not quite none.
pub fn share(share: f64) -> String {
    let value = share * 100.0;
    let is_near_an_end = value > 0.0 && value < 0.5 || (99.5..100.0).contains(&value);
    let text = |decimals: usize| format!("{value:.decimals$}");
    // As many decimals as it takes.
    let hides = |text: &String| matches!(text.trim_end_matches('0'), "0." | "100.");
    let text = if is_near_an_end { (1..6).map(text).find(|t| !hides(t)).unwrap_or_else(|| text(6)) } else { text(0) };
    format!("{text}\u{a0}%")
}

/// Two of them: `84 to 100 %`.
pub fn shares([low, high]: [f64; 2]) -> String {
    format!("{} to {}", share(low).trim_end_matches("\u{a0}%"), share(high))
}

/// A share (0 to 1) in percent, at least 0.1 % resolution; tiny shares are not rounded to nothing.
pub fn percent(share: f64) -> String {
    let value = share * 100.0;
    if !value.is_finite() {
        "–".into()
    } else if value == 0.0 {
        "0\u{a0}%".into()
    } else if value.abs() < 0.05 {
        format!("{}\u{a0}%", significant(value, 1))
    } else {
        format!("{value:.1}\u{a0}%")
    }
}

/// Removes the noise of unit conversion: 12 significant digits, so that files hold `312` and not `311.99999999999994`.
pub fn tidy(value: f64) -> f64 {
    if !value.is_finite() || value == 0.0 {
        return value;
    }
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// Decimals at which a half width shows one digit, or two if they are below 20.
pub(super) fn decimals_for_uncertainty(half: f64) -> i32 {
    let exponent = half.log10().floor() as i32;
    let two_digits = (half / 10f64.powi(exponent - 1)).round();
    if two_digits >= 99.5 {
        -(exponent + 1) + 1
    } else if two_digits < 20.0 {
        1 - exponent
    } else {
        -exponent
    }
}

/// Rounds to a number of decimals (negative: to tens, hundreds) and writes it out.
pub(super) fn fixed(value: f64, decimals: i32) -> String {
    let exponent = if value == 0.0 { 0 } else { value.abs().log10().floor() as i32 };
    if exponent >= 9 || decimals > MOST_DECIMALS {
        return power_of_ten(value, ((exponent + decimals + 1).max(1)) as usize, exponent);
    }
    if decimals < 0 {
        let step = 10f64.powi(-decimals);
        return group(&format!("{:.0}", (value / step).round() * step));
    }
    let text = format!("{:.*}", decimals as usize, value);
    let minus_zero = text.starts_with('-') && text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
    group(if minus_zero { &text[1..] } else { &text })
}

fn power_of_ten(value: f64, digits: usize, exponent: i32) -> String {
    let mantissa = value / 10f64.powi(exponent);
    format!("{:.*}\u{a0}×\u{a0}{}", digits.saturating_sub(1), mantissa, ten_to(exponent))
}

/// `10` with a raised exponent.
pub fn ten_to(exponent: i32) -> String {
    let mut out = String::from("10");
    out.extend(exponent.to_string().chars().map(|c| match c {
        '-' => '⁻',
        '1' => '¹',
        '2' => '²',
        '3' => '³',
        _ => char::from_u32(0x2070 + c as u32 - '0' as u32).unwrap_or(c),
    }));
    out
}

/// Puts a narrow space between groups of three digits of the whole part, from five digits on.
fn group(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |r| ("−", r));
    let (whole, fraction) = rest.split_once('.').map_or((rest, None), |(w, f)| (w, Some(f)));
    let mut out = String::from(sign);
    for (i, c) in whole.chars().enumerate() {
        if whole.len() > 4 && i > 0 && (whole.len() - i) % 3 == 0 {
            out.push(GROUP);
        }
        out.push(c);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_of_prints_are_not_rounded_to_certainty() {
        assert_eq!((share(0.991), share(0.009)), ("99\u{a0}%".into(), "1\u{a0}%".into()));
        assert_eq!((share(0.996), share(0.004)), ("99.6\u{a0}%".into(), "0.4\u{a0}%".into()));
        assert_eq!((share(0.9998), share(0.0004)), ("99.98\u{a0}%".into(), "0.04\u{a0}%".into()));
        assert_eq!(
            (share(1.0), share(0.0), share(0.876)),
            ("100\u{a0}%".into(), "0\u{a0}%".into(), "88\u{a0}%".into())
        );
        assert_eq!(shares([0.8389, 1.0]), "84 to 100\u{a0}%");
    }

    #[test]
    fn plain_numbers() {
        assert_eq!(significant(123_456.0, 3), "123\u{202f}000");
        assert_eq!(significant(0.000_012_34, 3), "1.23\u{a0}×\u{a0}10⁻⁵");
        assert_eq!(significant(1.2e9, 2), "1.2\u{a0}×\u{a0}10⁹");
        assert_eq!(significant(-3.456, 2), "−3.5");
        assert_eq!(significant(999.7, 3), "1000");
        assert_eq!(significant(f64::NAN, 3), "–");
        assert_eq!(
            (at_precision(0.000_013, 3e-6), at_precision(0.0, 3e-6)),
            ("1.3\u{a0}×\u{a0}10⁻⁵".into(), "0".into())
        );
        assert_eq!(at_precision(99.123_45, 3e-3), "99.123");
        assert_eq!([with_sd(15.468, 0.61), with_sd(0.5, 0.0996)], ["15.47 ± 0.61", "0.50 ± 0.10"]);
        assert_eq!([with_sd(93.0, 5.83), with_sd(1234.0, 120.0)], ["93.0 ± 5.8", "1230 ± 120"]);
        assert_eq!([beside_sd(-0.001, 0.61), beside_sd(2.71, 0.0)], ["0.00", "2.71"]);
        assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
        assert_eq!(percent(0.4567), "45.7\u{a0}%");
        assert_eq!(percent(1.2e-5), "0.001\u{a0}%");
        assert_eq!(tidy(311.999_999_999_999_94), 312.0);
    }
}
