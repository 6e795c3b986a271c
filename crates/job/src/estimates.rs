//! What the shop believes of times, damage and seams before its own history says better.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Duration, Money};

/// A part of a car on which film is damaged alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FilmZone {
    /// Bumper, hood, mirrors, lamps: what meets the road's chips first.
    Nose,
    /// The flared parts behind the wheels.
    BehindWheels,
    /// The rest of the sides.
    Sides,
    /// Roof, lid, tail.
    Upper,
}

impl FilmZone {
    /// All, from nose to tail.
    pub const ALL: [Self; 4] = [Self::Nose, Self::BehindWheels, Self::Sides, Self::Upper];

    /// In words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Nose => "nose",
            Self::BehindWheels => "behind the wheels",
            Self::Sides => "sides",
            Self::Upper => "roof and tail",
        }
    }

    /// Its name in stored forms and forms of pages.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Nose => "nose",
            Self::BehindWheels => "behind_wheels",
            Self::Sides => "sides",
            Self::Upper => "upper",
        }
    }
}

/// How often film on a zone is damaged so that it is renewed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ZoneRate {
    /// Damages a square meter and year.
    pub a_m2_year: f64,
    /// How many m²·years of the shop's own film this belief is worth.
    pub worth_m2_years: f64,
}

/// What pieces and seams take. Common practice, no source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SeamTimes {
    /// Fitting, each piece.
    #[serde(rename = "piece_min")]
    pub piece: Duration,
    /// Fitting, each m².
    #[serde(rename = "m2_min")]
    pub m2: Duration,
    /// Working the edge of a seam, each meter.
    #[serde(rename = "seam_m_min")]
    pub seam_m: Duration,
    /// Taking old film off, each m².
    #[serde(rename = "removal_m2_min")]
    pub removal_m2: Duration,
    /// Around each renewal: booking, washing, handover.
    #[serde(rename = "renewal_min")]
    pub renewal: Duration,
    /// Mean flaws a m² that force a fresh start while fitting.
    pub flaws_m2: f64,
    /// What an offcut is worth, as a share of fresh film.
    pub offcut_value: f64,
    /// What it is worth to the usual customer not to see a meter of seam.
    pub unseen_m: Money,
}

impl Default for SeamTimes {
    fn default() -> Self {
        Self {
            piece: Duration::minutes(25.0),
            m2: Duration::minutes(70.0),
            seam_m: Duration::minutes(8.0),
            removal_m2: Duration::minutes(40.0),
            renewal: Duration::minutes(90.0),
            flaws_m2: 0.12,
            offcut_value: 0.3,
            unseen_m: Money::cents(20_00),
        }
    }
}

/// Beliefs that prices rest on, and whether the shop's own history moves them. Defaults are common practice, no source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Estimates {
    /// Whether finished steps move the times.
    pub learn_times: bool,
    /// Whether test spots on other cars move what a pass takes.
    pub learn_removal: bool,
    /// Whether claims move the damage rates.
    pub learn_damage: bool,
    /// How far one step's time lies from its estimate, as a log standard deviation.
    pub spread: f64,
    /// How far the shop's pace may lie from the step library, as a log standard deviation.
    pub pace: f64,
    /// In which share of steps something goes wrong, 0 to 1.
    pub mishap_share: f64,
    /// How many times as long such a step takes.
    pub mishap_times: f64,
    /// How often old film hides marks that make work, 0 to 1.
    pub hidden_share: f64,
    /// That work, each panel.
    #[serde(rename = "hidden_panel_min")]
    pub hidden_panel: Duration,
    /// Years over which renewals are reckoned.
    pub years: f64,
    /// Interest a year on what is paid later, percent.
    pub interest_percent: f64,
    /// Damage of film by zone.
    pub zones: BTreeMap<FilmZone, ZoneRate>,
    /// What pieces and seams take.
    pub seams: SeamTimes,
}

impl Default for Estimates {
    fn default() -> Self {
        let rate = |zone, a_m2_year| (zone, ZoneRate { a_m2_year, worth_m2_years: 50.0 });
        Self {
            learn_times: true,
            learn_removal: true,
            learn_damage: true,
            spread: 0.22,
            pace: 0.25,
            mishap_share: 0.04,
            mishap_times: 2.0,
            hidden_share: 0.35,
            hidden_panel: Duration::minutes(40.0),
            years: 5.0,
            interest_percent: 3.0,
            zones: BTreeMap::from([
                rate(FilmZone::Nose, 0.05),
                rate(FilmZone::BehindWheels, 0.04),
                rate(FilmZone::Sides, 0.012),
                rate(FilmZone::Upper, 0.012),
            ]),
            seams: SeamTimes::default(),
        }
    }
}

impl Estimates {
    /// Whether nobody has set anything.
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }

    /// The belief for a zone; the usual one where the settings have none.
    pub fn zone(&self, zone: FilmZone) -> ZoneRate {
        let usual = || Self::default().zones.get(&zone).copied();
        let none = ZoneRate { a_m2_year: 0.012, worth_m2_years: 50.0 };
        self.zones.get(&zone).copied().or_else(usual).unwrap_or(none)
    }
}
