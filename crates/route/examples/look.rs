//! Prints a derived route: `cargo run --release -p route --example look`.
#[path = "../tests/shop/mod.rs"]
mod shop;

use route::Outcome;

fn main() {
    let library = shop::library();
    for (name, situation) in shop::cars().into_iter().chain([
        (
            "over",
            shop::want(shop::with(shop::body(1)), &["front"], "filmed")
                .want("front", "coated")
                .want_car("handover"),
        ),
        ("forty, one with old film", shop::forty_panels().find("panel 5", "old_film", 1)),
    ]) {
        let effort = effort::Effort::steps(10_000);
        match route::derive(&library, &situation, &effort) {
            Outcome::Found(route) => {
                let (cost, bound) = (route.cost.as_hours(), route.bound.as_hours());
                println!("{name}: {cost:.1} h, bound {bound:.1} h, {} expansions", effort.spent());
                for (i, step) in route.steps.iter().enumerate() {
                    println!(
                        "{i:3} {:20} {:5.0} min {:?} after {:?}",
                        step.step,
                        step.minutes.as_minutes(),
                        step.groups,
                        step.after
                    );
                }
            }
            Outcome::None(none) => println!("{name}: {} {}", none.reason, none.hint),
        }
    }
}
