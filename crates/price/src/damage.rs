//! How often film on a zone is damaged: Gamma-Poisson from claims over exposed area and years.

use crate::PriceError;
use crate::error::within;
use serde::{Deserialize, Serialize};
use stats::GammaRate;
use units::{Area, Duration, Explained};

/// Days in a year, for rates.
const YEAR_DAYS: f64 = 365.25;

/// Film in use: area × time, kept in m²·years.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct AreaYears(f64);

impl AreaYears {
    /// From a number of m²·years.
    pub const fn m2_years(value: f64) -> Self {
        Self(value)
    }
    /// As a number of m²·years.
    pub const fn as_m2_years(self) -> f64 {
        self.0
    }
    /// An area over a time.
    pub fn of(area: Area, time: Duration) -> Self {
        Self(area.as_m2() * time.as_days() / YEAR_DAYS)
    }
}

/// A rate of damage, not known exactly: Gamma with `claims` as its shape and `exposure` as its rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DamageRate {
    /// Claims, of the prior and counted.
    pub claims: f64,
    /// Film in use over which they happened.
    pub exposure: AreaYears,
}

impl DamageRate {
    /// A prior: `claims` in `exposure`, as if already seen.
    ///
    /// # Errors
    /// When either is not above 0.
    pub fn prior(claims: f64, exposure: AreaYears) -> Result<Self, PriceError> {
        within("damage prior", "the number of claims", claims, 1e-9, 1e9, "more than 0")?;
        within("damage prior", "the exposure in m²·years", exposure.0, 1e-9, 1e12, "more than 0")?;
        Ok(Self { claims, exposure })
    }

    /// With the shop's own claims over its own film: Gamma(α, β) becomes Gamma(α + claims, β + exposure)
    /// (Johnson, Ott and Dogucu, Bayes Rules!, chapter 5).
    ///
    /// # Errors
    /// When the exposure is negative or not finite.
    pub fn learn(self, claims: u32, exposure: AreaYears) -> Result<Self, PriceError> {
        within("damage claims", "the exposure in m²·years", exposure.0, 0.0, 1e12, "0 or more")?;
        Ok(Self {
            claims: self.claims + f64::from(claims),
            exposure: AreaYears(self.exposure.0 + exposure.0),
        })
    }

    /// Mean number of claims on an area over a time.
    pub fn expected(&self, area: Area, time: Duration) -> f64 {
        self.per_m2_year() * AreaYears::of(area, time).0
    }

    /// Mean, per m² and year.
    pub fn per_m2_year(&self) -> f64 {
        self.claims / self.exposure.0
    }

    /// Bounds that hold the rate per m² and year with the given chance, such as 0.95; `None` outside 0 to 1.
    pub fn interval(&self, chance: f64) -> Option<(f64, f64)> {
        self.law()?.interval(chance).ok().map(|bounds| (bounds.low, bounds.high))
    }

    /// Chance that the rate is above a figure per m² and year.
    pub fn chance_above(&self, per_m2_year: f64) -> Option<f64> {
        self.law().map(|law| law.above(per_m2_year))
    }

    /// How it was computed.
    pub fn explained(&self, zone: &str) -> Explained {
        let bounds =
            self.interval(0.95).map_or("none".into(), |(a, b)| format!("{a:.3} to {b:.3} per m² and year"));
        Explained::new(
            format!("Damage rate, {zone}"),
            "claims / exposure, prior and the shop's own added up (Gamma-Poisson)",
            "the shop's claims; prior from the settings",
        )
        .with("claims", format!("{:.1}", self.claims))
        .with("exposure", format!("{:.1} m²·years", self.exposure.0))
        .with("mean", format!("{:.3} per m² and year", self.per_m2_year()))
        .with("95 % bounds", bounds)
    }

    fn law(&self) -> Option<GammaRate> {
        GammaRate::new(self.claims, self.exposure.0).ok()
    }
}
