//! Writes an invented workshop in the plain format: `workshop CARS SEED`.
//!
//! Every car is washed, corrected (dusty), cleaned, filmed piece by piece (clean; film within the hour
//! and three quarters after the wipe, edges after it), coated, left to cure and handed over.

use units::{Seed, Sequence};

struct Shop {
    tasks: Vec<[i32; 7]>,
    arcs: Vec<[i32; 3]>,
    dues: Vec<[i32; 3]>,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().collect();
    let [_, cars, seed] = &words[..] else { return Err("usage: workshop CARS SEED".into()) };
    let cars: i32 = cars.parse()?;
    let chance = &mut Seed(seed.parse()?).sequence();
    let mut shop = Shop { tasks: Vec::new(), arcs: Vec::new(), dues: Vec::new() };
    for _ in 0..cars {
        add_car(&mut shop, chance, cars);
    }
    let days = 6 + 4 * cars;
    println!("{} {} {cars} {} 96 36 4 4 2 2 1 3", shop.tasks.len(), shop.arcs.len(), days * 96);
    let lines =
        |rows: &[[i32; 3]]| rows.iter().map(|r| format!("{} {} {}\n", r[0], r[1], r[2])).collect::<String>();
    for task in &shop.tasks {
        println!("{}", task.map(|x| x.to_string()).join(" "));
    }
    print!("{}{}", lines(&shop.arcs), lines(&shop.dues));
    Ok(())
}

fn add_car(shop: &mut Shop, chance: &mut Sequence, cars: i32) {
    let mut from = |low: i32, high: i32| low + chance.below((high - low + 1) as usize) as i32;
    let arrival = shop.add([from(2, 3), 1, 0, 0, 0, 0, 0]);
    let wash = shop.after(arrival, [from(3, 6), 1, 0, 0, 1, 0, 0]);
    let mut last = shop.after(wash, [from(3, 9), 1, 0, 0, 1, 0, 0]);
    for _ in 0..from(1, 4) {
        last = shop.after(last, [from(5, 12), 1, 1, 0, 0, 1, 1]);
    }
    let cleaned = shop.after(last, [2, 1, 0, 0, 0, 0, 0]);
    let mut edges = Vec::new();
    for _ in 0..from(5, 12) {
        let wiped = shop.add([1, 1, 0, 1, 0, 1, 2]);
        shop.arcs.push([cleaned, wiped, 2]);
        let film = shop.add([from(3, 9), from(1, 2), 0, 1, 0, 1, 2]);
        shop.arcs.extend([[wiped, film, 1], [film, wiped, -7]]);
        edges.push(shop.after(film, [from(1, 4), 1, 0, 1, 0, 0, 0]));
    }
    let wiped = shop.add([2, 1, 0, 0, 0, 1, 2]);
    for edge in edges {
        let work = shop.tasks[edge as usize][0];
        shop.arcs.push([edge, wiped, work]);
    }
    let coat = shop.add([from(9, 10), 1, 0, 0, 0, 1, 2]);
    shop.arcs.extend([[wiped, coat, 2], [coat, wiped, -6]]);
    let cure = shop.after(coat, [[32, 48][from(0, 1) as usize], 0, 0, 0, 0, 0, 0]);
    let handover = shop.after(cure, [from(7, 8), 1, 0, 0, 0, 0, 0]);
    // Promised to the end of a shift, about a day later for every car that shares the studio.
    let day = 3 + from(0, cars);
    shop.dues.push([handover, day * 96 + 36, from(1, 5)]);
}

impl Shop {
    fn add(&mut self, task: [i32; 7]) -> i32 {
        self.tasks.push(task);
        self.tasks.len() as i32 - 1
    }

    /// Adds a task that follows the end of another.
    fn after(&mut self, before: i32, task: [i32; 7]) -> i32 {
        let i = self.add(task);
        self.arcs.push([before, i, self.tasks[before as usize][0]]);
        i
    }
}
