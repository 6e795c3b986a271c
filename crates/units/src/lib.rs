#![doc = include_str!("../README.md")]

mod explained;
mod money;
mod quantity;
mod seed;

pub use explained::Explained;
pub use money::{Currency, Money, MoneyError, Rounding};
pub use quantity::{Area, Duration, Length, Temperature, Thickness, Volume};
pub use seed::{Seed, Sequence};
