#![doc = include_str!("../README.md")]

mod bound;
mod check;
mod coarse;
mod derive;
mod explain;
mod ground;
mod library;
mod order;
mod outcome;
mod parse;
mod play;
mod raw;
mod search;
mod simulate;
mod situation;
mod space;
mod validate;
mod word;

pub use check::{Broken, Nearest, Unmet, Verdict, check};
pub use derive::{derive, describe, single};
pub use library::{
    Air, CareInterval, Caution, Change, Dilution, Effect, Fact, Goal, Kind, Level, Library, LibraryFlaw,
    Need, Product, Reach, RoomKind, Rule, Skill, Step, Wait,
};
pub use outcome::{Lag, NoRoute, Obstacle, Outcome, ProductUse, Purpose, Reason, Route, RouteStep, Why};
pub use simulate::{Breach, advance, simulate};
pub use situation::{Facts, Group, Place, Room, Situation, SituationFlaw, State, StepUse, Want};
