//! Points and upright boxes, in millimeters.

use serde::{Deserialize, Serialize};
use std::ops::{Add, Mul, Sub};
use units::Length;

/// A point or a vector; both coordinates in millimeters.
///
/// The sheet is that of SVG: x to the right, y down. Readers and writers of formats with y up turn it over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// To the right, mm.
    pub x: f64,
    /// Down, mm.
    pub y: f64,
}

impl Point {
    /// From coordinates in millimeters.
    pub const fn mm(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Straight distance to another point.
    pub fn distance(self, other: Self) -> Length {
        Length::mm((self - other).norm())
    }

    /// Length of the vector, mm.
    pub fn norm(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// Scalar product, mm².
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// The third component of the vector product, mm²: positive where `other` turns from x towards y.
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The point at share `t` of the way to `other`.
    pub fn toward(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// Neither coordinate is infinite or NaN.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { x: self.x + other.x, y: self.y + other.y }
    }
}

impl Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { x: self.x - other.x, y: self.y - other.y }
    }
}

impl Mul<f64> for Point {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self { x: self.x * by, y: self.y * by }
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}

/// An upright box.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bounds {
    /// Corner of least coordinates.
    pub low: Point,
    /// Corner of greatest coordinates.
    pub high: Point,
}

impl Bounds {
    /// The least box around points; nothing for no points.
    pub fn around(points: &[Point]) -> Option<Self> {
        let first = *points.first()?;
        Some(points.iter().fold(Self { low: first, high: first }, |b, p| b.with(*p)))
    }

    /// Grown so that it holds `p`.
    pub fn with(self, p: Point) -> Self {
        Self {
            low: Point::mm(self.low.x.min(p.x), self.low.y.min(p.y)),
            high: Point::mm(self.high.x.max(p.x), self.high.y.max(p.y)),
        }
    }

    /// The least box around both.
    pub fn and(self, other: Self) -> Self {
        self.with(other.low).with(other.high)
    }

    /// Extent along x.
    pub fn width(&self) -> Length {
        Length::mm(self.high.x - self.low.x)
    }

    /// Extent along y.
    pub fn height(&self) -> Length {
        Length::mm(self.high.y - self.low.y)
    }

    /// Middle of the box.
    pub fn center(&self) -> Point {
        self.low.toward(self.high, 0.5)
    }

    /// Distance between two boxes; zero where they meet.
    pub fn distance(&self, other: &Self) -> Length {
        let dx = (other.low.x - self.high.x).max(self.low.x - other.high.x).max(0.0);
        let dy = (other.low.y - self.high.y).max(self.low.y - other.high.y).max(0.0);
        Length::mm(dx.hypot(dy))
    }
}
