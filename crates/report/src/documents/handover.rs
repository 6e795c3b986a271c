//! The handover report: what was done, with proof, and how to look after it.

use super::maps::maps;
use super::{Album, Photographs, car_of, cautions, missing, or_dash};
use crate::Template;
use crate::document::{Block, Cell, Column, Document, Fact, Pair, Section};
use crate::drawing::{Hatch, Medium, car_panels, change_cell, common_range};
use crate::sketch;
use crate::words::{Words, counted};
use job::{Moment, PanelId, PictureId};
use studio::view::{CarView, HandoverView, PanelSurvey, SurveyView};
use units::Thickness;

/// Makes the handover report.
pub fn handover(car: &CarView, view: &HandoverView, survey: &SurveyView, album: Album<'_>) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let arrived = car.job.arrival.as_ref();
    let fields = vec![
        Fact::words("Customer", or_dash(&car.job.customer.name)),
        Fact::words("In", arrived.map_or("–".to_owned(), |a| words.moment(a.at))),
        Fact::words("Out", car.job.handover.as_ref().map_or("not yet".to_owned(), |h| words.moment(h.at))),
        Fact::words("Steps done", view.done.len().to_string()),
        Fact::words("Film pieces", view.film.len().to_string()),
    ];
    let mut doc = Document::new(Template::Handover, car_of(car, Template::Handover, fields));
    if !view.missing.is_empty() {
        let list = Block::List { parts: view.missing.clone() };
        let title = Block::Note {
            title: "Not ready to hand over.".into(),
            text: "This report is a draft until the following is done.".into(),
        };
        doc.section(Section::new("", vec![title, list]));
    }
    doc.section(Section::new("What was done", vec![done(view, &words)]));
    let blocks = pairs(&mut doc, car, view, album);
    doc.section(Section::new("Before and after", blocks));
    let blocks = thickness(&mut doc, view, &words);
    doc.section(Section::new("Thickness before and after", blocks));
    let blocks = maps(&mut doc, car, panel_maps(view, survey), &words);
    doc.section(Section::new("Panel maps", blocks));
    let blocks = film(&mut doc, car, view, &words);
    doc.section(Section::new("Film on the car", blocks));
    doc.section(Section::new("Products and lots", vec![lots(view)]));
    after(&mut doc, car, view, &words);
    doc
}

fn done(view: &HandoverView, words: &Words) -> Block {
    let rows = view
        .done
        .iter()
        .map(|r| {
            let ended = r.spans.iter().filter_map(|s| s.to).max();
            let mut by: Vec<&str> = r.spans.iter().map(|s| s.by.as_str()).filter(|b| !b.is_empty()).collect();
            by.sort_unstable();
            by.dedup();
            let time = ended.map_or(units::Duration::ZERO, |e| r.worked(e));
            vec![
                Cell::Strong {
                    text: r.planned.title.clone(),
                    note: (!r.notes.is_empty()).then(|| r.notes.join(" ")),
                },
                Cell::Quiet { text: super::panels(&r.planned.panels) },
                Cell::text(ended.map_or("–".to_owned(), |t| words.moment(t))),
                Cell::text(by.join(", ")),
                Cell::figure(words.duration(time), ""),
            ]
        })
        .collect();
    let columns = vec![
        Column::share("Step", "4fr"),
        Column::share("On", "3fr"),
        Column::words("Finished"),
        Column::words("By"),
        Column::figures("Time"),
    ];
    Block::table(
        columns,
        rows,
        "No step is finished yet. Finished steps stand here with who did them and when.",
    )
}

/// Photographs of the same panel side by side, then what is left of those after the work.
fn pairs(doc: &mut Document, car: &CarView, view: &HandoverView, album: Album<'_>) -> Vec<Block> {
    let job = &car.job;
    let taken = studio::view::sides(job, &view.done);
    let mut photos = Photographs::new(job);
    let mut both: Vec<Pair> = Vec::new();
    let mut shown: Vec<PictureId> = Vec::new();
    for row in studio::view::pairs(job, &view.done) {
        let before = photos.image(doc, album, &row.before, &format!("{}, before", row.title));
        let after = photos.image(doc, album, &row.after, &format!("{}, after", row.title));
        if let (Some(before), Some(after)) = (before, after) {
            shown.push(row.after);
            both.push(Pair { title: row.title, before, after });
        }
    }
    let titled = |t: &studio::view::Taken| t.panel.as_ref().map_or_else(|| t.title.clone(), PanelId::title);
    let rest: Vec<(PictureId, String)> = taken
        .after
        .iter()
        .filter(|t| !shown.contains(&t.picture))
        .map(|t| (t.picture.clone(), titled(t)))
        .collect();
    let mut blocks = Vec::new();
    if !both.is_empty() {
        blocks.push(Block::Pairs { height: 58.0, pairs: both });
    }
    if !rest.is_empty() {
        blocks.extend(photos.block(doc, album, &rest, 3, 42.0));
    }
    if blocks.is_empty() {
        let unpaired: Vec<(PictureId, String)> =
            taken.before.iter().map(|t| (t.picture.clone(), format!("{}, before", titled(t)))).collect();
        blocks.extend(photos.block(doc, album, &unpaired, 3, 42.0));
        blocks.push(missing(
            "No photographs were taken after the work. They are added with the steps or at handover.",
        ));
    }
    blocks
}

fn thickness(doc: &mut Document, view: &HandoverView, words: &Words) -> Vec<Block> {
    if view.panels.is_empty() {
        return vec![missing("No panel was corrected, so no clear coat was taken.")];
    }
    let unit = words.thickness_unit();
    let lines = view.panels.iter().flat_map(|p| sketch::totals(p, words)).flatten();
    let range = common_range(lines.flat_map(|l| [l.low, l.high]));
    let total = |t: Option<(Thickness, Thickness)>| {
        t.map_or(Cell::Quiet { text: "not measured".into() }, |t| {
            let (mean, half) = words.thickness_within(t);
            Cell::estimate(mean, half, unit)
        })
    };
    let rows = view
        .panels
        .iter()
        .map(|p| {
            let [before, after] = sketch::totals(p, words);
            let title = format!("{}, total thickness", p.title);
            let svg = change_cell(&title, before.as_ref(), after.as_ref(), range, Medium::Alone);
            vec![
                Cell::strong(p.title.clone()),
                total(p.before),
                total(p.after),
                doc.small_drawing(svg, &title, 32.0),
                words.figure(&p.taken),
                p.left.as_ref().map_or(Cell::Quiet { text: "not known".into() }, |f| words.figure(f)),
            ]
        })
        .collect();
    let columns = vec![
        Column::words("Panel"),
        Column::figures("Total before"),
        Column::figures("Total after"),
        Column::wide(&format!("{} to {} {unit}", words.thickness(range.0), words.thickness(range.1))),
        Column::figures("Clear coat taken"),
        Column::figures("Least clear coat left"),
    ];
    vec![Block::Table {
        columns,
        rows,
        caption: Some(
            "Open point: before, filled: after; bars are 95 % ranges of the mean. Clear coat that was taken \
             never comes back; it stands in the car's ledger."
                .into(),
        ),
        total: None,
        missing: String::new(),
    }]
}

/// Panels that were corrected first, before and after; the others as they were read.
fn panel_maps<'a>(view: &HandoverView, survey: &'a SurveyView) -> Vec<(&'a PanelSurvey, Moment)> {
    let corrected = |p: &&PanelSurvey| view.panels.iter().any(|c| c.id == p.id);
    let (first, rest): (Vec<&PanelSurvey>, Vec<&PanelSurvey>) = survey.panels.iter().partition(corrected);
    let both = first.into_iter().flat_map(|p| [(p, Moment::Before), (p, Moment::After)]);
    both.chain(rest.into_iter().map(|p| (p, Moment::Before))).collect()
}

fn film(doc: &mut Document, car: &CarView, view: &HandoverView, words: &Words) -> Vec<Block> {
    let old: Vec<&job::LaidPiece> = car
        .history
        .film
        .iter()
        .filter(|f| {
            f.off.is_none() && view.film.iter().all(|l| l.piece != f.piece.piece || l.panel != f.piece.panel)
        })
        .map(|f| &f.piece)
        .collect();
    if view.film.is_empty() && old.is_empty() {
        return vec![missing("No film lies on this car.")];
    }
    let mut hatched = sketch::hatched(old.iter().map(|p| &p.panel), Hatch::Cure);
    hatched.extend(sketch::hatched(view.film.iter().map(|p| &p.panel), Hatch::Film));
    let svg = car_panels(car.body, "Film on the car", &hatched, Medium::Alone);
    let count = counted(hatched.len(), "panel", "panels");
    let mut blocks =
        vec![doc.drawing(svg, 78.0, &format!("The car in five views, {count} covered by film"), "")];
    let mut key = vec![(Hatch::Film, "laid in this job")];
    if !old.is_empty() {
        key.push((Hatch::Cure, "laid before"));
    }
    blocks.push(Block::key(&key));
    let row = |p: &job::LaidPiece| {
        vec![
            Cell::strong(p.panel.title()),
            Cell::text(p.piece.clone()),
            Cell::text(or_dash(&p.roll)),
            Cell::text(or_dash(&p.lot)),
            Cell::text(words.moment(p.at)),
            Cell::text(p.by.clone()),
        ]
    };
    let columns = vec![
        Column::words("Panel"),
        Column::wide("Piece"),
        Column::words("Roll"),
        Column::words("Batch"),
        Column::words("Laid"),
        Column::words("By"),
    ];
    let rows = view.film.iter().chain(old).map(row).collect();
    blocks.push(Block::table(columns, rows, ""));
    blocks
}

fn lots(view: &HandoverView) -> Block {
    let row = |l: &studio::view::LotRow| {
        vec![
            Cell::strong(l.product.clone()),
            Cell::text(or_dash(&l.lot)),
            Cell::Quiet { text: l.used.clone() },
        ]
    };
    let columns = vec![
        Column::share("Product", "2fr"),
        Column::words("Lot or batch"),
        Column::share("Used for", "4fr"),
    ];
    Block::table(
        columns,
        view.lots.iter().map(row).collect(),
        "No lots were written down. They are chosen when a step is finished.",
    )
}

/// Cautions, care, visits, warranty, the final check and the signatures.
fn after(doc: &mut Document, car: &CarView, view: &HandoverView, words: &Words) {
    if !view.cautions.is_empty() {
        doc.section(Section::new("Please mind", cautions(&view.cautions, words)));
    }
    let (visits, advice): (Vec<_>, Vec<_>) = view.care.iter().partition(|c| c.due.is_some());
    let rows =
        advice.iter().map(|c| vec![Cell::strong(c.what.clone()), Cell::text(c.advice.clone())]).collect();
    let columns = vec![Column::words("When"), Column::wide("What to do")];
    doc.section(Section::new("How to look after it", vec![Block::table(columns, rows, "No advice is set.")]));
    let rows = visits
        .iter()
        .map(|c| {
            let due = c.due.map_or(String::new(), |d| words.date(d));
            vec![Cell::text(due), Cell::strong(c.what.clone()), Cell::text(c.advice.clone())]
        })
        .collect();
    let columns = vec![Column::words("From"), Column::share("Visit", "2fr"), Column::share("", "1fr")];
    doc.section(Section::new(
        "Next visits",
        vec![Block::table(columns, rows, "No visits are planned. They are set at handover.")],
    ));
    let text = if view.warranty.trim().is_empty() {
        missing("The shop has not written its warranty terms. They are set in the shop's settings.")
    } else {
        Block::paragraph(view.warranty.clone())
    };
    doc.section(Section::new("Warranty", vec![text]));
    let checked = car.job.handover.as_ref().map(|h| h.checked.as_slice()).unwrap_or_default();
    let rows = if checked.is_empty() {
        view.checks.iter().map(|c| vec![Cell::Tick, Cell::text(c.clone())]).collect()
    } else {
        checked.iter().map(|c| vec![Cell::Tag { text: "checked".into() }, Cell::text(c.clone())]).collect()
    };
    let signed = car.job.handover.as_ref().and_then(|h| h.signed.as_ref());
    let customer =
        signed.map_or("Customer".to_owned(), |s| format!("Signed by {}, {}", s.name, words.moment(s.at)));
    let by = car.job.handover.as_ref().map(|h| h.by.as_str()).filter(|b| !b.is_empty());
    let shop = by.map_or("For the shop".to_owned(), |b| format!("For the shop: {b}"));
    doc.section(Section::new(
        "Final check",
        vec![
            Block::table(vec![Column::words(""), Column::wide("")], rows, "No checks are set."),
            Block::Signatures { names: vec![shop, customer] },
        ],
    ));
}
