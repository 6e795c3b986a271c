//! Reads the plain format of benchmark projects.

use super::{Activity, Arc, Project};
use crate::outcome::Fault;
use crate::words::Numbers;

impl Project {
    /// Reads `n K`, then K capacities, then per activity its duration and K uses, then `m` and m lines
    /// `i j lag` meaning `start_j >= start_i + lag`; activities from 0, the last is the sink.
    ///
    /// # Errors
    /// [`Fault`] with the place of the first number that is missing or out of range.
    pub fn parse(text: &str) -> Result<Self, Fault> {
        let mut numbers = Numbers::new(text);
        let n = numbers.count("activities", 100_000)?;
        let kinds = numbers.count("resources", 1000)?;
        if n == 0 {
            return Err(Fault::new("number 1", "no activities", "a project has at least its sink"));
        }
        let capacities =
            (0..kinds).map(|_| numbers.within("capacity", 0, 32_767)).collect::<Result<Vec<_>, _>>()?;
        let mut activities = Vec::with_capacity(n);
        for _ in 0..n {
            let duration = numbers.within("duration", 0, 1_000_000)?;
            let uses = (0..kinds).map(|_| numbers.within("use", 0, 32_767)).collect::<Result<Vec<_>, _>>()?;
            activities.push(Activity { duration, uses });
        }
        let m = numbers.count("arcs", 1_000_000)?;
        let last = n as i32 - 1;
        let mut arcs = Vec::with_capacity(m);
        for _ in 0..m {
            let from = numbers.within("activity", 0, last)? as usize;
            let to = numbers.within("activity", 0, last)? as usize;
            arcs.push(Arc { from, to, lag: numbers.within("lag", -10_000_000, 10_000_000)? });
        }
        numbers.end()?;
        Ok(Self { capacities, activities, arcs })
    }
}
