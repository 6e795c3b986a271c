//! The shop's own affairs: people, bays, shifts, film, chemicals, prices.

use crate::{Estimates, GaugeCheck, GaugeStudy, JobId, ShopEvent, StepNo};
use jiff::{Timestamp, civil};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use units::{Area, Currency, Duration, Length, Money, Rounding, Temperature, Thickness, Volume};

/// Units in which figures are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UnitSystem {
    /// Millimeters, square meters, micrometers, liters, degrees Celsius.
    #[default]
    Metric,
    /// Inches, square feet, mils, fluid ounces, degrees Fahrenheit.
    Us,
}

/// How times of day are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClockForm {
    /// `16:05`.
    #[default]
    Hours24,
    /// `4:05 pm`.
    Hours12,
}

impl ClockForm {
    /// Whether nobody has chosen another.
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// How days are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DateForm {
    /// `Fri, May 23, 2025`.
    #[default]
    MonthFirst,
    /// `Fri 23 May 2025`.
    DayFirst,
    /// `Fri 2025-05-23` (ISO 8601).
    Iso,
}

impl DateForm {
    /// Whether nobody has chosen another.
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// What somebody may see and do here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Everything.
    Owner,
    /// The work on the cars; neither prices nor customers.
    #[default]
    Technician,
    /// Bookings, customers, offers and prices; not the work itself, not the shop's settings.
    FrontDesk,
}

impl Role {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Owner, Self::Technician, Self::FrontDesk];

    /// In words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Technician => "technician",
            Self::FrontDesk => "front desk",
        }
    }

    /// Whether prices and costs may be seen.
    pub const fn sees_prices(self) -> bool {
        matches!(self, Self::Owner | Self::FrontDesk)
    }

    /// Whether it may be seen who a car's owner is and how to reach them.
    pub const fn sees_customers(self) -> bool {
        matches!(self, Self::Owner | Self::FrontDesk)
    }
}

/// Someone who works here.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Person {
    /// Name.
    pub name: String,
    /// What they may see and do.
    pub role: Role,
    /// Skills, as the step library names them.
    pub skills: BTreeSet<String>,
    /// Days off.
    pub off: BTreeSet<civil::Date>,
    /// Own shift, when it differs from the shop's.
    pub shift: Option<Shift>,
}

/// Working time of a day.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Shift {
    /// Days of the week, 1 Monday to 7 Sunday (ISO 8601).
    pub days: BTreeSet<i8>,
    /// Begin.
    pub from: civil::Time,
    /// End.
    pub to: civil::Time,
    /// Begin of the break.
    pub break_from: civil::Time,
    /// End of the break.
    pub break_to: civil::Time,
}

impl Default for Shift {
    fn default() -> Self {
        Self {
            days: (1..=5).collect(),
            from: civil::time(8, 0, 0, 0),
            to: civil::time(17, 30, 0, 0),
            break_from: civil::time(12, 0, 0, 0),
            break_to: civil::time(12, 45, 0, 0),
        }
    }
}

/// A bay or room.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Bay {
    /// Name.
    pub name: String,
    /// What it can be used for, as the step library names kinds of room.
    pub kinds: BTreeSet<String>,
    /// Cars it holds.
    pub places: u32,
    /// Bays with the same name here share their air: no dusty work beside film.
    pub air: String,
    /// Volume of air.
    #[serde(rename = "volume_ml")]
    pub volume: Volume,
    /// Air changes in an hour.
    pub air_changes: f64,
    /// How well the air mixes, 0 to 1 (1 is perfect).
    pub mixing: f64,
}

/// A kind of tool of which the shop has few, so that the plan counts them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Tool {
    /// Its name, as the step library names it.
    pub name: String,
    /// How many there are.
    pub count: u32,
}

/// A roll of film.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Roll {
    /// Name on the shelf, unique.
    pub id: String,
    /// Kind of film.
    pub film: String,
    /// Batch.
    pub lot: String,
    /// Width.
    #[serde(rename = "width_mm")]
    pub width: Length,
    /// Length left.
    #[serde(rename = "left_mm")]
    pub left: Length,
    /// Length reserved by accepted cut plans, by job.
    pub reserved_mm: BTreeMap<JobId, f64>,
    /// Cost of a square meter.
    pub cost_m2: Money,
    /// Edge that cannot be used, each side.
    #[serde(rename = "margin_mm")]
    pub margin: Length,
    /// When it came.
    pub since: civil::Date,
    /// Which way film may lie.
    #[serde(skip_serializing_if = "Grain::is_none")]
    pub grain: Grain,
    /// Places that cannot be used, from the loose end: x along, y across, length, width, in mm.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bad_spots_mm: Vec<[f64; 4]>,
}

/// Which way pieces may lie on a film; the outline's own x runs along the roll.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Grain {
    /// Any way: plain film.
    #[default]
    None,
    /// Along the roll, either way round: a texture.
    Both,
    /// Along the roll, one way only: a tint or pattern with a direction.
    One,
}

impl Grain {
    /// Whether pieces may lie any way.
    pub fn is_none(&self) -> bool {
        *self == Self::None
    }
}

/// A rest of a roll: a rectangle, or any outline.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Offcut {
    /// Name on the shelf, unique.
    pub id: String,
    /// The roll it came from.
    pub roll: String,
    /// Kind of film.
    pub film: String,
    /// Batch.
    pub lot: String,
    /// Length along the roll.
    #[serde(rename = "length_mm")]
    pub length: Length,
    /// Width across the roll.
    #[serde(rename = "width_mm")]
    pub width: Length,
    /// Reserved for this job.
    pub reserved: Option<JobId>,
    /// When it was cut.
    pub since: civil::Date,
    /// Its outline in millimeters within length and width, where it is no rectangle.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub outline_mm: Vec<[f64; 2]>,
    /// Places that cannot be used: x along, y across, length, width, in mm.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bad_spots_mm: Vec<[f64; 4]>,
}

/// A chemical the shop uses.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Product {
    /// Name, as the step library names products.
    pub name: String,
    /// Cost of a liter.
    pub cost_l: Money,
    /// Share of isopropyl alcohol, 0 to 1; 0 for none.
    pub alcohol: f64,
    /// Where the safety data sheet lies.
    pub sheet: String,
    /// Lots on the shelf.
    pub lots: Vec<Lot>,
}

/// A lot of a product.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Lot {
    /// Lot number.
    pub lot: String,
    /// How much is left.
    #[serde(rename = "left_ml")]
    pub left: Volume,
    /// Not to be used after this day.
    pub expires: Option<civil::Date>,
}

/// Air measured in a bay.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct AirReading {
    /// The bay.
    pub bay: String,
    /// When.
    pub at: Timestamp,
    /// Temperature of the air.
    #[serde(rename = "air_c")]
    pub air: Temperature,
    /// Temperature of the car's surface, when it was measured.
    #[serde(rename = "surface_c")]
    pub surface: Option<Temperature>,
    /// Relative humidity, percent.
    pub humidity_percent: f64,
}

/// How tax is reckoned.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TaxRule {
    /// On the whole, once.
    #[default]
    Invoice,
    /// On each line, rounded each time.
    Line,
}

/// What things cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PriceList {
    /// Currency of every amount.
    pub currency: Currency,
    /// An hour of a person's work.
    pub hour: Money,
    /// An hour of a bay.
    pub bay_hour: Money,
    /// Consumables (cloths, pads, blades, tape) for an hour of work.
    pub consumables_hour: Money,
    /// Margin: what is left of the net price over costs, percent.
    pub margin_percent: f64,
    /// Tax, percent.
    pub tax_percent: f64,
    /// How tax is reckoned.
    pub tax_rule: TaxRule,
    /// How halves are rounded.
    pub rounding: Rounding,
    /// Share of such jobs that a fixed price is to cover, 0 to 1.
    pub held: f64,
    /// Deposit, percent of the gross price.
    pub deposit_percent: f64,
    /// Days that an offer stands.
    pub offer_days: i32,
}

impl Default for PriceList {
    fn default() -> Self {
        Self {
            currency: Currency::USD,
            hour: Money::cents(72_00),
            bay_hour: Money::cents(9_00),
            consumables_hour: Money::cents(4_50),
            margin_percent: 28.0,
            tax_percent: 7.5,
            tax_rule: TaxRule::Invoice,
            rounding: Rounding::HalfUp,
            held: 0.8,
            deposit_percent: 20.0,
            offer_days: 14,
        }
    }
}

/// How the cutter wants its files. Defaults are common practice, no source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cutter {
    /// A closed cut goes on over its start by so much.
    #[serde(rename = "overcut_mm")]
    pub overcut: Length,
    /// A cut begins so far beside the line, in the waste.
    #[serde(rename = "lead_in_mm")]
    pub lead_in: Length,
    /// Height of the writing on pieces; zero for none.
    #[serde(rename = "label_mm")]
    pub label: Length,
}

impl Default for Cutter {
    fn default() -> Self {
        Self { overcut: Length::ZERO, lead_in: Length::ZERO, label: Length::mm(8.0) }
    }
}

impl Cutter {
    /// Whether nobody has set anything.
    pub fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// Everything the owner sets. Defaults are common practice, no source.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ShopSettings {
    /// Name of the shop.
    pub name: String,
    /// Address, for documents.
    pub address: String,
    /// Time zone by its IANA name.
    pub time_zone: String,
    /// Units shown.
    pub units: UnitSystem,
    /// How times of day are written.
    #[serde(skip_serializing_if = "ClockForm::is_default")]
    pub clock: ClockForm,
    /// How days are written.
    #[serde(skip_serializing_if = "DateForm::is_default")]
    pub dates: DateForm,
    /// Paper of documents: `a4` or `us-letter`.
    pub paper: String,
    /// Whether everything here is invented.
    pub demo: bool,
    /// People.
    pub people: Vec<Person>,
    /// Bays and rooms.
    pub bays: Vec<Bay>,
    /// Tools of which there are few.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<Tool>,
    /// The shop's shift.
    pub shift: Shift,
    /// Days on which the shop is closed.
    pub closed: BTreeSet<civil::Date>,
    /// Changeover between dusty and clean work in the same air.
    #[serde(rename = "changeover_min")]
    pub changeover: Duration,
    /// Prices.
    pub prices: PriceList,
    /// Least clear coat that must stay.
    #[serde(rename = "floor_um")]
    pub floor: Thickness,
    /// Most clear coat taken from a panel over the car's life.
    #[serde(rename = "allowance_um")]
    pub allowance: Thickness,
    /// Accepted risk of going under the floor, 0 to 1.
    pub risk: f64,
    /// Gap between pieces on the cutter.
    #[serde(rename = "gap_mm")]
    pub gap: Length,
    /// How the cutter wants its files.
    #[serde(skip_serializing_if = "Cutter::is_default")]
    pub cutter: Cutter,
    /// Film beyond the edge of a panel, where it is wrapped round.
    #[serde(rename = "wrap_mm")]
    pub wrap: Length,
    /// Least side of an offcut that is kept.
    #[serde(rename = "offcut_side_mm")]
    pub offcut_side: Length,
    /// Least area of an offcut that is kept.
    #[serde(rename = "offcut_m2")]
    pub offcut_area: Area,
    /// Dust count in the air after polishing against before it, for the wait before film.
    pub dust_ratio: f64,
    /// The shop's own correction methods, as JSON of the paint engine; none for the built-in table.
    pub methods: Option<serde_json::Value>,
    /// The shop's own step library (TOML); none for the built-in one.
    pub steps: Option<String>,
    /// Warranty text for the handover report.
    pub warranty: String,
    /// Beliefs that prices rest on until the shop's own history says better.
    #[serde(skip_serializing_if = "Estimates::is_default")]
    pub estimates: Estimates,
}

impl Default for ShopSettings {
    fn default() -> Self {
        Self {
            name: String::new(),
            address: String::new(),
            time_zone: "UTC".into(),
            units: UnitSystem::Metric,
            clock: ClockForm::default(),
            dates: DateForm::default(),
            paper: "a4".into(),
            demo: false,
            people: Vec::new(),
            bays: Vec::new(),
            tools: Vec::new(),
            shift: Shift::default(),
            closed: BTreeSet::new(),
            changeover: Duration::minutes(30.0),
            prices: PriceList::default(),
            floor: Thickness::um(30.0),
            allowance: Thickness::um(8.0),
            risk: 0.01,
            gap: Length::mm(4.0),
            cutter: Cutter::default(),
            wrap: Length::mm(8.0),
            offcut_side: Length::mm(250.0),
            offcut_area: Area::m2(0.15),
            dust_ratio: 100.0,
            methods: None,
            steps: None,
            warranty: String::new(),
            estimates: Estimates::default(),
        }
    }
}

/// One step of one job at its time and place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Booking {
    /// The job.
    pub job: JobId,
    /// The step.
    pub step: StepNo,
    /// From.
    pub from: Timestamp,
    /// To.
    pub to: Timestamp,
    /// Who.
    pub people: Vec<String>,
    /// Where.
    pub bay: Option<String>,
    /// Whether it may not be moved.
    #[serde(default)]
    pub pinned: bool,
}

/// The shop: everything that its stream says, folded.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Shop {
    /// What the owner set.
    pub settings: ShopSettings,
    /// Rolls.
    pub rolls: Vec<Roll>,
    /// Offcuts.
    pub offcuts: Vec<Offcut>,
    /// Chemicals.
    pub products: Vec<Product>,
    /// Air measured last, by bay.
    pub air: BTreeMap<String, AirReading>,
    /// Foils read last, by gauge.
    pub gauges: BTreeMap<String, GaugeCheck>,
    /// The last study, by gauge.
    pub gauge_studies: BTreeMap<String, GaugeStudy>,
    /// The plan that people know.
    pub plan: Vec<Booking>,
    /// When that plan was kept.
    pub planned: Option<Timestamp>,
    /// Highest job number given.
    pub jobs: u32,
}

impl Shop {
    /// Folds events from the beginning.
    pub fn fold<'a>(events: impl IntoIterator<Item = &'a ShopEvent>) -> Self {
        let mut shop = Self::default();
        for event in events {
            shop.apply(event);
        }
        shop
    }

    /// Applies one event; what makes no sense any more leaves the state as it is.
    pub fn apply(&mut self, event: &ShopEvent) {
        match event.clone() {
            ShopEvent::SettingsSet { settings } => self.settings = *settings,
            ShopEvent::JobNumbered { number } => self.jobs = self.jobs.max(number),
            ShopEvent::RollReceived { roll } => match self.rolls.iter_mut().find(|r| r.id == roll.id) {
                Some(old) => *old = roll,
                None => self.rolls.push(roll),
            },
            ShopEvent::FilmReserved { job, roll, length, offcuts } => {
                if let Some(roll) = self.rolls.iter_mut().find(|r| r.id == roll) {
                    roll.reserved_mm.insert(job.clone(), length.as_mm());
                }
                for offcut in self.offcuts.iter_mut().filter(|o| offcuts.contains(&o.id)) {
                    offcut.reserved = Some(job.clone());
                }
            }
            ShopEvent::FilmReleased { job } => self.release(&job),
            ShopEvent::FilmCut { job, roll, length, kept } => {
                if let Some(roll) = self.rolls.iter_mut().find(|r| r.id == roll) {
                    roll.left = (roll.left - length).max(Length::ZERO);
                    // the loose end is now further in
                    roll.bad_spots_mm.iter_mut().for_each(|spot| spot[0] -= length.as_mm());
                    roll.bad_spots_mm.retain(|spot| spot[0] + spot[2] > 0.0);
                }
                self.offcuts.retain(|o| o.reserved.as_ref() != Some(&job));
                self.release(&job);
                self.offcuts.extend(kept);
            }
            ShopEvent::OffcutKept { offcut } => self.offcuts.push(offcut),
            ShopEvent::OffcutDiscarded { id } => self.offcuts.retain(|o| o.id != id),
            ShopEvent::ProductSet { product } => {
                match self.products.iter_mut().find(|p| p.name == product.name) {
                    Some(old) => *old = product,
                    None => self.products.push(product),
                }
            }
            ShopEvent::LotReceived { product, lot } => {
                if let Some(product) = self.products.iter_mut().find(|p| p.name == product) {
                    product.lots.push(lot);
                }
            }
            ShopEvent::LotDisposed { product, lot, .. } => {
                if let Some(product) = self.products.iter_mut().find(|p| p.name == product) {
                    product.lots.retain(|l| l.lot != lot);
                }
            }
            ShopEvent::ProductUsed { product, lot, amount, .. } => {
                let found = self.products.iter_mut().find(|p| p.name == product);
                if let Some(lot) = found.and_then(|p| p.lots.iter_mut().find(|l| l.lot == lot)) {
                    lot.left = (lot.left - amount).max(Volume::ZERO);
                }
            }
            ShopEvent::AirRead { reading } => {
                self.air.insert(reading.bay.clone(), reading);
            }
            ShopEvent::GaugeChecked { check } => {
                self.gauges.insert(check.gauge.clone(), check);
            }
            ShopEvent::GaugeStudied { study } => {
                self.gauge_studies.insert(study.gauge.clone(), study);
            }
            ShopEvent::PlanKept { at, plan } => {
                self.plan = plan;
                self.planned = Some(at);
            }
        }
    }

    /// A person's own shift, or the shop's.
    pub fn shift_of<'a>(&'a self, person: &'a Person) -> &'a Shift {
        person.shift.as_ref().unwrap_or(&self.settings.shift)
    }

    fn release(&mut self, job: &JobId) {
        for roll in &mut self.rolls {
            roll.reserved_mm.remove(job);
        }
        for offcut in self.offcuts.iter_mut().filter(|o| o.reserved.as_ref() == Some(job)) {
            offcut.reserved = None;
        }
    }
}

impl Roll {
    /// Length that no accepted plan has reserved.
    pub fn free(&self) -> Length {
        (self.left - Length::mm(self.reserved_mm.values().sum())).max(Length::ZERO)
    }
}
