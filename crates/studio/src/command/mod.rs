//! What people do: each command checks, refuses with a way on, or leads to events.

pub(crate) mod book;
pub(crate) mod film;
pub(crate) mod finding;
mod gauge;
mod handover;
pub(crate) mod measure;
mod offer;
mod picture;
mod plan;
mod rehearse;
mod reminder;
pub(crate) mod route;
pub(crate) mod shape;
mod shop;
mod sides;
pub(crate) mod step;
mod voice;

pub use book::NewJob;
pub use measure::ReadingsAnswer;
pub(crate) use measure::substrate;
pub use picture::Drawn;
pub use plan::PlanChange;
pub use step::Finished;
