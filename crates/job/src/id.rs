//! Names of things: jobs, panels, findings, steps, pictures.

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! text_id {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl $name {
            /// As text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }
    };
}

macro_rules! number {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

text_id!(
    /// A job's number as people say it, such as `0412`.
    JobId
);
text_id!(
    /// A panel as the body drawings name it, such as `left_front_door`.
    PanelId
);
text_id!(
    /// A picture by the digest of its bytes.
    PictureId
);
number!(
    /// A finding within its job, from 1.
    FindingNo
);
number!(
    /// A step within its job, from 1; never given twice, also when the route changes.
    StepNo
);
number!(
    /// An offer within its job, from 1.
    OfferNo
);
number!(
    /// A change order within its job, from 1.
    ChangeNo
);

impl PanelId {
    /// The panel's name for reading: `Left front door`.
    pub fn title(&self) -> String {
        let words = self.0.replace('_', " ");
        let mut chars = words.chars();
        chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
    }
}

/// A place on the car: a panel, and where on it when that is known.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// The panel.
    pub panel: PanelId,
    /// Across the panel's drawing, 0 to 1 of its bounding box in its main view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u: Option<f64>,
    /// Down the panel's drawing, 0 to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub v: Option<f64>,
}

impl Place {
    /// A whole panel.
    pub fn panel(panel: &str) -> Self {
        Self { panel: panel.into(), u: None, v: None }
    }

    /// A spot on a panel.
    pub fn spot(panel: &str, u: f64, v: f64) -> Self {
        Self { panel: panel.into(), u: Some(u), v: Some(v) }
    }
}
