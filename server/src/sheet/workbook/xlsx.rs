//! Workbooks of Office Open XML (ECMA-376), as far as a table needs: names of the sheets, shared texts, which formats
//! are dates, and the cells of a sheet as they stream by.
//!
//! Nothing but the shared texts and a list of formats is kept, each within a bound.

use super::super::Limits;
use super::super::fault::SheetFault;
use super::package::{Package, Part, attribute, push_entity};
use super::table::{Merged, Table};
use super::value::{Value, moment};
use quick_xml::events::{BytesStart, Event};
use std::collections::HashMap;

/// Sheets, formats and the like that are looked at.
const MOST_LISTED: usize = 65_536;
/// Merged places that are followed.
const MOST_MERGED: usize = 100_000;

/// A workbook, ready to hand out its sheets.
pub(super) struct Xlsx {
    /// Name, part, and whether it is hidden.
    pub(super) sheets: Vec<(String, String, bool)>,
    texts: Texts,
    /// For each format of cells, whether it shows a moment.
    moments: Vec<bool>,
    from_1904: bool,
}

/// The shared texts of a workbook, end to end in one string.
#[derive(Default)]
struct Texts {
    all: String,
    ends: Vec<usize>,
}

impl Texts {
    fn get(&self, k: usize) -> Option<&str> {
        let end = *self.ends.get(k)?;
        let start = k.checked_sub(1).map_or(0, |before| self.ends[before]);
        self.all.get(start..end)
    }
}

impl Xlsx {
    pub(super) fn open(package: &mut Package, limits: &Limits) -> Result<Self, SheetFault> {
        let main = main_part(package)?;
        let folder = main.rsplit_once('/').map_or("", |(folder, _)| folder).to_owned();
        let file = main.rsplit('/').next().unwrap_or_default();
        let relations = relations(package, &format!("{folder}/_rels/{file}.rels"), &folder)?;
        let of_kind = |kind: &str| relations.values().find(|(k, _)| k == kind).map(|(_, part)| part.clone());
        let (listed, from_1904) = workbook(package, &main)?;
        let sheets = listed
            .into_iter()
            .filter_map(|(name, id, hidden)| {
                let (kind, part) = relations.get(&id)?;
                (kind == "worksheet").then(|| (name, part.clone(), hidden))
            })
            .collect();
        let texts = of_kind("sharedStrings").map_or_else(|| Ok(Texts::default()), |part| texts(package, &part, limits))?;
        let moments = of_kind("styles").map_or_else(|| Ok(Vec::new()), |part| moments(package, &part))?;
        Ok(Self { sheets, texts, moments, from_1904 })
    }

    /// Puts the rows of a sheet into a table. `merged` are its merged cells, in order of their first row, as far as they
    /// are known; those that the sheet has come back.
    pub(super) fn rows(
        &self,
        package: &mut Package,
        part: &str,
        merged: &[Merged],
        table: &mut Table<'_>,
        limits: &Limits,
    ) -> Result<Vec<Merged>, SheetFault> {
        let mut part = package.part(part)?.ok_or_else(|| SheetFault::damaged("a sheet that it names is not there"))?;
        let mut buffer = Vec::new();
        let mut cells: Vec<Value> = Vec::new();
        let mut found = Vec::new();
        let (mut row, mut column) = (0_u64, 0);
        let mut merged = merged.iter().peekable();
        loop {
            match part.next(&mut buffer)? {
                Event::Start(tag) => match tag.local_name().as_ref() {
                    "row" => {
                        cells.clear();
                        column = 0;
                        if let Some(r) = attribute(&tag, "r") {
                            row = r
                                .parse::<u64>()
                                .ok()
                                .and_then(|r| r.checked_sub(1))
                                .ok_or_else(|| SheetFault::damaged("a row has no number"))?;
                        }
                    }
                    "c" => {
                        if let Some(r) = attribute(&tag, "r") {
                            column = column_of(&r).ok_or_else(|| SheetFault::damaged("a cell has no place"))?;
                        }
                        let format = attribute(&tag, "s").and_then(|s| s.parse::<usize>().ok());
                        let kind = attribute(&tag, "t").map(|t| t.into_owned()).unwrap_or_default();
                        let value = self.cell(&mut part, &mut buffer, &kind, format, &mut table.unworked, limits)?;
                        if value != Value::Empty {
                            if column >= limits.most_columns {
                                return Err(SheetFault::TooManyColumns { row: row + 1, found: column + 1, allowed: limits.most_columns });
                            }
                            if cells.len() <= column {
                                cells.resize(column + 1, Value::Empty);
                            }
                            cells[column] = value;
                        }
                        column += 1;
                    }
                    "mergeCell" if found.len() < MOST_MERGED => found.extend(attribute(&tag, "ref").and_then(|r| merged_of(&r))),
                    _ => {}
                },
                Event::End(tag) if tag.local_name().as_ref() == "row" => {
                    while merged.peek().is_some_and(|m| m.row < row) {
                        merged.next();
                    }
                    let starts: Vec<(&Merged, Value)> = std::iter::from_fn(|| merged.next_if(|m| m.row == row))
                        .map(|m| (m, cells.get(m.column).cloned().unwrap_or_default()))
                        .collect();
                    table.row(row, &mut cells)?;
                    for (merged, value) in starts {
                        table.merge(merged, &value);
                    }
                    if table.is_full() {
                        return Ok(found);
                    }
                    row += 1;
                }
                Event::Eof => break,
                _ => {}
            }
        }
        found.sort_by_key(|m| (m.row, m.column));
        Ok(found)
    }

    /// The value of a cell whose tag has just been read.
    fn cell(
        &self,
        part: &mut Part<'_>,
        buffer: &mut Vec<u8>,
        kind: &str,
        format: Option<usize>,
        unworked: &mut u64,
        limits: &Limits,
    ) -> Result<Value, SheetFault> {
        let (mut value, mut formula, mut inline) = (None, None, String::new());
        loop {
            match part.next(buffer)? {
                Event::Start(tag) => match tag.local_name().as_ref() {
                    "v" => value = Some(text_until(part, buffer, "v", limits)?),
                    "f" => formula = Some(text_until(part, buffer, "f", limits)?),
                    "is" => inline = rich_text(part, buffer, "is", limits)?,
                    _ => {}
                },
                Event::End(tag) if tag.local_name().as_ref() == "c" => break,
                Event::Eof => return Err(SheetFault::damaged("it ends within a cell")),
                _ => {}
            }
        }
        let Some(value) = value.filter(|v| !v.is_empty()) else {
            if let Some(formula) = formula.filter(|_| inline.is_empty()) {
                *unworked += 1;
                return Ok(Value::Text(format!("={formula}")));
            }
            return Ok(if inline.is_empty() { Value::Empty } else { Value::Text(inline) });
        };
        Ok(match kind {
            "s" => {
                let text = value.trim().parse().ok().and_then(|k| self.texts.get(k));
                let text = text.ok_or_else(|| SheetFault::damaged("a cell names a text that is not there"))?;
                if text.is_empty() { Value::Empty } else { Value::Text(text.into()) }
            }
            "b" => Value::Truth(matches!(value.trim(), "1" | "true")),
            "str" | "e" => Value::Text(unescaped(value)),
            "d" => Value::Moment(value.trim().split(['.', 'Z']).next().unwrap_or_default().into()).checked(),
            _ => match value.trim().parse::<f64>() {
                Ok(number) if format.and_then(|k| self.moments.get(k)) == Some(&true) => {
                    moment(number, self.from_1904).map_or(Value::Number(number), Value::Moment)
                }
                Ok(number) if number.is_finite() => Value::Number(number),
                _ => Value::Text(value),
            },
        })
    }
}

impl Value {
    /// A moment that is none is a text.
    pub(super) fn checked(self) -> Self {
        match self {
            Self::Moment(text) if !super::value::is_moment(&text) => Self::Text(text),
            other => other,
        }
    }
}

/// The part that lists the sheets.
fn main_part(package: &mut Package) -> Result<String, SheetFault> {
    let relations = relations(package, "_rels/.rels", "")?;
    let main = relations.into_values().find(|(kind, _)| kind == "officeDocument").map(|(_, part)| part);
    main.ok_or_else(|| SheetFault::damaged("it does not say where its sheets are listed"))
}

/// Relations by their id: the last word of their kind, and the part they lead to.
fn relations(package: &mut Package, name: &str, folder: &str) -> Result<HashMap<String, (String, String)>, SheetFault> {
    let mut relations = HashMap::new();
    let Some(mut part) = package.part(name.trim_start_matches('/'))? else { return Ok(relations) };
    let mut buffer = Vec::new();
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) if tag.local_name().as_ref() == "Relationship" => {
                let (Some(id), Some(kind), Some(target)) = (attribute(&tag, "Id"), attribute(&tag, "Type"), attribute(&tag, "Target"))
                else {
                    continue;
                };
                let kind = kind.rsplit('/').next().unwrap_or_default().to_owned();
                if relations.len() < MOST_LISTED {
                    relations.insert(id.into_owned(), (kind, resolved(folder, &target)));
                }
            }
            Event::Eof => return Ok(relations),
            _ => {}
        }
    }
}

/// The name of a part that a relation leads to, from the folder that the relation speaks from.
fn resolved(folder: &str, target: &str) -> String {
    let whole = if target.starts_with('/') || folder.is_empty() { target.to_owned() } else { format!("{folder}/{target}") };
    let mut steps: Vec<&str> = Vec::new();
    for step in whole.split('/') {
        match step {
            "" | "." => {}
            ".." => drop(steps.pop()),
            step => steps.push(step),
        }
    }
    steps.join("/")
}

/// A sheet: its name, the id of its relation, and whether it is shown or hidden, as the workbook lists it.
type Listed = (String, String, bool);

/// The sheets with the ids of their relations, and whether days count from 1904.
fn workbook(package: &mut Package, name: &str) -> Result<(Vec<Listed>, bool), SheetFault> {
    let mut part = package.part(name)?.ok_or_else(|| SheetFault::damaged("the list of its sheets is not there"))?;
    let (mut sheets, mut from_1904) = (Vec::new(), false);
    let mut buffer = Vec::new();
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) if tag.local_name().as_ref() == "sheet" && sheets.len() < MOST_LISTED => {
                let id = tag.attributes().with_checks(false).filter_map(Result::ok).find(|a| a.key.local_name().as_ref() == "id");
                if let (Some(name), Some(id)) = (attribute(&tag, "name"), id) {
                    let hidden = attribute(&tag, "state").is_some_and(|s| s != "visible");
                    sheets.push((name.into_owned(), id.value.into_owned(), hidden));
                }
            }
            Event::Start(tag) if tag.local_name().as_ref() == "workbookPr" => {
                from_1904 = attribute(&tag, "date1904").is_some_and(|v| matches!(v.as_ref(), "1" | "true" | "on"));
            }
            Event::Eof => return Ok((sheets, from_1904)),
            _ => {}
        }
    }
}

fn texts(package: &mut Package, name: &str, limits: &Limits) -> Result<Texts, SheetFault> {
    let mut texts = Texts::default();
    let Some(mut part) = package.part(name)? else { return Ok(texts) };
    let mut buffer = Vec::new();
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) if tag.local_name().as_ref() == "si" => {
                let text = rich_text(&mut part, &mut buffer, "si", limits)?;
                texts.all.push_str(&text);
                texts.ends.push(texts.all.len());
                let kept = texts.all.len() + texts.ends.len() * size_of::<usize>();
                if kept > limits.most_kept_bytes {
                    return Err(SheetFault::UnpacksTooLarge { allowed: limits.most_kept_bytes as u64 });
                }
            }
            Event::Eof => return Ok(texts),
            _ => {}
        }
    }
}

/// For each format of cells, whether it shows a moment.
fn moments(package: &mut Package, name: &str) -> Result<Vec<bool>, SheetFault> {
    let Some(mut part) = package.part(name)? else { return Ok(Vec::new()) };
    let (mut own, mut formats): (HashMap<u32, bool>, Vec<bool>) = Default::default();
    let mut buffer = Vec::new();
    let mut within = false;
    let number = |tag: &BytesStart<'_>| attribute(tag, "numFmtId").and_then(|id| id.parse::<u32>().ok());
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) => match tag.local_name().as_ref() {
                "numFmt" if own.len() < MOST_LISTED => {
                    if let (Some(id), Some(code)) = (number(&tag), attribute(&tag, "formatCode")) {
                        own.insert(id, shows_moment(&code));
                    }
                }
                "cellXfs" => within = true,
                "xf" if within && formats.len() < MOST_LISTED => {
                    let id = number(&tag).unwrap_or(0);
                    // ECMA-376, part 1, 18.8.30: the formats that every workbook has.
                    let known = matches!(id, 14..=22 | 27..=36 | 45..=47 | 50..=58);
                    formats.push(own.get(&id).copied().unwrap_or(known));
                }
                _ => {}
            },
            Event::End(tag) if tag.local_name().as_ref() == "cellXfs" => within = false,
            Event::Eof => return Ok(formats),
            _ => {}
        }
    }
}

/// Whether a format code has letters of dates or times outside of quotes, brackets and escapes.
fn shows_moment(code: &str) -> bool {
    let (mut quoted, mut bracket, mut escaped) = (false, false, false);
    for c in code.chars() {
        match c {
            _ if escaped => escaped = false,
            '\\' | '_' | '*' => escaped = true,
            '"' => quoted = !quoted,
            '[' if !quoted => bracket = true,
            ']' if !quoted => bracket = false,
            'd' | 'm' | 'y' | 'h' | 's' | 'D' | 'M' | 'Y' | 'H' | 'S' if !quoted && !bracket => return true,
            ';' if !quoted && !bracket => return false,
            _ => {}
        }
    }
    false
}

/// The text down to the end of a tag.
fn text_until(part: &mut Part<'_>, buffer: &mut Vec<u8>, end: &str, limits: &Limits) -> Result<String, SheetFault> {
    let mut text = String::new();
    loop {
        match part.next(buffer)? {
            Event::Text(piece) => text.push_str(&piece.xml10_content()),
            Event::CData(piece) => text.push_str(&piece.xml10_content()),
            Event::GeneralRef(entity) => push_entity(&entity, &mut text)?,
            Event::End(tag) if tag.local_name().as_ref() == end => return Ok(text),
            Event::Eof => return Err(SheetFault::damaged("it ends within a cell")),
            _ => {}
        }
        if text.len() > limits.most_cell_bytes {
            return Err(SheetFault::PieceTooLong { allowed: limits.most_cell_bytes });
        }
    }
}

/// The text of runs with formats; what is only there to be read aloud is left out.
fn rich_text(part: &mut Part<'_>, buffer: &mut Vec<u8>, end: &str, limits: &Limits) -> Result<String, SheetFault> {
    let (mut text, mut aloud) = (String::new(), false);
    loop {
        match part.next(buffer)? {
            Event::Start(tag) => match tag.local_name().as_ref() {
                "rPh" => aloud = true,
                "t" => {
                    let run = text_until(part, buffer, "t", limits)?;
                    if !aloud {
                        text.push_str(&run);
                    }
                }
                _ => {}
            },
            Event::End(tag) => match tag.local_name().as_ref() {
                "rPh" => aloud = false,
                name if name == end => return Ok(unescaped(text)),
                _ => {}
            },
            Event::Eof => return Err(SheetFault::damaged("it ends within a text")),
            _ => {}
        }
        if text.len() > limits.most_cell_bytes {
            return Err(SheetFault::PieceTooLong { allowed: limits.most_cell_bytes });
        }
    }
}

/// Characters that XML cannot hold are written as `_x000D_` (ECMA-376, part 1, 22.9.2.19).
fn unescaped(text: String) -> String {
    if !text.contains("_x") {
        return text;
    }
    let mut out = String::with_capacity(text.len());
    let mut rest = text.as_str();
    while let Some(at) = rest.find("_x") {
        out.push_str(&rest[..at]);
        let code = rest.get(at + 2..at + 6).filter(|_| rest.as_bytes().get(at + 6) == Some(&b'_'));
        match code.and_then(|code| u32::from_str_radix(code, 16).ok()).and_then(char::from_u32) {
            // A zero character is none that a sheet may hold.
            Some(c) if c != '\0' => {
                out.push(c);
                rest = &rest[at + 7..];
            }
            _ => {
                out.push_str("_x");
                rest = &rest[at + 2..];
            }
        }
    }
    out.push_str(rest);
    out
}

/// The column of a place such as `AB12`, counted from 0.
fn column_of(place: &str) -> Option<usize> {
    let letters = place.bytes().take_while(u8::is_ascii_uppercase).count();
    if !(1..=3).contains(&letters) {
        return None;
    }
    Some(place.bytes().take(letters).fold(0, |n, b| n * 26 + usize::from(b - b'A') + 1) - 1)
}

/// The merged cells of a range such as `B3:B6`.
fn merged_of(range: &str) -> Option<Merged> {
    let (first, last) = range.split_once(':')?;
    let row = |place: &str| place.trim_start_matches(|c: char| c.is_ascii_uppercase()).parse::<u64>().ok()?.checked_sub(1);
    Some(Merged { row: row(first)?, column: column_of(first)?, last_row: row(last)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_and_formats_are_read() {
        assert_eq!(["A1", "Z9", "AA1", "XFD1048576", "1", "a1"].map(column_of), [Some(0), Some(25), Some(26), Some(16_383), None, None]);
        assert_eq!(merged_of("B3:C6"), Some(Merged { row: 2, column: 1, last_row: 5 }));
        for (code, moment) in [
            ("yyyy\\-mm\\-dd", true),
            ("[$-409]d mmm yyyy;@", true),
            ("[h]:mm", true),
            ("0.00\" mm\"", false),
            ("[Red]0", false),
            ("General", false),
            ("0.0_d", false),
            ("#,##0;[Red]-#,##0", false),
        ] {
            assert_eq!(shows_moment(code), moment, "{code}");
        }
        assert_eq!(unescaped("a_x000D_b_x00_x0041_".into()), "a\rb_x00A");
        assert_eq!(resolved("xl", "worksheets/sheet1.xml"), "xl/worksheets/sheet1.xml");
        assert_eq!(resolved("xl", "/xl/a.xml"), "xl/a.xml");
        assert_eq!(resolved("xl", "../b.xml"), "b.xml");
    }
}
