//! Inputs made by chance out of good ones: sheets, workbooks, pieces and query strings, cut, doubled, spliced and filled
//! with what usually hurts. Whatever comes, the answer is an answer or a refusal in words: no panic, no fault of ours.
//!
//! A short run belongs to every test run. `TOILE_CHANCE_SECONDS=600 cargo test -p toile-tests -- chance` gives each kind of
//! input ten minutes, and `TOILE_CHANCE_SEED=7` other inputs. The inputs are drawn blindly: nothing watches which lines they
//! reach. What the fuzzer found while it watched them is tried too; both ask for what `tests/fuzz/src` says must hold.

use std::io::{Cursor, Write};
use std::time::{Duration, Instant};

use toile_tests::{files_under, raw_exchange, root, service, spare_folder};
use zip::write::SimpleFileOptions;

use crate::fuzz::addresses::Addresses;
use crate::fuzz::{pieces, sheets, workbooks};

/// What usually hurts a reader.
const WORDS: [&[u8]; 26] = [
    b"\"",
    b"\"\"",
    b",",
    b";",
    b"\t",
    b"\r",
    b"\n",
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    b"=",
    b"'",
    b"-",
    b"1e999",
    b"-0",
    b"NaN",
    b"9999999999999999999999",
    b"1,5",
    b"\xc2\xb1",
    b"0.1 to 0.2",
    b"<",
    b"&amp;",
    b"&#x0;",
    b"{}",
    b"null",
    b"%00%ff",
];

/// Numbers drawn by chance, the same in each run of one seed (xorshift; Marsaglia 2003).
struct Chance(u64);

impl Chance {
    fn new(kind: u64) -> Self {
        let seed = std::env::var("TOILE_CHANCE_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(1_u64);
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ (kind + 1))
    }

    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end.max(1) as u64) as usize
    }

    fn stretch(&mut self, length: usize) -> std::ops::Range<usize> {
        let start = self.below(length + 1);
        start..start + self.below((length - start).min(40) + 1)
    }

    /// A good input with a few things done to it.
    fn spoiled(&mut self, good: &[u8]) -> Vec<u8> {
        let mut bytes = good.to_vec();
        for _ in 0..=self.below(5) {
            let place = self.stretch(bytes.len());
            match self.below(6) {
                0 => drop(bytes.drain(place)),
                1 => {
                    let again = bytes[place.clone()].to_vec();
                    drop(bytes.splice(place.end..place.end, again));
                }
                2 => drop(bytes.splice(place, WORDS[self.below(WORDS.len())].iter().copied())),
                3 => drop(bytes.splice(place.start..place.start, WORDS[self.below(WORDS.len())].iter().copied())),
                4 if !bytes.is_empty() => {
                    let k = self.below(bytes.len());
                    bytes[k] ^= 1 << self.below(8);
                }
                _ => {
                    let from = self.stretch(good.len());
                    drop(bytes.splice(place, good[from].iter().copied()));
                }
            }
        }
        bytes
    }
}

/// Tries inputs for as long as is asked for, at least a few.
fn try_out(kind: u64, mut one: impl FnMut(&mut Chance)) {
    let seconds = std::env::var("TOILE_CHANCE_SECONDS").ok().and_then(|s| s.parse::<u64>().ok());
    let (mut chance, started, mut tried) = (Chance::new(kind), Instant::now(), 0_u32);
    while tried < 150 || seconds.is_some_and(|s| started.elapsed() < Duration::from_secs(s)) {
        one(&mut chance);
        tried += 1;
    }
    println!("{tried} inputs");
}

const SHEETS: [&str; 3] = [
    "part,base_1,base_1_thickness_mm,diameter_mm,thread,run_length_mm,controller,method\na,wool-felt,3,24,silver-polyamide-40-tex,180,patient-input,closed_form\n\"b\"\"x\",wool-felt,\"2.8 to 3.2\",2.4 cm,silver-polyamide-40-tex,180,patient-input,closed_form\n",
    "Chairs;spring\n\nBase;Diameter [mm];Thread;Run length (cm);Controller;Method;Own\nwool-felt;24,5;silver-polyamide-40-tex;18;patient-input;closed_form;=1+1\n",
    "sep=\t\nbase\twidth_mm\tlength_mm\tthread\trun_length_mm\tcontroller\tmethod\nwool-felt\t20\t30 ± 1\tsilver-polyamide-40-tex\t180\tpatient-input\tclosed_form\n",
];

/// What the fuzzer kept: each input reaches something that no other does, and some were faults once.
fn kept_by_the_fuzzer(target: &str) -> Vec<Vec<u8>> {
    let files = files_under(&format!("tests/fuzz/corpus/{target}"));
    assert!(files.len() > 10, "the corpus of {target} is gone");
    files.iter().map(|file| std::fs::read(root().join(file)).expect("a file just listed")).collect()
}

#[test]
fn what_the_fuzzer_kept_holds() {
    kept_by_the_fuzzer("csv").iter().for_each(|file| sheets::hold(file));
    kept_by_the_fuzzer("xlsx").iter().for_each(|file| workbooks::hold(file));
    kept_by_the_fuzzer("piece").iter().for_each(|body| pieces::hold(body));
    let folder = spare_folder();
    let service = Addresses::in_folder(folder.path());
    kept_by_the_fuzzer("query").iter().for_each(|address| service.hold(address));
}

#[test]
fn sheets_by_chance() {
    try_out(1, |chance| {
        let good = SHEETS[chance.below(SHEETS.len())];
        let utf16: Vec<u8> = [0xff, 0xfe].into_iter().chain(good.encode_utf16().flat_map(u16::to_le_bytes)).collect();
        let good = if chance.below(8) == 0 { utf16 } else { good.into() };
        sheets::hold(&chance.spoiled(&good));
    });
}

#[test]
fn workbooks_by_chance() {
    let xlsx = service().get("/api/v1/batches/template.xlsx").body;
    let mut archive = zip::ZipArchive::new(Cursor::new(&xlsx)).expect("an archive");
    let mut parts: Vec<(String, Vec<u8>)> = Vec::new();
    for k in 0..archive.len() {
        let mut part = archive.by_index(k).expect("a part");
        let mut bytes = Vec::new();
        std::io::copy(&mut part, &mut bytes).expect("room");
        parts.push((part.name().expect("a name").into_owned(), bytes));
    }
    let ods = vec![
        ("mimetype".to_owned(), b"application/vnd.oasis.opendocument.spreadsheet".to_vec()),
        (
            "content.xml".to_owned(),
            br#"<c><table:table table:name="Pads"><table:table-row table:number-rows-repeated="2"><table:table-cell office:value-type="string" table:number-rows-spanned="2"><text:p>base<text:s text:c="3"/>1</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>diameter_mm</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>thread</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>run_length_mm</text:p></table:table-cell><table:table-cell office:value-type="string"><text:p>controller</text:p></table:table-cell></table:table-row><table:table-row><table:table-cell office:value-type="string"><text:p>wool-felt</text:p></table:table-cell><table:table-cell office:value-type="float" office:value="24"/><table:covered-table-cell/><table:table-cell office:value-type="date" office:date-value="2026-03-05"/><table:table-cell table:formula="of:=1+1" table:number-columns-repeated="3"/></table:table-row></table:table></c>"#.to_vec(),
        ),
    ];
    try_out(2, |chance| {
        let mut parts = if chance.below(2) == 0 { parts.clone() } else { ods.clone() };
        for _ in 0..=chance.below(2) {
            let k = chance.below(parts.len());
            parts[k].1 = chance.spoiled(&parts[k].1);
        }
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, bytes) in &parts {
            zip.start_file(name.as_str(), SimpleFileOptions::default()).expect("a part");
            zip.write_all(bytes).expect("room");
        }
        let mut file = zip.finish().expect("an archive").into_inner();
        if chance.below(4) == 0 {
            file = chance.spoiled(&file);
        }
        sheets::hold_any(&file, (chance.below(3) == 0).then_some("Pads"));
    });
}

#[test]
fn pieces_by_chance() {
    let demo = toile_tests::demo();
    let mut piece = demo;
    piece["method"] = "closed_form".into();
    let good = piece.to_string();
    try_out(3, |chance| {
        let spoiled = chance.spoiled(good.as_bytes());
        let answer = service().post_bytes("/api/v1/estimates", "application/json", spoiled.clone());
        assert!(matches!(answer.status, 200 | 400 | 413 | 422 | 503), "{} for {}", answer.status, String::from_utf8_lossy(&spoiled));
    });
}

#[test]
fn query_strings_by_chance() {
    let piece = toile_tests::demo().to_string();
    let queries =
        ["/api/v1/estimates?inputs=true&working=false&runs=true", "/api/v1/pictures/charge?pad=0", "/api/v1/batches?sheet=Pads%20%C3%BC"];
    try_out(4, |chance| {
        let good = queries[chance.below(queries.len())];
        let start = good.find('?').expect("a query") + 1;
        let spoiled: String =
            chance.spoiled(&good.as_bytes()[start..]).iter().filter(|b| b.is_ascii_graphic()).map(|b| char::from(*b)).collect();
        let spoiled: String = spoiled.chars().filter(|c| *c != '#').collect();
        let request = format!(
            "POST {}{spoiled} HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n{piece}",
            &good[..start],
            piece.len()
        );
        let (head, _) = raw_exchange(service().address(), &request);
        let status = head.split(' ').nth(1).and_then(|s| s.parse::<u16>().ok()).unwrap_or(0);
        assert!(matches!(status, 200 | 400 | 404 | 413 | 414 | 415 | 422 | 431 | 503), "{head} for {spoiled}");
    });
}
