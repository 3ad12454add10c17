//! Dumps as text: hexadecimal bytes or words, as people have them from whatever printed them.

use super::error::SpdError;

/// No dump of a module has addresses near it.
const HIGHEST_ADDRESS: usize = 1 << 16;

/// A line with something in it, without its comment.
#[derive(Debug, Clone, Copy)]
struct Line<'a> {
    number: usize,
    text: &'a str,
}

/// The words of a dump, each with its bytes in the order in which they are printed.
pub(super) fn words(text: &str) -> Result<Vec<Vec<u8>>, SpdError> {
    let lines = lines(text);
    let Some(first) = lines.first() else { return Err(SpdError::Empty) };
    if !has_addresses(*first) {
        return plain(&lines);
    }
    // Addresses are hexadecimal, or as some print them octal or decimal: the base is right in which they go on.
    let read = addressed(&lines, 16);
    if read.is_ok() {
        return read;
    }
    [8, 10].into_iter().find_map(|base| addressed(&lines, base).ok()).map_or(read, Ok)
}

/// The lines of a text that may have bytes in them.
fn lines(text: &str) -> Vec<Line<'_>> {
    let text = text.trim_start_matches('\u{feff}');
    let numbered =
        (1..).zip(text.lines()).map(|(number, text)| Line { number, text: without_comment(text).trim() });
    let lines: Vec<Line> = numbered.filter(|line| !line.text.is_empty() && !is_header(line.text)).collect();
    // An array in source text: what is between the braces.
    let Some(open) = lines.iter().position(|line| line.text.ends_with("= {") || line.text.ends_with("={"))
    else {
        return lines;
    };
    let inside = lines.iter().skip(open + 1).take_while(|line| !line.text.starts_with('}'));
    inside.copied().collect()
}

fn without_comment(text: &str) -> &str {
    let end = [text.find('#'), text.find("//")].into_iter().flatten().min().unwrap_or(text.len());
    text.get(..end).unwrap_or(text)
}

/// Whether a line only numbers the columns below it: `0 1 2 3 …` or `00 01 02 03 …`.
fn is_header(text: &str) -> bool {
    let mut numbered = 0;
    for (at, token) in tokens(text).enumerate().take(8) {
        let own = usize::from_str_radix(token, 16);
        if own != Ok(at) || token.len() > 2 {
            return false;
        }
        numbered += 1;
    }
    numbered == 8
}

fn tokens(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| c.is_whitespace() || ",;{}".contains(c)).filter(|token| !token.is_empty())
}

/// Whether there is an address in front: one with a colon, or zero, which no contents begin with.
fn has_addresses(first: Line) -> bool {
    let mut tokens = tokens(first.text);
    let Some(token) = tokens.next() else { return false };
    let is_zero = digits(token).chars().all(|c| c == '0') && tokens.next().is_some();
    is_zero || token.strip_suffix(':').is_some_and(|address| !address.contains(':'))
}

fn digits(token: &str) -> &str {
    token.strip_prefix("0x").or(token.strip_prefix("0X")).or(token.strip_prefix("\\x")).unwrap_or(token)
}

/// Words without addresses: all that is there.
fn plain(lines: &[Line]) -> Result<Vec<Vec<u8>>, SpdError> {
    let mut words = Vec::new();
    for line in lines {
        let text = line.text.split('|').next().unwrap_or_default();
        for token in text.split(':').flat_map(tokens) {
            words.push(word(token).ok_or_else(|| not_a_word(*line, token))?);
        }
    }
    Ok(words)
}

/// A line with its address taken apart.
struct Row<'a> {
    line: Line<'a>,
    address: usize,
    rest: &'a str,
    /// Whether lines like this one are left out after it.
    repeated: bool,
}

/// Words with addresses in front, from which it follows how many bytes each line has: whatever is behind them are the same
/// bytes as characters. Pages may each begin with address 0.
fn addressed(lines: &[Line], base: u32) -> Result<Vec<Vec<u8>>, SpdError> {
    let rows = rows(lines, base)?;
    let width = width(&rows);
    let mut words = Vec::new();
    // Bytes of this page, and of those before it.
    let (mut at, mut before) = (0, 0);
    for (index, row) in rows.iter().enumerate() {
        if row.address == 0 {
            before += at;
            at = 0;
        }
        // Few lines can stand for many bytes.
        if before > HIGHEST_ADDRESS {
            return Err(SpdError::TooLarge { length: before });
        }
        if row.address != at {
            return Err(SpdError::Gap { line: row.line.number, found: row.address, expected: at });
        }
        let next = rows.get(index + 1).map(|next| next.address).filter(|next| *next != 0);
        let adjacent = next.filter(|_| !row.repeated).map(|next| next.saturating_sub(row.address));
        let whole = width.unwrap_or(usize::MAX);
        // More than a line has is missing lines, which the next address shows.
        let needed = adjacent.unwrap_or(whole).min(whole);
        let own = take(row, needed, adjacent.is_some() || (row.repeated && width.is_some()))?;
        let length: usize = own.iter().map(Vec::len).sum();
        at += length;
        words.extend(own.iter().cloned());
        while row.repeated && length > 0 && next.is_some_and(|next| at < next) {
            words.extend(own.iter().cloned());
            at += length;
        }
    }
    Ok(words)
}

fn rows<'a>(lines: &[Line<'a>], base: u32) -> Result<Vec<Row<'a>>, SpdError> {
    let mut rows: Vec<Row> = Vec::new();
    for line in lines {
        if line.text == "*" {
            if let Some(row) = rows.last_mut() {
                row.repeated = true;
            }
            continue;
        }
        let (token, rest) = line.text.split_once(char::is_whitespace).unwrap_or((line.text, ""));
        let address = usize::from_str_radix(digits(token.trim_end_matches([':', ','])), base);
        let address = address.map_err(|_| text_error(*line, token, "an address, as in the lines before"))?;
        if address > HIGHEST_ADDRESS {
            return Err(SpdError::TooLarge { length: address });
        }
        rows.push(Row { line: *line, address, rest, repeated: false });
    }
    Ok(rows)
}

/// Bytes of a line: the least step between two addresses.
fn width(rows: &[Row]) -> Option<usize> {
    let steps = rows.iter().zip(rows.iter().skip(1)).filter(|(row, _)| !row.repeated);
    steps.filter_map(|(row, next)| next.address.checked_sub(row.address)).filter(|step| *step > 0).min()
}

/// The words of the `needed` bytes of a row; fewer only where the row need not be whole.
fn take(row: &Row, needed: usize, whole: bool) -> Result<Vec<Vec<u8>>, SpdError> {
    let (mut words, mut length) = (Vec::new(), 0);
    for token in tokens(row.rest) {
        if length >= needed {
            break;
        }
        match word(token).filter(|word| length + word.len() <= needed) {
            Some(word) => {
                length += word.len();
                words.push(word);
            }
            None if whole || is_unreadable(token) => return Err(not_a_word(row.line, token)),
            None => break,
        }
    }
    if whole && length < needed {
        return Err(text_error(row.line, row.rest.trim(), "as many bytes as the addresses say"));
    }
    Ok(words)
}

/// The bytes of a word in the order of its digits; a single digit only behind `0x`.
fn word(token: &str) -> Option<Vec<u8>> {
    let digits = digits(token);
    if !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    if digits.len() == 1 && digits.len() < token.len() {
        return u8::from_str_radix(digits, 16).ok().map(|byte| vec![byte]);
    }
    if digits.is_empty() || !digits.len().is_multiple_of(2) {
        return None;
    }
    (0..digits.len()).step_by(2).map(|at| u8::from_str_radix(digits.get(at..at + 2)?, 16).ok()).collect()
}

/// What stands where a byte could not be read.
fn is_unreadable(token: &str) -> bool {
    matches!(token, "XX" | "xx" | "??" | "--" | "UU")
}

fn not_a_word(line: Line, token: &str) -> SpdError {
    if is_unreadable(token) {
        return SpdError::Unreadable { line: line.number, found: token.to_owned() };
    }
    text_error(line, token, "bytes in hexadecimal, such as 92 or 0x92")
}

fn text_error(line: Line, found: &str, expected: &'static str) -> SpdError {
    SpdError::Text { line: line.number, found: found.chars().take(40).collect(), expected }
}
