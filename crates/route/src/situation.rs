//! What is there and what is wanted: groups of surfaces, the car, the rooms, the goals.

use crate::library::{Level, Library, RoomKind};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use units::Area;

/// Facts that hold somewhere, by id, each with its level; a fact at level 0 is not kept.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Facts(BTreeMap<String, u8>);

impl Facts {
    /// The level of a fact, 0 when it does not hold.
    pub fn level(&self, fact: &str) -> u8 {
        self.0.get(fact).copied().unwrap_or(0)
    }

    /// Sets the level of a fact; 0 takes it away.
    pub fn set(&mut self, fact: &str, level: u8) {
        if level == 0 {
            self.0.remove(fact);
        } else {
            self.0.insert(fact.to_owned(), level);
        }
    }

    /// All facts that hold, by id.
    pub fn iter(&self) -> impl Iterator<Item = (&str, u8)> {
        self.0.iter().map(|(k, v)| (k.as_str(), *v))
    }
}

/// Surfaces that are worked on together: one kind, one state, one order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// Name, unique in the situation.
    pub id: String,
    /// Kind of surface, by the library.
    pub kind: String,
    /// Panels or parts in it, for people.
    pub panels: Vec<String>,
    /// Area of all of it.
    pub area: Area,
    /// Pieces counted by steps that take time per item (wheels, seats, glasses).
    pub items: u32,
    /// What holds on it.
    pub facts: Facts,
}

impl Group {
    /// A group of one panel with the same name, one item, no facts.
    pub fn new(id: &str, kind: &str, area: Area) -> Self {
        Self {
            id: id.to_owned(),
            kind: kind.to_owned(),
            panels: vec![id.to_owned()],
            area,
            items: 1,
            facts: Facts::default(),
        }
    }

    /// With these panels, one item each.
    pub fn panels<S: Into<String>>(mut self, panels: impl IntoIterator<Item = S>) -> Self {
        self.panels = panels.into_iter().map(Into::into).collect();
        self.items = self.panels.len() as u32;
        self
    }

    /// With so many items.
    pub fn items(mut self, items: u32) -> Self {
        self.items = items;
        self
    }

    /// With a fact at a level.
    pub fn fact(mut self, fact: &str, level: u8) -> Self {
        self.facts.set(fact, level);
        self
    }
}

/// A room of the shop and the kinds of work it serves.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Room {
    /// Name, unique in the situation.
    pub id: String,
    /// Kinds of room it stands for. A kind that no room serves gets a room of its own.
    pub serves: Vec<RoomKind>,
    /// What holds in it.
    pub facts: Facts,
}

impl Room {
    /// A room without facts.
    pub fn new(id: &str, serves: impl IntoIterator<Item = RoomKind>) -> Self {
        Self { id: id.to_owned(), serves: serves.into_iter().collect(), facts: Facts::default() }
    }

    /// With a fact at a level.
    pub fn fact(mut self, fact: &str, level: u8) -> Self {
        self.facts.set(fact, level);
        self
    }
}

/// Where a fact is looked at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// A group of surfaces, by id.
    Group(String),
    /// The car.
    Car,
    /// A room, by id.
    Room(String),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Group(id) | Self::Room(id) => f.write_str(id),
            Self::Car => f.write_str("the car"),
        }
    }
}

/// A goal of the library, ordered for a group or for the car.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Want {
    /// A group or the car.
    pub place: Place,
    /// Goal by id.
    pub goal: String,
}

/// What is there and what is wanted.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Situation {
    /// Groups of surfaces.
    pub groups: Vec<Group>,
    /// What holds for the car.
    pub car: Facts,
    /// Rooms of the shop.
    pub rooms: Vec<Room>,
    /// What was ordered, and what handover asks.
    pub wants: Vec<Want>,
}

/// All facts at one moment.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct State {
    /// By group.
    pub groups: BTreeMap<String, Facts>,
    /// The car's.
    pub car: Facts,
    /// By room.
    pub rooms: BTreeMap<String, Facts>,
}

/// One use of a step, on these groups (none for a step on the car or a room).
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct StepUse {
    /// Step by id.
    pub step: String,
    /// Groups by id.
    pub groups: Vec<String>,
}

impl StepUse {
    /// A use of a step on groups.
    pub fn new<S: Into<String>>(step: &str, groups: impl IntoIterator<Item = S>) -> Self {
        Self { step: step.to_owned(), groups: groups.into_iter().map(Into::into).collect() }
    }
}

/// What is wrong with a situation.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SituationFlaw {
    /// Where: a group, a room, the car, a goal.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl fmt::Display for SituationFlaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} {}", self.place, self.what, self.remedy)
    }
}

impl std::error::Error for SituationFlaw {}

impl Situation {
    /// Nothing there, nothing wanted.
    pub fn new() -> Self {
        Self::default()
    }

    /// With a group.
    pub fn group(mut self, group: Group) -> Self {
        self.groups.push(group);
        self
    }

    /// With a room.
    pub fn room(mut self, room: Room) -> Self {
        self.rooms.push(room);
        self
    }

    /// With a fact of the car at a level.
    pub fn car_fact(mut self, fact: &str, level: u8) -> Self {
        self.car.set(fact, level);
        self
    }

    /// With a goal for a group.
    pub fn want(mut self, group: &str, goal: &str) -> Self {
        self.wants.push(Want { place: Place::Group(group.to_owned()), goal: goal.to_owned() });
        self
    }

    /// With a goal for the car.
    pub fn want_car(mut self, goal: &str) -> Self {
        self.wants.push(Want { place: Place::Car, goal: goal.to_owned() });
        self
    }

    /// With a new finding on a group, at a level; an unknown group is reported by [`Situation::flaws`].
    pub fn find(mut self, group: &str, fact: &str, level: u8) -> Self {
        match self.groups.iter_mut().find(|g| g.id == group) {
            Some(found) => found.facts.set(fact, level),
            None => self.groups.push(Group::new(group, "", Area::ZERO).fact(fact, level)),
        }
        self
    }

    /// The facts at the start.
    pub fn state(&self) -> State {
        State {
            groups: self.groups.iter().map(|g| (g.id.clone(), g.facts.clone())).collect(),
            car: self.car.clone(),
            rooms: self.rooms.iter().map(|r| (r.id.clone(), r.facts.clone())).collect(),
        }
    }

    /// The same order with the facts of a later moment: what is left to do from there.
    pub fn at(&self, state: &State) -> Self {
        let mut later = self.clone();
        for group in &mut later.groups {
            if let Some(facts) = state.groups.get(&group.id) {
                group.facts = facts.clone();
            }
        }
        later.car = state.car.clone();
        for (id, facts) in &state.rooms {
            match later.rooms.iter_mut().find(|r| r.id == *id) {
                Some(room) => room.facts = facts.clone(),
                None => later.rooms.push(Room {
                    id: id.clone(),
                    serves: room_kind(id).into_iter().collect(),
                    facts: facts.clone(),
                }),
            }
        }
        later
    }

    /// A place by the name that people know: the panels of a group, a room, the car.
    pub fn name_of(&self, place: &Place) -> String {
        match place {
            Place::Group(id) => match self.groups.iter().find(|g| g.id == *id) {
                Some(group) if !group.panels.is_empty() => group.panels.join(", "),
                _ => id.clone(),
            },
            other => other.to_string(),
        }
    }

    /// The room in which a kind of work is done, by id.
    pub fn room_for(&self, kind: RoomKind) -> &str {
        self.rooms.iter().find(|r| r.serves.contains(&kind)).map_or(kind.id(), |r| r.id.as_str())
    }

    /// Everything that does not fit the library or itself.
    pub fn flaws(&self, library: &Library) -> Vec<SituationFlaw> {
        let mut flaws = Vec::new();
        let mut seen = std::collections::BTreeSet::new();
        for group in &self.groups {
            if !seen.insert(&group.id) {
                flaws.push(flaw(&group.id, "Two groups have this name.", "Give each group its own name."));
            }
            if !library.kinds.iter().any(|k| k.id == group.kind) {
                let known = library.kinds.iter().map(|k| k.id.as_str()).collect::<Vec<_>>().join(", ");
                flaws.push(flaw(
                    &group.id,
                    &format!("'{}' is no kind of surface of the step library.", group.kind),
                    &format!("Use one of: {known}."),
                ));
            }
            if !(group.area.is_finite() && group.area >= Area::ZERO) {
                flaws.push(flaw(&group.id, "Its area is not a number of square meters.", "Give 0 or more."));
            }
            facts_flaws(library, &group.id, Level::Surface, &group.facts, &mut flaws);
        }
        facts_flaws(library, "the car", Level::Car, &self.car, &mut flaws);
        let mut rooms = std::collections::BTreeSet::new();
        for room in &self.rooms {
            if !rooms.insert(&room.id) {
                flaws.push(flaw(&room.id, "Two rooms have this name.", "Give each room its own name."));
            }
            facts_flaws(library, &room.id, Level::Room, &room.facts, &mut flaws);
        }
        for want in &self.wants {
            self.want_flaws(library, want, &mut flaws);
        }
        flaws
    }

    fn want_flaws(&self, library: &Library, want: &Want, flaws: &mut Vec<SituationFlaw>) {
        let place = want.place.to_string();
        let Some(goal) = library.goal(&want.goal) else {
            let known = library.goals.iter().map(|g| g.id.as_str()).collect::<Vec<_>>().join(", ");
            flaws.push(flaw(
                &place,
                &format!("'{}' is no goal of the step library.", want.goal),
                &format!("Use one of: {known}."),
            ));
            return;
        };
        match &want.place {
            Place::Group(id) => match self.groups.iter().find(|g| g.id == *id) {
                None => flaws.push(flaw(
                    id,
                    "A goal names this group, and there is none.",
                    "Add it or drop the goal.",
                )),
                Some(group) if goal.level != Level::Surface => flaws.push(flaw(
                    &group.id,
                    &format!("'{}' is a goal for the car.", goal.title),
                    "Order it for the car.",
                )),
                Some(group) if !goal.kinds.is_empty() && !goal.kinds.contains(&group.kind) => {
                    flaws.push(flaw(
                        &group.id,
                        &format!("'{}' cannot be ordered for {}.", goal.title, group.kind),
                        &format!("It is for: {}.", goal.kinds.join(", ")),
                    ))
                }
                Some(_) => {}
            },
            Place::Car if goal.level == Level::Car => {}
            Place::Car => flaws.push(flaw(
                &place,
                &format!("'{}' is a goal for a group of surfaces.", goal.title),
                "Order it for a group.",
            )),
            Place::Room(_) => flaws.push(flaw(&place, "Goals are for groups or the car.", "Drop it.")),
        }
    }
}

fn room_kind(id: &str) -> Option<RoomKind> {
    [
        RoomKind::WashBay,
        RoomKind::CorrectionBay,
        RoomKind::CleanRoom,
        RoomKind::Any,
        RoomKind::Bench,
        RoomKind::Yard,
    ]
    .into_iter()
    .find(|k| k.id() == id)
}

fn facts_flaws(library: &Library, place: &str, level: Level, facts: &Facts, flaws: &mut Vec<SituationFlaw>) {
    for (id, n) in facts.iter() {
        match library.fact(id) {
            None => flaws.push(flaw(
                place,
                &format!("'{id}' is no fact of the step library."),
                "Use a fact that the library lists, or add it there.",
            )),
            Some(fact) if fact.level != level => flaws.push(flaw(
                place,
                &format!("'{id}' is a fact of another level."),
                "State it for a surface, the car or a room, as the library has it.",
            )),
            Some(fact) if n > fact.top() => flaws.push(flaw(
                place,
                &format!("'{id}' has no level {n}."),
                &format!("Its highest is {}.", fact.top()),
            )),
            Some(_) => {}
        }
    }
}

fn flaw(place: &str, what: &str, remedy: &str) -> SituationFlaw {
    SituationFlaw { place: place.to_owned(), what: what.to_owned(), remedy: remedy.to_owned() }
}
