//! The metrics: one recorder for the process, and what is read off when somebody asks.
//!
//! Labels come from fixed sets only, so that nothing that is sent makes a new series: routes by their template, roles, states.

use std::sync::OnceLock;
use std::sync::atomic::Ordering::Relaxed;
use std::time::Duration;

use metrics::{counter, gauge};
use metrics_exporter_prometheus::{Matcher, PrometheusBuilder, PrometheusHandle};

use crate::app::App;

/// The one recorder of the process; every router of a test run shares it.
pub fn recorder() -> &'static PrometheusHandle {
    static RECORDER: OnceLock<PrometheusHandle> = OnceLock::new();
    RECORDER.get_or_init(|| {
        let seconds = [0.0001, 0.0003, 0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0];
        let build = || PrometheusBuilder::new().set_buckets_for_metric(Matcher::Suffix("_seconds".into()), &seconds)?.install_recorder();
        let recorder = build().expect("the recorder is installed once, with buckets that are there");
        gauge!("toile_build_info", "version" => env!("CARGO_PKG_VERSION"), "model" => toile_model::VERSION).set(1.0);
        recorder
    })
}

/// Longest wait for counts of the database; the metrics come without them then.
const PATIENCE: Duration = Duration::from_secs(2);

/// Reads off what is not counted as it happens.
pub async fn look(app: &App) {
    for gate in [app.heavy.state(), app.batches.state()] {
        let line = gate.line;
        gauge!("toile_line_places", "line" => line).set(gate.places as f64);
        gauge!("toile_line_running", "line" => line).set(gate.running as f64);
        gauge!("toile_line_waiting", "line" => line).set(gate.waiting as f64);
        gauge!("toile_line_flooded", "line" => line).set(f64::from(u8::from(gate.flooded)));
        gauge!("toile_line_mean_work_seconds", "line" => line).set(gate.mean_s);
        counter!("toile_line_turned_away_total", "line" => line).absolute(gate.turned_away);
    }
    gauge!("toile_connections").set(app.traffic.connections.load(Relaxed) as f64);
    gauge!("toile_connections_most").set(app.limits.connections as f64);
    counter!("toile_connections_refused_total").absolute(app.traffic.refused.load(Relaxed));
    gauge!("toile_stopping").set(f64::from(u8::from(app.traffic.stopping.load(Relaxed))));
    if let Some(bytes) = resident_bytes() {
        gauge!("toile_resident_bytes").set(bytes);
    }
    let (open, idle) = app.store.connections();
    gauge!("toile_database_connections", "state" => "idle").set(idle as f64);
    gauge!("toile_database_connections", "state" => "in use").set(open.saturating_sub(idle) as f64);
    let up = tokio::time::timeout(PATIENCE, app.store.ping()).await.is_ok_and(|outcome| outcome.is_ok());
    gauge!("toile_database_up").set(f64::from(u8::from(up)));
    if !up {
        return;
    }
    if let Ok(Ok(counts)) = tokio::time::timeout(PATIENCE, app.store.state_counts()).await {
        for (state, count) in counts.jobs {
            gauge!("toile_jobs", "state" => state).set(count as f64);
        }
        for (state, count) in counts.chunks {
            gauge!("toile_job_chunks", "state" => state).set(count as f64);
        }
        for (state, count) in counts.deliveries {
            gauge!("toile_webhook_deliveries", "state" => state).set(count as f64);
        }
    }
}

/// Memory of this process, where the system tells.
fn resident_bytes() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    let kib: f64 = line.split_whitespace().next()?.parse().ok()?;
    Some(kib * 1024.0)
}
