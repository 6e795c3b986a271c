//! What test spots on other cars say of a method on a car that has none yet.

use crate::correction::Method;
use crate::settings::Spread;
use units::Thickness;

/// Share of what is unsure about a method's removal that is the paint's, not the shop's: paints differ, whoever polishes.
/// Common practice, no source.
const PAINTS: f64 = 0.5;

/// A method's removal per pass on paint that was not tried yet, by what test spots on other cars measured (mean and
/// standard error, per pass).
///
/// Half of the table's variance of the mean is that of the shop (pads, machines, people), half that of the paint. The
/// shop's part has the table's normal prior, and each spot tells it with the paint's variance and its own error added
/// (normal with known variances, Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.5). However many spots: what is
/// the paint's stays unsure. Spots that are not finite are left out; without any, the method is the table's.
pub fn from_other_cars(method: &Method, spots: &[Spread]) -> Method {
    let table = method.removal_per_pass;
    let variance = table.unsure.as_um().powi(2);
    let (paint, shop) = (variance * PAINTS, variance * (1.0 - PAINTS));
    if variance <= 0.0 {
        return method.clone();
    }
    let (mut precision, mut sum) = (1.0 / shop, table.mean.as_um() / shop);
    for spot in spots.iter().filter(|s| s.mean.is_finite() && s.sd.is_finite()) {
        let weight = 1.0 / (paint + spot.sd.as_um().powi(2));
        precision += weight;
        sum += weight * spot.mean.as_um();
    }
    let mut learned = method.clone();
    learned.removal_per_pass.mean = Thickness::um((sum / precision).max(0.02));
    learned.removal_per_pass.unsure = Thickness::um((paint + 1.0 / precision).sqrt());
    learned
}

#[cfg(test)]
mod tests {
    use super::*;

    fn method() -> Method {
        crate::default_methods().remove(0)
    }

    #[test]
    fn without_spots_the_table_stands() {
        let m = method();
        let same = from_other_cars(&m, &[]).removal_per_pass;
        assert!((same.mean - m.removal_per_pass.mean).as_um().abs() < 1e-9);
        assert!((same.unsure - m.removal_per_pass.unsure).as_um().abs() < 1e-9);
    }

    #[test]
    fn one_spot_moves_the_mean_by_the_normal_rule_and_many_leave_what_is_the_paints() {
        // By hand: prior N(m, u²/2), one observation with variance u²/2 + e².
        let m = method();
        let (mean, u) = (m.removal_per_pass.mean.as_um(), m.removal_per_pass.unsure.as_um());
        let (seen, e) = (mean + 0.5, 0.1);
        let w = (u * u / 2.0) / (u * u / 2.0 + u * u / 2.0 + e * e);
        let one = from_other_cars(&m, &[Spread::um(seen, e)]).removal_per_pass;
        assert!((one.mean.as_um() - (mean + w * 0.5)).abs() < 1e-9);
        let many = from_other_cars(&m, &vec![Spread::um(seen, e); 5000]).removal_per_pass;
        assert!((many.mean.as_um() - seen).abs() < 0.01);
        assert!((many.unsure.as_um() - u / 2f64.sqrt()).abs() < 0.01);
    }
}
