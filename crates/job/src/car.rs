//! The car and its owner.

use crate::PanelId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What drives the car; decides which cautions apply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Drive {
    /// Combustion engine only.
    #[default]
    Combustion,
    /// Combustion engine and high-voltage battery.
    Hybrid,
    /// High-voltage battery only.
    Electric,
}

/// What the paint's surface is; decides what may be polished.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PaintFinish {
    /// Base coat under a glossy clear coat.
    #[default]
    Clear,
    /// Color and gloss in one layer: polishing takes color.
    SingleStage,
    /// Matte or satin clear coat: never polished by machine.
    Matte,
}

/// What a panel is made of; decides whether a gauge reads it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// Magnetic steel.
    #[default]
    Steel,
    /// Aluminum.
    Aluminum,
    /// Plastic: no reading possible.
    Plastic,
    /// Fiber composite: no reading possible.
    Composite,
    /// Glass.
    Glass,
}

/// A car.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Car {
    /// Plate, or whatever the shop tells cars apart by.
    pub plate: String,
    /// What people in the shop call it, such as `Juniper estate`.
    pub name: String,
    /// Body style as the drawings name it, such as `estate`.
    pub body: String,
    /// Color in words.
    pub color: String,
    /// The paint's surface.
    pub paint: PaintFinish,
    /// What drives it.
    pub drive: Drive,
    /// Model year.
    pub year: Option<u16>,
    /// Vehicle identification number.
    pub vin: Option<String>,
    /// Panels whose material differs from the body style's usual one.
    pub materials: BTreeMap<PanelId, Material>,
    /// Whether the shop knows all correction ever done to this paint; if not, the estimates widen.
    pub history_known: bool,
    /// Anything else.
    pub note: String,
}

/// Whose car it is.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Customer {
    /// Name.
    pub name: String,
    /// Telephone.
    pub phone: String,
    /// Mail address.
    pub email: String,
    /// Anything else.
    pub note: String,
}
