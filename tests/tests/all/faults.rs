//! Faults of the machine: a full disk, a disk that takes nothing, two starts at once.

use std::path::Path;
use std::process::Command;

use serde_json::json;
use toile_tests::{Postgres, Process, demo, run, spare_folder, wait_for};

const ON_FREE_PORT: [&str; 3] = ["serve", "--listen", "127.0.0.1:0"];

#[test]
fn processes_that_start_at_once_on_one_folder_share_it() {
    let folder = spare_folder();
    let data = folder.path().join("not there yet").to_string_lossy().into_owned();
    let processes: Vec<Process> = std::thread::scope(|scope| {
        let starting: Vec<_> = (0..4).map(|_| scope.spawn(|| Process::start(&ON_FREE_PORT, &[("TOILE_DATA", &data)]))).collect();
        starting.into_iter().map(|one| one.join().expect("a start")).collect()
    });
    for process in &processes {
        process.service().get("/health/ready").ok();
        process.service().estimate(&demo());
    }
}

#[test]
fn a_full_disk_is_told_and_comes_back() {
    const TIMES: usize = 12;
    let process = Process::on_free_port();
    let service = process.service();
    service.get("/health/ready").ok();
    process.limit_files(Some(0));
    let told = wait_for(|| Some(service.get("/health/ready")).filter(|answer| answer.status == 503));
    let detail = told.problem().detail;
    assert!(detail.contains("data_folder: it takes no file") && detail.contains("spool_folder: it takes no file"), "{detail}");
    assert!(!detail.contains('/'), "it names a path: {detail}");
    // An estimate needs no disk; the answer to a sheet and what is kept do.
    service.estimate(&demo());
    let quote = || service.post("/api/v1/quotes", &json!({"customer_reference": "BL-17", "piece": demo()}));
    // Often enough that every connection to the database has met the full disk.
    for _ in 0..TIMES {
        let unkept = quote();
        assert_eq!(unkept.status, 503, "{}", unkept.text());
        assert!(unkept.problem().detail.contains("disk"), "{}", unkept.text());
    }
    let refused = service.batch("part,base_1,base_1_thickness_mm,diameter_mm,thread,run_length_mm,controller\n");
    assert_eq!(refused.status, 503, "{}", refused.text());
    assert!(!refused.header("retry-after").is_empty());
    refused.problem();
    process.limit_files(None);
    wait_for(|| (service.get("/health/ready").status == 200).then_some(()));
    let sheet = "part,base_1,base_1_thickness_mm,diameter_mm,thread,run_length_mm,controller\np,wool-felt,3,24,silver-polyamide-40-tex,180,patient-input\n";
    assert_eq!(service.batch(sheet).status, 200);
    for _ in 0..TIMES {
        let made = quote();
        assert_eq!(made.status, 201, "{}; the log: {}", made.text(), process.log());
    }
    let kept = service.get("/api/v1/quotes").ok();
    assert_eq!(kept["quotes"].as_array().map(Vec::len), Some(TIMES), "nothing of what was refused is there: {kept}");
}

/// A small file system in memory, for those who may mount one; taken away at the end.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    fn of_kib(kib: u32) -> Option<Self> {
        let folder = spare_folder();
        let mounted = Command::new("mount").args(["-t", "tmpfs", "-o", &format!("size={kib}k"), "tmpfs"]).arg(folder.path()).output();
        mounted.is_ok_and(|output| output.status.success()).then_some(Self(folder))
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn remount(&self, how: &str) {
        let done = Command::new("mount").args(["-o", &format!("remount,{how}")]).arg(self.path()).status().expect("mount runs");
        assert!(done.success());
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.path()).status();
    }
}

#[test]
fn a_disk_without_room_or_leave_to_write_is_told() {
    // Only root may mount; what others can look at is tested above.
    let Some(disk) = SmallDisk::of_kib(1024) else { return };
    let data = disk.path().to_string_lossy().into_owned();
    let process = Process::start(&ON_FREE_PORT, &[("TOILE_DATA", &data)]);
    let service = process.service();
    service.get("/health/ready").ok();
    let filler = disk.path().join("filler");
    // Until nothing goes in any more.
    let full = std::fs::write(&filler, vec![1; 4 * 1024 * 1024]);
    assert!(full.is_err(), "the disk is small");
    let told = wait_for(|| Some(service.get("/health/ready")).filter(|answer| answer.status == 503));
    assert!(told.text().contains("data_folder: it takes no file"), "{}", told.text());
    assert!(!told.text().contains("spool_folder"), "{}", told.text());
    service.estimate(&demo());
    std::fs::remove_file(&filler).expect("the filler goes");
    wait_for(|| (service.get("/health/ready").status == 200).then_some(()));
    drop(process);

    // On a disk that may not be written to, there is no start, and a reason.
    disk.remount("ro");
    let output = run(&ON_FREE_PORT, &[("TOILE_DATA", &data)]);
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{words}");
    assert!(words.contains("--data") && !words.contains("panicked"), "{words}");
}

#[test]
fn a_full_spool_folder_is_told() {
    let Some(disk) = SmallDisk::of_kib(64) else { return };
    let spool = disk.path().to_string_lossy().into_owned();
    let process = Process::start(&ON_FREE_PORT, &[("TMPDIR", &spool)]);
    let service = process.service();
    let sheet = |rows: usize| {
        "part,base_1,base_1_thickness_mm,diameter_mm,thread,run_length_mm,controller\n".to_owned()
            + "p,wool-felt,3,24,silver-polyamide-40-tex,180,patient-input\n".repeat(rows).as_str()
    };
    assert_eq!(service.batch(sheet(3)).status, 200);
    // A larger answer has no room. It is refused, or breaks off where its beginning was sent already: it never looks whole.
    let sent = service.request("POST", "/api/v1/batches").header("content-type", "text/csv").body(sheet(20_000)).send();
    let whole = sent.and_then(|answer| answer.error_for_status()).and_then(|answer| answer.text());
    assert!(whole.is_err(), "an answer without room came out whole");
    let told = wait_for(|| {
        // Anew each time: the answer that broke off may give its room back only now.
        let _filled = std::fs::write(disk.path().join("filler"), vec![1; 256 * 1024]);
        Some(service.get("/health/ready")).filter(|answer| answer.status == 503)
    });
    assert!(told.text().contains("spool_folder: it takes no file") && !told.text().contains("data_folder"), "{}", told.text());
    service.estimate(&demo());
}

#[test]
#[ignore = "needs PostgreSQL"]
fn a_database_that_is_away_is_told_and_used_again_when_it_is_back_with_postgres() {
    let server = Postgres::start();
    let database = server.database();
    let process = Process::start(&ON_FREE_PORT, &[("TOILE_DATABASE", &database.url())]);
    let service = process.service();
    service.get("/health/ready").ok();
    let quote = || service.post("/api/v1/quotes", &json!({"customer_reference": "BL-17", "piece": demo()}));
    let kept = quote();
    assert_eq!(kept.status, 201, "{}", kept.text());
    for crash in [false, true] {
        if crash {
            server.crash()
        } else {
            server.stop()
        };
        let told = wait_for(|| Some(service.get("/health/ready")).filter(|answer| answer.status == 503));
        assert!(told.text().contains("database: "), "{}", told.text());
        // What needs the database says so and names neither address nor password; what needs nothing of it goes on.
        let refused = quote();
        assert_eq!(refused.status, 503, "{}", refused.text());
        assert!(!refused.header("retry-after").is_empty());
        let detail = refused.problem().detail;
        assert!(detail.contains("database") && !detail.contains("127.0.0.1"), "{detail}");
        service.estimate(&demo());
        service.get("/health/live").ok();
        assert!(service.get("/metrics").text().contains("toile_database_up 0"));
        server.resume();
        wait_for(|| (service.get("/health/ready").status == 200).then_some(()));
        // At once: connections that broke are not handed out first.
        let kept = quote();
        assert_eq!(kept.status, 201, "{}", kept.text());
    }
    assert_eq!(database.ask("select count(*) from quotes"), "3", "nothing twice, nothing half");
    assert!(!process.log().contains(&database.url()), "the log names the address");
}

#[test]
#[ignore = "needs PostgreSQL"]
fn a_database_that_takes_nothing_is_told_with_postgres() {
    let server = Postgres::start();
    let database = server.database();
    let process = Process::start(&ON_FREE_PORT, &[("TOILE_DATABASE", &database.url())]);
    let service = process.service();
    // As a stand-by does, or a server whose owner has had enough.
    database.ask("alter system set default_transaction_read_only = on");
    database.ask("select pg_reload_conf()");
    let told = wait_for(|| Some(service.get("/health/ready")).filter(|answer| answer.status == 503));
    assert!(told.text().contains("database: it cannot be written to"), "{}", told.text());
    let refused = service.post("/api/v1/quotes", &json!({"customer_reference": "BL-17", "piece": demo()}));
    assert_eq!(refused.status, 503, "{}", refused.text());
    service.estimate(&demo());
}
