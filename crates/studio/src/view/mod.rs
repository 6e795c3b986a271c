//! What pages and documents show: plain data, no rules of the trade to be added by whoever draws it.

mod calendar;
mod car;
mod clash;
pub(crate) mod day;
mod film;
mod flat;
mod gauges;
mod handover;
mod offer;
mod route;
mod search;
mod stock;
mod survey;
mod when;

pub use crate::engine::paint::{ClearContour, NEAR_FLOOR, Nearness};
pub use calendar::{CalendarView, Lane, LaneKind, Promise, Stretch, StretchKind};
pub use car::{CarTag, CarView, Caution, StageMark, StageState};
pub use clash::Clash;
pub(crate) use clash::as_it_is;
pub use day::{BayNow, Curing, DayView, LateNote, NextRow, StepNow, Waiting};
pub use film::{CutDrawing, CutPiece, CutRest, FilmChoice, FilmView, LayoutSource, PieceRow};
pub(crate) use flat::shapes;
pub use flat::{FlatView, LaidView, SeamPlan, ShapeView, seam_plans, seen_lines};
pub use gauges::GaugeView;
pub(crate) use handover::removals;
pub use handover::{CareRow, CorrectedPanel, HandoverView, LotRow};
pub use offer::{ChangeView, DraftOption, OfferView};
pub use paint::FrontPoint;
pub use route::{RouteView, StepView};
pub(crate) use search::SearchIndex;
pub use search::{CarList, CarRow};
pub use stock::{StockView, StockWarning};
pub use survey::{PanelSurvey, Spot, SurveyView, TestedMethod};
pub use when::WhenView;
