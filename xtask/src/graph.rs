//! The crate graph, from `cargo metadata`, and its check against the rooms.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

use crate::rooms::{HOMES, ROOMS, Room};
use crate::steps::cargo;

/// Our crates and what each names in its manifest, dev- and build-dependencies too.
#[derive(Debug, Default)]
pub struct Graph {
    members: BTreeMap<String, Member>,
}

#[derive(Debug, Default)]
struct Member {
    folder: PathBuf,
    uses: BTreeSet<String>,
}

impl Graph {
    /// The graph of the workspace around this program.
    pub fn of_workspace() -> Result<Self, String> {
        let output = cargo()
            .args(["metadata", "--no-deps", "--format-version", "1"])
            .stderr(Stdio::inherit())
            .output()
            .map_err(|e| format!("cargo metadata: {e}"))?;
        if !output.status.success() {
            return Err("cargo metadata failed; its words are above".into());
        }
        Self::read(&output.stdout)
    }

    fn read(json: &[u8]) -> Result<Self, String> {
        let unexpected = || "cargo metadata answered in an unexpected form".to_owned();
        let metadata: Value = serde_json::from_slice(json).map_err(|e| format!("cargo metadata: {e}"))?;
        let mut members = BTreeMap::new();
        for package in metadata["packages"].as_array().ok_or_else(unexpected)? {
            let name = package["name"].as_str().ok_or_else(unexpected)?;
            let manifest = package["manifest_path"].as_str().ok_or_else(unexpected)?;
            let dependencies = package["dependencies"].as_array().ok_or_else(unexpected)?;
            let uses = dependencies.iter().filter_map(|d| d["name"].as_str()).map(str::to_owned).collect();
            let folder = Path::new(manifest).parent().unwrap_or(Path::new(".")).to_owned();
            members.insert(name.to_owned(), Member { folder, uses });
        }
        Ok(Self { members })
    }

    /// What breaks the design, in words; empty when nothing does.
    pub fn flaws(&self) -> Vec<String> {
        let mut flaws = self.wrong_arrows(ROOMS);
        flaws.extend(self.strangers());
        flaws.extend(self.bare_rooms());
        flaws
    }

    fn wrong_arrows(&self, rooms: &[Room]) -> Vec<String> {
        let mut flaws = Vec::new();
        for (name, member) in &self.members {
            let Some(room) = rooms.iter().find(|r| r.name == name) else {
                flaws.push(format!("{name}: not in the design; give it a place in xtask/src/rooms.rs"));
                continue;
            };
            for used in member.uses.iter().filter(|u| self.members.contains_key(*u) || is_room(u, rooms)) {
                if !room.may_use.contains(&used.as_str()) {
                    let allowed = match room.may_use {
                        [] => "none of our crates".to_owned(),
                        list => list.join(", "),
                    };
                    flaws.push(format!("{name} uses {used}; it may use {allowed}"));
                }
            }
        }
        flaws
    }

    fn strangers(&self) -> Vec<String> {
        let mut flaws = Vec::new();
        for (library, homes) in HOMES {
            for (name, _) in self.members.iter().filter(|(_, m)| m.uses.contains(*library)) {
                if !homes.contains(&name.as_str()) {
                    flaws.push(format!(
                        "{name} uses {library}, which is at home in {} alone",
                        homes.join(", ")
                    ));
                }
            }
        }
        flaws
    }

    /// Each crate says what it is for and takes part in the shared lints.
    fn bare_rooms(&self) -> Vec<String> {
        let mut flaws = Vec::new();
        for (name, member) in self.members.iter().filter(|(name, _)| *name != "xtask") {
            let readme = std::fs::read_to_string(member.folder.join("README.md")).unwrap_or_default();
            if !readme.lines().skip(1).any(|line| !line.trim().is_empty()) {
                flaws.push(format!("{name}: README.md is missing or says nothing"));
            }
            let manifest = std::fs::read_to_string(member.folder.join("Cargo.toml")).unwrap_or_default();
            if !manifest.contains("[lints]\nworkspace = true") {
                flaws.push(format!("{name}: Cargo.toml lacks `[lints] workspace = true`"));
            }
        }
        flaws
    }

    /// How many arrows lie between a crate and the ground.
    fn height(&self, name: &str, seen: &mut Vec<String>) -> usize {
        if seen.iter().any(|s| s == name) {
            return 0; // a circle, which cargo itself refuses
        }
        seen.push(name.to_owned());
        let height = self.ours(name).map(|used| self.height(used, seen) + 1).max().unwrap_or(0);
        seen.pop();
        height
    }

    fn ours(&self, name: &str) -> impl Iterator<Item = &str> {
        let uses = self.members.get(name).map(|m| &m.uses).into_iter().flatten();
        uses.map(String::as_str).filter(|used| self.members.contains_key(*used))
    }
}

fn is_room(name: &str, rooms: &[Room]) -> bool {
    rooms.iter().any(|r| r.name == name)
}

impl fmt::Display for Graph {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut order: Vec<(usize, &str)> =
            self.members.keys().map(|name| (self.height(name, &mut Vec::new()), name.as_str())).collect();
        order.sort();
        writeln!(f, "Crates from the ground up, each with those of ours that it uses.\n")?;
        let mut floor = 0;
        for (height, name) in order {
            if height != floor {
                writeln!(f)?;
                floor = height;
            }
            let uses: Vec<&str> = self.ours(name).collect();
            writeln!(f, "{}", format!("{name:<10}{}", uses.join(" ")).trim_end())?;
        }
        Ok(())
    }
}

/// Runs a command and gives its standard output.
pub fn output(command: &mut Command) -> Result<String, String> {
    let output = command.stderr(Stdio::inherit()).output().map_err(|e| format!("{command:?}: {e}"))?;
    if !output.status.success() {
        return Err(format!("{command:?} failed; its words are above"));
    }
    String::from_utf8(output.stdout).map_err(|e| format!("{command:?}: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph(arrows: &[(&str, &[&str])]) -> Graph {
        let member = |uses: &[&str]| Member {
            uses: uses.iter().map(|u| (*u).to_owned()).collect(),
            ..Member::default()
        };
        Graph { members: arrows.iter().map(|(name, uses)| ((*name).to_owned(), member(uses))).collect() }
    }

    fn check(arrows: &[(&str, &[&str])], wanted: &[&str]) {
        let graph = graph(arrows);
        let mut flaws = graph.wrong_arrows(ROOMS);
        flaws.extend(graph.strangers());
        assert_eq!(flaws, wanted);
    }

    #[test]
    fn the_workspace_keeps_to_the_design() {
        let graph = Graph::of_workspace().unwrap();
        assert!(graph.members.len() > 10);
        assert_eq!(graph.flaws(), [""; 0]);
    }

    #[test]
    fn arrows_of_the_design_are_allowed() {
        check(&[("units", &["serde"]), ("stats", &["units"]), ("paint", &["units", "effort", "stats"])], &[]);
    }

    #[test]
    fn engines_do_not_use_each_other() {
        check(&[("paint", &["air"]), ("air", &[])], &["paint uses air; it may use units, effort, stats"]);
    }

    #[test]
    fn engines_know_neither_job_nor_journal() {
        check(
            &[("nest", &["job", "journal"])],
            &[
                "nest uses job; it may use units, effort, stats, plane",
                "nest uses journal; it may use units, effort, stats, plane",
            ],
        );
    }

    #[test]
    fn the_journal_knows_no_job() {
        check(&[("journal", &["job"])], &["journal uses job; it may use none of our crates"]);
    }

    #[test]
    fn documents_reach_engines_through_the_studio_alone() {
        check(&[("report", &["paint"])], &["report uses paint; it may use units, plane, body, job, studio"]);
    }

    #[test]
    fn a_new_crate_needs_a_place() {
        check(&[("gadgets", &[])], &["gadgets: not in the design; give it a place in xtask/src/rooms.rs"]);
    }

    #[test]
    fn the_database_is_at_home_in_the_journal() {
        check(&[("studio", &["rusqlite"])], &["studio uses rusqlite, which is at home in journal alone"]);
    }

    #[test]
    fn arrows_go_down() {
        // so that the table itself has no circle
        for (i, room) in ROOMS.iter().enumerate() {
            for used in room.may_use {
                assert!(
                    ROOMS[..i].iter().any(|r| r.name == *used),
                    "{} uses {used}, which stands above it",
                    room.name
                );
            }
        }
    }

    #[test]
    fn the_graph_is_printed_from_the_ground_up() {
        let text =
            graph(&[("report", &["studio"]), ("studio", &["units", "serde"]), ("units", &[])]).to_string();
        let names: Vec<&str> = text.lines().skip(2).filter_map(|l| l.split_whitespace().next()).collect();
        assert_eq!(names, ["units", "studio", "report"]);
        assert!(text.contains("studio    units\n"), "{text}");
    }
}
