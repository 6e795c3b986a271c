//! The panels that a body can have: names, what they are made of, how they are worked on.

use crate::View;
use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// What the surface of a panel is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PanelKind {
    /// Painted.
    Paint,
    /// Window glass.
    Glass,
    /// A lamp lens.
    Lamp,
    /// Unpainted plastic, pillar covers, a bed floor.
    Trim,
    /// A soft top.
    Fabric,
    /// A wheel with its tire.
    Wheel,
}

/// What a panel is usually made of (common practice, no source: cars differ, and the shop says so in the
/// survey). A thickness gauge for metal reads nothing on the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Material {
    /// Steel or aluminum.
    Metal,
    /// Plastic: bumpers, mirrors, lamp lenses, pillar covers.
    Plastic,
    /// Window glass.
    Glass,
    /// The cloth of a soft top.
    Fabric,
}

/// One panel of one body.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Panel {
    /// The name in drawings and stored forms, such as `left_front_door`.
    pub id: &'static str,
    /// The name for people, such as "Left front door".
    pub title: &'static str,
    /// What its surface is.
    pub kind: PanelKind,
    /// What it is usually made of.
    pub usual_material: Material,
    /// Developed area, for planning film and product; never for cutting.
    pub area: Area,
    /// The view that shows it best; its `u`, `v` are measured there.
    pub main_view: View,
    /// Width of its bounding box in the main view.
    pub width: Length,
    /// Height of its bounding box in the main view.
    pub height: Length,
}

/// A row of the table of panels.
pub(crate) struct Name {
    pub id: &'static str,
    pub title: &'static str,
    /// The panel's mirror image, or itself if it spans both sides.
    pub mirror: &'static str,
    pub main_view: View,
}

macro_rules! names {
    ($(one $one:literal $one_title:literal $view:ident;)* $(pair $pair:literal $pair_title:literal $(end $end:ident)?;)*) => {
        &[
            $(Name { id: $one, title: $one_title, mirror: $one, main_view: View::$view },)*
            $(
                Name {
                    id: concat!("left_", $pair), title: concat!("Left ", $pair_title),
                    mirror: concat!("right_", $pair), main_view: names!(@view Left $($end)?),
                },
                Name {
                    id: concat!("right_", $pair), title: concat!("Right ", $pair_title),
                    mirror: concat!("left_", $pair), main_view: names!(@view Right $($end)?),
                },
            )*
        ]
    };
    (@view $side:ident $end:ident) => { View::$end };
    (@view $side:ident) => { View::$side };
}

/// Every panel that any body can have; lists of panels keep this order: the middle of the car from nose to
/// tail, then the sides from nose to tail, left before right.
pub(crate) const NAMES: &[Name] = names! {
    one "front_bumper" "Front bumper" Front;
    one "hood" "Hood" Top;
    one "windshield" "Windshield" Top;
    one "roof" "Roof" Top;
    one "rear_window" "Rear window" Top;
    one "trunk_lid" "Trunk lid" Top;
    one "tailgate" "Tailgate" Rear;
    one "bed_floor" "Bed floor" Top;
    one "rear_bumper" "Rear bumper" Rear;
    pair "headlamp" "headlamp";
    pair "front_fender" "front fender";
    pair "front_wheel" "front wheel";
    pair "mirror" "mirror";
    pair "front_door" "front door";
    pair "front_glass" "front glass";
    pair "b_pillar" "B-pillar";
    pair "rear_door" "rear door";
    pair "rear_glass" "rear glass";
    pair "c_pillar" "C-pillar";
    pair "cantrail" "cantrail";
    pair "soft_top_side" "soft top side";
    pair "rocker" "rocker";
    pair "quarter_panel" "quarter panel";
    pair "quarter_glass" "quarter glass";
    pair "bed_side" "bed side";
    pair "rear_wheel" "rear wheel";
    pair "cargo_door" "cargo door" end Rear;
    pair "taillamp" "taillamp";
};

/// The row of a panel; nothing if no body can have it.
pub(crate) fn name(id: &str) -> Option<&'static Name> {
    NAMES.iter().find(|n| n.id == id)
}

/// The mirror image of a panel; itself if it spans both sides.
pub(crate) fn mirror(id: &'static str) -> &'static str {
    name(id).map_or(id, |n| n.mirror)
}

/// What a panel is usually made of (common practice, no source).
pub(crate) fn usual_material(id: &str, kind: PanelKind) -> Material {
    match kind {
        PanelKind::Glass => Material::Glass,
        PanelKind::Fabric => Material::Fabric,
        PanelKind::Lamp | PanelKind::Trim => Material::Plastic,
        PanelKind::Paint if id.ends_with("_bumper") || id.ends_with("_mirror") => Material::Plastic,
        PanelKind::Paint | PanelKind::Wheel => Material::Metal,
    }
}
