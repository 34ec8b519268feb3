//! Workbooks and templates over the wire, previews, and `toile batch` on files: what swells is refused within its
//! memory, and a run that was killed is taken up as if it had never stopped.

use std::io::{Cursor, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use toile_tests::{binary, run, service, spare_folder};
use zip::write::SimpleFileOptions;

const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const ODS: &str = "application/vnd.oasis.opendocument.spreadsheet";
const HEADER: &str = "part,base_1,base_1_thickness_mm,diameter_mm,thread,run_length_mm,controller";

/// An ods of one sheet with one cell of `bytes` letters.
fn swelling(bytes: usize) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("mimetype", SimpleFileOptions::default()).expect("a part");
    zip.write_all(ODS.as_bytes()).expect("room");
    zip.start_file("content.xml", SimpleFileOptions::default().compression_level(Some(1))).expect("a part");
    zip.write_all(b"<a><table:table table:name=\"Pads\"><table:table-row><table:table-cell office:value-type=\"string\"><text:p>")
        .expect("room");
    let letters = vec![b'x'; 1024 * 1024];
    for _ in 0..bytes / letters.len() {
        zip.write_all(&letters).expect("room");
    }
    zip.write_all(b"</text:p></table:table-cell></table:table-row></table:table></a>").expect("room");
    zip.finish().expect("an archive").into_inner()
}

#[test]
fn templates_come_back_answered_in_every_form() {
    let template = service().get("/api/v1/batches/template.xlsx");
    assert_eq!((template.status, template.header("content-type")), (200, XLSX));
    let answered = service().post_bytes("/api/v1/batches", XLSX, template.body.clone());
    assert_eq!((answered.status, answered.header("content-type")), (200, XLSX), "{}", answered.text());
    assert!(answered.body.starts_with(b"PK"));
    assert_eq!(service().post_bytes("/api/v1/batches", XLSX, template.body.clone()).body, answered.body, "the same bytes each time");
    let as_text = |path: &str, body: &[u8]| {
        let request = service().request("POST", path).header("content-type", XLSX).header("accept", "text/csv").body(body.to_vec());
        service().send(request)
    };
    let text = as_text("/api/v1/batches", &template.body);
    assert_eq!((text.status, text.header("content-type")), (200, "text/csv"));
    let verdict = |text: &str| {
        let mut reader =
            csv::ReaderBuilder::new().flexible(true).has_headers(false).from_reader(text.trim_start_matches('\u{feff}').as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(|r| r.expect("a row")).collect();
        let place = rows[2].iter().position(|name| name == "verdict").expect("a column of verdicts");
        rows[3].iter().skip(place).map(str::to_owned).collect::<Vec<_>>()
    };
    let csv = service().get("/api/v1/batches/template.csv");
    let of_csv = verdict(service().batch(csv.body.clone()).text());
    assert!(!of_csv[0].is_empty());
    assert_eq!(verdict(text.text()), of_csv);
    assert_eq!(verdict(as_text("/api/v1/batches", &answered.body).text()), of_csv, "answered again");
    assert_eq!(as_text("/api/v1/batches?sheet=Features", &template.body).status, 200);
    let fault = as_text("/api/v1/batches?sheet=Chairs", &template.body);
    assert_eq!(fault.status, 422);
    assert!(fault.text().contains("has no sheet") && fault.text().contains("Features"), "{}", fault.text());
    assert_eq!(as_text("/api/v1/batches?sheets=Pads", &template.body).status, 422);
    let wrong = service().post_bytes("/api/v1/batches", ODS, csv.body);
    assert_eq!(wrong.status, 422, "{}", wrong.text());
    // The command line writes the same bytes as the service.
    let folder = spare_folder();
    let (input, output) = (folder.path().join("in.xlsx"), folder.path().join("out.xlsx"));
    std::fs::write(&input, &template.body).expect("room");
    let ran = run(&["batch", &input.to_string_lossy(), "-o", &output.to_string_lossy()], &[]);
    assert_eq!(ran.status.code(), Some(0), "{}", String::from_utf8_lossy(&ran.stderr));
    assert!(std::fs::read(&output).expect("an answer") == answered.body);
    assert_eq!(std::fs::read_dir(folder.path()).expect("a folder").count(), 2, "nothing is left beside it");
}

#[test]
fn a_preview_tells_how_a_sheet_is_read() {
    let sheet = format!(
        "Chairs\n{},diametr\na,wool-felt,3 ± 0.2,2.4 cm,silver-polyamide-40-tex,180,patient-input,\nb,wool,3,24,silver-polyamide-40-tex,180,patient-input,\n",
        HEADER
    );
    let seen = service().post_bytes("/api/v1/batches/preview", "text/csv", sheet).ok();
    assert_eq!(
        (&seen["form"], &seen["header_row"], &seen["decimal_mark"], &seen["delimiter"]),
        (&"csv".into(), &2.into(), &"point".into(), &",".into())
    );
    let column = |k: usize| &seen["columns"][k];
    assert_eq!((&column(3)["name"], &column(3)["unit"], &column(3)["read_as"]), (&"diameter_mm".into(), &"mm".into(), &"24 mm".into()));
    assert_eq!(column(2)["read_as"], "3 ± 0.2 mm");
    assert_eq!((&column(7)["understood"], &column(7)["near"]), (&"own".into(), &"diameter_mm".into()));
    assert_eq!(seen["rows"][0]["problems"].as_array().map(Vec::len), Some(0));
    assert_eq!((&seen["rows"][1]["row"], &seen["rows"][1]["problems"][0]["column"]), (&4.into(), &"base_1".into()));
    let fault = service().post_bytes("/api/v1/batches/preview", "text/csv", "a,b\n1,2\n");
    assert_eq!(fault.status, 422, "{}", fault.text());
}

/// The process may use half a gibibyte of addresses, threads and program included; the cells would need more.
#[test]
fn what_swells_is_refused_within_its_memory() {
    let folder = spare_folder();
    let input = folder.path().join("in.ods");
    std::fs::write(&input, swelling(400 * 1024 * 1024)).expect("room");
    let bounded = |from: &str| {
        let script = "ulimit -v 524288; exec \"$0\" batch \"$1\" -o \"$2\"";
        let mut command = Command::new("sh");
        command.args(["-c", script]).arg(binary()).arg(from).arg(folder.path().join("out.csv"));
        command.env("MALLOC_ARENA_MAX", "2").stdin(Stdio::piped()).stderr(Stdio::piped());
        command
    };
    let ran = bounded(&input.to_string_lossy()).output().expect("it runs");
    let told = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert_eq!(ran.status.code(), Some(1), "{told}");
    assert!(told.contains("a cell of more than"), "{told}");
    // A cell of ten gigabytes that comes by a pipe: read until it is too long, then no more.
    let mut child = bounded("-").spawn().expect("it runs");
    let mut pipe = child.stdin.take().expect("a pipe");
    let letters = vec![b'x'; 1024 * 1024];
    let mut sent = 0_u64;
    pipe.write_all(format!("{HEADER}\n\"").as_bytes()).expect("it reads");
    while sent < 10 * 1024 && pipe.write_all(&letters).is_ok() {
        sent += 1;
    }
    drop(pipe);
    let ran = child.wait_with_output().expect("it ends");
    assert_eq!(ran.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&ran.stderr).contains("row 2"), "{}", String::from_utf8_lossy(&ran.stderr));
    assert!(sent < 64, "{sent} MiB were taken in before it was refused");
    assert!(!folder.path().join("out.csv").exists());
}

/// Rows that all differ, so that a run takes some seconds.
fn long_sheet(rows: usize) -> String {
    let mut text = format!("{HEADER},method\n");
    for k in 0..rows {
        text += &format!(
            "p{k},wool-felt,3,{:.4},silver-polyamide-40-tex,180,patient-input,closed_form\n",
            10.0 + 20.0 * k as f64 / rows as f64
        );
        if k % 997 == 0 {
            text += "bad,row\n\n";
        }
    }
    text
}

struct Batch<'a> {
    input: &'a Path,
    output: &'a Path,
}

impl Batch<'_> {
    fn start(&self) -> Child {
        Command::new(binary()).arg("batch").arg(self.input).arg("-o").arg(self.output).stderr(Stdio::piped()).spawn().expect("it runs")
    }

    fn beside(&self, end: &str) -> std::path::PathBuf {
        let mut name = self.output.as_os_str().to_owned();
        name.push(end);
        name.into()
    }

    /// Waits until a record of what is done stands beside the output.
    fn recorded(&self, child: &mut Child) -> serde_json::Value {
        let started = Instant::now();
        loop {
            assert!(child.try_wait().expect("a process").is_none(), "the run ended before it was stopped");
            assert!(started.elapsed() < Duration::from_secs(60), "no record is written");
            if let Some(record) = std::fs::read(self.beside(".part.json")).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok()) {
                return record;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn finish(&self) -> String {
        let ran = self.start().wait_with_output().expect("it ends");
        assert_eq!(ran.status.code(), Some(3), "{}", String::from_utf8_lossy(&ran.stderr));
        String::from_utf8_lossy(&ran.stderr).into_owned()
    }
}

#[test]
fn a_stopped_run_is_taken_up_as_if_it_had_never_stopped() {
    let folder = spare_folder();
    let (input, whole, output) = (folder.path().join("in.csv"), folder.path().join("whole.csv"), folder.path().join("out.csv"));
    let mut rows = 20_000;
    // As many rows as this machine needs some seconds for.
    let (expected, told) = loop {
        std::fs::write(&input, long_sheet(rows)).expect("room");
        let started = Instant::now();
        let told = Batch { input: &input, output: &whole }.finish();
        if started.elapsed() > Duration::from_secs(4) || rows >= 640_000 {
            break (std::fs::read(&whole).expect("an answer"), told);
        }
        rows *= 2;
    };
    let batch = Batch { input: &input, output: &output };

    // Killed, then stopped by Ctrl-C, then left to end.
    let mut child = batch.start();
    let record = batch.recorded(&mut child);
    child.kill().expect("it is there");
    child.wait().expect("it ends");
    let done = record["reached"]["tally"]["rows"].as_u64().expect("a number of rows");
    assert!(done > 0 && (done as usize) < rows, "{done}");
    assert!(!output.exists(), "a half answer never stands in the place of a whole one");
    std::fs::remove_file(batch.beside(".part.json"))
        .and_then(|()| std::fs::write(batch.beside(".part.json"), record.to_string()))
        .expect("room");
    let mut child = batch.start();
    std::thread::sleep(Duration::from_millis(300));
    let stopped = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill runs");
    assert!(stopped.success());
    assert_eq!(child.wait().expect("it ends").code(), Some(130));
    let record: serde_json::Value = serde_json::from_slice(&std::fs::read(batch.beside(".part.json")).expect("a record")).expect("JSON");
    assert!(record["reached"]["tally"]["rows"].as_u64() >= Some(done), "the second run went on from where the first was");
    assert_eq!(batch.finish(), told);
    assert!(std::fs::read(&output).expect("an answer") == expected);
    assert!(!batch.beside(".part").exists() && !batch.beside(".part.json").exists());

    // What does not hold is not used: a part file of another sheet, one with a changed byte, and one that is nothing.
    for spoil in ["sheet", "byte", "nothing"] {
        let mut child = batch.start();
        batch.recorded(&mut child);
        child.kill().expect("it is there");
        child.wait().expect("it ends");
        let part = std::fs::read(batch.beside(".part")).expect("a part");
        match spoil {
            "sheet" => std::fs::write(&input, long_sheet(rows).replace("\np7,wool-felt,3,", "\np7,wool-felt,4,")).expect("room"),
            "byte" => std::fs::write(batch.beside(".part"), [&part[..100], b"!", &part[101..]].concat()).expect("room"),
            _ => std::fs::write(batch.beside(".part.json"), "{}").expect("room"),
        }
        batch.finish();
        let answer = std::fs::read(&output).expect("an answer");
        if spoil == "sheet" {
            assert!(answer != expected);
            std::fs::write(&input, long_sheet(rows)).expect("room");
            let old = answer.split(|b| *b == b'\n').zip(expected.split(|b| *b == b'\n')).filter(|(a, b)| a != b).count();
            assert_eq!(old, 1, "only the changed row has another answer");
        } else {
            assert!(answer == expected, "{spoil}");
        }
    }
}
