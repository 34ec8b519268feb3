//! Jobs: large sheets, worked off in the background by whoever is there.
//!
//! What a job gives is held against the answer of `POST /api/v1/batches` to the same sheet, byte for byte: a row that was lost,
//! done twice or moved would show.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use serde_json::Value;
use toile_tests::{Answer, Process, Service, Worker, spare_folder};

/// Longest wait for a job of these tests.
const PATIENCE: Duration = Duration::from_secs(180);

const HEADER: &str = "Row;Patch;Ground;Base fabric;Base thickness (mm);Overlay;Overlay thickness (mm);Diameter (mm);Row spacing;Thread;\
    Run length (cm);Passes;Controller\n";

/// A sheet with so many good rows of so many designs, numbered.
pub fn good_sheet(rows: usize, designs: usize) -> String {
    let mut sheet = HEADER.to_owned();
    for k in 0..rows {
        let diameter = 12.0 + (k % designs) as f64 * 20.0 / designs as f64;
        let diameter = format!("{diameter:.5}").replace('.', ",");
        writeln!(sheet, "{k};brighter;sheet;wool-felt;3,0 ± 0,2;wool-felt;1,2;{diameter};0,8;silver-polyamide-40-tex;14;2;patient-input")
            .expect("a text takes any text");
    }
    sheet
}

/// A sheet with everything that a sheet may hold, in Windows-1252.
fn motley_sheet() -> Vec<u8> {
    let mut sheet = good_sheet(4500, 40);
    sheet.push_str("4500;\"a name over\n\n two lines; and more\";sheet;wool-felt;3,0;wool-felt;1,2;24;0,8;silver-polyamide-40-tex;14;2;patient-input\n");
    sheet.push_str(
        ";;;;;;;;;;;;\n\n4502;too;short\n4503;=1+1;sheet;wool-fellt;3,0;wool-felt;1,2;24;0,8;silver-polyamide-40-tex;14;2;patient-input\n",
    );
    sheet.push_str("4504;a zero \0 in it;sheet;wool-felt;3,0;wool-felt;1,2;24;0,8;silver-polyamide-40-tex;14;2;patient-input\n");
    sheet.push_str(&good_sheet(10, 3).split_off(HEADER.len()));
    sheet.push_str("4515;the end has no line end;sheet;wool-felt;3,0;wool-felt;1,2;24;0,8;silver-polyamide-40-tex;14;2;patient-input");
    sheet.chars().map(|c| u8::try_from(c).expect("a character of the first 256")).collect()
}

/// Sends a sheet.
#[track_caller]
pub fn send(service: &Service, sheet: impl Into<reqwest::blocking::Body>) -> String {
    let job = service.post_bytes("/api/v1/jobs", "text/csv", sheet).ok();
    assert_eq!(job["state"], "running", "{job}");
    job["id"].as_str().expect("an id").to_owned()
}

#[track_caller]
pub fn look(service: &Service, id: &str) -> Value {
    service.get(&format!("/api/v1/jobs/{id}")).ok()
}

/// Waits for the end of a job.
#[track_caller]
pub fn wait_for(service: &Service, id: &str) -> Value {
    let until = Instant::now() + PATIENCE;
    loop {
        // While a database is away the service says so and nothing else.
        let answer = service.get(&format!("/api/v1/jobs/{id}"));
        if answer.status != 503 {
            let job = answer.ok();
            if job["state"] != "running" {
                return job;
            }
            assert!(Instant::now() < until, "the job has not ended after {PATIENCE:?}: {job}");
        }
        assert!(Instant::now() < until, "the service does not answer after {PATIENCE:?}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

pub fn result(service: &Service, id: &str) -> Answer {
    service.get(&format!("/api/v1/jobs/{id}/result"))
}

/// The job is finished and gives what the batch gives.
#[track_caller]
pub fn check_result(service: &Service, id: &str, sheet: &[u8]) {
    let job = wait_for(service, id);
    assert_eq!((&job["state"], &job["rows_done"]), (&"finished".into(), &job["rows"]), "{job}");
    let (mine, batch) = (result(service, id), service.batch(sheet.to_vec()));
    assert_eq!((mine.status, batch.status), (200, 200));
    assert_eq!((mine.header("toile-complete"), mine.header("toile-rows")), ("true", job["rows"].to_string().as_str()));
    let lines = |answer: &Answer| answer.body.iter().filter(|b| **b == b'\n').count();
    assert!(mine.body == batch.body, "the job gives {} lines, the batch {}", lines(&mine), lines(&batch));
}

fn with_workers(workers: &str) -> Process {
    Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", workers], &[])
}

#[test]
fn a_job_gives_the_bytes_of_a_batch() {
    let toile = with_workers("2");
    let service = toile.service();
    let sheet = motley_sheet();
    let id = send(service, sheet.clone());
    check_result(service, &id, &sheet);
    let job = look(service, &id);
    let counts = &job["counts"];
    // 4512 rows are good; two are blank; one is too short, one names no known cloth, one holds a zero.
    assert_eq!((&job["rows"], &counts["blank"], &counts["problems"]), (&4517.into(), &2.into(), &3.into()), "{job}");
    let answered =
        ["comfortable", "tight", "measure_first", "out_of_reach"].iter().map(|v| counts[v].as_u64().expect("a count")).sum::<u64>();
    assert_eq!(answered, 4512, "{job}");
    assert_eq!(counts["defused"], 1, "{job}");
    assert!(job["notes"].to_string().contains("Windows-1252"), "{job}");
    assert!(job["rows_per_second"].as_f64().is_some_and(|speed| speed > 0.0), "{job}");
    for time in ["created", "started", "ended"] {
        assert!(job[time].as_str().is_some_and(|t| t.ends_with('Z')), "{job}");
    }
    assert_eq!((&job["estimated_end"], &job["why"]), (&Value::Null, &Value::Null));
}

const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
const ODS: &str = "application/vnd.oasis.opendocument.spreadsheet";

/// An ods with a sheet of notes in front of the one with the pads.
fn ods() -> Vec<u8> {
    let cell = |text: &str| format!("<table:table-cell office:value-type=\"string\"><text:p>{text}</text:p></table:table-cell>");
    let row = |line: &str| format!("<table:table-row>{}</table:table-row>", line.split(';').map(cell).collect::<String>());
    let rows: String = good_sheet(30, 30).replace(',', ".").lines().map(row).collect();
    let notes = row("Chairs of the reading room");
    let content =
        format!("<a><table:table table:name=\"Notes\">{notes}</table:table><table:table table:name=\"Pads\">{rows}</table:table></a>");
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, text) in [("mimetype", ODS), ("content.xml", &content)] {
        zip.start_file(name, zip::write::SimpleFileOptions::default()).expect("a part");
        std::io::Write::write_all(&mut zip, text.as_bytes()).expect("room");
    }
    zip.finish().expect("an archive").into_inner()
}

fn ask_as(service: &Service, request: reqwest::blocking::RequestBuilder, accept: &str) -> Answer {
    service.send(request.header("accept", accept))
}

#[test]
fn a_job_takes_and_gives_workbooks_as_a_batch_does() {
    let toile = with_workers("2");
    let service = toile.service();
    let csv = good_sheet(4100, 50);
    let batch = |kind: &str, sheet: &[u8], accept: &str| {
        let asked = service.request("POST", "/api/v1/batches").header("content-type", kind).body(sheet.to_vec());
        ask_as(service, asked, accept)
    };
    let xlsx = batch("text/csv", csv.as_bytes(), XLSX).body;
    for (kind, sheet, usual) in [("text/csv", csv.into_bytes(), "text/csv"), (XLSX, xlsx, XLSX), (ODS, ods(), XLSX)] {
        let job = service.post_bytes("/api/v1/jobs", kind, sheet.clone()).ok();
        let id = job["id"].as_str().expect("an id");
        assert_eq!(wait_for(service, id)["state"], "finished", "{kind}");
        for (accept, given) in [("*/*", usual), ("text/csv", "text/csv"), (XLSX, XLSX)] {
            let mine = ask_as(service, service.request("GET", &format!("/api/v1/jobs/{id}/result")), accept);
            let theirs = batch(kind, &sheet, accept);
            assert_eq!((mine.status, theirs.status), (200, 200), "{kind} {accept}");
            assert_eq!((mine.header("content-type"), theirs.header("content-type")), (given, given), "{kind} {accept}");
            assert_eq!(mine.header("content-disposition"), theirs.header("content-disposition"));
            assert_eq!((mine.header("toile-complete"), mine.header("toile-rows")), ("true", job["rows"].to_string().as_str()));
            assert!(
                mine.body == theirs.body,
                "{kind} asked as {accept}: the job gives {} bytes, the batch {}",
                mine.body.len(),
                theirs.body.len()
            );
        }
    }
}

#[test]
fn the_sheet_of_a_workbook_is_chosen_and_a_wrong_one_refused() {
    let toile = with_workers("0");
    let service = toile.service();
    let post = |path: &str, kind: &str, body: &[u8]| service.post_bytes(path, kind, body.to_vec());
    assert_eq!(post("/api/v1/jobs?sheet=Pads&name=chairs", ODS, &ods()).ok()["rows"], 30);
    for (path, kind, body, words) in [
        ("/api/v1/jobs?sheet=Chairs", ODS, ods(), "has no sheet"),
        ("/api/v1/jobs?sheet=Notes", ODS, ods(), "column"),
        ("/api/v1/jobs?sheet=Pads", "text/csv", good_sheet(2, 2).into_bytes(), "no sheets to choose from"),
        ("/api/v1/jobs", XLSX, good_sheet(2, 2).into_bytes(), "no xlsx and no ods"),
        ("/api/v1/jobs", "text/csv", ods(), "not a text"),
        ("/api/v1/jobs", ODS, ods()[..300].to_vec(), "workbook"),
        ("/api/v1/jobs?sheets=Pads", ODS, ods(), "sheets"),
    ] {
        let answer = post(path, kind, &body);
        assert_eq!(answer.status, 422, "{path} {kind}: {}", answer.text());
        assert!(answer.problem().words().contains(words), "{path} {kind}: {}", answer.text());
    }
    assert_eq!(service.get("/api/v1/jobs").ok()["jobs"].as_array().map(Vec::len), Some(1), "what was refused is no job");
    // What is not finished comes as a workbook, too.
    let id = service.get("/api/v1/jobs").ok()["jobs"][0]["id"].as_str().expect("an id").to_owned();
    let part = service.get(&format!("/api/v1/jobs/{id}/result?partial=true"));
    assert_eq!((part.status, part.header("content-type"), part.header("toile-complete")), (200, XLSX, "false"));
    assert!(part.header("content-disposition").contains("answered-in-part.xlsx"), "{}", part.header("content-disposition"));
    assert!(part.body.starts_with(b"PK"));
}

#[test]
fn a_result_that_no_workbook_holds_is_refused_as_one() {
    let toile = with_workers("2");
    let service = toile.service();
    // With the header one row more than xlsx has. Rows without text are rows, and cost nothing to answer.
    let mut sheet = good_sheet(1, 1);
    sheet.push_str(&"\n".repeat(1_048_575));
    let id = send(service, sheet);
    let job = wait_for(service, &id);
    assert_eq!((&job["state"], &job["rows"]), (&"finished".into(), &1_048_576.into()), "{job}");
    let path = format!("/api/v1/jobs/{id}/result");
    let refused = ask_as(service, service.request("GET", &path), XLSX);
    assert_eq!(refused.status, 409, "{}", refused.text());
    let words = refused.problem().words();
    assert!(words.contains("1048577 rows") && words.contains("1048576") && words.contains("text/csv"), "{words}");
    let whole = ask_as(service, service.request("GET", &path), "text/csv");
    assert_eq!((whole.status, whole.header("toile-rows")), (200, "1048576"));
}

#[test]
fn a_sheet_without_rows_is_finished_at_once() {
    let toile = with_workers("0");
    let job = toile.service().post_bytes("/api/v1/jobs?name=nothing%20yet", "text/csv", HEADER).ok();
    assert_eq!((&job["state"], &job["rows"], &job["name"]), (&"finished".into(), &0.into(), &"nothing yet".into()));
    let id = job["id"].as_str().expect("an id");
    assert_eq!(result(toile.service(), id).body, toile.service().batch(HEADER).body);
}

#[test]
fn jobs_are_listed_looked_at_stopped_and_deleted() {
    let toile = with_workers("0");
    let service = toile.service();
    let sheet = good_sheet(30, 3);
    let ids: Vec<String> = (0..3).map(|_| send(service, sheet.clone())).collect();

    let page = service.get("/api/v1/jobs?most=2").ok();
    let listed = |page: &Value| {
        page["jobs"].as_array().expect("jobs").iter().map(|j| j["id"].as_str().expect("an id").to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(listed(&page), [ids[2].clone(), ids[1].clone()]);
    let rest = service.get(&format!("/api/v1/jobs?most=2&before={}", page["next"].as_str().expect("there is more"))).ok();
    assert_eq!((listed(&rest), &rest["next"]), (vec![ids[0].clone()], &Value::Null));
    for query in ["most=0", "most=201", "before=two%20words", &format!("before={}", "0".repeat(65))] {
        let refused = service.get(&format!("/api/v1/jobs?{query}"));
        assert_eq!(refused.status, 422, "{query}");
        assert!(refused.problem().words().contains("1 to 200"), "{}", refused.text());
    }
    assert!(service.get("/api/v1/jobs?mots=1").problem().detail.contains("mots"));

    let id = &ids[0];
    let job = look(service, id);
    assert_eq!(
        (&job["rows"], &job["rows_done"], &job["started"], &job["owner"]),
        (&30.into(), &0.into(), &Value::Null, &"this machine".into())
    );
    let early = result(service, id);
    assert_eq!(early.status, 409);
    assert!(early.problem().detail.contains("partial=true"), "{}", early.text());
    let part = service.get(&format!("/api/v1/jobs/{id}/result?partial=true"));
    assert_eq!((part.status, part.header("toile-complete"), part.header("toile-rows")), (200, "false", "0"));
    assert_eq!(part.body, service.batch(HEADER).body);

    let stopped = service.send(service.request("POST", &format!("/api/v1/jobs/{id}/cancel"))).ok();
    assert_eq!(stopped["state"], "cancelled");
    let again = service.send(service.request("POST", &format!("/api/v1/jobs/{id}/cancel")));
    assert_eq!(again.status, 409);
    assert!(again.problem().detail.contains("cancelled"), "{}", again.text());
    assert_eq!(result(service, id).status, 409);

    assert_eq!(service.send(service.request("DELETE", &format!("/api/v1/jobs/{id}"))).ok()["deleted"], id.as_str());
    for (method, path) in [
        ("GET", format!("/api/v1/jobs/{id}")),
        ("DELETE", format!("/api/v1/jobs/{id}")),
        ("POST", format!("/api/v1/jobs/{id}/cancel")),
        ("GET", format!("/api/v1/jobs/{id}/result")),
        ("GET", "/api/v1/jobs/none".to_owned()),
    ] {
        let answer = service.send(service.request(method, &path));
        assert_eq!(answer.status, 404, "{method} {path}");
        assert_eq!(answer.problem().kind, "/reference#not-found");
    }
    assert_eq!(listed(&service.get("/api/v1/jobs").ok()), [ids[2].clone(), ids[1].clone()]);
}

/// The templates of the addresses, so that the inventory of asked addresses finds them.
#[test]
fn every_address_of_a_job_takes_only_its_methods() {
    let toile = with_workers("0");
    for (path, method) in [
        ("/api/v1/jobs", "DELETE"),
        ("/api/v1/jobs/{id}", "POST"),
        ("/api/v1/jobs/{id}/cancel", "GET"),
        ("/api/v1/jobs/{id}/result", "POST"),
    ] {
        let answer = toile.service().send(toile.service().request(method, &path.replace("{id}", "some")));
        assert_eq!(answer.status, 405, "{method} {path}");
    }
}

#[test]
fn a_sheet_that_cannot_be_used_leaves_nothing() {
    let toile = with_workers("0");
    let service = toile.service();
    let mut long = good_sheet(3000, 3);
    write!(long, "3000;{}", "x".repeat(70_000)).expect("a text takes any text");
    let mut open = good_sheet(5000, 3);
    open.push_str("5000;\"never closed");
    for (sheet, words) in [("nothing;known\n1;2\n".to_owned(), "column"), (String::new(), "empty"), (long, "3002"), (open, "5002")] {
        let answer = service.post_bytes("/api/v1/jobs", "text/csv", sheet);
        assert!([413, 422].contains(&answer.status), "{}", answer.text());
        assert!(answer.problem().detail.contains(words), "{words}: {}", answer.text());
    }
    assert_eq!(service.post_bytes("/api/v1/jobs", "application/pdf", "%PDF").status, 415);
    assert_eq!(service.post_bytes("/api/v1/jobs?name=%07", "text/csv", HEADER).problem().faults[0].pointer, "/name");
    assert_eq!(service.get("/api/v1/jobs").ok()["jobs"], serde_json::json!([]));
}

#[test]
fn an_upload_that_breaks_off_leaves_nothing() {
    use std::io::Write as _;
    let toile = with_workers("0");
    let sheet = good_sheet(20_000, 3);
    let mut stream = std::net::TcpStream::connect(toile.service().address()).expect("the service answers");
    let head =
        format!("POST /api/v1/jobs HTTP/1.1\r\nHost: localhost\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n", sheet.len());
    stream.write_all(head.as_bytes()).expect("the head is taken");
    stream.write_all(&sheet.as_bytes()[..sheet.len() / 2]).expect("the half is taken");
    std::thread::sleep(Duration::from_millis(300));
    drop(stream);
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(toile.service().get("/api/v1/jobs").ok()["jobs"], serde_json::json!([]));
}

#[test]
fn the_same_sheet_with_the_same_key_is_one_job() {
    let toile = with_workers("0");
    let service = toile.service();
    let post = |sheet: String| {
        let request = service.request("POST", "/api/v1/jobs").header("content-type", "text/csv").header("idempotency-key", "one");
        service.send(request.body(sheet))
    };
    let first = post(good_sheet(2500, 3)).ok();
    assert_eq!(post(good_sheet(2500, 3)).ok(), first);
    let other = post(good_sheet(2499, 3));
    assert_eq!((other.status, other.problem().kind.as_str()), (409, "/reference#conflict"));
    assert_eq!(service.get("/api/v1/jobs").ok()["jobs"].as_array().map(Vec::len), Some(1));
}

#[test]
fn a_small_job_does_not_wait_for_a_large_one() {
    let toile = with_workers("1");
    let service = toile.service();
    let large = send(service, good_sheet(60_000, 60_000));
    let small = send(service, good_sheet(100, 3));
    wait_for(service, &small);
    let job = look(service, &large);
    assert_eq!(job["state"], "running", "the large job is not large enough for this test: {job}");
    assert_eq!(service.send(service.request("POST", &format!("/api/v1/jobs/{large}/cancel"))).ok()["state"], "cancelled");
    let part = service.get(&format!("/api/v1/jobs/{large}/result?partial=true"));
    let rows: usize = part.header("toile-rows").parse().expect("a number");
    assert_eq!(part.header("toile-complete"), "false");
    assert!(part.body == service.batch(good_sheet(rows, 60_000)).body, "{rows} rows");
}

#[test]
fn several_processes_share_one_file_and_one_may_die() {
    let folder = spare_folder();
    let data = folder.path().to_str().expect("a path in UTF-8");
    let environment = [("TOILE_DATA", data)];
    let toile = Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", "0"], &environment);
    let sheet = good_sheet(12_000, 6000);
    let id = send(toile.service(), sheet.clone());
    let mut workers: Vec<Worker> = (0..2).map(|_| Worker::start(&["--workers", "1", "--lease-s", "2"], &environment)).collect();
    let until = Instant::now() + PATIENCE;
    while look(toile.service(), &id)["rows_done"].as_u64() < Some(2000) {
        assert!(Instant::now() < until, "{} {}", workers[0].log(), workers[1].log());
        std::thread::sleep(Duration::from_millis(20));
    }
    workers[0].kill();
    check_result(toile.service(), &id, sheet.as_bytes());
}

#[test]
fn a_worker_that_is_asked_to_stop_finishes_what_it_holds() {
    let folder = spare_folder();
    let environment = [("TOILE_DATA", folder.path().to_str().expect("a path in UTF-8"))];
    // A lease far longer than the test: a chunk that was not finished or given back would be missing for all of it.
    let arguments = ["--workers", "2", "--lease-s", "3600"];
    let toile = Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", "0"], &environment);
    let sheet = good_sheet(16_000, 8000);
    let id = send(toile.service(), sheet.clone());
    for _ in 0..2 {
        let worker = Worker::start(&arguments, &environment);
        std::thread::sleep(Duration::from_millis(700));
        assert_eq!(worker.stop(), Some(0));
    }
    let _last = Worker::start(&arguments, &environment);
    check_result(toile.service(), &id, sheet.as_bytes());
}

#[test]
fn a_job_is_answered_by_the_rates_that_it_was_sent_with() {
    let folder = spare_folder();
    let data = folder.path().to_str().expect("a path in UTF-8");
    let rates = folder.path().join("shop.toml");
    std::fs::write(&rates, "currency = \"SEK\"\nheads = 6\n[rates]\nlabour_per_hour = 415.5\n").expect("room for a file");
    let rates = rates.to_str().expect("a path in UTF-8");
    let toile = Process::start(&["serve", "--listen", "127.0.0.1:0", "--workers", "0", "--rates", rates], &[("TOILE_DATA", data)]);
    let _worker = Worker::start(&["--workers", "1"], &[("TOILE_DATA", data)]);
    let sheet = good_sheet(50, 5);
    let id = send(toile.service(), sheet.clone());
    check_result(toile.service(), &id, sheet.as_bytes());
    assert!(result(toile.service(), &id).text().contains(";SEK;"));
}
