//! Workbooks of OpenDocument (ISO/IEC 26300), as far as a table needs: one part holds all sheets, cell after cell, and
//! cells and rows that repeat stand once with their number.

use super::super::Limits;
use super::super::fault::SheetFault;
use super::package::{Package, Part, attribute, push_entity};
use super::table::{Merged, Table};
use super::value::Value;
use quick_xml::events::{BytesStart, Event};

/// The part that holds the sheets.
const CONTENT: &str = "content.xml";
/// Sheets that are listed.
const MOST_SHEETS: usize = 65_536;
/// Repeated rows further than this are the empty end of a sheet.
const MOST_ROWS: u64 = 1_048_576;

/// The names of the sheets, in order.
pub(super) fn sheets(package: &mut Package) -> Result<Vec<String>, SheetFault> {
    let mut part = content(package)?;
    let mut names = Vec::new();
    let mut buffer = Vec::new();
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) if tag.local_name().as_ref() == "table" && names.len() < MOST_SHEETS => {
                names.extend(attribute(&tag, "table:name").map(|name| name.into_owned()));
            }
            Event::Eof => return Ok(names),
            _ => {}
        }
    }
}

fn content(package: &mut Package) -> Result<Part<'_>, SheetFault> {
    package.part(CONTENT)?.ok_or_else(|| SheetFault::damaged("the part with its sheets is not there"))
}

/// Puts the rows of a sheet into a table.
pub(super) fn rows(package: &mut Package, sheet: &str, table: &mut Table<'_>, limits: &Limits) -> Result<(), SheetFault> {
    let mut part = content(package)?;
    let mut buffer = Vec::new();
    // Tables may stand within cells; those are no rows of the sheet.
    let (mut here, mut within, mut row) = (false, 0_u32, 0_u64);
    loop {
        match part.next(&mut buffer)? {
            Event::Start(tag) => match tag.local_name().as_ref() {
                "table" => {
                    within += 1;
                    here |= within == 1 && attribute(&tag, "table:name").as_deref() == Some(sheet);
                }
                "table-row" if here => {
                    let times = count(&tag, "table:number-rows-repeated");
                    let (mut cells, merged) = cells(&mut part, &mut buffer, row, &mut table.unworked, limits)?;
                    // The end of a sheet is one empty row that repeats to the last one there can be.
                    if cells.is_empty() {
                        row += times;
                        continue;
                    }
                    for _ in 0..times {
                        if row >= MOST_ROWS {
                            break;
                        }
                        table.row(row, &mut cells)?;
                        row += 1;
                        if table.is_full() {
                            return Ok(());
                        }
                    }
                    for merged in merged {
                        let value = cells.get(merged.column).cloned().unwrap_or_default();
                        table.merge(&merged, &value);
                    }
                }
                _ => {}
            },
            Event::End(tag) if tag.local_name().as_ref() == "table" => {
                within = within.saturating_sub(1);
                if here && within == 0 {
                    return Ok(());
                }
            }
            Event::Eof if here => return Err(SheetFault::damaged("it ends within a sheet")),
            Event::Eof => return Err(SheetFault::damaged("a sheet that it names is not there")),
            _ => {}
        }
    }
}

fn count(tag: &BytesStart<'_>, name: &str) -> u64 {
    attribute(tag, name).and_then(|n| n.parse().ok()).unwrap_or(1)
}

/// The cells of a row, without the empty ones at its end, and the merged ones that begin in it.
fn cells(
    part: &mut Part<'_>,
    buffer: &mut Vec<u8>,
    row: u64,
    unworked: &mut u64,
    limits: &Limits,
) -> Result<(Vec<Value>, Vec<Merged>), SheetFault> {
    let (mut cells, mut merged): (Vec<Value>, Vec<Merged>) = Default::default();
    // Empty cells wait until one that is not empty follows: thousands of them end most rows.
    let mut place = 0_usize;
    loop {
        match part.next(buffer)? {
            Event::Start(tag) if matches!(tag.local_name().as_ref(), "table-cell" | "covered-table-cell") => {
                let covered = tag.local_name().as_ref() == "covered-table-cell";
                let times = usize::try_from(count(&tag, "table:number-columns-repeated")).unwrap_or(usize::MAX);
                let downwards = count(&tag, "table:number-rows-spanned");
                let tag = tag.into_owned();
                let value = cell(part, buffer, &tag, unworked, limits)?;
                let value = if covered { Value::Empty } else { value };
                if value != Value::Empty {
                    let end = place.saturating_add(times);
                    if end > limits.most_columns {
                        return Err(SheetFault::TooManyColumns { row: row + 1, found: end, allowed: limits.most_columns });
                    }
                    if downwards > 1 {
                        merged.push(Merged { row, column: place, last_row: row.saturating_add(downwards - 1) });
                    }
                    cells.resize(place, Value::Empty);
                    cells.resize(end, value);
                }
                place = place.saturating_add(times);
            }
            Event::End(tag) if tag.local_name().as_ref() == "table-row" => return Ok((cells, merged)),
            Event::Eof => return Err(SheetFault::damaged("it ends within a row")),
            _ => {}
        }
    }
}

/// The value of a cell whose tag has just been read.
fn cell(part: &mut Part<'_>, buffer: &mut Vec<u8>, tag: &BytesStart<'_>, unworked: &mut u64, limits: &Limits) -> Result<Value, SheetFault> {
    let shown = shown_text(part, buffer, limits)?;
    let given = |name: &str| attribute(tag, name).map(|v| v.into_owned());
    let kind = given("office:value-type").or_else(|| given("calcext:value-type")).unwrap_or_default();
    Ok(match kind.as_str() {
        "float" | "percentage" | "currency" => match given("office:value").and_then(|v| v.parse::<f64>().ok()).filter(|v| v.is_finite()) {
            Some(number) => Value::Number(number),
            None => Value::Text(shown),
        },
        "boolean" => Value::Truth(given("office:boolean-value").as_deref() == Some("true")),
        "date" => {
            let date = given("office:date-value").unwrap_or_default();
            Value::Moment(date.split(['.', 'Z']).next().unwrap_or_default().trim_end_matches("T00:00:00").into()).checked()
        }
        "time" => Value::Moment(given("office:time-value").and_then(|t| time_of(&t)).unwrap_or(shown)).checked(),
        "string" | "error" => match given("office:string-value").unwrap_or(shown) {
            text if text.is_empty() => Value::Empty,
            text => Value::Text(text),
        },
        _ => match given("table:formula") {
            Some(formula) if shown.is_empty() => {
                *unworked += 1;
                // The formula comes with the name of its language in front.
                Value::Text(formula.split_once(":=").map_or_else(|| formula.clone(), |(_, f)| format!("={f}")))
            }
            _ if shown.is_empty() => Value::Empty,
            _ => Value::Text(shown),
        },
    })
}

/// A time such as `PT18H30M00S` as `18:30:00`.
fn time_of(duration: &str) -> Option<String> {
    let (hours, rest) = duration.strip_prefix("PT")?.split_once('H')?;
    let (minutes, rest) = rest.split_once('M')?;
    let seconds = rest.strip_suffix('S')?.split('.').next()?;
    let [hours, minutes, seconds] = [hours, minutes, seconds].map(|n| n.parse::<u8>().ok());
    Some(format!("{:02}:{:02}:{:02}", hours?, minutes?, seconds?))
}

/// What a cell shows: its paragraphs, a line each, down to the end of the cell. Notes beside it do not belong to it.
fn shown_text(part: &mut Part<'_>, buffer: &mut Vec<u8>, limits: &Limits) -> Result<String, SheetFault> {
    let (mut text, mut paragraphs, mut apart, mut in_paragraph, mut cells) = (String::new(), 0, 0_u32, 0_u32, 1_u32);
    loop {
        match part.next(buffer)? {
            Event::Start(tag) => match tag.local_name().as_ref() {
                "annotation" | "shapes" | "frame" => apart += 1,
                "table-cell" | "covered-table-cell" => {
                    apart += 1;
                    cells += 1;
                }
                "p" | "h" if apart == 0 => {
                    in_paragraph += 1;
                    if paragraphs > 0 {
                        text.push('\n');
                    }
                    paragraphs += 1;
                }
                "s" if apart == 0 => {
                    let spaces = usize::try_from(count(&tag, "text:c")).unwrap_or(usize::MAX).min(limits.most_cell_bytes);
                    text.extend(std::iter::repeat_n(' ', spaces));
                }
                "tab" if apart == 0 => text.push('\t'),
                "line-break" if apart == 0 => text.push('\n'),
                _ => {}
            },
            Event::Text(piece) if in_paragraph > 0 && apart == 0 => text.push_str(&piece.xml10_content()),
            Event::CData(piece) if in_paragraph > 0 && apart == 0 => text.push_str(&piece.xml10_content()),
            Event::GeneralRef(entity) if in_paragraph > 0 && apart == 0 => push_entity(&entity, &mut text)?,
            Event::End(tag) => match tag.local_name().as_ref() {
                "annotation" | "shapes" | "frame" => apart = apart.saturating_sub(1),
                "table-cell" | "covered-table-cell" => {
                    cells -= 1;
                    if cells == 0 {
                        return Ok(text);
                    }
                    apart = apart.saturating_sub(1);
                }
                "p" | "h" if apart == 0 => in_paragraph = in_paragraph.saturating_sub(1),
                _ => {}
            },
            Event::Eof => return Err(SheetFault::damaged("it ends within a cell")),
            _ => {}
        }
        if text.len() > limits.most_cell_bytes {
            return Err(SheetFault::PieceTooLong { allowed: limits.most_cell_bytes });
        }
    }
}
