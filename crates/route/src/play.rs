//! Sequences of uses played on the grounded problem: whether they hold, what they cost, what they can do without.

use crate::ground::{Ground, Ticks};
use crate::search::GroundUse;

/// What holds while a sequence is played.
struct Played<'a> {
    ground: &'a Ground,
    classes: Vec<u128>,
    shared: Vec<u128>,
}

impl<'a> Played<'a> {
    fn new(ground: &'a Ground) -> Self {
        let classes = ground.classes.iter().map(|c| c.start).collect();
        Self { ground, classes, shared: ground.shared_start.clone() }
    }

    /// Whether the car, the rooms and all surfaces allow a step.
    fn allowed(&self, step: usize) -> bool {
        let step = &self.ground.steps[step];
        step.shared_needs.iter().all(|(w, r)| r.holds(self.shared[*w]))
            && self.ground.classes.iter().zip(&self.classes).all(|(class, state)| {
                class.every.iter().all(|(i, r)| step.every_needs >> i & 1 == 0 || r.holds(*state))
            })
    }

    /// Whether a class may join a use of a step.
    fn may_join(&self, step: usize, class: usize) -> bool {
        let local = self.ground.steps[step].local[class].as_ref();
        local.is_some_and(|l| l.needs.iter().all(|n| n.holds(self.classes[class])))
    }

    fn changes(&self, step: usize, class: usize) -> bool {
        let state = self.classes[class];
        self.ground.steps[step].local[class].as_ref().is_some_and(|l| l.turn.of(state) != state)
    }

    fn take(&mut self, step: usize, classes: &[usize]) {
        let step = &self.ground.steps[step];
        for (word, turn) in &step.shared_turns {
            self.shared[*word] = turn.of(self.shared[*word]);
        }
        for (c, local) in step.local.iter().enumerate() {
            if let Some(local) = local
                && (!step.surface || classes.contains(&c))
            {
                self.classes[c] = local.turn.of(self.classes[c]);
            }
        }
    }

    fn done(&self) -> bool {
        self.ground.shared_goals.iter().all(|(w, r)| r.holds(self.shared[*w]))
            && self.ground.classes.iter().zip(&self.classes).all(|(c, s)| c.goals.iter().all(|g| g.holds(*s)))
    }
}

/// Whether a sequence keeps every need and comes to the goals.
pub(crate) fn holds(ground: &Ground, uses: &[GroundUse]) -> bool {
    let mut played = Played::new(ground);
    for (step, classes) in uses {
        let joined = classes.iter().all(|&c| played.may_join(*step, c));
        if !joined || !played.allowed(*step) {
            return false;
        }
        played.take(*step, classes);
    }
    played.done()
}

/// What of a sequence can be done as it stands: uses that are not allowed are left out, and classes that may not join
/// or would not change. None when that does not come to the goals.
pub(crate) fn possible(ground: &Ground, wished: &[GroundUse]) -> Option<Vec<GroundUse>> {
    let mut played = Played::new(ground);
    let mut uses = Vec::new();
    for (step, classes) in wished {
        if !played.allowed(*step) {
            continue;
        }
        let joins = |c: &usize| played.may_join(*step, *c) && played.changes(*step, *c);
        let classes: Vec<usize> = classes.iter().copied().filter(joins).collect();
        if ground.steps[*step].surface && classes.is_empty() {
            continue;
        }
        played.take(*step, &classes);
        uses.push((*step, classes));
    }
    played.done().then_some(uses)
}

/// Working time of a sequence.
pub(crate) fn cost(ground: &Ground, uses: &[GroundUse]) -> Ticks {
    let time = |&(step, ref classes): &GroundUse| {
        let step = &ground.steps[step];
        let rate = |c: &usize| step.local[*c].as_ref().map_or(0, |l| l.rate) * ground.classes[*c].scale;
        step.fixed + classes.iter().map(rate).sum::<Ticks>()
    };
    uses.iter().map(time).sum()
}

/// Takes out uses and classes that nothing needs, and puts uses of one step together where that holds, until neither
/// helps any more. The sequence must hold.
pub(crate) fn tighten(ground: &Ground, uses: &mut Vec<GroundUse>) {
    loop {
        let before = cost(ground, uses);
        thin_out(ground, uses);
        put_together(ground, uses);
        if cost(ground, uses) >= before {
            return;
        }
    }
}

fn thin_out(ground: &Ground, uses: &mut Vec<GroundUse>) {
    for at in (0..uses.len()).rev() {
        let taken = uses.remove(at);
        if holds(ground, uses) {
            continue;
        }
        uses.insert(at, taken);
        for k in (0..uses[at].1.len()).rev() {
            if uses[at].1.len() > 1 {
                let out = uses[at].1.remove(k);
                if !holds(ground, uses) {
                    uses[at].1.insert(k, out);
                }
            }
        }
    }
}

/// Moves all classes of one use into another of the same step, earlier or later.
fn put_together(ground: &Ground, uses: &mut Vec<GroundUse>) {
    let mut at = 0;
    while at < uses.len() {
        let (step, classes) = uses[at].clone();
        let mut others =
            (0..uses.len()).filter(|&k| k != at && uses[k].0 == step && ground.steps[step].surface);
        let joined = others.find_map(|k| {
            let mut trial = uses.clone();
            trial[k].1.extend(classes.iter().copied().filter(|c| !uses[k].1.contains(c)));
            trial[k].1.sort_unstable();
            trial.remove(at);
            holds(ground, &trial).then_some(trial)
        });
        match joined {
            Some(better) => *uses = better,
            None => at += 1,
        }
    }
}
