//! Pictures of the same place before and after the work: those that somebody put together, and what is suggested.

use job::{Job, PanelId, PictureId, Stage, StepRecord};
use std::collections::BTreeMap;

/// Two pictures beside each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PairRow {
    /// Before.
    pub before: PictureId,
    /// After.
    pub after: PictureId,
    /// What they show.
    pub title: String,
    /// The panel, where it is one.
    pub panel: Option<PanelId>,
    /// Whether somebody put them together; else it is a suggestion.
    pub chosen: bool,
}

/// A picture that can be part of a pair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Taken {
    /// The picture.
    pub picture: PictureId,
    /// What it shows, in a line.
    pub title: String,
    /// The panel, where it is one.
    pub panel: Option<PanelId>,
}

/// Pictures from before and from after the work, each once, in the order in which they were taken.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sides {
    /// Until the end of the survey.
    pub before: Vec<Taken>,
    /// During the work and at handover.
    pub after: Vec<Taken>,
}

/// Sorts a job's pictures; `done` are the steps whose pictures count.
pub fn sides<'a>(job: &Job, done: impl IntoIterator<Item = &'a StepRecord>) -> Sides {
    let mut sides = Sides::default();
    let add = |list: &mut Vec<Taken>, picture: &PictureId, title: String, panel: Option<PanelId>| {
        match list.iter_mut().find(|t| t.picture == *picture) {
            // where it was said better
            Some(known) if known.panel.is_none() && panel.is_some() => {
                (known.title, known.panel) = (title, panel)
            }
            Some(_) => {}
            None => list.push(Taken { picture: picture.clone(), title, panel }),
        }
    };
    for f in job.standing().filter(|f| f.found <= Stage::Survey) {
        let title = format!("{}, finding {}: {}", f.place.panel.title(), f.no, f.kind.title().to_lowercase());
        for p in &f.pictures {
            add(&mut sides.before, p, title.clone(), Some(f.place.panel.clone()));
        }
    }
    for r in done {
        let one = match r.planned.panels.as_slice() {
            [one] => Some(one.clone()),
            _ => None,
        };
        let title = match &one {
            Some(panel) => format!("{}, {}", panel.title(), r.planned.title.to_lowercase()),
            None => r.planned.title.clone(),
        };
        for p in &r.pictures {
            add(&mut sides.after, p, title.clone(), one.clone());
        }
    }
    for e in &job.pictures {
        let panel = e.place.as_ref().map(|p| p.panel.clone());
        let title = panel.as_ref().map_or_else(|| e.name.clone(), |p| format!("{}, {}", p.title(), e.name));
        let list = if e.stage <= Stage::Survey { &mut sides.before } else { &mut sides.after };
        add(list, &e.picture, title, panel);
    }
    for p in job.handover.iter().flat_map(|h| &h.pictures) {
        add(&mut sides.after, p, "At handover".to_owned(), None);
    }
    sides
}

/// Pairs that were chosen, in that order, then one suggestion for each panel that has none: its first picture from before
/// and its last from after.
pub fn pairs<'a>(job: &Job, done: impl IntoIterator<Item = &'a StepRecord>) -> Vec<PairRow> {
    let title = |panel: &Option<PanelId>| panel.as_ref().map_or_else(|| "The car".to_owned(), PanelId::title);
    let mut rows: Vec<PairRow> = job
        .pairs
        .iter()
        .map(|p| PairRow {
            before: p.before.clone(),
            after: p.after.clone(),
            title: title(&p.panel),
            panel: p.panel.clone(),
            chosen: true,
        })
        .collect();
    let sides = sides(job, done);
    let mut by_panel: BTreeMap<&PanelId, (Vec<&PictureId>, Vec<&PictureId>)> = BTreeMap::new();
    for t in &sides.before {
        if let Some(panel) = &t.panel {
            by_panel.entry(panel).or_default().0.push(&t.picture);
        }
    }
    for t in &sides.after {
        if let Some(panel) = &t.panel {
            by_panel.entry(panel).or_default().1.push(&t.picture);
        }
    }
    for (panel, (old, new)) in by_panel {
        if rows.iter().any(|r| r.panel.as_ref() == Some(panel)) {
            continue;
        }
        let fits = old
            .iter()
            .flat_map(|b| new.iter().rev().map(move |a| (*b, *a)))
            .find(|(b, a)| b != a && !job.parted.iter().any(|(x, y)| x == *b && y == *a));
        if let Some((before, after)) = fits {
            rows.push(PairRow {
                before: before.clone(),
                after: after.clone(),
                title: panel.title(),
                panel: Some(panel.clone()),
                chosen: false,
            });
        }
    }
    rows
}
