//! What one option covers: work, materials, and what it does for the car.

use crate::{Discount, JobNetwork, LineKind};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Length, Money, Thickness, Volume};

/// How much, in the unit in which it is priced.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Priced by the meter.
    Length(Length),
    /// Priced by the square meter.
    Area(Area),
    /// Priced by the liter.
    Volume(Volume),
    /// Priced by the hour.
    Time(Duration),
    /// Priced by the piece.
    Pieces(f64),
}

impl Quantity {
    /// The number in its priced unit, rounded to three decimals: what the line shows is what is multiplied.
    pub fn number(&self) -> Option<Decimal> {
        let value = match self {
            Self::Length(l) => l.as_m(),
            Self::Area(a) => a.as_m2(),
            Self::Volume(v) => v.as_l(),
            Self::Time(t) => t.as_hours(),
            Self::Pieces(p) => *p,
        };
        Decimal::from_f64_retain(value).map(|d| d.round_dp(3).normalize())
    }

    /// The priced unit's sign.
    pub const fn unit(&self) -> &'static str {
        match self {
            Self::Length(_) => "m",
            Self::Area(_) => "m²",
            Self::Volume(_) => "L",
            Self::Time(_) => "h",
            Self::Pieces(_) => "pcs",
        }
    }
}

/// Something used up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Material {
    /// What it is.
    pub label: String,
    /// What it is for.
    pub kind: LineKind,
    /// How much.
    pub quantity: Quantity,
    /// What one unit costs the shop.
    pub unit_cost: Money,
}

/// Film of an option.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FilmUse {
    /// Roll used up.
    pub length: Length,
    /// Film used up, waste counted.
    pub used: Area,
    /// Film on the car.
    pub on_car: Area,
}

/// What to expect of the film over the years.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Renewals {
    /// Mean number of renewed pieces.
    pub expected: f64,
    /// Over how long.
    pub horizon: Duration,
    /// What they cost, in today's money.
    pub present_value: Money,
}

/// What will not be tried.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// What.
    pub what: String,
    /// Why not.
    pub why: String,
}

/// One option, before it is priced.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scope {
    /// As the customer reads it.
    pub name: String,
    /// The work.
    pub network: JobNetwork,
    /// What is used up, but for consumables by the hour.
    pub materials: Vec<Material>,
    /// Film, for the comparison; priced by its own lines in `materials`.
    pub film: FilmUse,
    /// Expected renewals, when film is part of it.
    pub renewals: Option<Renewals>,
    /// Clear coat that correction takes where it takes most; it never comes back.
    pub clear_coat: Thickness,
    /// Seams that are seen.
    pub seam_in_sight: Length,
    /// Taken off.
    pub discount: Discount,
    /// What will not be tried and why.
    pub not_attempted: Vec<Refusal>,
}
