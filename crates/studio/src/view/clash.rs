//! Who is in two places at once, by the plan or in truth.

use super::day;
use crate::JobEntry;
use crate::engine::schedule::Crews;
use jiff::Timestamp;
use job::{Booking, Job, StepState};

/// One person in two places at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash {
    /// Who.
    pub who: String,
    /// From.
    pub from: Timestamp,
    /// To.
    pub to: Timestamp,
    /// What, in words: car and step.
    pub what: [String; 2],
    /// Whether both are begun: it is so, whatever the plan says.
    pub begun: bool,
}

/// A booking as it turned out: what is begun stands with who is at it, and what is over where it was.
pub(crate) fn as_it_is(booking: &Booking, job: &Job, now: Timestamp) -> Booking {
    let mut told = booking.clone();
    let Some(record) = job.work.get(&booking.step) else { return told };
    let (Some(first), Some(last)) = (record.spans.first(), record.spans.last()) else { return told };
    match record.state {
        StepState::Done => {
            told.from = first.from;
            told.to = last.to.unwrap_or(now);
            told.people = record.spans.iter().map(|s| s.by.clone()).collect();
            told.people.dedup();
        }
        StepState::Running => {
            told.from = last.from;
            told.to = booking.to.max(now);
            if !told.people.contains(&last.by) {
                // Whoever else was to help is still taken to.
                told.people.truncate(told.people.len().saturating_sub(1));
                told.people.insert(0, last.by.clone());
            }
        }
        _ => {}
    }
    told
}

/// Everybody who is in two places at once from now on. Work that rests because somebody of its crew is off leaves the
/// others free.
pub(crate) fn clashes(bookings: &[Booking], jobs: &[JobEntry], crews: &Crews, now: Timestamp) -> Vec<Clash> {
    let begun = |b: &Booking| {
        let state = jobs.iter().find(|e| e.id == b.job).map(|e| e.job.step_state(b.step));
        matches!(state, Some(StepState::Running))
    };
    let mut found = Vec::new();
    for (i, a) in bookings.iter().enumerate() {
        for b in &bookings[i + 1..] {
            let (from, to) = (a.from.max(b.from), a.to.min(b.to));
            if from >= to || to <= now {
                continue;
            }
            for who in a.people.iter().filter(|p| b.people.contains(p)) {
                let both = begun(a) && begun(b);
                let Some((from, to)) = (if both { Some((from, to)) } else { crews.together(a, b, from, to) })
                else {
                    continue;
                };
                let what = [a, b].map(|x| day::name_of(jobs, &x.job, x.step));
                found.push(Clash { who: who.clone(), from, to, what, begun: both });
            }
        }
    }
    found
}
