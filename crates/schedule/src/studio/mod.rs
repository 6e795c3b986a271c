//! The search for a studio's plan: compiled problem, board of bookings, decoder, search.

mod board;
mod booking;
mod bound;
mod decode;
mod doubt;
mod kept;
mod model;
mod moves;
mod pattern;
mod search;

pub(crate) use search::{Search, Start};
