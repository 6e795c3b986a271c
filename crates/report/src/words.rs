//! Figures, days and amounts as they are written on paper, in the shop's units, zone and currency.

use crate::document::Cell;
pub use crate::told::MILE_KM;
use crate::told::{Unit, digits_that_tell, in_us_units};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use job::{Shop, UnitSystem};
use studio::{Figure, Times};
use units::{Area, Currency, Duration, Length, Money, Thickness, Volume};

/// How one shop writes.
#[derive(Clone, Debug)]
pub struct Words {
    /// How it writes days and times.
    pub times: Times,
    /// Its units.
    pub units: UnitSystem,
    /// Its currency.
    pub currency: Currency,
}

impl Words {
    /// As the shop has set it.
    pub fn of(shop: &Shop, zone: &TimeZone) -> Self {
        Self {
            times: Times { zone: zone.clone(), ..Times::of(shop) },
            units: shop.settings.units,
            currency: shop.settings.prices.currency,
        }
    }

    /// Day and time: `Wed, May 14, 8:05`.
    pub fn moment(&self, at: Timestamp) -> String {
        self.times.moment(at)
    }

    /// Time alone: `8:05`.
    pub fn clock(&self, at: Timestamp) -> String {
        self.times.clock(at)
    }

    /// Day with its year: `Fri, May 23, 2025`.
    pub fn day(&self, at: Timestamp) -> String {
        self.date(self.times.day_of(at))
    }

    /// Day with its year: `Fri, May 23, 2025`.
    pub fn date(&self, date: Date) -> String {
        self.times.date(date)
    }

    /// From and to, the day once if it is the same: `Wed, May 14, 8:00 to 13:10`.
    pub fn span(&self, from: Timestamp, to: Timestamp) -> String {
        let day = |t: Timestamp| self.times.day_of(t);
        let end = if day(from) == day(to) { self.clock(to) } else { self.moment(to) };
        format!("{} to {end}", self.moment(from))
    }

    /// An amount: `$4,350.00`.
    pub fn money(&self, amount: Money) -> String {
        amount.display(self.currency)
    }

    /// How long: `25 min`, `1 h 25 min`, `12 h`.
    pub fn duration(&self, time: Duration) -> String {
        let minutes = time.as_minutes();
        if !minutes.is_finite() {
            return "unknown".to_owned();
        }
        let whole = minutes.round().max(0.0) as u64;
        match (whole / 60, whole % 60) {
            (0, m) => format!("{m} min"),
            (h, 0) => format!("{h} h"),
            (h, m) => format!("{h} h {m} min"),
        }
    }

    /// A small length: value and unit.
    pub fn small_length(&self, length: Length) -> (String, &'static str) {
        match self.units {
            UnitSystem::Metric => (format!("{:.0}", length.as_mm()), "mm"),
            UnitSystem::Us => (format!("{:.1}", length.as_mm() / 25.4), "in"),
        }
    }

    /// A length of film: value and unit.
    pub fn long_length(&self, length: Length) -> (String, &'static str) {
        match self.units {
            UnitSystem::Metric => (format!("{:.2}", length.as_mm() / 1000.0), "m"),
            UnitSystem::Us => (format!("{:.1}", length.as_mm() / 304.8), "ft"),
        }
    }

    /// An area: value and unit.
    pub fn area(&self, area: Area) -> (String, &'static str) {
        match self.units {
            UnitSystem::Metric => (format!("{:.2}", area.as_m2()), "m²"),
            UnitSystem::Us => (format!("{:.1}", area.as_m2() / 0.092_903_04), "ft²"),
        }
    }

    /// What an odometer says, in kilometers: value and unit.
    pub fn odometer(&self, km: u32) -> (String, &'static str) {
        match self.units {
            UnitSystem::Metric => (grouped(km), "km"),
            UnitSystem::Us => (grouped((f64::from(km) / MILE_KM).round() as u32), "mi"),
        }
    }

    /// A volume of product: `190 mL`.
    pub fn volume(&self, volume: Volume) -> String {
        let (value, unit) = self.liquid(volume);
        format!("{value} {unit}")
    }

    /// A volume of product, as fine as anybody can see it in a bottle: value and unit.
    pub fn liquid(&self, volume: Volume) -> (String, &'static str) {
        match self.units {
            UnitSystem::Metric if volume.as_l() >= 1.0 => (format!("{:.1}", volume.as_l()), "L"),
            UnitSystem::Metric => (format!("{:.0}", volume.as_ml()), "mL"),
            // a US gallon is 128 fluid ounces
            UnitSystem::Us if volume.as_fl_oz() >= 128.0 => {
                (format!("{:.1}", volume.as_fl_oz() / 128.0), "gal")
            }
            UnitSystem::Us => (format!("{:.1}", volume.as_fl_oz()), "fl oz"),
        }
    }

    /// A thickness without its unit, which is [`Words::thickness_unit`].
    pub fn thickness(&self, thickness: Thickness) -> String {
        match self.units {
            UnitSystem::Metric => format!("{:.0}", thickness.as_um()),
            UnitSystem::Us => format!("{:.2}", thickness.as_um() / 25.4),
        }
    }

    /// A thickness and its half-width, equally fine, without their unit. Some doubt is never told as none.
    pub fn thickness_within(&self, (mean, half): (Thickness, Thickness)) -> (String, String) {
        let (mean, half, digits) = match self.units {
            UnitSystem::Metric => (mean.as_um(), half.as_um(), 0),
            UnitSystem::Us => (mean.as_mil(), half.as_mil(), 2),
        };
        let digits = digits_that_tell(half, digits);
        (format!("{mean:.digits$}"), format!("{half:.digits$}"))
    }

    /// The unit of thickness.
    pub fn thickness_unit(&self) -> &'static str {
        match self.units {
            UnitSystem::Metric => "µm",
            UnitSystem::Us => "mil",
        }
    }

    /// A sentence of a view with its quantities in the shop's units. Not for what people wrote.
    pub fn told(&self, text: &str) -> String {
        match self.units {
            UnitSystem::Metric => text.to_owned(),
            UnitSystem::Us => in_us_units(text),
        }
    }

    /// A figure of a view, in the shop's units, with its warning below it.
    pub fn figure(&self, figure: &Figure) -> Cell {
        let (value, pm, unit) = self.converted(figure);
        let value = match pm {
            Some(pm) => Cell::estimate(value, pm, &unit),
            None => Cell::figure(value, &unit),
        };
        match &figure.warning {
            Some(warning) => Cell::Lines { parts: vec![value, Cell::Late { text: self.told(warning) }] },
            None => value,
        }
    }

    /// A figure of a view in one line, such as `41 ± 4 µm`.
    pub fn figure_text(&self, figure: &Figure) -> String {
        let (value, pm, unit) = self.converted(figure);
        let pm = pm.map(|pm| format!(" ± {pm}")).unwrap_or_default();
        let gap = if unit.is_empty() { "" } else { "\u{a0}" };
        format!("{value}{pm}{gap}{unit}")
    }

    /// Value, half-width and unit. Views give SI; digits after the point are chosen so that a converted
    /// figure is neither finer nor coarser than it was.
    fn converted(&self, figure: &Figure) -> (String, Option<String>, String) {
        let as_is = || (figure.value.clone(), figure.plus_minus.clone(), figure.unit.clone());
        if self.units == UnitSystem::Metric {
            return as_is();
        }
        if figure.unit.is_empty() {
            return (self.told(&figure.value), figure.plus_minus.clone(), String::new());
        }
        let Some(unit) = Unit::named(&figure.unit) else { return as_is() };
        let Some((value, digits)) = unit.converted(&figure.value, false) else { return as_is() };
        match figure.plus_minus.as_deref().map(|pm| unit.converted(pm, true)) {
            Some(None) => as_is(),
            Some(Some((pm, fine))) => {
                // a figure and its half-width are equally fine, and some doubt is never told as none
                let digits = digits.max(fine);
                (format!("{value:.digits$}"), Some(format!("{pm:.digits$}")), unit.us.to_owned())
            }
            None => (format!("{value:.digits$}"), None, unit.us.to_owned()),
        }
    }
}

/// First letter large.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Counted thing: `1 piece`, `3 pieces`.
pub(crate) fn counted(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// Digits in groups of three, parted by narrow spaces.
fn grouped(n: u32) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push('\u{202f}');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::{ClockForm, DateForm};

    fn shop(units: UnitSystem) -> Words {
        Words {
            times: Times { zone: TimeZone::UTC, clock: ClockForm::Hours24, dates: DateForm::MonthFirst },
            units,
            currency: Currency::USD,
        }
    }

    #[test]
    fn figures_follow_the_units_of_the_shop() {
        let clear = Figure::new("Clear coat", "41", "µm").plus_minus("4");
        assert_eq!(shop(UnitSystem::Metric).figure_text(&clear), "41 ± 4\u{a0}µm");
        // 25.4 µm are 1 mil exactly (international inch of 1959: 25.4 mm).
        assert_eq!(shop(UnitSystem::Us).figure_text(&clear), "1.61 ± 0.16\u{a0}mil");
        let fine = Figure::new("Clear coat", "46", "µm").plus_minus("1");
        assert_eq!(shop(UnitSystem::Us).figure_text(&fine), "1.81 ± 0.04\u{a0}mil");
        let close = (Thickness::um(118.0), Thickness::um(0.3));
        assert_eq!(shop(UnitSystem::Metric).thickness_within(close), ("118.0".to_owned(), "0.3".to_owned()));
        assert_eq!(shop(UnitSystem::Us).thickness_within(close), ("4.65".to_owned(), "0.01".to_owned()));
        let odd = Figure::new("Rest", "none", "m");
        assert_eq!(shop(UnitSystem::Us).figure_text(&odd), "none\u{a0}m");
        // The square foot is 0.09290304 m² exactly (NIST SP 811, appendix B.8).
        assert_eq!(shop(UnitSystem::Us).area(Area::m2(1.0)), ("10.8".to_owned(), "ft²"));
    }

    #[test]
    fn times_are_written_once_a_day() {
        let at = |t: &str| t.parse::<Timestamp>().unwrap();
        let words = shop(UnitSystem::Metric);
        let (from, to) = (at("2025-05-14T08:00:00Z"), at("2025-05-14T13:10:00Z"));
        assert_eq!(words.span(from, to), "Wed, May 14, 8:00 to 13:10");
        assert_eq!(words.span(from, at("2025-05-15T09:05:00Z")), "Wed, May 14, 8:00 to Thu, May 15, 9:05");
        assert_eq!(words.duration(Duration::minutes(85.4)), "1 h 25 min");
        assert_eq!(words.duration(Duration::minutes(f64::NAN)), "unknown");
    }
}
