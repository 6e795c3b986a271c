use paint::*;
use units::{Length, Seed, Thickness};
fn main() {
    for (n, mean, sd) in [
        (12, 128.0, 2.0),
        (12, 120.0, 2.0),
        (12, 110.0, 2.0),
        (12, 92.0, 2.0),
        (12, 150.0, 2.0),
        (12, 165.0, 3.0),
        (12, 225.0, 14.0),
        (12, 620.0, 110.0),
        (3, 120.0, 2.0),
        (12, 135.0, 6.0),
    ] {
        let p = PanelInfo {
            id: "a".into(),
            width: Length::mm(1200.0),
            height: Length::mm(800.0),
            substrate: Substrate::Steel,
            matte: false,
            single_stage: false,
            history: History::Known { removed: Thickness::ZERO },
        };
        let mut c = Seed(11).sequence();
        let r: Vec<Reading> = (0..n)
            .map(|i| Reading {
                panel: "a".into(),
                at: Some(((i % 4) as f64 / 3.0, (i / 4 % 4) as f64 / 3.0)),
                value: Thickness::um(mean + sd * c.normal()),
                spot: None,
                repeat: None,
                gauge: None,
                time: None,
                substrate: Substrate::Steel,
                clear: None,
            })
            .collect();
        let e = analyze(&r, &[p], &Settings::default()).unwrap().panels.remove(0);
        println!(
            "{n} {mean} {sd}: F {:.3} R {:.3} Fi {:.3} T {:.3} clear {:.1}±{:.1} least {:.1}±{:.1} lower {:.1} removable {:.1} parts {} flags {:?} more {}",
            e.kind.factory,
            e.kind.refinished,
            e.kind.filled,
            e.kind.thinned,
            e.clear.mean.as_um(),
            e.clear.sd.as_um(),
            e.least_clear.mean.as_um(),
            e.least_clear.sd.as_um(),
            e.least_clear.lower.as_um(),
            e.removable.amount.as_um(),
            e.least_clear.mixture.len(),
            e.flags,
            e.more.readings
        );
    }
}
