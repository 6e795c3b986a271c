//! Which crate may use which: the arrows of the design, and where some libraries are at home.

/// A crate and the crates of ours that it may use.
pub struct Room {
    pub name: &'static str,
    pub may_use: &'static [&'static str],
}

const fn room(name: &'static str, may_use: &'static [&'static str]) -> Room {
    Room { name, may_use }
}

/// Engines never use each other, `job` or `journal`; only `studio` brings engines, jobs and the journal together;
/// what `report` draws comes from `studio` alone. The program opens and verifies journals and has one verb per engine on
/// the command line, which reads plain files, so it may name all of them; its pages go through `studio`.
pub const ROOMS: &[Room] = &[
    room("units", &[]),
    room("effort", &[]),
    room("journal", &[]),
    room("stats", &["units"]),
    room("plane", &["units"]),
    room("job", &["units"]),
    room("body", &["units", "plane"]),
    room("paint", &["units", "effort", "stats"]),
    room("route", &["units", "effort", "stats"]),
    room("schedule", &["units", "effort", "stats"]),
    room("air", &["units", "effort", "stats"]),
    room("price", &["units", "effort", "stats"]),
    room("flatten", &["units", "effort", "stats", "plane"]),
    room("nest", &["units", "effort", "stats", "plane"]),
    room("sight", &["units", "effort", "stats", "plane"]),
    room(
        "studio",
        &[
            "units", "effort", "stats", "plane", "body", "job", "journal", "paint", "route", "schedule",
            "air", "price", "flatten", "nest", "sight",
        ],
    ),
    room("report", &["units", "plane", "body", "job", "studio"]),
    room(
        "shutline",
        &[
            "units", "effort", "stats", "plane", "body", "job", "journal", "studio", "report", "paint",
            "route", "schedule", "air", "price", "flatten", "nest", "sight",
        ],
    ),
    room("xtask", &[]),
];

/// Libraries that only some crates may use: the database is known to the journal alone, the web to the program
/// alone, typesetting to the documents alone.
pub const HOMES: &[(&str, &[&str])] = &[
    ("rusqlite", &["journal"]),
    ("tokio-postgres", &["journal"]),
    ("axum", &["shutline"]),
    ("axum-server", &["shutline"]),
    ("maud", &["shutline"]),
    ("tokio", &["shutline"]),
    ("tower-http", &["shutline"]),
    ("typst", &["report"]),
    ("typst-layout", &["report"]),
    ("typst-pdf", &["report"]),
];
