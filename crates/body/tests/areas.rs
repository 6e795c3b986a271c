//! Areas of panels.

use body::{Body, Material, PanelKind, Style};

#[test]
fn right_panels_have_the_area_of_left_ones() {
    for style in Style::ALL {
        let body = Body::of(style);
        for left in body.panels().iter().filter(|p| p.id.starts_with("left_")) {
            let right = body.panel(&left.id.replace("left_", "right_")).unwrap();
            assert_eq!((left.area, left.kind), (right.area, right.kind), "{}", left.id);
        }
    }
}

/// A flat panel seen square on has the area of its outline; slope and crown only add. Lamps and mirrors have
/// more surface than the box they are drawn in, and bumpers and lids are seen in two views.
#[test]
fn no_door_is_smaller_than_its_outline() {
    for style in Style::ALL {
        let body = Body::of(style);
        for panel in
            body.panels().iter().filter(|p| p.id.contains("_door") || p.id == "hood" || p.id == "roof")
        {
            let outline = plane::Outline::new(body.outline(panel.id).unwrap()).unwrap();
            let share = panel.area / outline.area();
            assert!((0.99..2.0).contains(&share), "{} of {}: {share}", panel.id, style.name());
        }
    }
}

/// Common practice, no source: bumpers and mirrors are painted plastic, so a gauge for metal reads nothing.
#[test]
fn materials_are_the_usual_ones() {
    for style in Style::ALL {
        for panel in Body::of(style).panels() {
            let id = panel.id;
            let expected = match panel.kind {
                PanelKind::Glass => Material::Glass,
                PanelKind::Fabric => Material::Fabric,
                PanelKind::Lamp | PanelKind::Trim => Material::Plastic,
                PanelKind::Paint if ["bumper", "mirror"].iter().any(|n| id.ends_with(n)) => Material::Plastic,
                PanelKind::Paint | PanelKind::Wheel => Material::Metal,
            };
            assert_eq!(panel.usual_material, expected, "{id}");
        }
    }
    let roof = Body::of(Style::Convertible).panel("roof").unwrap();
    assert_eq!(roof.usual_material, Material::Fabric);
}
