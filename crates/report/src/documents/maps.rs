//! Panels with their readings and the contours of their clear coat, side by side.

use super::missing;
use crate::document::{Block, Document, Image};
use crate::drawing::{Hatch, Medium, panel_map};
use crate::sketch;
use crate::words::{Words, counted};
use job::Moment;
use studio::view::{CarView, NEAR_FLOOR, PanelSurvey};

/// Most maps in one document; the others are named as kept in the record.
const MOST: usize = 6;

/// Maps of panels at moments, the first of them when there are too many.
pub(super) fn maps<'a>(
    doc: &mut Document,
    car: &CarView,
    list: impl IntoIterator<Item = (&'a PanelSurvey, Moment)>,
    words: &Words,
) -> Vec<Block> {
    let placed = |(p, m): &(&PanelSurvey, Moment)| p.readings.iter().any(|r| r.2 == *m && r.0.is_some());
    let list: Vec<_> = list.into_iter().filter(placed).collect();
    let more = list.len().saturating_sub(MOST);
    let mut parts = Vec::new();
    let (mut lines, mut hatched) = (false, false);
    for (panel, moment) in list.into_iter().take(MOST) {
        let map = sketch::panel_map(panel, moment, words);
        let Some(svg) = panel_map(car.body, &map, Medium::Alone) else { continue };
        lines |= !map.contours.is_empty();
        hatched |= map.contours.iter().any(|c| c.hatch.is_some());
        let when = if moment == Moment::After { "after" } else { "before" };
        let read = counted(map.spots.len(), "reading", "readings");
        let alt = format!("{}: {read} {when} correction, on the outline", panel.title);
        let caption = format!("{}, total {when}, {}", panel.title, map.unit);
        parts.push(Image { img: doc.picture(svg.into_bytes()), alt, caption: Some(caption) });
    }
    if parts.is_empty() {
        return vec![missing(
            "No reading has its place on a panel, so no map can be drawn. Tap the panel when reading.",
        )];
    }
    let mut blocks = vec![Block::Photographs { columns: 2, height: 62.0, parts }];
    if lines {
        blocks.push(Block::Quiet {
            text: "Numbers at dots are readings of the total. Lines are levels of the clear coat as it is estimated \
                   between them; at a cross the next reading would tell most."
                .into(),
        });
    }
    if hatched {
        let (floor, unit) = (car.shop.settings.floor, words.thickness_unit());
        blocks.push(Block::key(&[
            (Hatch::Light, &format!("clear coat under {} {unit}", words.thickness(floor + NEAR_FLOOR))),
            (Hatch::Marked, &format!("under the floor of {} {unit}", words.thickness(floor))),
        ]));
    }
    if more > 0 {
        blocks.push(Block::Quiet {
            text: format!("{} more are kept in the record.", counted(more, "map", "maps")),
        });
    }
    blocks
}
