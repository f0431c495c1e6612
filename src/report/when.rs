//! When something was played, as the player's own clock had it.

use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};

/// When a take was begun: `begun` as it is kept (RFC 9557), or where that cannot be read, ms since 1970 in the machine's
/// own time zone.
pub fn begun(begun: &str, begun_ms: i64) -> ZonedDateTime {
    begun.parse().unwrap_or_else(|_| {
        let at = Timestamp::from_millisecond(begun_ms).unwrap_or_default();
        at.to_zoned_datetime(TimeZone::system())
    })
}

/// `today 07:15` or `2026-11-24`: the day where the player was.
pub fn short(at: &ZonedDateTime, now: Timestamp) -> String {
    if is_today(at, now) {
        at.strftime("today %H:%M").to_string()
    } else {
        at.date().to_string()
    }
}

/// `today 07:15` or `2026-11-24 07:15`.
pub fn long(at: &ZonedDateTime, now: Timestamp) -> String {
    if is_today(at, now) {
        short(at, now)
    } else {
        at.strftime("%Y-%m-%d %H:%M").to_string()
    }
}

/// `07:15`, where the day is said elsewhere.
pub fn time(at: &ZonedDateTime, _now: Timestamp) -> String {
    at.strftime("%H:%M").to_string()
}

fn is_today(at: &ZonedDateTime, now: Timestamp) -> bool {
    now.to_zoned_datetime(at.time_zone().clone()).date() == at.date()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MORNING: &str = "2026-11-25T07:15:30+13:00[Pacific/Auckland]";

    /// 07:15 in Auckland is 18:15 UTC of the day before.
    #[test]
    fn the_day_is_that_of_the_place_where_it_was_played() {
        let at = begun(MORNING, 0);
        let now = |text: &str| text.parse::<Timestamp>().expect("a time");
        assert_eq!(short(&at, now("2026-11-25T10:59:00Z")), "today 07:15");
        assert_eq!(short(&at, now("2026-11-25T11:00:00Z")), "2026-11-25");
        assert_eq!(long(&at, now("2026-11-26T00:00:00Z")), "2026-11-25 07:15");
    }

    #[test]
    fn a_time_that_cannot_be_read_is_taken_from_the_milliseconds() {
        let at = begun("this morning", 1_764_000_000_000);
        assert_eq!(at.timestamp().as_second(), 1_764_000_000);
    }
}
