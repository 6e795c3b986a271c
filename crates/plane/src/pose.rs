//! Where a piece lies.

use crate::Point;
use serde::{Deserialize, Serialize};
use units::Length;

/// Where a piece lies: x goes to −x first if `mirrored`, then the piece turns by `degrees` about the
/// origin of its own outline (from x towards y), then it shifts by `x`, `y`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Pose {
    /// Whether x goes to −x first.
    pub mirrored: bool,
    /// Turn from x towards y, in degrees.
    pub degrees: f64,
    /// Shift along x.
    pub x: Length,
    /// Shift along y.
    pub y: Length,
}

impl Pose {
    /// A shift alone.
    pub const fn shift(x: Length, y: Length) -> Self {
        Self { mirrored: false, degrees: 0.0, x, y }
    }

    /// Where a point of the outline comes to lie.
    pub fn apply(&self, p: Point) -> Point {
        let (sin, cos) = sin_cos_degrees(self.degrees);
        let x = if self.mirrored { -p.x } else { p.x };
        Point::mm(x * cos - p.y * sin + self.x.as_mm(), x * sin + p.y * cos + self.y.as_mm())
    }
}

/// Sine and cosine, exact at quarter turns so that a turned rectangle stays one.
pub(crate) fn sin_cos_degrees(degrees: f64) -> (f64, f64) {
    match degrees.rem_euclid(360.0) {
        0.0 => (0.0, 1.0),
        90.0 => (1.0, 0.0),
        180.0 => (0.0, -1.0),
        270.0 => (-1.0, 0.0),
        turn => turn.to_radians().sin_cos(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mirrors_then_turns_then_shifts() {
        let pose = Pose { mirrored: true, degrees: 90.0, x: Length::mm(10.0), y: Length::mm(20.0) };
        // (3, 4) → (−3, 4) → (−4, −3) → (6, 17)
        assert_eq!(pose.apply(Point::mm(3.0, 4.0)), Point::mm(6.0, 17.0));
    }

    #[test]
    fn quarter_turns_are_exact() {
        for quarter in [-360.0, -270.0, -180.0, -90.0, 0.0, 90.0, 180.0, 270.0, 360.0, 450.0] {
            let (s, c) = sin_cos_degrees(quarter);
            assert_eq!(s.abs() + c.abs(), 1.0, "{quarter}");
        }
    }
}
