//! Stock: rolls, offcuts, chemicals with their lots.

use crate::refusal::Refusal;
use crate::studio::{Studio, zone_of};
use crate::times::Times;
use jiff::ToSpan;
use job::{Offcut, Product, Roll};
use units::{Length, Volume};

/// Something on the shelf to mind.
#[derive(Clone, Debug, PartialEq)]
pub struct StockWarning {
    /// What.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

/// The shelf.
#[derive(Clone, Debug, Default)]
pub struct StockView {
    /// Rolls.
    pub rolls: Vec<Roll>,
    /// Offcuts.
    pub offcuts: Vec<Offcut>,
    /// Chemicals.
    pub products: Vec<Product>,
    /// Expired or nearly used up.
    pub warnings: Vec<StockWarning>,
}

/// A lot that expires within this many days is named.
const SOON: i64 = 30;

impl Studio {
    /// The shelf.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn stock_view(&self) -> Result<StockView, Refusal> {
        let shop = self.shop()?;
        let today = self.now().to_zoned_datetime(zone_of(&shop)).date();
        let times = Times::of(&shop);
        let soon = today.checked_add(SOON.days()).unwrap_or(today);
        let mut warnings = Vec::new();
        for roll in shop.rolls.iter().filter(|r| r.free() < Length::m(2.0)) {
            warnings.push(StockWarning {
                what: format!("Roll {} has {:.2} m that no job has set aside.", roll.id, roll.free().as_m()),
                remedy: "Order film before the next car with film.".into(),
            });
        }
        for product in &shop.products {
            for lot in &product.lots {
                if let Some(expires) = lot.expires
                    && expires <= soon
                    && lot.left > Volume::ZERO
                {
                    let (verb, remedy) = if expires < today {
                        ("expired", "Do not use it. Dispose of it by local rules and its safety data sheet.")
                    } else {
                        ("expires", "Use it first.")
                    };
                    warnings.push(StockWarning {
                        what: format!(
                            "Lot {} of {} {verb} on {}.",
                            lot.lot,
                            product.name,
                            times.date(expires)
                        ),
                        remedy: remedy.into(),
                    });
                }
            }
            let left: Volume =
                product.lots.iter().filter(|l| l.expires.is_none_or(|e| e >= today)).map(|l| l.left).sum();
            if left <= Volume::ZERO {
                warnings.push(StockWarning {
                    what: format!("There is no {} on the shelf.", product.name),
                    remedy: "Receive a lot below.".into(),
                });
            }
        }
        Ok(StockView {
            rolls: shop.rolls.clone(),
            offcuts: shop.offcuts.clone(),
            products: shop.products.clone(),
            warnings,
        })
    }
}
