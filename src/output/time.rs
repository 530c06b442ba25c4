//! The time of day in words.

use std::time::SystemTime;

/// Time in UTC as in ISO 8601, e.g. `2026-03-01T12:00:00Z`.
pub fn timestamp(time: SystemTime) -> String {
    let seconds = time.duration_since(SystemTime::UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (year, month, day) = civil_date(seconds / 86_400);
    let (hour, minute, second) = (seconds / 3600 % 24, seconds / 60 % 60, seconds % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

/// Year, month and day of a number of days since 1970-01-01, Gregorian calendar.
fn civil_date(mut days: u64) -> (u64, u64, u64) {
    let leap = |y: u64| y.is_multiple_of(4) && (!y.is_multiple_of(100) || y.is_multiple_of(400));
    let mut year = 1970;
    while days >= 365 + u64::from(leap(year)) {
        days -= 365 + u64::from(leap(year));
        year += 1;
    }
    let lengths = [31, 28 + u64::from(leap(year)), 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut month = 0;
    while days >= lengths[month] {
        days -= lengths[month];
        month += 1;
    }
    (year, month as u64 + 1, days + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn dates_follow_the_calendar() {
        // `date -u -d @951782400` gives 2000-02-29.
        let at = |s| timestamp(SystemTime::UNIX_EPOCH + Duration::from_secs(s));
        assert_eq!(at(0), "1970-01-01T00:00:00Z");
        assert_eq!(at(951_782_400 + 3_661), "2000-02-29T01:01:01Z");
        assert_eq!(at(1_798_761_599), "2026-12-31T23:59:59Z");
    }
}
