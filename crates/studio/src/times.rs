//! How a shop writes days and times of day: the one place where that is decided.

use crate::studio::zone_of;
use jiff::{Timestamp, ZonedDateTime, civil, tz::TimeZone};
use job::{ClockForm, DateForm, Shop};

/// Days and times of one shop in words.
#[derive(Clone, Debug)]
pub struct Times {
    /// Its time zone.
    pub zone: TimeZone,
    /// How it writes times of day.
    pub clock: ClockForm,
    /// How it writes days.
    pub dates: DateForm,
}

impl Times {
    /// As the shop has set it.
    pub fn of(shop: &Shop) -> Self {
        Self { zone: zone_of(shop), clock: shop.settings.clock, dates: shop.settings.dates }
    }

    fn local(&self, at: Timestamp) -> ZonedDateTime {
        at.to_zoned_datetime(self.zone.clone())
    }

    /// The day on which a moment falls here.
    pub fn day_of(&self, at: Timestamp) -> civil::Date {
        self.local(at).date()
    }

    /// A time of day: `16:05` or `4:05 pm`.
    pub fn time(&self, time: civil::Time) -> String {
        match self.clock {
            ClockForm::Hours24 => format!("{}:{:02}", time.hour(), time.minute()),
            ClockForm::Hours12 => {
                let (hour, half) = twelve(time.hour());
                format!("{hour}:{:02}\u{a0}{half}", time.minute())
            }
        }
    }

    /// The time of day of a moment.
    pub fn clock(&self, at: Timestamp) -> String {
        self.time(self.local(at).time())
    }

    /// A day without its year: `Fri, May 23`. ISO dates keep theirs.
    pub fn weekday(&self, day: civil::Date) -> String {
        day.strftime(match self.dates {
            DateForm::MonthFirst => "%a, %b %-d",
            DateForm::DayFirst => "%a %-d %b",
            DateForm::Iso => "%a %Y-%m-%d",
        })
        .to_string()
    }

    /// A day with its year: `Fri, May 23, 2025`.
    pub fn date(&self, day: civil::Date) -> String {
        day.strftime(match self.dates {
            DateForm::MonthFirst => "%a, %b %-d, %Y",
            DateForm::DayFirst => "%a %-d %b %Y",
            DateForm::Iso => "%a %Y-%m-%d",
        })
        .to_string()
    }

    /// A day in few letters: `May 23`.
    pub fn short(&self, day: civil::Date) -> String {
        day.strftime(match self.dates {
            DateForm::MonthFirst => "%b %-d",
            DateForm::DayFirst => "%-d %b",
            DateForm::Iso => "%Y-%m-%d",
        })
        .to_string()
    }

    /// A day in full for a heading: `Friday, May 23`.
    pub fn heading(&self, day: civil::Date) -> String {
        day.strftime(match self.dates {
            DateForm::MonthFirst => "%A, %B %-d",
            DateForm::DayFirst => "%A, %-d %B",
            DateForm::Iso => "%A, %Y-%m-%d",
        })
        .to_string()
    }

    /// The first and the last of some days: `May 12 to 18`.
    pub fn days(&self, first: civil::Date, last: civil::Date) -> String {
        let one_month = (first.year(), first.month()) == (last.year(), last.month());
        let text = |day: civil::Date, form: &str| day.strftime(form).to_string();
        match (self.dates, one_month) {
            (DateForm::MonthFirst, true) => format!("{} to {}", text(first, "%B %-d"), text(last, "%-d")),
            (DateForm::MonthFirst, false) => format!("{} to {}", text(first, "%B %-d"), text(last, "%B %-d")),
            (DateForm::DayFirst, true) => format!("{} to {}", text(first, "%-d"), text(last, "%-d %B")),
            (DateForm::DayFirst, false) => format!("{} to {}", text(first, "%-d %B"), text(last, "%-d %B")),
            (DateForm::Iso, _) => format!("{} to {}", text(first, "%Y-%m-%d"), text(last, "%Y-%m-%d")),
        }
    }

    /// Day and time: `Fri, May 23, 16:05`.
    pub fn moment(&self, at: Timestamp) -> String {
        let day = self.weekday(self.day_of(at));
        let comma = if self.dates == DateForm::Iso { "" } else { "," };
        format!("{day}{comma} {}", self.clock(at))
    }

    /// Day of the week and time: `Fri 16:05`.
    pub fn near(&self, at: Timestamp) -> String {
        format!("{} {}", self.local(at).strftime("%a"), self.clock(at))
    }

    /// The hour on an axis: `16`, or `4 pm`.
    pub fn hour(&self, hour: i8) -> String {
        match self.clock {
            ClockForm::Hours24 => hour.to_string(),
            ClockForm::Hours12 => {
                let (hour, half) = twelve(hour.rem_euclid(24));
                format!("{hour}\u{a0}{half}")
            }
        }
    }
}

/// An hour of the day on a dial of twelve, and which half of the day it is.
fn twelve(hour: i8) -> (i8, &'static str) {
    let half = if hour < 12 { "am" } else { "pm" };
    (if hour % 12 == 0 { 12 } else { hour % 12 }, half)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::{date, time};

    fn times(clock: ClockForm, dates: DateForm) -> Times {
        Times { zone: TimeZone::UTC, clock, dates }
    }

    #[test]
    fn twelve_hours_begin_with_twelve() {
        // Midnight and noon by the table of NIST "Times of Day FAQ" (12 am begins the day, 12 pm is noon; from memory).
        let t = times(ClockForm::Hours12, DateForm::MonthFirst);
        let said = |h, m| t.time(time(h, m, 0, 0)).replace('\u{a0}', " ");
        assert_eq!(said(0, 5), "12:05 am");
        assert_eq!(said(11, 59), "11:59 am");
        assert_eq!(said(12, 0), "12:00 pm");
        assert_eq!(said(16, 5), "4:05 pm");
        assert_eq!(t.hour(24).replace('\u{a0}', " "), "12 am");
        let t = times(ClockForm::Hours24, DateForm::MonthFirst);
        assert_eq!((t.time(time(0, 5, 0, 0)), t.time(time(16, 5, 0, 0))), ("0:05".into(), "16:05".into()));
    }

    #[test]
    fn days_follow_the_form_of_the_shop() {
        let at: Timestamp = "2025-05-23T16:05:00Z".parse().unwrap();
        let day = date(2025, 5, 23);
        let clock = ClockForm::Hours24;
        let t = times(clock, DateForm::MonthFirst);
        assert_eq!((t.moment(at), t.date(day)), ("Fri, May 23, 16:05".into(), "Fri, May 23, 2025".into()));
        assert_eq!(t.days(date(2025, 5, 12), date(2025, 5, 18)), "May 12 to 18");
        let t = times(clock, DateForm::DayFirst);
        assert_eq!((t.moment(at), t.date(day)), ("Fri 23 May, 16:05".into(), "Fri 23 May 2025".into()));
        assert_eq!(t.days(date(2025, 4, 28), date(2025, 5, 4)), "28 April to 4 May");
        // ISO 8601: year, month, day by hyphens.
        let t = times(clock, DateForm::Iso);
        assert_eq!((t.moment(at), t.short(day)), ("Fri 2025-05-23 16:05".into(), "2025-05-23".into()));
    }
}
