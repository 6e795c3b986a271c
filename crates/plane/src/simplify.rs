//! Fewer points, never less area.
