//! The offer: at least three ways to go on, side by side, with what each holds and what it costs.

use super::{car_of, missing};
use crate::Template;
use crate::document::{Block, Card, Cell, Column, Document, Fact, Image, Section};
use crate::drawing::{Hatch, Medium, car_mini, signature};
use crate::sketch;
use crate::words::{Words, counted};
use job::{OfferOption, PanelId};
use studio::view::{CarView, DraftOption, OfferView};

/// Makes the offer: the one that was made last, or, before one was made, the options as they would be.
pub fn offer(car: &CarView, view: &OfferView) -> Document {
    let words = Words::of(&car.shop, &car.zone);
    let made = car.job.offers.last();
    let mut fields = vec![Fact::words("Customer", super::or_dash(&car.job.customer.name))];
    match made {
        Some(o) => {
            fields.push(Fact::words("Offer", o.no.to_string()));
            fields.push(Fact::words("Made", words.day(o.at)));
            fields.push(Fact::words("Valid until", words.day(o.valid_until)));
        }
        None => fields.push(Fact::words("State", "draft, not yet offered")),
    }
    let mut doc = Document::new(Template::Offer, car_of(car, Template::Offer, fields));
    let options: Vec<(&OfferOption, Option<&DraftOption>)> = match made {
        Some(o) => o.options.iter().map(|x| (x, None)).collect(),
        None => view.draft.iter().map(|d| (&d.option, Some(d))).collect(),
    };
    let chosen = car.job.acceptance.as_ref().filter(|a| made.is_some_and(|o| o.no == a.offer));
    let cards: Vec<Card> = options
        .iter()
        .map(|(option, draft)| {
            let agreed = chosen.is_some_and(|a| a.option == option.id);
            card(&mut doc, car, option, *draft, agreed, chosen.is_some(), &words)
        })
        .collect();
    let found = counted(car.job.standing().count(), "thing", "things");
    let blocks = if cards.is_empty() {
        vec![missing("No options yet. They are worked out when the survey is closed.")]
    } else {
        vec![
            Block::paragraph(format!("We found {found} on this car. These are the ways to go on.")),
            Block::Cards { cards },
        ]
    };
    doc.section(Section::new("Ways to go on", blocks));
    let problems: Vec<Block> = options
        .iter()
        .filter_map(|(o, d)| d.and_then(|d| d.problem.as_ref()).map(|p| (o, p)))
        .map(|(o, p)| Block::Note {
            title: format!("{} cannot be done as it stands.", o.title),
            text: words.told(p),
        })
        .collect();
    if !problems.is_empty() && made.is_none() {
        doc.section(Section::new("What stands in the way", problems));
    }
    prices(&mut doc, &options, chosen.map(|a| a.option.as_str()), &words);
    let not = made.map_or(&view.not_attempted, |o| &o.not_attempted);
    let blocks = match not.as_slice() {
        [] => vec![Block::paragraph("Nothing that was asked for is left out.")],
        list => vec![Block::List { parts: list.iter().map(|l| words.told(l)).collect() }],
    };
    doc.section(Section::new("What we will not do", blocks));
    let mut terms = view.terms.clone();
    if !view.deposit.is_empty() {
        terms.push(view.deposit.clone());
    }
    let mut last = vec![if terms.is_empty() {
        missing("No terms are set in the shop's settings.")
    } else {
        Block::List { parts: terms }
    }];
    if let Some(a) = chosen.filter(|a| !a.strokes.is_empty()) {
        let alt = format!("Signature of {}", a.signed.name);
        last.push(doc.drawing(signature(&a.strokes), 30.0, &alt, ""));
    }
    last.push(match chosen {
        Some(a) => Block::Note {
            title: "Agreed.".into(),
            text: format!("{} agreed on {}.", a.signed.name, words.moment(a.signed.at)),
        },
        None => Block::Signatures { names: vec!["Option taken".into(), "Date".into(), "Customer".into()] },
    });
    doc.section(Section::new("Terms", last));
    doc
}

fn card(
    doc: &mut Document,
    car: &CarView,
    option: &OfferOption,
    draft: Option<&DraftOption>,
    agreed: bool,
    settled: bool,
    words: &Words,
) -> Card {
    let covered: Vec<PanelId> = studio::engine::film::covered(&option.order, car.body);
    let title = format!("Covered by film: {}", option.title);
    let hatched = sketch::hatched(&covered, Hatch::Film);
    let img = doc.picture(car_mini(car.body, &title, &hatched, true, Medium::Alone).into_bytes());
    let quote = &option.quote;
    let deposit = studio::view::deposit(quote.gross, &car.shop.settings.prices);
    let deposit = if deposit > units::Money::ZERO {
        format!(" Deposit on acceptance: {}.", words.money(deposit))
    } else {
        String::new()
    };
    // What an option was when it was made stands in the option; a draft has words of its own.
    let rows: Vec<Fact> = match draft {
        Some(d) => d.rows.iter().map(|(what, is)| Fact::words(what, words.told(is))).collect(),
        None => own_rows(option, covered.len(), words),
    };
    let tag = if agreed {
        Some("taken".to_owned())
    } else if option.advised && !settled {
        Some("advised".to_owned())
    } else {
        None
    };
    Card {
        title: option.title.clone(),
        tag,
        note: option.buys.clone(),
        picture: Some(Image { img, alt: title, caption: None }),
        price: words.money(quote.gross),
        range: String::new(),
        price_note: format!(
            "Fixed, tax included. The price holds in {:.0} of 100 such jobs; half of them come to {} or less.{deposit}",
            quote.held * 100.0,
            words.money(quote.likely)
        ),
        rows,
        chosen: agreed || (option.advised && !settled),
    }
}

/// Rows of the comparison from an option alone.
fn own_rows(option: &OfferOption, covered: usize, words: &Words) -> Vec<Fact> {
    let quote = &option.quote;
    let (area, unit) = words.area(quote.film);
    let film = match covered {
        0 => "none".to_owned(),
        n => format!("{}, {area} {unit} from the roll", counted(n, "panel", "panels")),
    };
    let coatings: Vec<&str> = option.order.coatings.iter().map(|c| c.title()).collect();
    vec![
        Fact::words("Film", film),
        Fact::words("Paint", option.order.finish.title()),
        Fact::words("Coating", super::or_dash(&coatings.join(", "))),
        Fact::words(
            "Work",
            format!("{} to {}", words.duration(quote.hours_p50), words.duration(quote.hours_p80)),
        ),
        Fact::words("Back", option.back_by.map_or("–".to_owned(), |t| words.moment(t))),
        Fact::words(
            "Renewed",
            match quote.replaced {
                r if r > 0.0 => format!("about {r:.1} pieces over the years reckoned"),
                _ => "–".to_owned(),
            },
        ),
    ]
}

/// Lines of the price, option by option; of the agreed one alone once there is one.
fn prices(
    doc: &mut Document,
    options: &[(&OfferOption, Option<&DraftOption>)],
    chosen: Option<&str>,
    words: &Words,
) {
    let shown = options.iter().filter(|(o, _)| chosen.is_none_or(|c| c == o.id) && !o.quote.lines.is_empty());
    let mut blocks = Vec::new();
    for (option, _) in shown {
        let quote = &option.quote;
        let mut rows: Vec<Vec<Cell>> = quote
            .lines
            .iter()
            .map(|l| {
                let quantity = Cell::Quiet { text: words.told(&l.quantity) };
                vec![Cell::text(words.told(&l.label)), quantity, Cell::figure(words.money(l.net), "")]
            })
            .collect();
        rows.push(vec![
            Cell::Quiet { text: "Net".into() },
            Cell::Blank,
            Cell::figure(words.money(quote.net), ""),
        ]);
        rows.push(vec![
            Cell::Quiet { text: "Tax".into() },
            Cell::Blank,
            Cell::figure(words.money(quote.tax), ""),
        ]);
        rows.push(vec![
            Cell::strong("To pay"),
            Cell::Quiet {
                text: format!(
                    "work {} to {} (half, eight of ten such jobs)",
                    words.duration(quote.hours_p50),
                    words.duration(quote.hours_p80)
                ),
            },
            Cell::Figure { value: words.money(quote.gross), pm: None, unit: None, strong: true },
        ]);
        blocks.push(Block::Heading { text: option.title.clone() });
        let columns = vec![Column::words("What"), Column::wide("How much"), Column::figures("Amount")];
        blocks.push(Block::table(columns, rows, ""));
    }
    if !blocks.is_empty() {
        doc.section(Section::new("What the price is made of", blocks));
    }
}
