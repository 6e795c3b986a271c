#![doc = include_str!("../README.md")]

mod backup;
mod error;
mod event;
pub mod hash;
mod journal;
mod picture;
mod seal;
mod slate;
mod sqlite;
mod verify;
mod writer;

pub use error::{AppendError, Conflict, JournalError, Refusal};
pub use event::{Appended, Expected, NewEvent, Recorded, Stream, StreamHead};
pub use hash::Hash;
pub use journal::{Journal, Notices};
pub use picture::PictureId;
pub use seal::Seal;
pub use slate::Slate;
pub use verify::{Fault, Flaw, Place, Report};
