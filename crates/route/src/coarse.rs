//! A good route where no proof comes soon: all surfaces of a kind that are to become the same go one way, that of the
//! worst of them, and each leaves out what it does not need. So many surfaces share few uses, as people do it.

use crate::bound::Bound;
use crate::ground::Ground;
use crate::library::Library;
use crate::play::{cost, possible, tighten};
use crate::search::{Found, GroundUse, Search, beam};
use crate::situation::{Group, Place, Situation, Want};
use effort::Effort;
use std::collections::{BTreeMap, BTreeSet};
use units::Area;

/// Share of the effort up to which the best coarse route is looked for; after that, any good one by beams.
const SHARE: f64 = 0.5;
/// Widths of the beams.
const BEAMS: [usize; 2] = [4, 32];

/// A route that holds, by way of the coarse one; none when that leads nowhere.
pub(crate) fn by_the_worst(
    library: &Library,
    situation: &Situation,
    ground: &Ground,
    effort: &Effort,
) -> Option<Vec<GroundUse>> {
    let (coarse, whole_of) = coarsened(library, situation);
    let rough = Ground::new(library, &coarse);
    let bound = Bound::new(&rough).ok()?;
    let ways = match Search::new(&rough, &bound).best_first(SHARE, effort) {
        Found::Best(uses) => vec![uses],
        Found::Nothing => return None,
        Found::Stopped(_) => BEAMS
            .iter()
            .filter_map(|&width| match beam(&rough, &bound, width, effort) {
                Found::Best(uses) => Some(uses),
                Found::Nothing | Found::Stopped(_) => None,
            })
            .collect(),
    };
    let fine = ways.into_iter().filter_map(|uses| {
        let mut uses = possible(ground, &refined(ground, &rough, &whole_of, &uses))?;
        tighten(ground, &mut uses);
        Some(uses)
    });
    fine.min_by_key(|uses| cost(ground, uses))
}

/// What surfaces that go one way have in common: kind, orders, and facts that orders ask for.
type Like<'a> = (&'a str, BTreeSet<&'a str>, Vec<(&'a str, u8)>);

/// One surface for all of a kind with the same order, with the worst that is on any of them; and of each surface the
/// one that stands for it. What an order asks for apart from that (film, coating) has to be equal.
fn coarsened(library: &Library, situation: &Situation) -> (Situation, Vec<usize>) {
    let wanted: BTreeSet<&str> = library
        .goals
        .iter()
        .flat_map(|g| &g.wants)
        .filter(|n| n.least > 0)
        .map(|n| n.fact.as_str())
        .collect();
    let mut known: BTreeMap<Like<'_>, usize> = BTreeMap::new();
    let mut coarse = Situation {
        groups: Vec::new(),
        car: situation.car.clone(),
        rooms: situation.rooms.clone(),
        wants: situation.wants.iter().filter(|w| !matches!(w.place, Place::Group(_))).cloned().collect(),
    };
    let mut whole_of = Vec::new();
    for group in &situation.groups {
        let place = Place::Group(group.id.clone());
        let orders: BTreeSet<&str> =
            situation.wants.iter().filter(|w| w.place == place).map(|w| w.goal.as_str()).collect();
        let there: Vec<(&str, u8)> = group.facts.iter().filter(|(fact, _)| wanted.contains(fact)).collect();
        let next = coarse.groups.len();
        let whole = *known.entry((&group.kind, orders.clone(), there)).or_insert(next);
        if whole == next {
            let place = Place::Group(group.id.clone());
            coarse.wants.extend(orders.iter().map(|o| Want { place: place.clone(), goal: (*o).to_owned() }));
            coarse.groups.push(Group { area: Area::ZERO, items: 0, ..group.clone() });
        }
        let all = &mut coarse.groups[whole];
        all.area += group.area;
        all.items += group.items;
        for (fact, level) in group.facts.iter() {
            let level = level.max(all.facts.level(fact));
            all.facts.set(fact, level);
        }
        whole_of.push(whole);
    }
    (coarse, whole_of)
}

/// The coarse route with every class in it that one of its surfaces stands for.
fn refined(ground: &Ground, rough: &Ground, whole_of: &[usize], uses: &[GroundUse]) -> Vec<GroundUse> {
    let mut fine = Vec::new();
    for (step, classes) in uses {
        let index = rough.steps[*step].index;
        let Some(step) = ground.steps.iter().position(|s| s.index == index) else { continue };
        let wholes: Vec<usize> =
            classes.iter().flat_map(|&c| rough.classes[c].groups.iter().copied()).collect();
        let joins = |c: &usize| ground.classes[*c].groups.iter().any(|g| wholes.contains(&whole_of[*g]));
        fine.push((step, (0..ground.classes.len()).filter(joins).collect()));
    }
    fine
}
