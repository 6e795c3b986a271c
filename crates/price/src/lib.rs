#![doc = include_str!("../README.md")]

mod change;
mod course;
mod damage;
mod error;
mod hours;
mod mishaps;
mod network;
mod offer;
mod review;
mod rules;
mod scope;
mod seam_costs;
mod seam_search;
mod seams;
mod simulate;
mod tax;

pub use change::{ChangePrice, LineChange, difference};
pub use damage::{AreaYears, DamageRate};
pub use error::PriceError;
pub use hours::{Belief, Evidence, Finished, Forecast, TimeModel, TimePrior};
pub use mishaps::MishapPrior;
pub use network::{JobNetwork, Law, Mishaps, SharedSpread, Task};
pub use offer::{Line, OptionPrice, OptionSet, offer, options};
pub use review::{JobRecord, JobReview, MarginReview, UnitCosts, review};
pub use rules::{Deposit, Discount, LineKind, ShopRules, TaxBasis, TaxRule};
pub use scope::{FilmUse, Material, Quantity, Refusal, Renewals, Scope};
pub use seams::{
    CandidateSeam, EXHAUSTIVE_SEAMS, NestedPiece, PieceOutlook, SeamChoice, SeamPlan, SeamPrices,
    SeamProblem, Section, Zone, cheapest_at, choose_seams, seam_front, seam_plan,
};
pub use simulate::{HoursRisk, SharedShare, Span, TaskShare, simulate};
pub use tax::{TaxGroup, Taxed, Totals, from_gross, totals};
