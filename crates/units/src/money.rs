//! Money in decimals; never a binary float.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::{Add, AddAssign, Mul, Neg, Sub};

/// A currency by its ISO 4217 letter code, with the digits after the point that it uses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency {
    code: [u8; 3],
}

impl Currency {
    /// United States dollar.
    pub const USD: Self = Self { code: *b"USD" };
    /// Euro.
    pub const EUR: Self = Self { code: *b"EUR" };

    /// From a letter code such as `USD`.
    ///
    /// # Errors
    /// When it is not three capital letters.
    pub fn from_code(code: &str) -> Result<Self, MoneyError> {
        match code.as_bytes() {
            &[a, b, c] if [a, b, c].iter().all(u8::is_ascii_uppercase) => Ok(Self { code: [a, b, c] }),
            _ => Err(MoneyError::Code(code.to_owned())),
        }
    }

    /// The letter code.
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.code).unwrap_or("XXX")
    }

    /// Digits after the point: ISO 4217 minor units (checked against CLDR by babel 2.18); 2 where not listed.
    pub fn digits(&self) -> u32 {
        match self.code() {
            "JPY" | "CLP" | "ISK" | "KRW" | "VND" => 0,
            "KWD" | "BHD" | "TND" | "JOD" | "OMR" => 3,
            _ => 2,
        }
    }

    /// The sign people write before an amount, or the code and a space.
    pub fn sign(&self) -> String {
        match self.code() {
            "USD" => "$".into(),
            "EUR" => "€".into(),
            "GBP" => "£".into(),
            code => format!("{code} "),
        }
    }
}

impl TryFrom<String> for Currency {
    type Error = MoneyError;
    fn try_from(code: String) -> Result<Self, MoneyError> {
        Self::from_code(&code)
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.code().to_owned()
    }
}

/// How a half is rounded; stated wherever a total is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rounding {
    /// 2.345 becomes 2.35, −2.345 becomes −2.35.
    #[default]
    HalfUp,
    /// 2.345 becomes 2.34: to the even neighbor.
    HalfEven,
    /// Towards zero.
    Down,
}

/// An amount without its currency; the shop has one currency, kept beside its prices.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Money(Decimal);

/// What is wrong with a sum of money as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MoneyError {
    /// Not a currency code.
    Code(String),
    /// Not a number.
    Amount(String),
}

impl fmt::Display for MoneyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Code(text) => {
                write!(f, "'{text}' is no currency code: write three capital letters, such as USD")
            }
            Self::Amount(text) => {
                write!(f, "'{text}' is no amount: write digits with a point, such as 1250.00")
            }
        }
    }
}

impl std::error::Error for MoneyError {}

impl Money {
    /// Nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// From a decimal.
    pub const fn new(amount: Decimal) -> Self {
        Self(amount)
    }

    /// From whole units and hundredths.
    pub fn cents(cents: i64) -> Self {
        Self(Decimal::new(cents, 2))
    }

    /// From text such as `1250.00`.
    ///
    /// # Errors
    /// When it is not a decimal number.
    pub fn parse(text: &str) -> Result<Self, MoneyError> {
        text.trim().parse().map(Self).map_err(|_| MoneyError::Amount(text.to_owned()))
    }

    /// The amount as a decimal.
    pub const fn amount(self) -> Decimal {
        self.0
    }

    /// An estimate taken from a simulation: rounded to 6 decimals at once, so that no binary tail is carried.
    /// Not finite or out of range becomes `None`.
    pub fn from_estimate(value: f64) -> Option<Self> {
        Decimal::from_f64_retain(value).map(|d| Self(d.round_dp(6)))
    }

    /// As a float for drawing and simulation only.
    pub fn as_estimate(self) -> f64 {
        use rust_decimal::prelude::ToPrimitive;
        self.0.to_f64().unwrap_or(f64::NAN)
    }

    /// Rounded to `digits` after the point.
    pub fn rounded(self, digits: u32, how: Rounding) -> Self {
        let strategy = match how {
            Rounding::HalfUp => RoundingStrategy::MidpointAwayFromZero,
            Rounding::HalfEven => RoundingStrategy::MidpointNearestEven,
            Rounding::Down => RoundingStrategy::ToZero,
        };
        Self(self.0.round_dp_with_strategy(digits, strategy))
    }

    /// For reading: sign of the currency, thousands separated, the currency's digits.
    pub fn display(self, currency: Currency) -> String {
        let rounded = self.rounded(currency.digits(), Rounding::HalfUp).0;
        let plain = format!("{:.*}", currency.digits() as usize, rounded.abs());
        let (whole, rest) = plain.split_once('.').map_or((plain.as_str(), None), |(w, r)| (w, Some(r)));
        let mut grouped = String::new();
        for (i, c) in whole.chars().enumerate() {
            if i > 0 && (whole.len() - i) % 3 == 0 {
                grouped.push(',');
            }
            grouped.push(c);
        }
        let minus = if rounded.is_sign_negative() && !rounded.is_zero() { "−" } else { "" };
        let rest = rest.map(|r| format!(".{r}")).unwrap_or_default();
        format!("{minus}{}{grouped}{rest}", currency.sign())
    }
}

impl Add for Money {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}
impl Sub for Money {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}
impl Neg for Money {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}
impl Mul<Decimal> for Money {
    type Output = Self;
    fn mul(self, by: Decimal) -> Self {
        Self(self.0 * by)
    }
}
impl std::iter::Sum for Money {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_rounded_as_stated() {
        // Python's decimal module, quantize to .01 (computed with CPython 3.11).
        for (text, up, even) in [
            ("2.345", "2.35", "2.34"),
            ("2.675", "2.68", "2.68"),
            ("1.005", "1.01", "1.00"),
            ("0.125", "0.13", "0.12"),
            ("-2.345", "-2.35", "-2.34"),
        ] {
            let m = Money::parse(text).unwrap();
            assert_eq!(m.rounded(2, Rounding::HalfUp), Money::parse(up).unwrap(), "{text} half up");
            assert_eq!(m.rounded(2, Rounding::HalfEven), Money::parse(even).unwrap(), "{text} half even");
        }
    }

    #[test]
    fn currency_digits_are_those_of_iso_4217() {
        // CLDR through babel 2.18: EUR USD GBP CHF HUF 2; JPY CLP ISK 0; KWD BHD TND 3.
        for (codes, digits) in [
            (&["EUR", "USD", "GBP", "CHF", "HUF"][..], 2),
            (&["JPY", "CLP", "ISK"], 0),
            (&["KWD", "BHD", "TND"], 3),
        ] {
            for code in codes {
                assert_eq!(Currency::from_code(code).unwrap().digits(), digits, "{code}");
            }
        }
    }

    #[test]
    fn amounts_read_as_people_write_them() {
        assert_eq!(Money::parse("1234567.5").unwrap().display(Currency::USD), "$1,234,567.50");
        assert_eq!(Money::parse("-410").unwrap().display(Currency::EUR), "−€410.00");
        assert_eq!(Money::parse("-0.001").unwrap().display(Currency::EUR), "€0.00");
        assert!(Money::parse("12,50").is_err());
        assert!(Currency::from_code("usd").is_err());
    }
}
