#![doc = include_str!("../README.md")]

mod clearing;
mod counter;
mod cure;
mod error;
mod measure;
mod mixing;
mod moisture;
mod psychrometrics;
mod settling;
mod specks;
mod vapor;
mod verdict;
mod water;
mod yields;

pub use clearing::{Clearing, Room, clearing_time, remaining};
pub use counter::{Count, RoomFit, SizeFit, fit_room, read_counts};
pub use cure::{CureRow, CureTable, CureTime, Q10_CAUTION, arrhenius_ratio, cure_time};
pub use error::AirError;
pub use measure::{
    Density, Humidity, JoulesPerMole, Kelvins, MassConcentration, MolarMass, PerCubicMeter, PerHour,
    PerSquareMeter, Ppm, Pressure, Speed,
};
pub use mixing::{Convention, Dilution, dilute, dilution};
pub use moisture::{MoistureCheck, ProductWindow, check_moisture};
pub use psychrometrics::{MoistAir, saturation_pressure};
pub use settling::{Settling, settling};
pub use specks::{
    BestWait, Dust, Exposure, Specks, WaitCost, WaitPoint, best_wait, specks, wait_until_clean,
};
pub use vapor::{Limit, LimitKind, LimitLine, Release, Solvent, VaporCourse, vapor};
pub use verdict::{Reason, Ruling, Verdict};
pub use water::{Conductivity, Hardness, check_distilled};
pub use yields::{YieldLaw, defects_for_yield};
