//! Tables for people.

/// Prints rows under a heading, columns as wide as their widest cell; columns named in `right` stand right.
pub fn print(head: &[&str], rows: &[Vec<String>], right: &[usize]) {
    let mut widths: Vec<usize> = head.iter().map(|h| h.chars().count()).collect();
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    let line = |cells: &[String]| {
        let mut text = String::new();
        for (i, (cell, width)) in cells.iter().zip(&widths).enumerate() {
            let pad = " ".repeat(width.saturating_sub(cell.chars().count()));
            if right.contains(&i) {
                text.push_str(&pad);
                text.push_str(cell);
            } else {
                text.push_str(cell);
                text.push_str(&pad);
            }
            text.push_str("  ");
        }
        println!("{}", text.trim_end());
    };
    line(&head.iter().map(|h| (*h).to_owned()).collect::<Vec<_>>());
    line(&widths.iter().map(|w| "─".repeat(*w)).collect::<Vec<_>>());
    rows.iter().for_each(|r| line(r));
}
