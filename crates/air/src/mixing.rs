//! Dilution, with its convention stated.

use crate::AirError;
use crate::error::within;
use serde::{Deserialize, Serialize};
use units::{Explained, Volume};

/// What "1:10" means. Bottles do not agree, so it is always stated.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Convention {
    /// One part to ten parts of water: eleven in all.
    #[default]
    OneToN,
    /// One part in ten parts of mixture: nine of water.
    OneInN,
}

/// How to fill a bucket.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dilution {
    /// Of the product.
    pub concentrate: Volume,
    /// Of water.
    pub water: Volume,
    /// Share of product in the mixture, 0 to 1.
    pub strength: f64,
    /// The convention in words, to print beside the figures.
    pub stated: String,
    /// What to mind.
    pub caution: String,
    /// How it was computed.
    pub explained: Explained,
}

const CAUTION: &str = "Follow the product's label and safety data sheet; never mix products; acid into water, never water \
                       into acid.";

/// Fills `total` at 1:`n`.
///
/// # Errors
/// When `n` is below 1 for "one in n", below 0 for "one to n", or the bucket is empty.
pub fn dilution(convention: Convention, n: f64, total: Volume) -> Result<Dilution, AirError> {
    let ml = within("the bucket in mL", total.as_ml(), 1e-3, 1e7, "more than 0 mL")?;
    let (strength, stated) = match convention {
        Convention::OneToN => {
            within("the n of 1:n", n, 0.0, 1e6, "0 or more")?;
            (1.0 / (n + 1.0), format!("1:{n} here means 1 part product to {n} parts water"))
        }
        Convention::OneInN => {
            within("the n of 1 in n", n, 1.0, 1e6, "1 or more")?;
            (1.0 / n, format!("1 in {n} here means 1 part product in {n} parts of mixture"))
        }
    };
    let explained = Explained::new(
        "Dilution",
        "product = bucket × strength; water = the rest",
        "identity; contraction of volume is left out",
    )
    .with("bucket", format!("{ml:.0} mL"))
    .with("strength", format!("{:.2} %", strength * 100.0));
    Ok(Dilution {
        concentrate: total * strength,
        water: total * (1.0 - strength),
        strength,
        stated,
        caution: CAUTION.into(),
        explained,
    })
}

/// Fills `total` at strength `to` from a product of strength `from`: C₁V₁ = C₂V₂.
///
/// Volumes of alcohol and water contract when mixed (ethanol 30 %: 2.7 %, USP 29); this is left out, and said in the
/// caution above 30 %.
///
/// # Errors
/// When a strength is outside 0 to 1 or `to` is above `from`.
pub fn dilute(from: f64, to: f64, total: Volume) -> Result<Dilution, AirError> {
    let ml = within("the bucket in mL", total.as_ml(), 1e-3, 1e7, "more than 0 mL")?;
    within("the product's strength", from, 1e-9, 1.0, "above 0 up to 1")?;
    within("the wanted strength", to, 0.0, from, "0 up to the product's own strength")?;
    let concentrate = total * (to / from);
    let mut caution = CAUTION.to_owned();
    if to > 0.3 {
        caution.push_str(
            " Alcohol and water shrink when mixed: above 30 % the bucket comes out a few percent short.",
        );
    }
    let explained =
        Explained::new("Dilution", "C₁ V₁ = C₂ V₂", "identity; contraction of volume is left out")
            .with("product", format!("{:.1} %", from * 100.0))
            .with("wanted", format!("{:.1} %", to * 100.0))
            .with("bucket", format!("{ml:.0} mL"));
    Ok(Dilution {
        concentrate,
        water: total - concentrate,
        strength: to,
        stated: format!("{:.1} % from {:.1} %, by volume", to * 100.0, from * 100.0),
        caution,
        explained,
    })
}
