//! Eight generic styles. None is a real car; when one begins to look like one, change a number.

use serde::{Deserialize, Serialize};

/// A generic body style.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Style {
    /// Four doors and a trunk.
    Saloon,
    /// Four doors and a steep tailgate close behind the rear axle.
    Hatchback,
    /// Four doors, a long roof and a tailgate.
    Estate,
    /// Two doors, a low roof and a trunk.
    Coupe,
    /// Two doors, a soft top and a trunk.
    Convertible,
    /// A tall body with four doors and a tailgate.
    Suv,
    /// A four-door cab and an open bed.
    Pickup,
    /// A cargo van: two front doors, sliding doors, two doors at the rear.
    Van,
}

impl Style {
    /// All eight.
    pub const ALL: [Style; 8] = [
        Style::Saloon,
        Style::Hatchback,
        Style::Estate,
        Style::Coupe,
        Style::Convertible,
        Style::Suv,
        Style::Pickup,
        Style::Van,
    ];

    /// The name in stored forms and file names, such as `saloon`.
    pub fn name(self) -> &'static str {
        match self {
            Style::Saloon => "saloon",
            Style::Hatchback => "hatchback",
            Style::Estate => "estate",
            Style::Coupe => "coupe",
            Style::Convertible => "convertible",
            Style::Suv => "suv",
            Style::Pickup => "pickup",
            Style::Van => "van",
        }
    }

    /// The style of that [`name`](Style::name); nothing if there is none.
    pub fn from_name(name: &str) -> Option<Style> {
        Style::ALL.into_iter().find(|s| s.name() == name)
    }
}
