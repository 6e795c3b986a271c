//! Prints derived routes of invented cars: `cargo run --release -p route --example look -- [NAME] [TIMES]`.
//! With TIMES only the work is done, for a stopwatch outside.
#[path = "../tests/shop/mod.rs"]
mod shop;

use effort::Effort;
use route::Outcome;

fn main() {
    let mut wanted = std::env::args().skip(1);
    let (name, times) = (wanted.next(), wanted.next().and_then(|n| n.parse::<u32>().ok()));
    let library = shop::library();
    for (car, situation) in shop::cars().into_iter().filter(|(car, _)| name.as_ref().is_none_or(|n| n == car))
    {
        for _ in 1..times.unwrap_or(1) {
            let _ = route::derive(&library, &situation, &Effort::steps(20_000));
        }
        let effort = Effort::steps(20_000);
        match route::derive(&library, &situation, &effort) {
            Outcome::Found(route) => {
                let (cost, bound) = (route.cost.as_hours(), route.bound.as_hours());
                println!("{car}: {cost:.1} h, bound {bound:.1} h, {} states gone on from", effort.spent());
                for (i, s) in route.steps.iter().enumerate().filter(|_| times.is_none()) {
                    let minutes = s.minutes.as_minutes();
                    println!("{i:3} {:20} {minutes:5.0} min {:?} after {:?}", s.step, s.groups, s.after);
                }
            }
            Outcome::None(none) => println!("{car}: {} {}", none.reason, none.hint),
        }
    }
}
