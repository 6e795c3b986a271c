//! Quantities inside sentences, in US units: views say them in SI, such as `2.10 m of a 1520 mm roll`.

/// A unit of views: factor to the US unit, digits gained, the US unit, what is added after the factor.
const UNITS: [(&str, f64, i32, &str, f64); 10] = [
    // NIST SP 811 (2008), appendix B.8, from the inch of 25.4 mm and the gallon of 231 cubic inches.
    ("µm", 1.0 / 25.4, 1, "mil", 0.0),
    ("mm", 1.0 / 25.4, 1, "in", 0.0),
    ("m²", 1.0 / 0.092_903_04, -1, "ft²", 0.0),
    ("m³", 1.0 / 0.028_316_846_592, -1, "ft³", 0.0),
    ("mL", 1.0 / 29.573_529_562_5, 1, "fl oz", 0.0),
    ("°C", 1.8, 0, "°F", 32.0),
    ("km", 1.0 / 1.609_344, 0, "mi", 0.0),
    ("m", 1.0 / 0.3048, -1, "ft", 0.0),
    ("L", 1.0 / 3.785_411_784, 1, "gal", 0.0),
    // a difference of temperatures
    ("K", 1.8, 0, "°F", 0.0),
];

/// What may stand between the numbers of a range that shares its unit.
const BETWEEN: [&str; 6] = [" to ", " ± ", " × ", " → ", " and ", "–"];

/// A text with every quantity in US units.
pub(crate) fn in_us_units(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before = ' ';
    while let Some(first) = rest.chars().next() {
        let begins = !before.is_alphanumeric() && !matches!(before, '.' | ',' | '-' | '_' | '#');
        if begins && let Some((said, after)) = quantity(rest) {
            out.push_str(&said);
            rest = after;
            before = 'x';
            continue;
        }
        out.push(first);
        before = first;
        rest = &rest[first.len_utf8()..];
    }
    out
}

/// A quantity at the beginning of a text in US units, and what follows it.
fn quantity(text: &str) -> Option<(String, &str)> {
    let mut parts: Vec<(&str, &str)> = Vec::new();
    let mut joint = "";
    let mut rest = text;
    loop {
        let (number, after) = number(rest)?;
        parts.push((joint, number));
        rest = after;
        match BETWEEN.iter().find_map(|j| Some((*j, rest.strip_prefix(j)?))) {
            Some((j, after)) => (joint, rest) = (j, after),
            None => break,
        }
    }
    let gap = rest.chars().next().filter(|c| matches!(c, ' ' | '\u{a0}' | '\u{202f}'))?;
    rest = &rest[gap.len_utf8()..];
    let (name, factor, more, unit, plus) = UNITS.into_iter().find(|(name, ..)| {
        rest.strip_prefix(name).is_some_and(|after| {
            !after.chars().next().is_some_and(|c| c.is_alphanumeric() || matches!(c, '²' | '³' | '/' | '-'))
        })
    })?;
    rest = &rest[name.len()..];
    let mut out = String::new();
    let last = parts.len() - 1;
    for (i, (joint, number)) in parts.iter().enumerate() {
        // the half-width of a temperature is a difference
        let plus = if joint.contains('±') { 0.0 } else { plus };
        out.push_str(joint);
        out.push_str(&converted(number, factor, more, plus)?);
        if i == last {
            out.push(gap);
            out.push_str(unit);
        }
    }
    Some((out, rest))
}

/// A number at the beginning of a text, and what follows it.
fn number(text: &str) -> Option<(&str, &str)> {
    let mut end = 0;
    let (mut digits, mut point) = (0, false);
    for (i, c) in text.char_indices() {
        let next_is_digit = text[i + c.len_utf8()..].chars().next().is_some_and(|n| n.is_ascii_digit());
        match c {
            '-' | '−' | '+' if i == 0 && next_is_digit => {}
            '0'..='9' => digits += 1,
            '.' if !point && digits > 0 && next_is_digit => point = true,
            ',' if !point && digits > 0 && next_is_digit => {}
            _ => break,
        }
        end = i + c.len_utf8();
    }
    (digits > 0).then(|| text.split_at(end))
}

fn converted(number: &str, factor: f64, more: i32, plus: f64) -> Option<String> {
    let plain = number.replace(',', "").replace('−', "-");
    let value: f64 = plain.parse().ok()?;
    let digits = (plain.split_once('.').map_or(0, |(_, d)| d.len() as i32) + more).max(0) as usize;
    let there = value * factor + plus;
    // something is never told as nothing
    let digits = (digits..=3)
        .find(|d| there == 0.0 || format!("{there:.d$}").contains(|c: char| ('1'..='9').contains(&c)))
        .unwrap_or(digits);
    let sign = if number.starts_with('+') && there >= 0.0 { "+" } else { "" };
    Some(format!("{sign}{there:.digits$}"))
}

#[cfg(test)]
mod tests {
    use super::in_us_units;

    #[test]
    fn quantities_in_sentences_are_told_in_us_units() {
        // NIST SP 811, appendix B.8: 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 mil = 25.4 µm, °F = 1.8 °C + 32.
        for (si, us) in [
            ("Film, 2.10 m of a 1520 mm roll", "Film, 6.9 ft of a 59.8 in roll"),
            ("41.2 ± 2.5 µm", "1.62 ± 0.10 mil"),
            ("up to 3.0 µm of 8 µm allowed", "up to 0.12 mil of 0.3 mil allowed"),
            ("a width from 50 to 5000 mm", "a width from 2.0 to 196.9 in"),
            (
                "surface 16.0 °C, dew point 13.2 °C: 2.8 K over it",
                "surface 60.8 °F, dew point 55.8 °F: 5.0 °F over it",
            ),
            ("20.0 ± 0.5 °C", "68.0 ± 0.9 °F"),
            ("190 mL in 4.0 L of water", "6.4 fl oz in 1.06 gal of water"),
            ("12 panels, 4.5 m² from the roll", "12 panels, 48 ft² from the roll"),
            ("3 mm", "0.1 in"),
            ("1 µm", "0.04 mil"),
        ] {
            assert_eq!(in_us_units(si), us);
        }
    }

    #[test]
    fn what_is_no_quantity_stays() {
        for text in [
            "45 min",
            "3 months, 2 L-shaped",
            "roll R-15 m",
            "step 7 Mask",
            "12 °",
            "5 m/s",
            "100 ppm",
            "2026-05-13 16:00",
            "",
            "…",
            "4 K9",
            "µm",
            "a m²",
            "Lot L101",
        ] {
            assert_eq!(in_us_units(text), text);
        }
    }
}
