#![doc = include_str!("../README.md")]

mod caution;
mod comparison;
mod condition;
mod contour;
mod correction;
mod estimate;
mod evidence;
mod field;
mod finish;
mod flag;
mod gauge;
mod grain;
mod least;
mod ledger;
mod map;
mod next_spot;
mod other_cars;
mod plan;
mod posterior;
mod prior;
mod readings;
mod settings;
mod spots;
mod survey;
mod table;
mod test_spot;
mod verify;

pub use comparison::{Comparison, compare};
pub use contour::{Band, Ring, Surface};
pub use correction::{
    Advice, Correction, CorrectionPlan, FrontPoint, Heat, LeaveIt, LeaveReason, Method, MethodKind, PlanFlaw,
    PlanRequest, PlanStep, Removal,
};
pub use finish::{Kind, KindProbabilities};
pub use flag::Flag;
pub use gauge::{
    Foil, GaugeCheck, StudyReading, StudyResult, check_gauge, gauge_study, parse_foils, parse_study,
};
pub use grain::{median_grain, scaled_removal};
pub use least::{LeastClear, MixturePart};
pub use ledger::{History, LimitedBy, Removable, removable};
pub use map::{PanelMap, map};
pub use other_cars::from_other_cars;
pub use plan::{default_methods, plan};
pub use readings::{Defaults, Imported, Reading, Rejected, Substrate, Unit, parse_csv};
pub use settings::{
    FieldSettings, FinishLevel, FinishPrior, Finishes, GaugeSettings, Layer, Settings, SettingsError, Spread,
};
pub use survey::{
    Interval, MoreReadings, Outlier, PanelEstimate, PanelInfo, Survey, ToleranceBound, TotalEstimate,
    analyze, analyze_with_maps,
};
pub use test_spot::{Pair, TestSpot, pairs_needed, test_spot};
