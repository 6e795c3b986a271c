//! Growing, shrinking and joining outlines.
