//! Text for SVG.

/// A text as it may stand in SVG: marks of the language escaped, characters that XML cannot hold replaced.
///
/// `a < b & "c"` becomes `a &lt; b &amp; &quot;c&quot;`.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_of_a_name_is_taken_for_markup() {
        assert_eq!(escaped("</title><script>&\u{0}\n\"ä"), "&lt;/title&gt;&lt;script&gt;&amp;\u{fffd} &quot;ä");
    }
}
