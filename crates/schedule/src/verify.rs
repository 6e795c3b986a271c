//! The independent validator: reads the problem and the plan, shares nothing with the search.

use crate::plan::{Placement, Plan, price};
use crate::problem::{Air, PersonId, Problem, Room, RoomId, State, Task, TaskId};
use crate::time::{Slot, Span};
use std::collections::BTreeMap;

/// A rule that a plan breaks.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Flaw {
    /// A task is missing, doubled or unknown.
    #[error("task {0:?} is planned {1} times")]
    Count(TaskId, usize),
    /// Pieces do not add up to the task: wrong length, order or ends.
    #[error("task {0:?}: its pieces do not make up its work")]
    Pieces(TaskId),
    /// A task that may not be split is split, or it pauses while everybody in it is at work.
    #[error("task {0:?} pauses where it may not")]
    Pause(TaskId),
    /// It starts too early or ends after the horizon.
    #[error("task {0:?} is outside its time")]
    Window(TaskId),
    /// It differs from what people pinned or from what has happened.
    #[error("task {0:?} is not where it was pinned")]
    Pin(TaskId),
    /// The people in it do not cover its needs.
    #[error("task {0:?} lacks the people it needs")]
    Crew(TaskId),
    /// Somebody works outside the calendar.
    #[error("task {0:?} has {1:?} at work outside working time")]
    OffDuty(TaskId, PersonId),
    /// Somebody is in two tasks at once.
    #[error("{2:?} is in tasks {0:?} and {1:?} at once")]
    TwoPlaces(TaskId, TaskId, PersonId),
    /// The room is none of those allowed, or closed, or missing, or there although not needed.
    #[error("task {0:?} is in the wrong room")]
    WrongRoom(TaskId),
    /// A car is in two rooms at once.
    #[error("tasks {0:?} and {1:?} have one car in two rooms at once")]
    TwoRooms(TaskId, TaskId),
    /// Too many cars or tasks in a room.
    #[error("room {0:?} is overfull at slot {1:?}")]
    RoomFull(RoomId, Slot),
    /// Dusty and clean work too close in the same air.
    #[error("dusty task {0:?} and clean task {1:?} are too close")]
    Dust(TaskId, TaskId),
    /// More tools in use than there are.
    #[error("too many tools in use with task {0:?}")]
    Tools(TaskId),
    /// A lag is not kept.
    #[error("the time between tasks {0:?} and {1:?} is not kept")]
    Lag(TaskId, TaskId),
    /// The cost, the delays or the bound are not those of the plan.
    #[error("the figures are not those of the plan")]
    Figures,
}

impl Plan {
    /// Checks every rule of the problem against this plan.
    ///
    /// What has happened (tasks running or done) is a fact: rules between facts are not checked.
    ///
    /// # Errors
    /// The first [`Flaw`] met.
    pub fn verify(&self, problem: &Problem) -> Result<(), Flaw> {
        let check = Check::new(problem, self)?;
        for (task, p) in &check.pairs {
            check.alone(task, p)?;
        }
        check.lags()?;
        check.together()?;
        check.rooms()?;
        check.tools()?;
        let (cost, late) = price(problem, &self.placements);
        let bound_holds = self.bound <= cost.total() && (!self.proved || self.bound == cost.total());
        if cost != self.cost || late != self.late || !bound_holds { Err(Flaw::Figures) } else { Ok(()) }
    }
}

struct Check<'a> {
    problem: &'a Problem,
    pairs: Vec<(&'a Task, &'a Placement)>,
}

impl<'a> Check<'a> {
    fn new(problem: &'a Problem, plan: &'a Plan) -> Result<Self, Flaw> {
        let mut found: BTreeMap<TaskId, Vec<&Placement>> = BTreeMap::new();
        for p in &plan.placements {
            found.entry(p.task).or_default().push(p);
        }
        let mut pairs = Vec::with_capacity(problem.tasks.len());
        for task in &problem.tasks {
            match found.get(&task.id).map_or(&[][..], Vec::as_slice) {
                [one] => pairs.push((task, *one)),
                other => return Err(Flaw::Count(task.id, other.len())),
            }
        }
        if let Some(stranger) = plan.placements.iter().find(|p| problem.task(p.task).is_none()) {
            return Err(Flaw::Count(stranger.task, 1));
        }
        Ok(Self { problem, pairs })
    }

    fn alone(&self, task: &Task, p: &Placement) -> Result<(), Flaw> {
        let id = task.id;
        if let State::Done { span } = task.state {
            let same = p.start == span.start && p.end == span.end;
            return if same { Ok(()) } else { Err(Flaw::Pin(id)) };
        }
        let total: i32 = p.pieces.iter().map(|s| s.slots()).sum();
        let ordered = p.pieces.windows(2).all(|w| w[0].end < w[1].start);
        let ends = match (p.pieces.first(), p.pieces.last()) {
            (Some(first), Some(last)) => first.start == p.start && last.end == p.end,
            _ => p.start == p.end,
        };
        if total != task.work as i32 || !ordered || !ends || p.pieces.iter().any(|s| s.slots() == 0) {
            return Err(Flaw::Pieces(id));
        }
        self.pin(task, p)?;
        if let State::Running { .. } = task.state {
            return Ok(());
        }
        let pinned = matches!(task.state, State::Pinned { .. });
        let early = p.start < task.earliest || (p.start < self.problem.now && !pinned);
        if p.start < Slot(0) || p.end > self.problem.horizon || early {
            return Err(Flaw::Window(id));
        }
        self.crew(task, p)?;
        self.pauses(task, p)?;
        self.room(task, p)
    }

    fn pin(&self, task: &Task, p: &Placement) -> Result<(), Flaw> {
        let (start, people, room) = match &task.state {
            State::Pinned { start, people, room } => (start, people, room),
            State::Running { since, people, room } => (since, people, room),
            State::Free | State::Done { .. } => return Ok(()),
        };
        let mut people = people.clone();
        people.sort();
        let crew_kept = people.is_empty() || people == p.people;
        if *start == p.start && crew_kept && (room.is_none() || *room == p.room) {
            Ok(())
        } else {
            Err(Flaw::Pin(task.id))
        }
    }

    fn crew(&self, task: &Task, p: &Placement) -> Result<(), Flaw> {
        let needed: u32 = task.crew.iter().map(|n| n.count).sum();
        let distinct = p.people.windows(2).all(|w| w[0] < w[1]);
        if p.people.len() != needed as usize || !distinct {
            return Err(Flaw::Crew(task.id));
        }
        let mut places: Vec<Option<&crate::Skill>> = Vec::new();
        for need in &task.crew {
            places.extend((0..need.count).map(|_| need.skill.as_ref()));
        }
        let mut able = Vec::new();
        for id in &p.people {
            let person = self.problem.people.iter().find(|x| x.id == *id).ok_or(Flaw::Crew(task.id))?;
            for piece in &p.pieces {
                if !person.calendar.covers(*piece) {
                    return Err(Flaw::OffDuty(task.id, *id));
                }
            }
            let fits = |skill: &Option<&crate::Skill>| skill.is_none_or(|s| person.skills.contains(s));
            able.push((0..places.len()).filter(|i| fits(&places[*i])).collect::<Vec<_>>());
        }
        if perfect_matching(&able, places.len()) { Ok(()) } else { Err(Flaw::Crew(task.id)) }
    }

    fn pauses(&self, task: &Task, p: &Placement) -> Result<(), Flaw> {
        if p.pieces.len() > 1 && !task.splittable {
            return Err(Flaw::Pause(task.id));
        }
        for gap in p.pieces.windows(2) {
            for slot in gap[0].end.0..gap[1].start.0 {
                let off = |id: &PersonId| {
                    self.problem.people.iter().any(|x| x.id == *id && !x.calendar.works_at(Slot(slot)))
                };
                if !p.people.iter().any(off) {
                    return Err(Flaw::Pause(task.id));
                }
            }
        }
        Ok(())
    }

    fn room(&self, task: &Task, p: &Placement) -> Result<(), Flaw> {
        let Some(id) = p.room else {
            return if task.rooms.is_empty() { Ok(()) } else { Err(Flaw::WrongRoom(task.id)) };
        };
        let room = self.problem.rooms.iter().find(|r| r.id == id).ok_or(Flaw::WrongRoom(task.id))?;
        let fit = room.kinds.iter().any(|k| task.rooms.contains(k));
        let shut = occupied(task, p).iter().any(|s| room.closed.iter().any(|c| meet(*s, *c)));
        if fit && !shut { Ok(()) } else { Err(Flaw::WrongRoom(task.id)) }
    }

    fn lags(&self) -> Result<(), Flaw> {
        let at: BTreeMap<TaskId, usize> =
            self.pairs.iter().enumerate().map(|(i, (t, _))| (t.id, i)).collect();
        for lag in &self.problem.lags {
            let (Some(a), Some(b)) = (at.get(&lag.from), at.get(&lag.to)) else {
                return Err(Flaw::Lag(lag.from, lag.to));
            };
            let ((from, p), (to, q)) = (self.pairs[*a], self.pairs[*b]);
            if is_fact(from) && is_fact(to) {
                continue;
            }
            let between = q.start.0 - p.end.0;
            if between < lag.least || lag.most.is_some_and(|most| between > most) {
                return Err(Flaw::Lag(lag.from, lag.to));
            }
        }
        Ok(())
    }

    /// Rules between two tasks: one person in one place, one car in one room, dust away from film.
    fn together(&self) -> Result<(), Flaw> {
        let change = self.problem.changeover as i32;
        for (i, (t, p)) in self.pairs.iter().enumerate() {
            for (u, q) in &self.pairs[i + 1..] {
                if is_fact(t) && is_fact(u) {
                    continue;
                }
                if let Some(who) = p.people.iter().find(|x| q.people.contains(x))
                    && any_meet(&p.pieces, &q.pieces)
                {
                    return Err(Flaw::TwoPlaces(t.id, u.id, *who));
                }
                let (Some(r), Some(s)) = (p.room, q.room) else { continue };
                let (here, there) = (occupied(t, p), occupied(u, q));
                if t.job == u.job && r != s && any_meet(&here, &there) {
                    return Err(Flaw::TwoRooms(t.id, u.id));
                }
                let (dusty, clean) = match (t.air, u.air) {
                    (Air::Dusty, Air::Clean) => (t.id, u.id),
                    (Air::Clean, Air::Dusty) => (u.id, t.id),
                    _ => continue,
                };
                // A task that takes no time makes no dust.
                let wide: Vec<Span> = here
                    .iter()
                    .filter(|x| x.slots() > 0)
                    .map(|x| Span { start: x.start.plus(-change), end: x.end.plus(change) })
                    .collect();
                if self.shares_air(r, s) && any_meet(&wide, &there) {
                    return Err(Flaw::Dust(dusty, clean));
                }
            }
        }
        Ok(())
    }

    fn shares_air(&self, a: RoomId, b: RoomId) -> bool {
        let group = |id| self.problem.rooms.iter().find(|r| r.id == id).map(|r| r.air_group);
        group(a) == group(b)
    }

    fn rooms(&self) -> Result<(), Flaw> {
        for room in &self.problem.rooms {
            self.one_room(room)?;
        }
        Ok(())
    }

    fn one_room(&self, room: &Room) -> Result<(), Flaw> {
        let inside: Vec<(&Task, Vec<Span>)> = self
            .pairs
            .iter()
            .filter(|(t, p)| p.room == Some(room.id) && !matches!(t.state, State::Done { .. }))
            .map(|(t, p)| (*t, occupied(t, p)))
            .collect();
        // It can only become overfull when somebody comes in.
        for slot in inside.iter().flat_map(|(_, spans)| spans.iter().map(|s| s.start)) {
            let there: Vec<&Task> = inside
                .iter()
                .filter(|(_, spans)| spans.iter().any(|s| s.start <= slot && slot < s.end))
                .map(|(t, _)| *t)
                .collect();
            if there.iter().all(|t| is_fact(t)) {
                continue;
            }
            let mut cars: Vec<_> = there.iter().map(|t| t.job).collect();
            cars.sort();
            cars.dedup();
            if there.len() > room.at_once as usize || cars.len() > room.places as usize {
                return Err(Flaw::RoomFull(room.id, slot));
            }
        }
        Ok(())
    }

    fn tools(&self) -> Result<(), Flaw> {
        for tool in &self.problem.tools {
            let uses: Vec<(&Task, Span, u32)> = self
                .pairs
                .iter()
                .filter(|(t, _)| !matches!(t.state, State::Done { .. }))
                .flat_map(|(t, p)| {
                    let count = t.tools.iter().filter(|n| n.tool == tool.id).map(|n| n.count).sum();
                    [(*t, Span { start: p.start, end: p.end }, count)]
                })
                .filter(|(_, span, count)| *count > 0 && span.slots() > 0)
                .collect();
            for (task, span, _) in &uses {
                let at_start: Vec<_> =
                    uses.iter().filter(|u| u.1.start <= span.start && span.start < u.1.end).collect();
                if at_start.iter().map(|u| u.2).sum::<u32>() > tool.count
                    && !at_start.iter().all(|u| is_fact(u.0))
                {
                    return Err(Flaw::Tools(task.id));
                }
            }
        }
        Ok(())
    }
}

fn is_fact(task: &Task) -> bool {
    matches!(task.state, State::Running { .. } | State::Done { .. })
}

/// When a task keeps its place in its room.
fn occupied(task: &Task, p: &Placement) -> Vec<Span> {
    if task.holds_room { vec![Span { start: p.start, end: p.end }] } else { p.pieces.clone() }
}

fn meet(a: Span, b: Span) -> bool {
    a.slots() > 0 && b.slots() > 0 && a.start < b.end && b.start < a.end
}

fn any_meet(a: &[Span], b: &[Span]) -> bool {
    a.iter().any(|x| b.iter().any(|y| meet(*x, *y)))
}

/// Whether everybody can take a place of their own (augmenting paths; Kuhn 1955).
fn perfect_matching(able: &[Vec<usize>], places: usize) -> bool {
    fn place(person: usize, able: &[Vec<usize>], taken: &mut [Option<usize>], seen: &mut [bool]) -> bool {
        for &i in &able[person] {
            if std::mem::replace(&mut seen[i], true) {
                continue;
            }
            if taken[i].is_none_or(|other| place(other, able, taken, seen)) {
                taken[i] = Some(person);
                return true;
            }
        }
        false
    }
    let mut taken = vec![None; places];
    (0..able.len()).all(|person| place(person, able, &mut taken, &mut vec![false; places]))
}
