//! The step library: what the shop does, as data.

use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use units::{Area, Duration, Volume};

/// Where a fact lives or a step works.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// A group of surfaces of the car.
    Surface,
    /// The car as a whole.
    Car,
    /// A room of the shop.
    Room,
}

/// What a person must be able to do to take a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Skill {
    /// Washing and decontamination.
    Wash,
    /// Machine polishing and sanding.
    Correction,
    /// Film.
    Film,
    /// Coatings.
    Coating,
    /// Leather, fabric and trim inside.
    Interior,
    /// Insured to drive customers' cars.
    Driver,
    /// Talking with the customer, records.
    Desk,
}

/// The kind of room that a step needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RoomKind {
    /// Drained floor, water, foam.
    WashBay,
    /// Inspection light, polishers.
    CorrectionBay,
    /// Film and coating.
    CleanRoom,
    /// Wherever there is a place for the car.
    Any,
    /// A bench, the cutter or the desk: the car may stand wherever it likes.
    Bench,
    /// Outside on private ground.
    Yard,
}

impl RoomKind {
    /// The name used in data and as the id of a room that the situation does not list.
    pub fn id(self) -> &'static str {
        match self {
            Self::WashBay => "wash_bay",
            Self::CorrectionBay => "correction_bay",
            Self::CleanRoom => "clean_room",
            Self::Any => "any",
            Self::Bench => "bench",
            Self::Yard => "yard",
        }
    }
}

/// What a step does to, or asks of, the air around it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Air {
    /// Raises dust: never beside clean work.
    Dusty,
    /// Needs clean air: never beside dusty work.
    Clean,
    /// Neither.
    Neutral,
}

/// A kind of surface, such as `paint` or `leather`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Kind {
    /// Name in data.
    pub id: String,
    /// Name for people.
    pub name: String,
}

/// Something that is or is not so, in up to three grades, for a surface group, the car or a room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fact {
    /// Name in data.
    pub id: String,
    /// Where it lives.
    pub level: Level,
    /// Name for people.
    pub name: String,
    /// What it means, in plain words.
    pub text: String,
    /// Names of the grades, mildest first; empty for a fact that only is or is not.
    pub grades: Vec<String>,
    /// May be stated at arrival or found during the job.
    pub found: bool,
    /// No step takes it away, and that is meant.
    pub stays: bool,
}

impl Fact {
    /// The highest level of the fact: 1 without grades.
    pub fn top(&self) -> u8 {
        self.grades.len().max(1) as u8
    }

    /// The fact at a level, for people: `loose soil (heavy)`, `no loose soil`.
    pub fn at(&self, level: u8) -> String {
        match level {
            0 => format!("no {}", self.name),
            n => match self.grades.get(usize::from(n) - 1) {
                Some(grade) => format!("{} ({grade})", self.name),
                None => self.name.clone(),
            },
        }
    }
}

/// Which places a need or an effect reaches.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// The groups worked on, the car, or the room worked in, by the level of the fact.
    Here,
    /// Every group of the car, or every room.
    Every,
    /// Every group of this kind of surface.
    EveryOf(String),
}

/// What must hold before a step, with the harm done otherwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Need {
    /// The fact.
    pub fact: String,
    /// Least level it must have.
    pub least: u8,
    /// Most level it may have.
    pub most: u8,
    /// Where it must hold.
    pub reach: Reach,
    /// The harm when it does not, in a technician's words.
    pub harm: String,
    /// The rule of the library it comes from, when it comes from one.
    pub rule: Option<String>,
}

impl Need {
    /// Whether a level satisfies it.
    pub fn allows(&self, level: u8) -> bool {
        (self.least..=self.most).contains(&level)
    }
}

/// How a fact changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// To this level, whatever it was; 0 clears it.
    To(u8),
    /// One grade down, if there is any.
    Down,
}

impl Change {
    /// The level after the change.
    pub fn of(self, level: u8) -> u8 {
        match self {
            Self::To(n) => n,
            Self::Down => level.saturating_sub(1),
        }
    }
}

/// What a step does to a fact.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Effect {
    /// The fact.
    pub fact: String,
    /// The change.
    pub change: Change,
    /// Where.
    pub reach: Reach,
}

/// A named order rule that several steps obey.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Rule {
    /// Name in data.
    pub id: String,
    /// What it asks.
    pub need: Need,
}

/// Parts of water to one part of concentrate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Dilution {
    /// Parts of water to one part of concentrate; 0 is undiluted.
    pub water: f64,
}

/// A product used by a step; generic names only.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Product {
    /// What it is, such as `snow foam`.
    pub name: String,
    /// Amount of ready mix for each use.
    pub each_use: Volume,
    /// Amount of ready mix per square meter.
    pub per_m2: Volume,
    /// Amount of ready mix per item.
    pub per_item: Volume,
    /// How it is mixed.
    pub dilution: Dilution,
}

/// The wait after a step before what depends on it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Wait {
    /// Least wait before any step that depends on this one.
    pub least: Duration,
    /// Most wait until the step that takes away what this one left; `None`: no limit.
    pub most: Option<Duration>,
}

/// One step of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Name in data.
    pub id: String,
    /// What to do, imperative.
    pub title: String,
    /// Whether it is done to groups of surfaces, to the car, or to a room.
    pub level: Level,
    /// Kinds of surface it is for; for a step on the whole car, those whose area and items count.
    pub kinds: Vec<String>,
    /// What must hold before it; rules first, then its own.
    pub needs: Vec<Need>,
    /// What it changes.
    pub effects: Vec<Effect>,
    /// Time for each use, whatever the size.
    pub fixed: Duration,
    /// Time per square meter.
    pub per_m2: Duration,
    /// Time per item (wheel, seat, glass).
    pub per_item: Duration,
    /// People at it at the same time; its time is that of all of them together on the clock.
    pub people: u8,
    /// What they must be able to do.
    pub skill: Skill,
    /// Where it is done.
    pub room: RoomKind,
    /// What it does to the air.
    pub air: Air,
    /// Kinds of tool that it holds, one of each, where a shop may have few: `lift`, `polisher`.
    pub tools: Vec<String>,
    /// What it uses.
    pub products: Vec<Product>,
    /// The wait after it.
    pub wait: Wait,
    /// Ids of the cautions that apply.
    pub cautions: Vec<String>,
    /// Pictures wanted for the record.
    pub pictures: Vec<String>,
    /// What is checked and signed after it.
    pub check: Option<String>,
    /// Takes clear coat that never comes back.
    pub removes_clear_coat: bool,
}

impl Step {
    /// Time for a use on so much area and so many items.
    pub fn time(&self, area: Area, items: u32) -> Duration {
        self.fixed + self.per_m2 * area.as_m2() + self.per_item * f64::from(items)
    }
}

/// An outcome that can be ordered for a group of surfaces or the car.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Goal {
    /// Name in data.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// Surface or car.
    pub level: Level,
    /// Kinds of surface for which it can be ordered; empty: any.
    pub kinds: Vec<String>,
    /// What must hold at the end. A need with reach `Every` looks at all groups or rooms.
    pub wants: Vec<Need>,
}

/// A caution shown where it applies; the product's data sheet comes first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// Name in data.
    pub id: String,
    /// The caution.
    pub text: String,
}

/// How often something is due again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CareInterval {
    /// Name in data.
    pub id: String,
    /// What is due.
    pub what: String,
    /// Surface kinds it concerns; empty: the whole car.
    pub kinds: Vec<String>,
    /// The fact that makes it due, such as `coated`; `None`: for every car.
    pub fact: Option<String>,
    /// Due again after this at the earliest.
    pub least: Duration,
    /// Due again after this at the latest.
    pub most: Duration,
    /// Where the interval comes from.
    pub source: String,
}

/// The whole step library, validated.
#[derive(Clone, Debug, PartialEq)]
pub struct Library {
    pub(crate) kinds: Vec<Kind>,
    pub(crate) facts: Vec<Fact>,
    pub(crate) rules: Vec<Rule>,
    pub(crate) steps: Vec<Step>,
    pub(crate) goals: Vec<Goal>,
    pub(crate) cautions: Vec<Caution>,
    pub(crate) care: Vec<CareInterval>,
    pub(crate) fact_index: BTreeMap<String, usize>,
    pub(crate) step_index: BTreeMap<String, usize>,
    pub(crate) goal_index: BTreeMap<String, usize>,
}

/// What is wrong with a library file, and where.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LibraryFlaw {
    /// The file, as named by the caller.
    pub origin: String,
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub remedy: String,
}

impl fmt::Display for LibraryFlaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: {} {}", self.origin, self.line, self.what, self.remedy)
    }
}

impl std::error::Error for LibraryFlaw {}

impl Library {
    /// The library that comes with the program: common practice, no source.
    ///
    /// # Errors
    /// Never in a released program: a test holds the file to its own rules.
    pub fn built_in() -> Result<Self, Vec<LibraryFlaw>> {
        Self::parse(Self::built_in_text(), "steps.toml")
    }

    /// The text of the library that comes with the program, as a start for the shop's own.
    pub fn built_in_text() -> &'static str {
        include_str!("../data/steps.toml")
    }

    /// Reads and validates a library; `origin` names the file in messages.
    ///
    /// # Errors
    /// Every flaw found, each with its line, what is wrong and what to do.
    pub fn parse(text: &str, origin: &str) -> Result<Self, Vec<LibraryFlaw>> {
        crate::parse::parse(text, origin)
    }

    /// All steps, in the file's order: the natural order among steps that do not depend on each other.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// All facts.
    pub fn facts(&self) -> &[Fact] {
        &self.facts
    }

    /// All goals that can be ordered.
    pub fn goals(&self) -> &[Goal] {
        &self.goals
    }

    /// All named order rules.
    pub fn rules(&self) -> &[Rule] {
        &self.rules
    }

    /// All kinds of surface.
    pub fn kinds(&self) -> &[Kind] {
        &self.kinds
    }

    /// All cautions.
    pub fn cautions(&self) -> &[Caution] {
        &self.cautions
    }

    /// What is due again, and when.
    pub fn care(&self) -> &[CareInterval] {
        &self.care
    }

    /// A step by id.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.step_index.get(id).map(|&i| &self.steps[i])
    }

    /// A fact by id.
    pub fn fact(&self, id: &str) -> Option<&Fact> {
        self.fact_index.get(id).map(|&i| &self.facts[i])
    }

    /// A goal by id.
    pub fn goal(&self, id: &str) -> Option<&Goal> {
        self.goal_index.get(id).map(|&i| &self.goals[i])
    }

    /// A caution by id.
    pub fn caution(&self, id: &str) -> Option<&Caution> {
        self.cautions.iter().find(|c| c.id == id)
    }
}
