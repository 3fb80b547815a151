//! Text and numbers as a page shows them.

/// Text that HTML takes for text, also inside an attribute.
pub fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            // Control characters are not allowed in HTML, and direction marks could turn a file name around.
            letter if letter.is_control() => escaped.push('\u{fffd}'),
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => escaped.push('\u{fffd}'),
            letter => escaped.push(letter),
        }
    }
    escaped
}

/// A number with a fixed count of decimals and a true minus sign; never −0.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.chars().all(|digit| matches!(digit, '0' | '.')) => digits.to_owned(),
        Some(digits) => format!("\u{2212}{digits}"),
        None => text,
    }
}

/// A coordinate: at most three decimals and no trailing zeros, with the minus sign that SVG reads.
pub fn coordinate(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// A unit as it is written.
pub fn unit_sign(unit: &str) -> &str {
    match unit {
        "deg" => "°",
        "um" => "µm",
        "mm2" => "mm²",
        "mm3" => "mm³",
        "pct" => "%",
        other => other,
    }
}

/// A number with its unit: `6.1°`, `1.44 mm` with a space that does not break.
pub fn with_unit(number: &str, unit: &str) -> String {
    match unit_sign(unit) {
        "" => number.into(),
        "°" => format!("{number}°"),
        sign => format!("{number}\u{a0}{sign}"),
    }
}

/// Decimals for numbers without a stated uncertainty.
pub fn usual_decimals(unit: &str) -> usize {
    match unit {
        "mm" | "" => 2,
        "um" => 0,
        _ => 1,
    }
}

/// The decimals that an uncertainty leaves: two digits of it where it begins with 1 or 2, else one.
pub fn decimals_for(u95: f64, unit: &str) -> usize {
    if !u95.is_finite() || u95 <= 0.0 {
        return usual_decimals(unit);
    }
    let first = u95.log10().floor();
    let leads_small = u95 / 10f64.powf(first) < 2.95;
    let decimals = -first + if leads_small { 1.0 } else { 0.0 };
    decimals.clamp(0.0, 4.0) as usize
}

/// Value and expanded uncertainty with as many decimals as the uncertainty leaves, which is rounded up, never down.
pub fn rounded_pair(value: f64, u95: Option<f64>, unit: &str) -> (String, Option<String>) {
    let Some(u95) = u95 else { return (fixed(value, usual_decimals(unit)), None) };
    let decimals = decimals_for(u95, unit);
    let tens = 10f64.powi(decimals as i32);
    // A hair less than the value itself, so that 0.02 does not become 0.03.
    let up = (u95 * tens - 1e-6).ceil().max(0.0) / tens;
    (fixed(value, decimals), Some(fixed(up, decimals)))
}

/// A word of an id as a word of a text.
pub fn plain(word: &str) -> String {
    word.replace(['_', '.'], " ")
}

/// The first letter made large.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_gets_out_of_a_text() {
        assert_eq!(
            escape("<img src='x' onerror=\"a&b\">"),
            "&lt;img src=&#39;x&#39; onerror=&quot;a&amp;b&quot;&gt;"
        );
        assert_eq!(escape("scan\u{202e}lts.exe\n"), "scan\u{fffd}lts.exe\u{fffd}");
    }

    #[test]
    fn a_value_has_the_digits_that_its_uncertainty_leaves() {
        let cases = [
            (1.4437, 0.034, "mm", "1.44", "0.04"),
            (1.4437, 0.0121, "mm", "1.444", "0.013"),
            (6.2406, 0.5443, "deg", "6.2", "0.6"),
            (210.3586, 0.8758, "mm3", "210.4", "0.9"),
            (-0.02, 0.3, "deg", "0.0", "0.3"),
            (-1.26, 0.3, "deg", "\u{2212}1.3", "0.3"),
            (0.5, 0.02, "mm", "0.500", "0.020"),
            (1234.0, 56.0, "um", "1234", "56"),
        ];
        for (value, u95, unit, shown, uncertainty) in cases {
            assert_eq!(rounded_pair(value, Some(u95), unit), (shown.into(), Some(uncertainty.into())));
        }
        assert_eq!(rounded_pair(0.41, None, "um"), ("0".into(), None));
    }

    #[test]
    fn the_shown_uncertainty_is_never_smaller_than_the_true_one() {
        for step in 1..4000 {
            let u95 = 0.00037 * f64::from(step);
            let (_, shown) = rounded_pair(1.0, Some(u95), "mm");
            let shown: f64 = shown.unwrap().parse().unwrap();
            assert!(shown >= u95 - 1e-6 && shown < 1.4 * u95 + 1e-4, "{u95} shown as {shown}");
        }
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(
            ["1.5", "0", "-2", "0.123"],
            [1.5, -0.0001, -2.0, 0.12345].map(coordinate).map(|t| t).each_ref().map(|t| t.as_str())
        );
    }
}
