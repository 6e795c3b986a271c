#![doc = include_str!("../README.md")]

pub mod clock;
pub mod command;
pub mod compute;
pub mod demo;
pub mod door;
pub mod engine;
pub mod figure;
pub mod folder;
pub mod ics;
pub mod picture;
pub mod reckoning;
pub mod refusal;
pub mod searching;
pub mod sound;
mod state;
mod studio;
pub mod times;
pub mod view;

pub use clock::Clock;
pub use figure::Figure;
pub use refusal::{Refusal, RefusalKind};
pub use studio::{Before, Changes, JobEntry, Stamp, Studio, body_of, zone_of};
pub use times::Times;
pub use units::Explained;
