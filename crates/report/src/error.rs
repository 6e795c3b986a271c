//! What can go wrong while a document is made, with the place and the way on.

use thiserror::Error;

/// Why a document could not be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ReportError {
    /// The data of a document could not be written as JSON.
    #[error("the data of the {document} cannot be written down: {reason}")]
    Data {
        /// Name of the document, for people.
        document: String,
        /// What the serializer said.
        reason: String,
    },
    /// A picture cannot be read or is of a kind that cannot be printed.
    #[error("picture {number} cannot be printed: {reason}; {hint}")]
    Picture {
        /// Position of the picture in the list, counted from 1.
        number: usize,
        /// What is wrong with it.
        reason: String,
        /// What to do.
        hint: String,
    },
    /// More pictures than one document may carry.
    #[error(
        "{given} pictures are too many for one document, at most {most}; leave out some or make two documents"
    )]
    TooManyPictures {
        /// How many were given.
        given: usize,
        /// How many may be given.
        most: usize,
    },
    /// The typesetter stopped: a fault of ours, in the named line of the named template.
    #[error("the {document} could not be set, at {place}: {reason}; {hint}")]
    Typeset {
        /// Name of the document, for people.
        document: String,
        /// File and line of the template.
        place: String,
        /// What the typesetter said.
        reason: String,
        /// What to do.
        hint: String,
    },
}
