//! Offers, consent and change orders.

use crate::{ChangeNo, FindingNo, OfferNo, Order, PictureId, Signature};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Area, Duration, Money, Thickness};

/// One line of a price.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct OfferLine {
    /// What.
    pub label: String,
    /// How much of it, in words with its unit.
    #[serde(default)]
    pub quantity: String,
    /// Net amount.
    pub net: Money,
}

/// A price with its risk.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Quote {
    /// Lines that add up to the net.
    pub lines: Vec<OfferLine>,
    /// Net.
    pub net: Money,
    /// Tax.
    pub tax: Money,
    /// What the customer pays at this offer: net and tax.
    pub gross: Money,
    /// What half of such jobs would cost at the shop's rates, tax included.
    pub likely: Money,
    /// Share of such jobs that the fixed price covers, 0 to 1.
    pub held: f64,
    /// Hours of work in half of such jobs.
    #[serde(rename = "hours_p50_min")]
    pub hours_p50: Duration,
    /// Hours of work in eight of ten such jobs.
    #[serde(rename = "hours_p80_min")]
    pub hours_p80: Duration,
    /// Film used from the roll.
    #[serde(rename = "film_m2")]
    pub film: Area,
    /// Expected pieces of film replaced over the horizon.
    pub replaced: f64,
    /// Clear coat spent on the panel that gives most.
    #[serde(rename = "clear_um")]
    pub clear: Thickness,
}

/// One of several ways to go on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct OfferOption {
    /// Short name, unique in the offer, such as `front`.
    pub id: String,
    /// Title.
    pub title: String,
    /// What it buys, in a sentence.
    pub buys: String,
    /// The scope it means.
    pub order: Order,
    /// The price.
    pub quote: Quote,
    /// When the car can be back, by the plan as it stood.
    pub back_by: Option<Timestamp>,
    /// Whether the shop advises it.
    pub advised: bool,
}

/// Options put before the customer.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Offer {
    /// Its number.
    pub no: OfferNo,
    /// When it was made.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
    /// Until when it stands.
    pub valid_until: Timestamp,
    /// The options.
    pub options: Vec<OfferOption>,
    /// What will not be attempted, and why.
    pub not_attempted: Vec<String>,
}

/// A signature as it was drawn: strokes of points across and down, on a field 1000 wide and 250 high.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Strokes(pub Vec<Vec<[u16; 2]>>);

impl Strokes {
    /// Width and height of the field.
    pub const FIELD: [u16; 2] = [1000, 250];

    /// Whether nothing was drawn.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// The customer's consent to an option.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Acceptance {
    /// Which offer.
    pub offer: OfferNo,
    /// Which option of it.
    pub option: String,
    /// Who agreed.
    pub signed: Signature,
    /// Drawn signature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawn: Option<PictureId>,
    /// The signature as it was drawn; empty when the name stands alone.
    #[serde(default, skip_serializing_if = "Strokes::is_empty")]
    pub strokes: Strokes,
}

/// What became of a change order.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ChangeState {
    /// Waits for the customer.
    #[default]
    Proposed,
    /// Agreed.
    Agreed(Signature),
    /// Declined: the old scope stands.
    Declined(Signature),
}

/// A change of scope, priced and agreed before it is worked on.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ChangeOrder {
    /// Its number.
    pub no: ChangeNo,
    /// When it was proposed.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
    /// Why, in words for the customer.
    pub reason: String,
    /// Findings behind it.
    pub findings: Vec<FindingNo>,
    /// The scope as it would be.
    pub order: Order,
    /// Price of the whole scope as it would be.
    pub quote: Quote,
    /// More to pay (or less), tax included.
    pub more: Money,
    /// More hours (or fewer).
    #[serde(rename = "more_hours_min")]
    pub more_hours: Duration,
    /// More clear coat spent on the panel that gives most.
    #[serde(rename = "more_clear_um")]
    pub more_clear: Thickness,
    /// When the car would be back.
    pub back_by: Option<Timestamp>,
    /// What became of it.
    pub state: ChangeState,
    /// The signature under the answer as it was drawn; empty when the name stands alone.
    #[serde(skip_serializing_if = "Strokes::is_empty")]
    pub strokes: Strokes,
}
