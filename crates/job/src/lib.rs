#![doc = include_str!("../README.md")]

mod arrival;
mod car;
mod estimates;
mod event;
mod film;
mod finding;
mod fold;
mod gauge;
mod handover;
mod history;
mod id;
mod offer;
mod order;
mod picture;
mod reading;
mod reminder;
mod shape;
mod shop;
mod shop_event;
mod side_plan;
mod stored;
mod test_spot;
mod work;

pub use arrival::{Arrival, Signature, Soil};
pub use car::{Car, Customer, Drive, Material, PaintFinish};
pub use estimates::{Estimates, FilmZone, SeamTimes, ZoneRate};
pub use event::{JobEvent, Note, PictureEntry};
pub use film::{CutPlacement, CutPlan, CutState, LaidPiece, LayoutWish, OneLot, Piece, RollCut};
pub use finding::{Finding, FindingKind, Severity};
pub use fold::{Job, Stage};
pub use gauge::{FoilReading, GaugeCheck, GaugeStudy, StudyReading};
pub use handover::{Claim, ClaimAnswer, ClaimKind, Handover, Visit, VisitState};
pub use history::{CarEvent, CarHistory, FilmOnCar, Removal};
pub use id::{ChangeNo, FindingNo, JobId, OfferNo, PanelId, PictureId, Place, StepNo};
pub use offer::{Acceptance, ChangeOrder, ChangeState, Offer, OfferLine, OfferOption, Quote, Strokes};
pub use order::{CoatTarget, Coverage, Finish, Order};
pub use picture::{MarkShape, MarkedPicture, PictureMark, PicturePair, Thousandths, VoiceNote};
pub use reading::{Moment, Reading};
pub use reminder::{Reminder, ReminderState};
pub use shape::{CutZone, PanelCuts, PanelShape, SeamChoice, SeamPlanFound, Taken, Tape, ZoneRule};
pub use shop::{
    AirReading, Bay, Booking, ClockForm, Cutter, DateForm, Grain, Lot, Offcut, Person, PriceList, Product,
    Role, Roll, Shift, Shop, ShopSettings, TaxRule, Tool, UnitSystem,
};
pub use shop_event::ShopEvent;
pub use side_plan::SidePlan;
pub use stored::{Stored, StoredError, encode};
pub use test_spot::{SpotPair, TestSpot};
pub use work::{After, LotUse, Override, PlannedStep, ProductUse, RouteSheet, Span, StepRecord, StepState};
