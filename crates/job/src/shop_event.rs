//! What happens to the shop.

use crate::{AirReading, Booking, GaugeCheck, GaugeStudy, JobId, Lot, Offcut, Product, Roll, ShopSettings};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Length, Volume};

/// What happens to the shop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum ShopEvent {
    /// The owner changed settings.
    SettingsSet {
        /// All settings as they are now.
        settings: Box<ShopSettings>,
    },
    /// A job number was given out.
    JobNumbered {
        /// The number.
        number: u32,
    },
    /// A roll came in, or was counted anew.
    RollReceived {
        /// The roll.
        roll: Roll,
    },
    /// Film was set aside for a job.
    FilmReserved {
        /// The job.
        job: JobId,
        /// The roll.
        roll: String,
        /// Length of it.
        #[serde(rename = "length_mm")]
        length: Length,
        /// Offcuts set aside with it.
        offcuts: Vec<String>,
    },
    /// The film set aside for a job is free again.
    FilmReleased {
        /// The job.
        job: JobId,
    },
    /// Film was cut.
    FilmCut {
        /// The job.
        job: JobId,
        /// The roll.
        roll: String,
        /// Length taken.
        #[serde(rename = "length_mm")]
        length: Length,
        /// Rests that are kept.
        kept: Vec<Offcut>,
    },
    /// A rest was put on the shelf.
    OffcutKept {
        /// The rest.
        offcut: Offcut,
    },
    /// A rest was thrown away.
    OffcutDiscarded {
        /// Which.
        id: String,
    },
    /// A product was entered or changed.
    ProductSet {
        /// The product.
        product: Product,
    },
    /// A lot came in.
    LotReceived {
        /// The product.
        product: String,
        /// The lot.
        lot: Lot,
    },
    /// A lot left the shelf unused: expired, spoilt, given away.
    LotDisposed {
        /// The product.
        product: String,
        /// The lot.
        lot: String,
        /// Why.
        why: String,
    },
    /// A product was used.
    ProductUsed {
        /// The product.
        product: String,
        /// The lot.
        lot: String,
        /// How much.
        #[serde(rename = "amount_ml")]
        amount: Volume,
        /// For which job.
        job: JobId,
    },
    /// Air was measured in a bay.
    AirRead {
        /// What was read.
        reading: AirReading,
    },
    /// Calibration foils were read with a gauge.
    GaugeChecked {
        /// What was read.
        check: GaugeCheck,
    },
    /// A gauge was studied.
    GaugeStudied {
        /// What was read.
        study: GaugeStudy,
    },
    /// A plan was kept: from now on people know it.
    PlanKept {
        /// When.
        at: Timestamp,
        /// The bookings.
        plan: Vec<Booking>,
    },
}
