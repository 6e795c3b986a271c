#![doc = include_str!("../README.md")]

pub mod document;
pub mod documents;
pub mod drawing;
pub mod sketch;
pub mod words;

mod error;
mod font;
mod told;
mod typeset;

pub use document::Document;
pub use error::ReportError;
pub use typeset::{MOST_PICTURES, Picture, Template, typeset};
