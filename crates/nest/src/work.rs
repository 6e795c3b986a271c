//! Which pieces go where: offcuts first, then rolls.

use crate::search::board::{Board, Item, Space, Spot};
use crate::search::descent::{Samples, Seeker};
use crate::search::fill::{self, Unit};
use crate::search::form::Form;
use crate::search::separate::Worker;
use crate::search::shape::{Place, Shape};
use crate::search::{start, strip};
use crate::{Config, Container, ContainerKind, Instance, Placement, Reason, Rotations};
use effort::Effort;
use plane::{Outline, Point, Pose};
use std::collections::BTreeMap;
use units::Length;

/// Kept between pieces beyond the gap on each side, as a share of the diameter: rounding of f32 forms.
const SAFETY: f64 = 2e-6;
/// Where a piece fits a roll to a hair, the roll is taken this much wider on each side, mm, and the piece then moved
/// onto the edge exactly.
const EXACT: f64 = 0.01;
/// Share of what is left of the effort that goes into making all fit on a roll that seems too short.
const SQUEEZE: f64 = 0.5;
/// Share of the effort that all offcuts together may take.
const OFFCUT_SHARE: f64 = 0.3;
const SAMPLES: Samples = Samples { far: 50, near: 25, walks: 3 };

pub(crate) struct Nester<'a> {
    instance: &'a Instance,
    config: &'a Config,
    /// Half the gap and a little more, mm.
    clearance: f64,
    /// Play at the edges of rolls, mm: none, or that of an exact fit where a piece needs it.
    play: f64,
    shapes: Vec<Shape>,
    /// Per piece: indices of its shape and its mirror image; none when it cannot be prepared.
    sides: Vec<Option<[usize; 2]>>,
    worker: Worker<'a>,
}

/// One copy of a piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Copy {
    piece: usize,
    copy: u32,
}

/// A rectangle with obstacles, part of a container.
struct Part {
    space: Space,
    obstacles: Vec<Item>,
}

type Placements = Vec<Placement>;

impl<'a> Nester<'a> {
    pub(crate) fn new(instance: &'a Instance, config: &'a Config, effort: &'a Effort, widening: f64) -> Self {
        let clearance = instance.gap.as_mm() / 2.0 + widening;
        let mut shapes = Vec::new();
        let sides = instance.pieces.iter().map(|piece| {
            let bounds = piece.outline.bounds();
            let size = bounds.width().as_mm().hypot(bounds.height().as_mm());
            let clear = Length::mm(clearance + SAFETY * size);
            let steps = match &piece.rotations {
                Rotations::Free => None,
                Rotations::Steps(steps) => Some(distinct(steps)),
            };
            let mut add = |mirrored| {
                shapes.push(Shape::new(&piece.outline, mirrored, steps.as_deref(), clear)?);
                Some(shapes.len() - 1)
            };
            let plain = add(false)?;
            Some([plain, if piece.mirrorable { add(true)? } else { plain }])
        });
        let sides = sides.collect();
        let worker = Worker {
            seeker: Seeker::new(),
            chance: config.seed.sequence(),
            effort,
            samples: SAMPLES,
            until: 1.0,
        };
        let mut nester = Self { instance, config, clearance, play: 0.0, shapes, sides, worker };
        let misfits = |n: &Self| (0..instance.pieces.len()).filter(|p| n.misfit(*p).is_some()).count();
        let tight = misfits(&nester);
        nester.play = EXACT;
        if misfits(&nester) == tight {
            nester.play = 0.0;
        }
        nester
    }

    /// `offcuts`: whether they may be used; what is locked on them stays either way.
    pub(crate) fn run(mut self, offcuts: bool) -> (Placements, Vec<Reason>) {
        let mut placements = self.instance.locked.clone();
        let (mut rest, mut reasons) = self.wanted();
        let usable = |c: &&Container| offcuts && !is_roll(c);
        let mut offcuts: Vec<&Container> = self.instance.containers.iter().filter(usable).collect();
        offcuts.sort_by(|a, b| value(a).total_cmp(&value(b)));
        let count = offcuts.len();
        for (i, container) in offcuts.into_iter().enumerate() {
            self.worker.until = OFFCUT_SHARE * (i + 1) as f64 / count as f64;
            placements.extend(self.fill_container(container, &mut rest));
        }
        self.worker.until = 1.0;
        let rolls: Vec<&Container> = self.instance.containers.iter().filter(|c| is_roll(c)).collect();
        for container in rolls {
            placements.extend(self.pack_roll(container, &mut rest));
        }
        reasons.extend(self.missing(&rest));
        (placements, reasons)
    }

    /// What is to be placed, and what cannot be placed anywhere.
    fn wanted(&self) -> (Vec<Copy>, Vec<Reason>) {
        let mut rest = Vec::new();
        let mut reasons = Vec::new();
        for (piece, wanted) in self.instance.pieces.iter().enumerate() {
            let locked = |copy| self.instance.locked.iter().any(|l| l.piece == wanted.id && l.copy == copy);
            let copies: Vec<Copy> =
                (0..wanted.count).filter(|c| !locked(*c)).map(|copy| Copy { piece, copy }).collect();
            match self.misfit(piece) {
                Some(reason) if !copies.is_empty() => reasons.push(reason),
                _ => rest.extend(copies),
            }
        }
        (rest, reasons)
    }

    /// Why a piece fits nowhere at all.
    fn misfit(&self, piece: usize) -> Option<Reason> {
        let name = self.instance.pieces[piece].id.clone();
        let Some(sides) = self.sides[piece] else {
            return Some(Reason::NoRoom { piece: name, copies: self.instance.pieces[piece].count });
        };
        let shape = &self.shapes[sides[0]];
        let spaces: Vec<(&Container, Space)> =
            self.instance.containers.iter().map(|c| (c, self.box_space(c))).collect();
        if spaces.iter().any(|(_, s)| shape.fits(s.size(0), s.size(1))) {
            return None;
        }
        let across = |s: &Space| s.size(1);
        let (widest, space) = spaces.iter().max_by(|a, b| across(&a.1).total_cmp(&across(&b.1)))?;
        let grown = 2.0 * self.clearance;
        let needed = shape.least_height() - grown;
        let given = space.size(1) - grown - 2.0 * self.play;
        if needed <= given {
            return Some(Reason::TooLong { piece: name });
        }
        Some(Reason::TooLarge {
            piece: name,
            needed: Length::mm(needed),
            container: widest.id.clone(),
            given: Length::mm(given),
        })
    }

    fn missing(&self, rest: &[Copy]) -> Vec<Reason> {
        let mut by_piece: BTreeMap<usize, u32> = BTreeMap::new();
        for copy in rest {
            *by_piece.entry(copy.piece).or_default() += 1;
        }
        let name = |i: usize| self.instance.pieces[i].id.clone();
        by_piece.into_iter().map(|(piece, copies)| Reason::NoRoom { piece: name(piece), copies }).collect()
    }

    /// The rectangle that grown shapes must keep in a container, whatever lies in it.
    fn box_space(&self, container: &Container) -> Space {
        let c = self.clearance;
        match &container.kind {
            ContainerKind::Roll { width, length_left, margin, .. } => {
                let m = margin.as_mm() - c - self.play;
                Space { low: [m, m], high: [length_left.as_mm() - m, width.as_mm() - m] }
            }
            ContainerKind::Offcut { outline, margin, .. } => {
                let (b, m) = (outline.bounds(), margin.as_mm() - c);
                Space { low: [b.low.x + m, b.low.y + m], high: [b.high.x - m, b.high.y - m] }
            }
        }
    }

    fn item(&self, piece: usize, spot: Spot, fixed: bool) -> Option<Item> {
        let shapes = self.sides[piece]?;
        let mut room = Form::default();
        let form = self.shapes[shapes[spot.side]].form(&spot.place, &mut room).clone();
        Some(Item { shapes, side: spot.side, place: spot.place, form, fixed })
    }

    fn loose(&self, piece: usize) -> Option<Item> {
        self.item(piece, Spot { side: 0, place: Place { step: 0, angle: 0.0, x: 0.0, y: 0.0 } }, false)
    }

    fn spot_of(&self, piece: usize, pose: &Pose) -> Option<Spot> {
        let sides = self.sides[piece]?;
        let side = usize::from(pose.mirrored && sides[0] != sides[1]);
        Some(Spot { side, place: self.shapes[sides[side]].place(pose) })
    }

    fn piece_index(&self, id: &str) -> Option<usize> {
        self.instance.pieces.iter().position(|p| p.id == id)
    }

    fn locked_in(&self, container: &Container) -> Vec<Item> {
        let here = self.instance.locked.iter().filter(|l| l.container == container.id);
        here.filter_map(|l| {
            let piece = self.piece_index(&l.piece)?;
            self.item(piece, self.spot_of(piece, &l.pose)?, true)
        })
        .collect()
    }

    /// The parts into which a container falls, with all that is in the way.
    fn parts(&mut self, container: &Container) -> Vec<Part> {
        let c = self.clearance;
        let locked = self.locked_in(container);
        let (bases, spots): (Vec<(Space, Vec<Outline>)>, &[Outline]) = match &container.kind {
            ContainerKind::Roll { bad_spots, .. } => {
                (vec![(self.box_space(container), Vec::new())], bad_spots)
            }
            ContainerKind::Offcut { outline, margin, bad_spots, .. } => {
                let m = Length::mm(margin.as_mm() - c);
                let inner = if m > Length::ZERO { outline.shrunk(m) } else { vec![outline.grown(-m)] };
                (inner.iter().filter_map(inside_box).collect(), bad_spots)
            }
        };
        let grow = Length::mm((self.instance.gap.as_mm() - c).max(0.0) + 1e-3);
        let spots: Vec<Outline> = spots.iter().map(|s| s.grown(grow)).collect();
        let mut parts = Vec::new();
        for (space, edges) in bases {
            if space.size(0) <= 0.0 || space.size(1) <= 0.0 {
                continue;
            }
            let blocks: Vec<Outline> = edges.into_iter().chain(spots.iter().cloned()).collect();
            let mut obstacles = locked.clone();
            for block in blocks {
                let Some(shape) = Shape::obstacle(&block) else { continue };
                let place = Place { step: 0, angle: 0.0, x: shape.center.x, y: shape.center.y };
                let form = shape.base.clone();
                self.shapes.push(shape);
                let index = self.shapes.len() - 1;
                obstacles.push(Item { shapes: [index, index], side: 0, place, form, fixed: true });
            }
            parts.push(Part { space, obstacles });
        }
        parts
    }

    /// Copies that go together, most wanted and largest first.
    fn units(
        &self,
        rest: &[Copy],
        pinned: &BTreeMap<String, String>,
        container: &Container,
    ) -> Vec<Vec<Copy>> {
        let mut groups: BTreeMap<&str, Vec<Copy>> = BTreeMap::new();
        let mut units: Vec<Vec<Copy>> = Vec::new();
        for copy in rest {
            match &self.instance.pieces[copy.piece].together {
                Some(group) => groups.entry(group).or_default().push(*copy),
                None => units.push(vec![*copy]),
            }
        }
        let here = |group: &str| pinned.get(group).is_none_or(|c| *c == container.id);
        units.extend(groups.into_iter().filter(|(g, _)| here(g)).map(|(_, copies)| copies));
        let size = |unit: &Vec<Copy>| -> f64 { unit.iter().map(|c| self.size(c.piece)).sum() };
        let priority = |unit: &Vec<Copy>| unit.iter().map(|c| self.instance.pieces[c.piece].priority).max();
        units.sort_by(|a, b| priority(b).cmp(&priority(a)).then(size(b).total_cmp(&size(a))));
        units
    }

    fn size(&self, piece: usize) -> f64 {
        self.sides[piece]
            .map_or(0.0, |s| f64::from(self.shapes[s[0]].hull_area) * f64::from(self.shapes[s[0]].diameter))
    }

    /// Groups whose container is settled by locked pieces.
    fn pinned(&self) -> BTreeMap<String, String> {
        let group =
            |id: &str| self.instance.pieces.iter().find(|p| p.id == id).and_then(|p| p.together.clone());
        self.instance.locked.iter().filter_map(|l| Some((group(&l.piece)?, l.container.clone()))).collect()
    }

    /// Puts as much of `rest` as possible into a container of fixed size.
    fn fill_container(&mut self, container: &Container, rest: &mut Vec<Copy>) -> Placements {
        let pinned = self.pinned();
        let mut placements = Vec::new();
        for part in self.parts(container) {
            let units = self.units(rest, &pinned, container);
            let prepared: Vec<(Vec<Copy>, Unit)> =
                units.into_iter().filter_map(|copies| Some((copies.clone(), self.unit(&copies)?))).collect();
            let (copies, list): (Vec<Vec<Copy>>, Vec<Unit>) = prepared.into_iter().unzip();
            let (taken, items) =
                fill::fill(&self.shapes, part.space, &part.obstacles, &list, &mut self.worker);
            let gone: Vec<Copy> = taken.iter().flat_map(|u| copies[*u].clone()).collect();
            for (copy, item) in gone.iter().zip(&items[part.obstacles.len()..]) {
                placements.push(self.placement(container, *copy, item));
            }
            rest.retain(|c| !gone.contains(c));
        }
        placements
    }

    fn unit(&self, copies: &[Copy]) -> Option<Unit> {
        let items: Option<Vec<Item>> = copies.iter().map(|c| self.loose(c.piece)).collect();
        let area = copies.iter().map(|c| self.instance.pieces[c.piece].outline.area().as_mm2()).sum();
        Some(Unit { items: items?, area })
    }

    /// Packs a roll: all of `rest` in the shortest strip, or as much as its length takes.
    fn pack_roll(&mut self, container: &Container, rest: &mut Vec<Copy>) -> Placements {
        let pinned = self.pinned();
        let elsewhere = |c: &Copy| {
            let group = self.instance.pieces[c.piece].together.as_ref();
            group.and_then(|g| pinned.get(g)).is_some_and(|at| *at != container.id)
        };
        let space = self.box_space(container);
        let fits = |c: &Copy| {
            let fit = |s: &usize| self.shapes[*s].fits(space.size(0), space.size(1));
            self.sides[c.piece].is_some_and(|sides| sides.iter().any(fit))
        };
        let here: Vec<Copy> = rest.iter().copied().filter(|c| !elsewhere(c) && fits(c)).collect();
        if here.is_empty() {
            return Vec::new();
        }
        match self.pack_strip(container, &here) {
            Some(placements) => {
                rest.retain(|c| !here.contains(c));
                placements
            }
            None => self.fill_container(container, rest),
        }
    }

    /// Everything on one strip; none when it comes out longer than the roll.
    fn pack_strip(&mut self, container: &Container, copies: &[Copy]) -> Option<Placements> {
        let part = self.parts(container).into_iter().next()?;
        let wanted: f64 = copies.iter().map(|c| self.instance.pieces[c.piece].outline.area().as_mm2()).sum();
        if wanted > part.space.size(0) * part.space.size(1) {
            return None;
        }
        let fixed = part.obstacles.len();
        let mut items = part.obstacles;
        for copy in copies {
            items.push(self.started(container, *copy).or_else(|| self.loose(copy.piece))?);
        }
        let started = |c: &Copy| self.start_pose(container, *c).is_some();
        let placed = (0..items.len()).map(|i| i < fixed || started(&copies[i - fixed])).collect();
        let shortest = self.locked_end(container).max(part.space.low[0]);
        let shapes = std::mem::take(&mut self.shapes);
        let items = shorten(&shapes, part.space, items, placed, shortest, &mut self.worker);
        self.shapes = shapes;
        let items = items?;
        Some(
            copies
                .iter()
                .zip(&items[fixed..])
                .map(|(copy, item)| self.placement(container, *copy, item))
                .collect(),
        )
    }

    /// Where the caller wants a copy to begin.
    fn start_pose(&self, container: &Container, copy: Copy) -> Option<&'a Pose> {
        let id = &self.instance.pieces[copy.piece].id;
        let config = self.config;
        let mut starts = config.start.iter();
        starts.find(|p| p.piece == *id && p.copy == copy.copy && p.container == container.id).map(|p| &p.pose)
    }

    fn started(&self, container: &Container, copy: Copy) -> Option<Item> {
        let pose = self.start_pose(container, copy)?;
        self.item(copy.piece, self.spot_of(copy.piece, pose)?, false)
    }

    fn locked_end(&self, container: &Container) -> f64 {
        let here = self.instance.locked.iter().filter(|l| l.container == container.id);
        here.filter_map(|l| Some((l, &self.instance.pieces[self.piece_index(&l.piece)?])))
            .map(|(l, p)| p.outline.placed(&l.pose).bounds().high.x)
            .fold(0.0, f64::max)
    }

    fn placement(&self, container: &Container, copy: Copy, item: &Item) -> Placement {
        let piece = &self.instance.pieces[copy.piece];
        let mut pose = self.shapes[item.shapes[item.side]].pose(&item.place);
        if let ContainerKind::Roll { width, margin, .. } = &container.kind {
            settle(&piece.outline, &mut pose, *width, *margin, 3.0 * self.play);
        }
        Placement { piece: piece.id.clone(), copy: copy.copy, container: container.id.clone(), pose }
    }
}

/// All items on the shortest strip found, from those in `placed` that are clear of each other; none when it comes out
/// longer than the space.
fn shorten(
    shapes: &[Shape],
    space: Space,
    items: Vec<Item>,
    mut placed: Vec<bool>,
    shortest: f64,
    worker: &mut Worker<'_>,
) -> Option<Vec<Item>> {
    let mut board = Board::new(shapes, Space { high: [f64::INFINITY, space.high[1]], ..space }, items);
    start::keep_clear(&mut board, &mut placed);
    let order: Vec<usize> = start::by_size(&board).into_iter().filter(|&i| !placed[i]).collect();
    let reach = start::lay(&mut board, &order, placed, &mut worker.chance).ok()?;
    let until = worker.until;
    if reach > space.high[0] {
        let used = worker.effort.used();
        worker.until = used + (until - used).max(0.0) * SQUEEZE;
    }
    board.set_space(Space { high: [reach.max(shortest), space.high[1]], ..space });
    let effort = worker.effort;
    let tell = |end: f64| effort.tell(format!("{end:.0} mm of film"));
    if reach <= space.high[0] {
        tell(reach);
    }
    let packed = strip::shorten(&mut board, worker, shortest, &tell);
    worker.until = until;
    (packed.end <= space.high[0] + 1e-9).then_some(board.items)
}

/// Moves a piece that sticks out by no more than the play of an exact fit onto the edge.
fn settle(outline: &Outline, pose: &mut Pose, width: Length, margin: Length, most: f64) {
    let b = outline.placed(pose).bounds();
    let play = |over: f64| if over > 0.0 && over <= most { over } else { 0.0 };
    let m = margin.as_mm();
    pose.x += Length::mm(play(m - b.low.x));
    pose.y += Length::mm(play(m - b.low.y) - play(b.high.y - (width.as_mm() - m)));
}

/// The box of an outline, and what of the box lies outside it.
fn inside_box(outline: &Outline) -> Option<(Space, Vec<Outline>)> {
    let b = outline.bounds();
    let frame =
        Outline::new(vec![b.low, Point::mm(b.high.x, b.low.y), b.high, Point::mm(b.low.x, b.high.y)]).ok()?;
    let outside = frame.without(std::slice::from_ref(outline));
    let outside = outside.into_iter().filter(|o| o.area().as_mm2() > 1e-3).collect();
    Some((Space { low: [b.low.x, b.low.y], high: [b.high.x, b.high.y] }, outside))
}

fn distinct(steps: &[f64]) -> Vec<f64> {
    let mut kept: Vec<f64> = Vec::new();
    for s in steps {
        if !kept.iter().any(|k| (k - s).rem_euclid(360.0) == 0.0) {
            kept.push(*s);
        }
    }
    kept
}

fn is_roll(container: &Container) -> bool {
    matches!(container.kind, ContainerKind::Roll { .. })
}

fn value(container: &Container) -> f64 {
    match &container.kind {
        ContainerKind::Offcut { value, .. } => *value,
        ContainerKind::Roll { .. } => f64::INFINITY,
    }
}
