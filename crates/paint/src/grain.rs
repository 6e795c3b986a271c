//! Grain of abrasive papers, and how removal scales with pressure and speed.

use crate::correction::Removal;
use units::Thickness;

/// Median grain sizes of the P grades in micrometers: FEPA 43-1 / ISO 6344-3:2013, as reproduced in two
/// independent pages. P3000 and finer stand only in the 2021 edition, whose values are not public.
const MEDIANS: [(&str, f64); 13] = [
    ("P240", 58.5),
    ("P280", 52.2),
    ("P320", 46.2),
    ("P360", 40.5),
    ("P400", 35.0),
    ("P500", 30.2),
    ("P600", 25.8),
    ("P800", 21.8),
    ("P1000", 18.3),
    ("P1200", 15.3),
    ("P1500", 12.6),
    ("P2000", 10.3),
    ("P2500", 8.4),
];

/// Median grain of a paper by its P grade; `None` for a grade without a public value. A guide to how deep
/// its marks could go at the most, never the depth of a mark.
pub fn median_grain(grade: &str) -> Option<Thickness> {
    let grade = grade.trim().to_uppercase();
    MEDIANS.iter().find(|(name, _)| *name == grade).map(|(_, um)| Thickness::um(*um))
}

/// Removal at another pressure, speed or time, each as a ratio to where it was measured: removal goes with
/// pressure × speed × time (Preston 1927, Journal of the Society of Glass Technology 11). There is no
/// published constant for clear coat, so one removal has to be measured first. `None` unless all ratios are
/// positive and finite.
pub fn scaled_removal(measured: Removal, pressure: f64, speed: f64, time: f64) -> Option<Removal> {
    let ratio = pressure * speed * time;
    let usable = [pressure, speed, time, ratio].iter().all(|r| r.is_finite() && *r > 0.0);
    usable.then(|| Removal {
        mean: measured.mean * ratio,
        unsure: measured.unsure * ratio,
        scatter: measured.scatter * ratio,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The published table, row by row.
    #[test]
    fn grains_are_those_of_the_standard() {
        let table = include_str!("../tests/data/fepa_p_grades_um.csv");
        let mut rows = 0;
        for line in table.lines().skip(1) {
            let (grade, um) = line.split_once(',').unwrap();
            assert_eq!(median_grain(grade).map(Thickness::as_um), um.trim().parse().ok(), "{grade}");
            rows += 1;
        }
        assert_eq!(rows, MEDIANS.len());
        assert_eq!(median_grain("P3000"), None);
        assert_eq!(median_grain(" p2000 "), Some(Thickness::um(10.3)));
    }

    /// Preston's identity: k = 1e-13 /Pa, 10 kPa, 2 m/s take 2e-9 m/s, 0.12 µm a minute.
    #[test]
    fn removal_goes_with_pressure_speed_and_time() {
        let per_second_um = |pressure_pa: f64, speed: f64| 1e-13 * pressure_pa * speed * 1e6;
        let measured = Removal {
            mean: Thickness::um(per_second_um(5e3, 1.0)),
            unsure: Thickness::ZERO,
            scatter: Thickness::ZERO,
        };
        let a_minute = scaled_removal(measured, 2.0, 2.0, 60.0).unwrap();
        assert!((a_minute.mean.as_um() - 0.12).abs() < 1e-12);
        assert_eq!(scaled_removal(measured, 0.0, 1.0, 1.0), None);
    }
}
