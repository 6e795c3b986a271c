//! Dimensioned quantities. Each keeps the unit in which the trade reads it, so that a value typed
//! in that unit comes back digit for digit; the field is private and every door names its unit.

use serde::{Deserialize, Serialize};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

macro_rules! quantity {
    ($(#[$meta:meta])* $name:ident, $base:ident, $as_base:ident) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            #[doc = concat!("From a number of `", stringify!($base), "`, the unit kept inside and in serialized form.")]
            pub const fn $base(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("As a number of `", stringify!($base), "`.")]
            pub const fn $as_base(self) -> f64 {
                self.0
            }

            /// The smaller of the two; a NaN loses.
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of the two; a NaN loses.
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// Total order for sorting (IEEE 754 `totalOrder`).
            pub fn total_cmp(&self, other: &Self) -> std::cmp::Ordering {
                self.0.total_cmp(&other.0)
            }

            /// Neither infinite nor NaN.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }
    };
}

macro_rules! linear {
    ($name:ident) => {
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) {
                self.0 -= other.0;
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, by: f64) -> Self {
                Self(self.0 * by)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, by: f64) -> Self {
                Self(self.0 / by)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                iter.fold(Self::ZERO, Add::add)
            }
        }
    };
}

quantity!(
    /// A length on the car, the roll or the floor; kept in millimeters.
    Length, mm, as_mm
);
linear!(Length);

quantity!(
    /// A thickness of paint or film; kept in micrometers.
    Thickness, um, as_um
);
linear!(Thickness);

quantity!(
    /// An area; kept in square meters.
    Area, m2, as_m2
);
linear!(Area);

quantity!(
    /// A volume of liquid or of a room; kept in milliliters.
    Volume, ml, as_ml
);
linear!(Volume);

quantity!(
    /// A span of time; kept in minutes.
    Duration, minutes, as_minutes
);
linear!(Duration);

quantity!(
    /// A temperature; kept in degrees Celsius. Not additive: differences are taken in numbers.
    Temperature, celsius, as_celsius
);

impl Length {
    /// From meters.
    pub const fn m(value: f64) -> Self {
        Self(value * 1e3)
    }
    /// As meters.
    pub const fn as_m(self) -> f64 {
        self.0 / 1e3
    }
    /// From inches (exactly 25.4 mm).
    pub const fn inches(value: f64) -> Self {
        Self(value * 25.4)
    }
    /// As inches.
    pub const fn as_inches(self) -> f64 {
        self.0 / 25.4
    }
}

impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Self) -> Area {
        Area::mm2(self.0 * other.0)
    }
}

impl Thickness {
    /// From mils, thousandths of an inch (exactly 25.4 µm).
    pub const fn mil(value: f64) -> Self {
        Self(value * 25.4)
    }
    /// As mils.
    pub const fn as_mil(self) -> f64 {
        self.0 / 25.4
    }
}

impl Area {
    /// From square millimeters.
    pub const fn mm2(value: f64) -> Self {
        Self(value / 1e6)
    }
    /// As square millimeters.
    pub const fn as_mm2(self) -> f64 {
        self.0 * 1e6
    }
    /// As square feet (exactly 0.09290304 m²).
    pub const fn as_ft2(self) -> f64 {
        self.0 / 0.092_903_04
    }
}

impl Volume {
    /// From liters.
    pub const fn l(value: f64) -> Self {
        Self(value * 1e3)
    }
    /// As liters.
    pub const fn as_l(self) -> f64 {
        self.0 / 1e3
    }
    /// From cubic meters (rooms).
    pub const fn m3(value: f64) -> Self {
        Self(value * 1e6)
    }
    /// As cubic meters.
    pub const fn as_m3(self) -> f64 {
        self.0 / 1e6
    }
    /// As US fluid ounces (29.5735295625 mL).
    pub const fn as_fl_oz(self) -> f64 {
        self.0 / 29.573_529_562_5
    }
}

impl Duration {
    /// From hours.
    pub const fn hours(value: f64) -> Self {
        Self(value * 60.0)
    }
    /// As hours.
    pub const fn as_hours(self) -> f64 {
        self.0 / 60.0
    }
    /// From days of 24 hours.
    pub const fn days(value: f64) -> Self {
        Self(value * 1440.0)
    }
    /// As days of 24 hours.
    pub const fn as_days(self) -> f64 {
        self.0 / 1440.0
    }
    /// From seconds.
    pub const fn seconds(value: f64) -> Self {
        Self(value / 60.0)
    }
    /// As seconds.
    pub const fn as_seconds(self) -> f64 {
        self.0 * 60.0
    }
}

impl Temperature {
    /// As kelvins.
    pub const fn as_kelvin(self) -> f64 {
        self.0 + 273.15
    }
    /// As degrees Fahrenheit.
    pub const fn as_fahrenheit(self) -> f64 {
        self.0 * 1.8 + 32.0
    }
    /// From degrees Fahrenheit.
    pub const fn fahrenheit(value: f64) -> Self {
        Self((value - 32.0) / 1.8)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conversions_are_those_of_the_international_yard_and_liter() {
        // NIST SP 811, appendix B: exact definitions.
        assert_eq!(Length::inches(1.0).as_mm(), 25.4);
        assert_eq!(Thickness::mil(1.0).as_um(), 25.4);
        assert!((Area::m2(0.092_903_04).as_ft2() - 1.0).abs() < 1e-15);
        assert_eq!(Temperature::celsius(100.0).as_fahrenheit(), 212.0);
        assert_eq!(Temperature::celsius(0.0).as_kelvin(), 273.15);
        assert!((Volume::ml(29.573_529_562_5).as_fl_oz() - 1.0).abs() < 1e-15);
    }

    #[test]
    fn a_length_times_a_length_is_an_area() {
        assert!(((Length::m(2.0) * Length::mm(500.0)).as_m2() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn typed_values_come_back_digit_for_digit() {
        assert_eq!(Thickness::um(112.3).as_um(), 112.3);
        assert_eq!(serde_json::to_string(&Length::mm(1520.0)).unwrap(), "1520.0");
    }
}
