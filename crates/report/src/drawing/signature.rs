//! A signature as it was drawn.

use job::Strokes;
use std::fmt::Write;

/// The strokes as the `d` of a path on a field of [`Strokes::FIELD`].
pub fn signature_path(strokes: &Strokes) -> String {
    let mut d = String::new();
    for stroke in &strokes.0 {
        for (i, [x, y]) in stroke.iter().enumerate() {
            // writing to a text cannot fail
            let _ = write!(d, "{}{x} {y}", if i == 0 { 'M' } else { 'L' });
        }
        if stroke.len() == 1 {
            d.push_str("h1");
        }
    }
    d
}

/// A drawing of its own, for documents.
pub fn signature(strokes: &Strokes) -> String {
    let [wide, high] = Strokes::FIELD;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" width=\"{wide}\" height=\"{high}\"><path d=\"{}\" fill=\"none\" stroke=\"#111\" stroke-width=\"5\" stroke-linecap=\"round\" stroke-linejoin=\"round\"/></svg>",
        signature_path(strokes)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_become_a_path_and_a_dot_is_seen() {
        let strokes = Strokes(vec![vec![[10, 20], [30, 5]], vec![[7, 7]]]);
        assert_eq!(signature_path(&strokes), "M10 20L30 5M7 7h1");
        assert!(signature(&strokes).contains("viewBox=\"0 0 1000 250\""));
    }
}
