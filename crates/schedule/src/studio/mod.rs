//! The search for a studio's plan: compiled problem, board of bookings, decoder, search.

mod board;
mod bound;
mod decode;
mod doubt;
mod model;
mod pattern;
mod search;

pub(crate) use search::{Search, Start};
