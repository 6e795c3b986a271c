//! The shop's settings and shelf.

use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio};
use jiff::tz::TimeZone;
use job::{AirReading, Lot, Offcut, Product, Roll, ShopEvent, ShopSettings};
use units::{Length, Volume};

impl Studio {
    /// Sets the shop's settings.
    ///
    /// # Errors
    /// When one of them cannot be used: names it and says what to enter.
    pub fn set_shop(&self, stamp: &Stamp, settings: &ShopSettings) -> Result<(), Refusal> {
        check_settings(settings)?;
        self.decide_shop(stamp, |_, _| {
            Ok(vec![ShopEvent::SettingsSet { settings: Box::new(settings.clone()) }])
        })
    }

    /// Takes in a roll, or counts it anew.
    ///
    /// # Errors
    /// When its sizes make no sense.
    pub fn receive_roll(&self, stamp: &Stamp, roll: &Roll) -> Result<(), Refusal> {
        let sound = !roll.id.trim().is_empty()
            && roll.width > Length::mm(50.0)
            && roll.width < Length::m(5.0)
            && roll.left > Length::ZERO
            && roll.left <= Length::m(200.0)
            && roll.margin >= Length::ZERO
            && roll.margin < roll.width / 2.0;
        check_spots(&roll.bad_spots_mm)?;
        if !sound {
            return Err(Refusal::invalid(
                "The roll's name or sizes make no sense",
                "Give it a name, a width from 50 to 5000 mm, a length up to 200 m and a margin below half its width.",
            ));
        }
        self.decide_shop(stamp, |_, now| {
            let mut roll = roll.clone();
            if roll.since == jiff::civil::Date::default() {
                roll.since = now.to_zoned_datetime(TimeZone::UTC).date();
            }
            Ok(vec![ShopEvent::RollReceived { roll }])
        })
    }

    /// Puts a rest on the shelf.
    ///
    /// # Errors
    /// When the name is taken or the sizes make no sense.
    pub fn keep_offcut(&self, stamp: &Stamp, offcut: &Offcut) -> Result<(), Refusal> {
        if offcut.id.trim().is_empty() || offcut.length <= Length::ZERO || offcut.width <= Length::ZERO {
            return Err(Refusal::invalid(
                "The offcut has no name or no size",
                "Give it a name, length and width.",
            ));
        }
        check_spots(&offcut.bad_spots_mm)?;
        self.decide_shop(stamp, |shop, _| {
            if shop.offcuts.iter().any(|o| o.id == offcut.id) {
                return Err(Refusal::invalid(
                    format!("Offcut {} is on the shelf already", offcut.id),
                    "Give it another name.",
                ));
            }
            Ok(vec![ShopEvent::OffcutKept { offcut: offcut.clone() }])
        })
    }

    /// Throws a rest away.
    ///
    /// # Errors
    /// When it is reserved or not there.
    pub fn discard_offcut(&self, stamp: &Stamp, id: &str) -> Result<(), Refusal> {
        self.decide_shop(stamp, |shop, _| match shop.offcuts.iter().find(|o| o.id == id) {
            None => Err(Refusal::not_found(format!("There is no offcut {id}"), "")),
            Some(Offcut { reserved: Some(job), .. }) => Err(Refusal::not_yet(
                format!("Offcut {id} is set aside for job {job}"),
                "Undo that job's cut plan first.",
            )),
            Some(_) => Ok(vec![ShopEvent::OffcutDiscarded { id: id.to_owned() }]),
        })
    }

    /// Takes a lot off the shelf that will not be used: expired, spoilt, given away. How it is disposed of is a matter of
    /// its safety data sheet and local rules.
    ///
    /// # Errors
    /// When there is no such lot or no reason is given.
    pub fn dispose_lot(&self, stamp: &Stamp, product: &str, lot: &str, why: &str) -> Result<(), Refusal> {
        let why = why.trim();
        if why.is_empty() {
            return Err(Refusal::invalid(
                "No reason is given",
                "Say why it leaves the shelf, such as: expired.",
            ));
        }
        self.decide_shop(stamp, |shop, _| {
            let there =
                shop.products.iter().any(|p| p.name == product && p.lots.iter().any(|l| l.lot == lot));
            if !there {
                return Err(Refusal::not_found(
                    format!("There is no lot {lot} of '{product}' on the shelf"),
                    "Look at the stock page for products and lots as they are written there.",
                ));
            }
            Ok(vec![ShopEvent::LotDisposed {
                product: product.to_owned(),
                lot: lot.to_owned(),
                why: why.to_owned(),
            }])
        })
    }

    /// Enters a product or changes what is known of it; its lots stay.
    ///
    /// # Errors
    /// When it has no name or its alcohol share is no share.
    pub fn set_product(&self, stamp: &Stamp, product: &Product) -> Result<(), Refusal> {
        if product.name.trim().is_empty() || !(0.0..=1.0).contains(&product.alcohol) {
            return Err(Refusal::invalid(
                "The product has no name, or its alcohol share is not from 0 to 100 %",
                "",
            ));
        }
        self.decide_shop(stamp, |shop, _| {
            let mut product = product.clone();
            if let Some(old) = shop.products.iter().find(|p| p.name == product.name) {
                product.lots.clone_from(&old.lots);
            }
            Ok(vec![ShopEvent::ProductSet { product }])
        })
    }

    /// Takes in a lot.
    ///
    /// # Errors
    /// When the product is unknown or the lot is there already.
    pub fn receive_lot(&self, stamp: &Stamp, product: &str, lot: &Lot) -> Result<(), Refusal> {
        if lot.lot.trim().is_empty() || lot.left <= Volume::ZERO {
            return Err(Refusal::invalid(
                "The lot has no number or holds nothing",
                "Enter lot number and amount.",
            ));
        }
        self.decide_shop(stamp, |shop, _| {
            let Some(known) = shop.products.iter().find(|p| p.name == product) else {
                return Err(Refusal::not_found(
                    format!("There is no product '{product}'"),
                    "Enter the product first.",
                ));
            };
            if known.lots.iter().any(|l| l.lot == lot.lot) {
                return Err(Refusal::invalid(format!("Lot {} is on the shelf already", lot.lot), ""));
            }
            Ok(vec![ShopEvent::LotReceived { product: product.to_owned(), lot: lot.clone() }])
        })
    }

    /// Notes the air measured in a bay.
    ///
    /// # Errors
    /// When the bay is unknown or a value is out of range.
    pub fn read_air(&self, stamp: &Stamp, reading: &AirReading) -> Result<(), Refusal> {
        let in_range = |t: units::Temperature| (-30.0..=60.0).contains(&t.as_celsius());
        if !in_range(reading.air)
            || reading.surface.is_some_and(|t| !in_range(t))
            || !(1.0..=100.0).contains(&reading.humidity_percent)
        {
            return Err(Refusal::invalid(
                "Temperature or humidity is out of range",
                "Give −30 to 60 °C and 1 to 100 % relative humidity.",
            ));
        }
        self.decide_shop(stamp, |shop, now| {
            if !shop.settings.bays.iter().any(|b| b.name == reading.bay) {
                return Err(Refusal::not_found(
                    format!("There is no bay '{}'", reading.bay),
                    "Choose one of the shop's bays.",
                ));
            }
            let mut reading = reading.clone();
            reading.at = now;
            Ok(vec![ShopEvent::AirRead { reading }])
        })
    }
}

/// Most bad spots on one piece of film.
const MOST_SPOTS: usize = 200;

fn check_spots(spots: &[[f64; 4]]) -> Result<(), Refusal> {
    let sound = |[x, y, l, w]: &[f64; 4]| {
        x.is_finite()
            && y.is_finite()
            && (0.0..1e6).contains(l)
            && (0.0..1e6).contains(w)
            && *l > 0.0
            && *w > 0.0
    };
    if spots.len() > MOST_SPOTS || !spots.iter().all(sound) {
        return Err(Refusal::invalid(
            "A bad spot has no size, or there are more than 200",
            "Give each its place, length and width in mm.",
        ));
    }
    Ok(())
}

fn check_settings(settings: &ShopSettings) -> Result<(), Refusal> {
    let wrong = |what: &str, remedy: &str| Err(Refusal::invalid(what, remedy));
    if TimeZone::get(&settings.time_zone).is_err() {
        return wrong(
            &format!("'{}' is no time zone", settings.time_zone),
            "Use a name such as America/Chicago or Europe/Lisbon.",
        );
    }
    if settings.shift.from >= settings.shift.to {
        return wrong("The shift ends before it begins", "Enter begin and end of the working day.");
    }
    if settings.shift.break_from > settings.shift.break_to {
        return wrong(
            "The break ends before it begins",
            "Enter begin and end of the break, or the same time twice.",
        );
    }
    if !(0.0..0.5).contains(&settings.risk) || settings.risk == 0.0 {
        return wrong(
            "The accepted risk is no small share",
            "Enter more than 0 and less than 50 %; 1 % is usual.",
        );
    }
    if !(0.5..1.0).contains(&settings.prices.held) {
        return wrong("The share of jobs that a price covers is out of range", "Enter from 50 to 99 %.");
    }
    if settings.floor < units::Thickness::ZERO || settings.allowance < units::Thickness::ZERO {
        return wrong("Floor or allowance is negative", "Enter thicknesses in µm.");
    }
    if !(0.0..=100.0).contains(&settings.prices.tax_percent)
        || !(0.0..=500.0).contains(&settings.prices.margin_percent)
    {
        return wrong("Tax or margin is out of range", "Enter percentages.");
    }
    for bay in &settings.bays {
        if bay.name.trim().is_empty() || bay.places == 0 || !(0.0..=200.0).contains(&bay.air_changes) {
            return wrong(
                "A bay has no name, no place, or impossible air changes",
                "Name it and give it at least one place.",
            );
        }
    }
    for (i, tool) in settings.tools.iter().enumerate() {
        let twice = settings.tools[..i].iter().any(|t| t.name == tool.name);
        if tool.name.trim().is_empty() || !(1..=99).contains(&tool.count) || twice {
            return wrong(
                "A tool has no name, is there twice, or its number makes no sense",
                "Name each kind of tool once, with 1 to 99 of it; take those away that are never short.",
            );
        }
    }
    let mut names: Vec<&str> = settings.bays.iter().map(|b| b.name.as_str()).collect();
    names.extend(settings.people.iter().map(|p| p.name.as_str()));
    names.sort_unstable();
    if let Some(twice) = names.windows(2).find(|w| w[0] == w[1]) {
        return wrong(&format!("'{}' is there twice", twice[0]), "Give people and bays different names.");
    }
    if let Some(text) = &settings.steps {
        crate::engine::route::parse_library(text, "steps of the shop")?;
    }
    if let Some(value) = &settings.methods {
        crate::engine::paint::methods_from(value)?;
    }
    Ok(())
}
