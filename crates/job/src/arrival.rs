//! What was recorded at the door, before anything was touched.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// How dirty the car came.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Soil {
    /// Dust and light film.
    #[default]
    Light,
    /// Road dirt all over.
    Heavy,
    /// Mud, salt or transport grime.
    VeryHeavy,
}

/// A name put under something, with the time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Signature {
    /// Who signed, as written.
    pub name: String,
    /// When.
    pub at: Timestamp,
}

/// The arrival record.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Arrival {
    /// When the car came in.
    pub at: Timestamp,
    /// Odometer in kilometers. Says nothing about the paint.
    pub odometer_km: Option<u32>,
    /// Fuel or charge, percent.
    pub energy_percent: Option<u8>,
    /// Keys handed over.
    pub keys: u8,
    /// Belongings left in the car.
    pub belongings: String,
    /// Warning lamps that are lit.
    pub lamps: String,
    /// How dirty.
    pub soil: Soil,
    /// The customer's signature under what was found.
    pub signed: Option<Signature>,
    /// Anything else.
    pub note: String,
}
