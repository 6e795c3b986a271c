//! Panels in lists, and a place on the car as a form sends it.

use super::{Typed, capital};
use body::{Body, PanelKind, View};
use job::{PanelId, Place};
use studio::engine::WHOLE_CAR;
use units::Length;

/// All panels of a body to choose from, the whole car first.
pub(super) fn all(body: &Body) -> Vec<(String, String)> {
    let mut list = vec![(String::new(), "Choose a panel, or tap the drawing".to_owned())];
    list.push((WHOLE_CAR.to_owned(), "The whole car".to_owned()));
    list.extend(body.panels().iter().map(|p| (p.id.to_owned(), p.title.to_owned())));
    list
}

/// Painted panels of a body.
pub(super) fn painted(body: &Body) -> Vec<(String, String)> {
    let painted = body.panels().iter().filter(|p| p.kind == PanelKind::Paint);
    painted.map(|p| (p.id.to_owned(), p.title.to_owned())).collect()
}

/// Panels that can carry film.
pub(super) fn filmable(body: &Body) -> Vec<(String, String)> {
    let can = |k: PanelKind| matches!(k, PanelKind::Paint | PanelKind::Lamp);
    body.panels().iter().filter(|p| can(p.kind)).map(|p| (p.id.to_owned(), p.title.to_owned())).collect()
}

/// Names of panels in a line; many are counted.
pub(super) fn line(list: &[PanelId]) -> String {
    match list {
        [] => "the whole car".to_owned(),
        few if few.len() <= 5 => few.iter().map(|p| p.title().to_lowercase()).collect::<Vec<_>>().join(", "),
        many => format!("{} and {} more", line(&many[..4]), many.len() - 4),
    }
}

/// The same with a capital, for the beginning of a line.
pub(super) fn headline(list: &[PanelId]) -> String {
    capital(&line(list))
}

/// The place that a form names: a panel from the list, and the spot that was tapped on the drawing if it lies on that
/// panel. `known` is the spot that is kept while its panel stays.
pub(super) fn place(typed: &mut Typed, body: &Body, known: Option<&Place>) -> Place {
    let tapped = tapped(typed, body);
    let panel = match (typed.get("panel"), &tapped) {
        ("", Some(spot)) => spot.panel.clone(),
        ("", None) => {
            typed.complain("panel", "Choose a panel, or tap the drawing.");
            PanelId::default()
        }
        (panel, _) => panel.into(),
    };
    match (tapped, known) {
        (Some(spot), _) if spot.panel == panel => spot,
        (None, Some(spot)) if spot.panel == panel => spot.clone(),
        _ => Place { panel, u: None, v: None },
    }
}

/// What lies under the tapped spot: view by name, x and y in mm on its upright drawing.
fn tapped(typed: &Typed, body: &Body) -> Option<Place> {
    let view = View::from_name(typed.get("view"))?;
    let mm = |name: &str| typed.get(name).parse::<f64>().ok().filter(|x| x.is_finite()).map(Length::mm);
    let found = body.locate(view, mm("x")?, mm("y")?)?;
    let round = |x: f64| (x.clamp(0.0, 1.0) * 1000.0).round() / 1000.0;
    Some(Place::spot(found.panel, round(found.u), round(found.v)))
}
