//! The shop's units in forms: what stands beside a field, what a typed number means, how a stored quantity is put
//! back into the field.

use job::UnitSystem;
use rust_decimal::Decimal;
use units::{Area, Length, Money, Temperature, Thickness, Volume};

/// Square meters of a square foot, exactly.
const SQUARE_FOOT: Decimal = Decimal::from_parts(9_290_304, 0, 0, false, 8);
/// Meters of a foot, exactly.
const FOOT: Decimal = Decimal::from_parts(3048, 0, 0, false, 4);
/// Liters of a US gallon of 231 cubic inches, exactly.
const GALLON: Decimal = Decimal::from_parts(3_785_411_784, 0, 0, false, 9);

/// An amount divided, kept fine enough to come back to the cent.
fn divided(cost: Money, by: Decimal) -> Money {
    Money::new((cost.amount() / by).round_dp(6))
}

/// Units as they are typed. Inside everything is SI.
#[derive(Clone, Copy, Debug)]
pub struct Scale(pub UnitSystem);

impl Scale {
    fn us(self) -> bool {
        self.0 == UnitSystem::Us
    }

    /// Unit of small lengths: gaps, widths of rolls.
    pub fn small(self) -> &'static str {
        if self.us() { "in" } else { "mm" }
    }

    /// A small length from a typed number.
    pub fn small_from(self, n: f64) -> Length {
        if self.us() { Length::inches(n) } else { Length::mm(n) }
    }

    /// A small length as it is typed.
    pub fn small_text(self, l: Length) -> String {
        plain(if self.us() { l.as_inches() } else { l.as_mm() })
    }

    /// Unit of lengths of film.
    pub fn long(self) -> &'static str {
        if self.us() { "ft" } else { "m" }
    }

    /// A length of film from a typed number.
    pub fn long_from(self, n: f64) -> Length {
        if self.us() { Length::inches(n * 12.0) } else { Length::m(n) }
    }

    /// A length in the unit of lengths of film.
    pub fn long_of(self, l: Length) -> f64 {
        if self.us() { l.as_inches() / 12.0 } else { l.as_m() }
    }

    /// A length of film as it is typed.
    pub fn long_text(self, l: Length) -> String {
        plain(if self.us() { l.as_inches() / 12.0 } else { l.as_m() })
    }

    /// A rate for each meter as one for each unit of lengths of film.
    pub fn per_long(self, per_m: f64) -> f64 {
        if self.us() { per_m * 0.3048 } else { per_m }
    }

    /// The unit of lengths of film in a sentence.
    pub fn long_in_full(self) -> &'static str {
        if self.us() { "foot" } else { "meter" }
    }

    /// Cost of a unit of lengths of film from that of a meter.
    pub fn cost_long(self, m: Money) -> Money {
        if self.us() { m * FOOT } else { m }
    }

    /// Cost of a meter from that of a unit of lengths of film.
    pub fn cost_long_from(self, cost: Money) -> Money {
        if self.us() { divided(cost, FOOT) } else { cost }
    }

    /// Unit of areas.
    pub fn area(self) -> &'static str {
        if self.us() { "ft²" } else { "m²" }
    }

    /// An area from a typed number.
    pub fn area_from(self, n: f64) -> Area {
        // The square foot is 0.09290304 m² exactly.
        if self.us() { Area::m2(n * 0.092_903_04) } else { Area::m2(n) }
    }

    /// An area as it is typed.
    pub fn area_text(self, a: Area) -> String {
        plain(if self.us() { a.as_ft2() } else { a.as_m2() })
    }

    /// A number of square meters in the unit of areas.
    pub fn areas(self, m2: f64) -> f64 {
        if self.us() { Area::m2(m2).as_ft2() } else { m2 }
    }

    /// A rate for each square meter as one for each unit of area.
    pub fn per_area(self, per_m2: f64) -> f64 {
        if self.us() { per_m2 * 0.092_903_04 } else { per_m2 }
    }

    /// Square meters from a typed number of the unit of areas.
    pub fn areas_from(self, n: f64) -> f64 {
        self.area_from(n).as_m2()
    }

    /// A rate for each square meter from one for each unit of area.
    pub fn per_area_from(self, rate: f64) -> f64 {
        rate / self.per_area(1.0)
    }

    /// Label of the cost of an area.
    pub fn area_in_full(self) -> &'static str {
        if self.us() { "Cost of a square foot" } else { "Cost of a square meter" }
    }

    /// Cost of a unit of area from that of a square meter.
    pub fn cost_area(self, m2: Money) -> Money {
        if self.us() { m2 * SQUARE_FOOT } else { m2 }
    }

    /// Cost of a square meter from that of a unit of area.
    pub fn cost_area_from(self, cost: Money) -> Money {
        if self.us() { divided(cost, SQUARE_FOOT) } else { cost }
    }

    /// Unit in which liquids are bought.
    pub fn bulk(self) -> &'static str {
        if self.us() { "gal" } else { "L" }
    }

    /// Label of the cost of a liquid.
    pub fn bulk_in_full(self) -> &'static str {
        if self.us() { "Cost of a gallon" } else { "Cost of a liter" }
    }

    /// Cost of a unit in which liquids are bought from that of a liter.
    pub fn cost_liquid(self, l: Money) -> Money {
        if self.us() { l * GALLON } else { l }
    }

    /// Cost of a liter from that of a unit in which liquids are bought.
    pub fn cost_liquid_from(self, cost: Money) -> Money {
        if self.us() { divided(cost, GALLON) } else { cost }
    }

    /// Unit of paint thickness.
    pub fn thickness(self) -> &'static str {
        if self.us() { "mil" } else { "µm" }
    }

    /// A thickness from a typed number.
    pub fn thickness_from(self, n: f64) -> Thickness {
        if self.us() { Thickness::mil(n) } else { Thickness::um(n) }
    }

    /// A thickness as it is typed.
    pub fn thickness_text(self, t: Thickness) -> String {
        plain(if self.us() { t.as_mil() } else { t.as_um() })
    }

    /// A thickness with one digit more than a reading has: a pass takes a micron or so.
    pub fn thickness_fine(self, t: Thickness) -> String {
        if self.us() { format!("{:.2}", t.as_mil()) } else { format!("{:.1}", t.as_um()) }
    }

    /// Unit of temperatures.
    pub fn temperature(self) -> &'static str {
        if self.us() { "°F" } else { "°C" }
    }

    /// A temperature from a typed number.
    pub fn temperature_from(self, n: f64) -> Temperature {
        if self.us() { Temperature::fahrenheit(n) } else { Temperature::celsius(n) }
    }

    /// Unit of liquids.
    pub fn liquid(self) -> &'static str {
        if self.us() { "fl oz" } else { "mL" }
    }

    /// A liquid from a typed number.
    pub fn liquid_from(self, n: f64) -> Volume {
        // The US fluid ounce is 29.5735295625 mL.
        if self.us() { Volume::ml(n * 29.573_529_562_5) } else { Volume::ml(n) }
    }

    /// Unit of rooms.
    pub fn room(self) -> &'static str {
        if self.us() { "ft³" } else { "m³" }
    }

    /// A room's volume from a typed number.
    pub fn room_from(self, n: f64) -> Volume {
        // The cubic foot is 0.028316846592 m³ exactly.
        if self.us() { Volume::m3(n * 0.028_316_846_592) } else { Volume::m3(n) }
    }

    /// A room's volume as it is typed.
    pub fn room_text(self, v: Volume) -> String {
        plain(if self.us() { v.as_m3() / 0.028_316_846_592 } else { v.as_m3() })
    }
}

/// A number as people type it: no binary tail, no needless zeros.
pub fn plain(n: f64) -> String {
    let rounded = (n * 1000.0).round() / 1000.0;
    if rounded == 0.0 { "0".to_owned() } else { rounded.to_string() }
}

/// A rate as people type it: four digits that count, for what is far below one.
pub fn four_digits(n: f64) -> String {
    let place = if n == 0.0 { 0.0 } else { 3.0 - n.abs().log10().floor() };
    let scale = 10f64.powf(place.clamp(0.0, 12.0));
    ((n * scale).round() / scale).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_comes_back() {
        for scale in [Scale(UnitSystem::Metric), Scale(UnitSystem::Us)] {
            for n in [0.0, 0.125, 8.0, 60.5, 1520.0] {
                assert_eq!(scale.small_text(scale.small_from(n)), plain(n));
                assert_eq!(scale.long_text(scale.long_from(n)), plain(n));
                assert_eq!(scale.area_text(scale.area_from(n)), plain(n));
                assert_eq!(scale.thickness_text(scale.thickness_from(n)), plain(n));
                assert_eq!(scale.room_text(scale.room_from(n)), plain(n));
                assert_eq!(plain(scale.areas(scale.areas_from(n))), plain(n));
                assert_eq!(four_digits(scale.per_area(scale.per_area_from(n))), four_digits(n));
                let cost = Money::parse(&plain(n)).unwrap();
                assert_eq!(
                    scale.cost_long(scale.cost_long_from(cost)).amount().round_dp(4),
                    cost.amount().round_dp(4)
                );
            }
        }
    }

    #[test]
    fn a_rate_keeps_four_digits_that_count() {
        for (n, text) in
            [(0.0, "0"), (0.001_858_060_8, "0.001858"), (0.02, "0.02"), (12.0, "12"), (1520.4, "1520")]
        {
            assert_eq!(four_digits(n), text);
        }
    }

    #[test]
    fn conversions_agree_with_the_definitions() {
        // NIST SP 811 (2008), appendix B.8: inch 25.4 mm, foot 0.3048 m, square foot 0.09290304 m²,
        // cubic foot 0.02831685 m³, US fluid ounce 29.57353 mL; °F by B.8's formula. From memory of the table,
        // the exact factors follow from the inch and the gallon of 231 cubic inches.
        let us = Scale(UnitSystem::Us);
        assert!((us.small_from(1.0).as_mm() - 25.4).abs() < 1e-12);
        assert!((us.long_from(1.0).as_mm() - 304.8).abs() < 1e-9);
        assert!((us.area_from(1.0).as_m2() - 0.3048 * 0.3048).abs() < 1e-12);
        assert!((us.room_from(1.0).as_m3() - 0.3048 * 0.3048 * 0.3048).abs() < 1e-12);
        assert!((us.liquid_from(128.0).as_l() - 231.0 * 0.0254f64.powi(3) * 1000.0).abs() < 1e-9);
        assert!((us.temperature_from(68.0).as_celsius() - 20.0).abs() < 1e-12);
    }
}
