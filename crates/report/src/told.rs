//! Quantities inside sentences, in US units: views say them in SI, such as `2.10 m of a 1520 mm roll`. What stands between
//! single quotes is somebody's own word, a name or what was typed, and stays as it is.

/// A unit of views, and what stands for it in US units.
pub(crate) struct Unit {
    name: &'static str,
    /// The US unit.
    pub us: &'static str,
    factor: f64,
    /// What is added after the factor.
    plus: f64,
    /// Digits after the point that a whole number gains, and one that has some already.
    gained: [i32; 2],
}

const fn unit(name: &'static str, us: &'static str, factor: f64, gained: [i32; 2]) -> Unit {
    Unit { name, us, factor, plus: 0.0, gained }
}

/// Kilometers of a mile (international mile, 1609.344 m).
pub const MILE_KM: f64 = 1.609_344;

const UNITS: [Unit; 10] = [
    // NIST SP 811 (2008), appendix B.8, from the inch of 25.4 mm and the gallon of 231 cubic inches.
    // A whole micron decides over paint, and a tenth of a mil would hide it.
    unit("µm", "mil", 1.0 / 25.4, [2, 1]),
    unit("mm", "in", 1.0 / 25.4, [1, 1]),
    unit("m²", "ft²", 1.0 / 0.092_903_04, [-1, -1]),
    unit("m³", "ft³", 1.0 / 0.028_316_846_592, [-1, -1]),
    unit("mL", "fl oz", 1.0 / 29.573_529_562_5, [1, 1]),
    Unit { plus: 32.0, ..unit("°C", "°F", 1.8, [0, 0]) },
    unit("km", "mi", 1.0 / MILE_KM, [0, 0]),
    unit("m", "ft", 1.0 / 0.3048, [-1, -1]),
    unit("L", "gal", 1.0 / 3.785_411_784, [1, 1]),
    // a difference of temperatures
    unit("K", "°F", 1.8, [0, 0]),
];

impl Unit {
    /// The unit of this name.
    pub fn named(name: &str) -> Option<&'static Unit> {
        UNITS.iter().find(|u| u.name == name)
    }

    /// A number in the US unit, and digits after its point; `difference` is a half-width.
    pub fn converted(&self, number: &str, difference: bool) -> Option<(f64, usize)> {
        let plain = number.replace([',', '\u{a0}'], "").replace('−', "-");
        let value: f64 = plain.parse().ok()?;
        let fraction = plain.split_once('.').map(|(_, digits)| digits.len() as i32);
        let gained = self.gained[usize::from(fraction.is_some())];
        let digits = (fraction.unwrap_or(0) + gained).max(0) as usize;
        let there = value * self.factor + if difference { 0.0 } else { self.plus };
        Some((there, digits_that_tell(there, digits)))
    }
}

/// What may stand between the numbers of a range that shares its unit.
const BETWEEN: [&str; 6] = [" to ", " ± ", " × ", " → ", " and ", "–"];

/// A text with every quantity in US units.
pub(crate) fn in_us_units(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    let mut before = ' ';
    while let Some(first) = rest.chars().next() {
        if first == '\''
            && !before.is_alphanumeric()
            && let Some(end) = quoted(rest)
        {
            let (own, after) = rest.split_at(end);
            out.push_str(own);
            rest = after;
            before = 'x';
            continue;
        }
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

/// Where the quotation that a text begins with ends: at a quote that no letter follows, as one does in `it's`.
fn quoted(text: &str) -> Option<usize> {
    let ends = text.match_indices('\'').skip(1).map(|(i, _)| i + 1);
    ends.into_iter().find(|end| !text[*end..].starts_with(char::is_alphanumeric))
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
    let unit = UNITS.iter().find(|unit| {
        rest.strip_prefix(unit.name).is_some_and(|after| {
            !after.chars().next().is_some_and(|c| c.is_alphanumeric() || matches!(c, '²' | '³' | '/' | '-'))
        })
    })?;
    rest = &rest[unit.name.len()..];
    let mut told: Vec<(f64, usize)> = Vec::new();
    for (joint, number) in &parts {
        let half = joint.contains('±');
        let (value, mut digits) = unit.converted(number, half)?;
        // a figure and its half-width are equally fine
        if half && let Some(of) = told.last_mut() {
            digits = digits.max(of.1);
            of.1 = digits;
        }
        told.push((value, digits));
    }
    let mut out = String::new();
    for ((joint, number), (value, digits)) in parts.iter().zip(told) {
        let sign = if number.starts_with('+') && value >= 0.0 { "+" } else { "" };
        out.push_str(&format!("{joint}{sign}{value:.digits$}"));
    }
    out.push(gap);
    out.push_str(unit.us);
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

/// Digits after the point, more of them where these would tell something as nothing.
pub(crate) fn digits_that_tell(value: f64, digits: usize) -> usize {
    let tells = |d: &usize| format!("{value:.d$}").contains(|c: char| ('1'..='9').contains(&c));
    if value == 0.0 { digits } else { (digits..=3).find(tells).unwrap_or(digits) }
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
            ("46 ± 1 µm", "1.81 ± 0.04 mil"),
            ("up to 3.0 µm of 8 µm allowed", "up to 0.12 mil of 0.31 mil allowed"),
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
            "There is no product '12 mm tape'",
            "'Nadia's 3 m squeegee'",
        ] {
            assert_eq!(in_us_units(text), text);
        }
    }
}
