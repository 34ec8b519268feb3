//! `toile key`: making, listing and revoking keys from the command line.

use std::fmt::Display;
use std::io::{self, Write};

use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use crate::config::{Expiry, Key, KeyAdd};
use crate::keys::Role;
use crate::store::Store;
use crate::usecase::key::{KeyRow, KeyWish, RevokeFault, end_after_days, key_create, key_list, key_revoke};

/// Who it is in the audit log.
const ACTOR: &str = "command line";
/// Keys that are listed at a time.
const PAGE: u32 = 200;

/// Does what was asked for.
///
/// # Errors
/// Why it was not done, in words.
pub async fn key(what: &Key, store: &Store) -> Result<(), String> {
    let mut out = io::stdout().lock();
    match what {
        Key::Add(wanted) => add(wanted, store, &mut out).await,
        Key::List { .. } => list(store, &mut out).await,
        Key::Revoke { id, .. } => revoke(id, store, &mut out).await,
    }
}

async fn add(wanted: &KeyAdd, store: &Store, out: &mut impl Write) -> Result<(), String> {
    let expires_ms = wanted.expires.map(end).transpose()?;
    let wish = KeyWish { name: wanted.name.clone(), role: wanted.role, expires_ms, per_minute: wanted.per_minute };
    let (row, secret) = key_create(store, wish, ACTOR).await.map_err(words)?;
    let until = row.expires_ms.map_or_else(|| "without an end".to_owned(), |end| format!("until {}", time(end)));
    eprintln!("Key {} for {}, {}, {until}. It is shown this once; keep it safe:", row.id, row.name, row.role);
    writeln!(out, "{}", secret.reveal()).map_err(words)?;
    if wanted.role != Role::Admin && store.key_list(None, 2).await.map_err(words)?.len() == 1 {
        eprintln!("From now on everything but the page, health and the API's document needs a key. There is no admin's yet.");
    }
    Ok(())
}

/// The moment at which a key ends.
fn end(expiry: Expiry) -> Result<i64, String> {
    let moment = match expiry {
        Expiry::Days(days) => return Ok(end_after_days(days)),
        Expiry::Moment(moment) => Ok(moment),
        Expiry::Date(date) => date.checked_add(1.day()).and_then(|next| TimeZone::UTC.to_timestamp(next.at(0, 0, 0, 0))),
    };
    match moment {
        Ok(moment) if moment > Timestamp::now() => Ok(moment.as_millisecond()),
        Ok(moment) => Err(format!("--expires: a key that ended at {moment} opens nothing")),
        Err(error) => Err(format!("--expires: {error}")),
    }
}

async fn list(store: &Store, out: &mut impl Write) -> Result<(), String> {
    let heading = ["ID", "PREFIX", "ROLE", "STATE", "MADE", "EXPIRES", "LAST USED", "A MINUTE", "NAME"].map(str::to_owned);
    let mut rows = vec![heading];
    let mut after: Option<String> = None;
    loop {
        let keys = key_list(store, after.as_deref(), PAGE).await.map_err(words)?;
        after = keys.last().map(|key| key.id.clone());
        rows.extend(keys.iter().map(cells));
        if keys.len() < PAGE as usize {
            break;
        }
    }
    let widths: Vec<usize> = (0..rows[0].len()).map(|k| rows.iter().map(|row| row[k].chars().count()).max().unwrap_or(0)).collect();
    for row in &rows {
        let line: Vec<String> = row.iter().zip(&widths).map(|(cell, &width)| format!("{cell:width$}")).collect();
        writeln!(out, "{}", line.join("  ").trim_end()).map_err(words)?;
    }
    Ok(())
}

fn cells(key: &KeyRow) -> [String; 9] {
    let ended = key.expires_ms.is_some_and(|end| end <= Timestamp::now().as_millisecond());
    let state = match (key.revoked_ms, ended) {
        (Some(_), _) => "revoked",
        (None, true) => "expired",
        (None, false) => "in use",
    };
    let maybe = |ms: Option<i64>, without: &str| ms.map_or_else(|| without.to_owned(), time);
    [
        key.id.clone(),
        key.prefix.clone(),
        key.role.clone(),
        state.to_owned(),
        time(key.created_ms),
        maybe(key.expires_ms, "never"),
        maybe(key.last_used_ms, "never"),
        key.per_minute.map_or_else(|| "any".to_owned(), |n| n.to_string()),
        key.name.clone(),
    ]
}

async fn revoke(id: &str, store: &Store, out: &mut impl Write) -> Result<(), String> {
    match key_revoke(store, id, ACTOR).await {
        Ok(key) => writeln!(out, "Key {} for {} is revoked.", key.id, key.name).map_err(words),
        Err(RevokeFault::NotThere | RevokeFault::Own) => {
            Err(format!("there is no key with the id or prefix {id}; `toile key list` tells them"))
        }
        Err(RevokeFault::Store(fault)) => Err(words(fault)),
    }
}

/// A time to the second, in UTC.
fn time(ms: i64) -> String {
    Timestamp::from_millisecond(ms - ms.rem_euclid(1000)).map_or_else(|_| ms.to_string(), |t| t.to_string())
}

fn words(why: impl Display) -> String {
    why.to_string()
}
