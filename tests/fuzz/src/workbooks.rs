//! Workbooks: a file of any bytes, or a sound archive with one part of any bytes, so that the sum of a part is never what stops
//! the reading.

use std::io::{Cursor, Write};

use zip::CompressionMethod;
use zip::write::SimpleFileOptions;

use super::sheets::hold_any;

/// The parts of a small xlsx, the sheet last.
const XLSX: [(&str, &str); 7] = [
    ("[Content_Types].xml", "<Types/>"),
    ("_rels/.rels", r#"<Relationships><Relationship Id="a" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>"#),
    (
        "xl/_rels/workbook.xml.rels",
        r#"<Relationships><Relationship Id="b" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="c" Type="x/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="d" Type="x/styles" Target="styles.xml"/></Relationships>"#,
    ),
    ("xl/workbook.xml", r#"<workbook xmlns:r="r"><sheets><sheet name="Pads" sheetId="1" r:id="b"/></sheets></workbook>"#),
    (
        "xl/sharedStrings.xml",
        "<sst><si><t>base</t></si><si><t>diameter_mm</t></si><si><t>thread</t></si><si><t>run_length_mm</t></si><si><t>controller</t></si><si><t>method</t></si><si><t>wool-felt</t></si><si><t>silver-polyamide-40-tex</t></si><si><r><t>patient</t></r><r><t>-input</t></r></si><si><t>closed_form</t></si></sst>",
    ),
    (
        "xl/styles.xml",
        r#"<styleSheet><numFmts><numFmt numFmtId="164" formatCode="yyyy\-mm\-dd"/></numFmts><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/><xf numFmtId="21"/></cellXfs></styleSheet>"#,
    ),
    (
        "xl/worksheets/sheet1.xml",
        r#"<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1" t="s"><v>2</v></c><c r="D1" t="s"><v>3</v></c><c r="E1" t="s"><v>4</v></c><c r="F1" t="s"><v>5</v></c></row><row r="2"><c r="A2" t="s"><v>6</v></c><c r="B2"><v>24</v></c><c r="C2" t="s"><v>7</v></c><c r="D2"><v>180</v></c><c r="E2" t="s"><v>8</v></c><c r="F2" t="s"><v>9</v></c></row></sheetData></worksheet>"#,
    ),
];

/// What the bytes stand for, by the first of them.
enum Meant {
    File,
    XlsxPart(usize),
    Ods,
}

/// Any bytes as a workbook. The first byte says what the others are: the whole file, or one of its parts, and whether a sheet is asked
/// for by its name.
pub fn hold(data: &[u8]) {
    let Some((first, rest)) = data.split_first() else { return };
    let meant = match first & 0x0f {
        0 => Meant::File,
        k @ 1..=7 => Meant::XlsxPart(usize::from(k) - 1),
        // The sheet once more: there is most to be found in it.
        8 | 9 => Meant::XlsxPart(XLSX.len() - 1),
        _ => Meant::Ods,
    };
    let sheet = (first & 0x80 != 0).then_some("Pads");
    let file = match meant {
        Meant::File => rest.to_vec(),
        Meant::XlsxPart(given) => {
            archive(XLSX.iter().enumerate().map(|(k, (name, text))| (*name, if k == given { rest } else { text.as_bytes() })))
        }
        Meant::Ods => archive([("mimetype", &b"application/vnd.oasis.opendocument.spreadsheet"[..]), ("content.xml", rest)]),
    };
    hold_any(&file, sheet);
}

fn archive<'a>(parts: impl IntoIterator<Item = (&'a str, &'a [u8])>) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        zip.start_file(name, SimpleFileOptions::default().compression_method(CompressionMethod::Stored)).expect("a part");
        zip.write_all(bytes).expect("room");
    }
    zip.finish().expect("an archive").into_inner()
}
