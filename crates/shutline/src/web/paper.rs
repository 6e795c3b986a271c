//! A document as a page: the same parts as on paper, in the order of paper, for reading on a phone.

use super::compare;
use super::layout;
use maud::{Markup, html};
use report::document::{Block, Card, Cell, Column, Document, Fact, Image, StepRow};
use report::drawing::Hatch;

/// Where a picture of the document is had, by its number.
type Source<'a> = &'a dyn Fn(usize) -> String;

/// The document: title, facts, sections. What belongs on paper alone (lines to sign on, page ends) is left out.
pub fn page(doc: &Document, source: Source<'_>) -> Markup {
    let sheet = &doc.sheet;
    let mut facts: Vec<(&str, Markup)> =
        vec![("Car", html! { (sheet.subject) }), ("Job", html! { (sheet.job) })];
    facts.extend(sheet.fields.iter().map(|f| (f.label.as_str(), cell(&f.cell, source))));
    html! {
        (layout::head(&sheet.title, html! { (sheet.shop) ", " (sheet.date) "." }, html! {}))
        (layout::block(&facts))
        @for s in &doc.sections {
            @if s.blocks.iter().any(shows) { section.sheetpart {
                @if !s.title.is_empty() { h2 { (s.title) } }
                (blocks(&s.blocks, source))
            } }
        }
        footer.foot {
            p { @for (i, line) in sheet.address.iter().enumerate() { @if i > 0 { " · " } (line) } }
            @if let Some(seal) = &sheet.seal { p { "Head of the record when this was made: " code { (seal) } "." } }
            @if sheet.demo { p { "Invented demo: no real cars, customers or products." } }
        }
    }
}

/// Whether a part shows anything on a screen.
fn shows(block: &Block) -> bool {
    match block {
        Block::Signatures { names } => names.iter().any(|n| given(n)),
        Block::PageBreak => false,
        _ => true,
    }
}

/// Whether a name stands on a line to sign on; an empty line is for paper alone.
fn given(line: &str) -> bool {
    line.starts_with("Signed by") || line.contains(": ")
}

fn blocks(list: &[Block], source: Source<'_>) -> Markup {
    html! { @for b in list { (block(b, source)) } }
}

fn block(b: &Block, source: Source<'_>) -> Markup {
    match b {
        Block::Paragraph { text } => html! { p { (text) } },
        Block::Quiet { text } => html! { p.small.quiet { (text) } },
        Block::List { parts } => html! { ul { @for part in parts { li { (part) } } } },
        Block::Heading { text } => html! { h3 { (text) } },
        Block::Facts { rows, .. } => facts(rows, source),
        Block::Table { columns, rows, caption, total, missing } => {
            if rows.is_empty() {
                layout::empty(html! { p { (missing) } })
            } else {
                table(columns, rows, caption.as_deref(), total.as_ref(), source)
            }
        }
        Block::Drawing { img, alt, caption, .. } => {
            figure(&Image { img: *img, alt: alt.clone(), caption: caption.clone() }, source)
        }
        Block::Photographs { parts, .. } => {
            html! { div.photos { @for part in parts { (figure(part, source)) } } }
        }
        Block::Pairs { pairs, .. } => html! { @for (i, p) in pairs.iter().enumerate() {
            (compare::beside(&format!("pair-{i}"), &p.title, figure(&p.before, source), figure(&p.after, source)))
        } },
        Block::Caution { title, text } => caution(title, text),
        Block::Cautions { parts } => {
            html! { @for f in parts { (caution(&f.label, &cell(&f.cell, source).0)) } }
        }
        Block::Note { title, text } => layout::note(html! { p { b { (title) } " " (text) } }),
        Block::Missing { text } => layout::empty(html! { p { (text) } }),
        Block::Key { parts } => html! { ul.key { @for (i, part) in parts.iter().enumerate() {
            li { @if let Some(hatch) = hatch(part.hatch) { (layout::swatch(&format!("paper-{}-{i}", part.hatch), hatch)) } (part.text) }
        } } },
        Block::Steps { rows, missing } => {
            if rows.is_empty() {
                layout::empty(html! { p { (missing) } })
            } else {
                html! { ol.steps { @for row in rows { (step(row, source)) } } }
            }
        }
        Block::Cards { cards } => html! { div.offers.flat { @for c in cards { (card(c, source)) } } },
        Block::SideBySide { sides } => {
            html! { div.even { @for side in sides { div { (blocks(side, source)) } } } }
        }
        Block::Signatures { names } => {
            html! { @for name in names.iter().filter(|n| given(n)) { p { (name) "." } } }
        }
        Block::PageBreak => html! {},
    }
}

fn caution(title: &str, text: &str) -> Markup {
    html! { div.note.caution role="note" { p { b { (title) } " " (text) } } }
}

fn facts(rows: &[Fact], source: Source<'_>) -> Markup {
    html! { dl.facts.cols { @for f in rows { div { dt { (f.label) } dd { (cell(&f.cell, source)) } } } } }
}

/// Rows above which a table stands behind a tap.
const LONG: usize = 12;

fn table(
    columns: &[Column],
    rows: &[Vec<Cell>],
    caption: Option<&str>,
    total: Option<&Fact>,
    source: Source<'_>,
) -> Markup {
    // The first column with a heading names the row.
    let names = columns.iter().position(|c| !c.title.is_empty()).unwrap_or(0);
    let table = html! {
        table.fold.flow {
            @if let Some(caption) = caption { caption { (caption) } }
            thead { tr { @for c in columns { @if c.title.is_empty() { td {} } @else { th.n[c.right] scope="col" { (c.title) } } } } }
            tbody { @for row in rows { tr { @for (i, (c, x)) in columns.iter().zip(row).enumerate() {
                @let said = cell(x, source);
                @if i == names && !said.0.is_empty() { th scope="row" { (said) } }
                @else { td.say.n[c.right] data-h=(c.title) { (said) } }
            } } } }
        }
    };
    html! {
        // What is long is one tap away: a customer reads on a phone, and pictures come after it.
        @if rows.len() > LONG { details.more.paper { summary { "All " (rows.len()) ", one by one" } div { (table) } } } @else { (table) }
        @if let Some(total) = total { p.total { (total.label) " " b { (cell(&total.cell, source)) } } }
    }
}

fn figure(image: &Image, source: Source<'_>) -> Markup {
    html! { figure.onpaper {
        img src=(source(image.img)) alt=(image.alt) loading="lazy" decoding="async";
        @if let Some(caption) = &image.caption { figcaption { (caption) } }
    } }
}

fn cell(c: &Cell, source: Source<'_>) -> Markup {
    match c {
        Cell::Text { text } | Cell::Number { text } => html! { (text) },
        Cell::Strong { text, note } => {
            html! { (text) @if let Some(note) = note { " " small.quiet { (note) } } }
        }
        Cell::Quiet { text } if text.is_empty() => html! {},
        Cell::Quiet { text } => html! { span.quiet { (text) } },
        Cell::Figure { value, pm, unit, .. } => {
            let number = html! { (value) @if let Some(pm) = pm { span.pm { " ± " (pm) } } };
            layout::quantity(number, unit.as_deref().unwrap_or_default())
        }
        Cell::Hatch { hatch: name, text } => html! { (text) @if hatch(name).is_none() { "" } },
        Cell::Tag { text } => layout::tag(text),
        Cell::Late { text } => layout::late(text),
        Cell::Tick | Cell::Blank => html! {},
        Cell::Picture { img, alt, .. } => {
            html! { img.incell src=(source(*img)) alt=(alt) loading="lazy" decoding="async"; }
        }
        Cell::Lines { parts } => {
            html! { @for (i, part) in parts.iter().enumerate() { @if i > 0 { br; } (cell(part, source)) } }
        }
    }
}

fn step(row: &StepRow, source: Source<'_>) -> Markup {
    html! { li value=(row.number) {
        b { (row.title) } " " span.quiet { (row.panels) } " " (cell(&row.time, source))
        @if !row.what.is_empty() { br; (row.what) }
        @if !row.why.is_empty() { br; small.quiet { (row.why) } }
    } }
}

fn card(c: &Card, source: Source<'_>) -> Markup {
    html! { article.card.now[c.chosen] {
        header { h3 { (c.title) } @if let Some(tag) = &c.tag { (layout::tag(tag)) } }
        @if let Some(image) = &c.picture { (figure(image, source)) }
        @if !c.note.is_empty() { p { (c.note) } }
        p.price { b { (c.price) } @if !c.range.is_empty() { " " (c.range) } }
        @if !c.price_note.is_empty() { p.small.quiet { (c.price_note) } }
        (facts(&c.rows, source))
    } }
}

/// The hatch of a name of the house style.
fn hatch(name: &str) -> Option<Hatch> {
    Some(match name {
        "light" => Hatch::Light,
        "marked" => Hatch::Marked,
        "deep" => Hatch::Deep,
        "film" => Hatch::Film,
        "cure" => Hatch::Cure,
        "dust" => Hatch::Dust,
        "offcut" => Hatch::Offcut,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use job::JobId;
    use report::documents;
    use studio::{Clock, Studio};

    /// Every text of a document, but for what belongs on paper alone.
    fn texts(value: &serde_json::Value, key: &str, out: &mut Vec<String>) {
        // names of the house style, numbers of pictures, and lines to sign on
        const NOT_TEXT: [&str; 8] = ["k", "kind", "hatch", "width", "share", "paper", "id", "moment"];
        match value {
            serde_json::Value::String(text) if !NOT_TEXT.contains(&key) => out.push(text.clone()),
            serde_json::Value::Array(list) => list.iter().for_each(|v| texts(v, key, out)),
            serde_json::Value::Object(map) => {
                // what is said of an empty table is not said of a full one
                let full = map.get("rows").and_then(|r| r.as_array()).is_some_and(|r| !r.is_empty());
                map.iter().filter(|(k, _)| !full || *k != "missing").for_each(|(k, v)| texts(v, k, out));
            }
            _ => {}
        }
    }

    /// The words of a page, tags taken out, blanks made one.
    fn words(html: &str) -> String {
        let mut out = String::new();
        let mut inside = false;
        for c in html.chars() {
            match c {
                '<' => inside = true,
                '>' => {
                    inside = false;
                    out.push(' ');
                }
                c if !inside => out.push(c),
                _ => {}
            }
        }
        plain(&out)
    }

    fn plain(text: &str) -> String {
        let text =
            text.replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn every_fact_of_the_handover_report_is_on_the_page_for_phones() {
        let folder = tempfile::tempdir().unwrap();
        let now: Timestamp = "2026-05-13T14:05:00Z".parse().unwrap();
        let place = folder.path().join("demo");
        studio::demo::make(&place, now, "America/Chicago").unwrap();
        let studio = Studio::open_at(&place, Clock::at(now)).unwrap();
        let id = JobId("0001".into());
        assert!(studio.job(&id).unwrap().job.handover.is_some());
        let (car, view) = (studio.car_view(&id).unwrap(), studio.handover_view(&id).unwrap());
        let survey = studio.survey_view(&id).unwrap();
        let doc = documents::handover(&car, &view, &survey, &|_| None);
        let html = page(&doc, &|i| format!("picture/{i}")).into_string();
        let page = words(&html);
        // alternative texts stand in attributes
        let whole = plain(&html);
        let mut facts = Vec::new();
        texts(&serde_json::json!([doc.sheet, doc.sections]), "", &mut facts);
        let there = |fact: &String| page.contains(&plain(fact)) || whole.contains(&plain(fact));
        let missing: Vec<&String> = facts.iter().filter(|f| !f.trim().is_empty() && !there(f)).collect();
        assert!(facts.len() > 60, "{} facts", facts.len());
        assert!(
            missing.is_empty(),
            "{} of {}: {:?}",
            missing.len(),
            facts.len(),
            &missing[..missing.len().min(20)]
        );
    }
}
