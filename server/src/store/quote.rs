//! Quotes: one row for each revision, with the piece and the estimate as they were answered.
//!
//! What a state allows is decided by the use case; here a change is written only to the very version of a row that it was
//! decided for, and everything that goes together goes into one transaction: number, row, key of the request, audit.

use serde_json::json;
use sqlx::any::{AnyArguments, AnyRow};
use sqlx::query::Query;
use sqlx::{Any, Row, Transaction};

use super::{EventKind, KeptAnswer, Once, Store, StoreFault, new_id, now_ms};

/// What a quote says, without piece and estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct QuoteSaid {
    /// What the customer calls it.
    pub customer_reference: String,
    /// What it is about.
    pub title: String,
    /// Terms.
    pub terms: String,
    /// Last day on which it holds, year first.
    pub valid_until: String,
    /// Verdict of the estimate.
    pub verdict: String,
    /// Chance of the estimate.
    pub chance: f64,
    /// Pieces.
    pub quantity: i64,
    /// Price of one, exact decimal.
    pub unit_price: Option<String>,
    /// Price of all, exact decimal.
    pub total: Option<String>,
    /// Currency of both.
    pub currency: Option<String>,
    /// Version of the model.
    pub model_version: String,
    /// Revision of the library.
    pub library_revision: String,
}

/// What a quote holds.
#[derive(Debug, Clone, PartialEq)]
pub struct QuoteContent {
    /// What it says.
    pub said: QuoteSaid,
    /// The piece as it came, JSON.
    pub piece: String,
    /// The estimate as it was answered, JSON.
    pub estimate: String,
}

/// A revision of a quote without piece and estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct QuoteRow {
    /// Grows with time.
    pub id: String,
    /// Number, the same for all revisions.
    pub number: String,
    /// Counted from 1.
    pub revision: i64,
    /// Grows with every change of this row.
    pub version: i64,
    /// Whether there is no later revision.
    pub latest: bool,
    /// State, as the use case calls it.
    pub state: String,
    /// What it says.
    pub said: QuoteSaid,
    /// When it was made.
    pub created_ms: i64,
    /// When it was last changed.
    pub changed_ms: i64,
    /// When it was sent.
    pub sent_ms: Option<i64>,
    /// When it was accepted, declined or withdrawn.
    pub decided_ms: Option<i64>,
}

/// A revision of a quote with piece and estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct QuoteWhole {
    /// Everything else.
    pub row: QuoteRow,
    /// The piece as it came, JSON.
    pub piece: String,
    /// The estimate as it was answered, JSON.
    pub estimate: String,
}

/// How a quote is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum QuoteName {
    /// By the id of one revision.
    Id(String),
    /// By its number: the latest revision.
    Number(String),
    /// By number and revision.
    Revision(String, i64),
}

/// Which quotes are asked for; an empty text asks for all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct QuoteFilter {
    /// What number, customer reference or title contain, in any case of letters.
    pub text: String,
    /// The customer reference, exactly.
    pub customer_reference: String,
    /// State.
    pub state: String,
    /// Verdict.
    pub verdict: String,
    /// Earlier revisions too.
    pub all_revisions: bool,
}

/// A change of state.
#[derive(Debug, Clone, Copy)]
pub struct QuoteTurn<'a> {
    /// State that the row is in.
    pub from: &'a str,
    /// State that it comes to.
    pub to: &'a str,
    /// Whether the customer has it from now on.
    pub sends: bool,
    /// State that earlier revisions which the customer still has come to when this one is sent.
    pub replaced: &'a str,
}

/// Who does it, under which name, and how often.
#[derive(Debug, Clone, Copy)]
pub struct Doing<'a> {
    /// For the audit log.
    pub actor: &'a str,
    /// Id of the operation.
    pub operation: &'a str,
    /// The request to be done once.
    pub once: Option<&'a Once>,
}

const ROW: &str = "id, number, revision, version, latest, state, customer_reference, title, terms, valid_until, verdict, chance, quantity, \
                   unit_price, total, currency, model_version, library_revision, created_ms, changed_ms, sent_ms, decided_ms";

impl Store {
    /// Keeps a new quote under the next number of the year and answers with it.
    ///
    /// # Errors
    /// Why the database did not keep it; [`StoreFault::Taken`] when the request was done before.
    pub async fn quote_create(
        &self,
        content: &QuoteContent,
        year: i16,
        doing: Doing<'_>,
        answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
    ) -> Result<KeptAnswer, StoreFault> {
        let mut transaction = self.begin_once(doing).await?;
        let count = counter_next(&mut transaction, &format!("quotes {year}")).await?;
        let row = insert(&mut transaction, content, format!("{year}-{count:04}"), 1).await?;
        event_of(&mut transaction, "created", &row.id, &row.number, row.revision).await?;
        self.finish_quote(transaction, row, doing, answer).await
    }

    /// Makes the next revision of a quote, when `from` is still its latest and in the state and version that the caller saw.
    ///
    /// # Errors
    /// Why the database did not; [`StoreFault::Taken`] when the request was done before.
    pub async fn quote_revise(
        &self,
        from: &QuoteRow,
        content: &QuoteContent,
        doing: Doing<'_>,
        answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
    ) -> Result<Option<KeptAnswer>, StoreFault> {
        let mut transaction = self.begin_once(doing).await?;
        let sql = "update quotes set latest = 0 where id = $1 and version = $2 and latest = 1";
        let done = sqlx::query(sql).bind(&from.id).bind(from.version).execute(&mut *transaction).await?;
        if done.rows_affected() == 0 {
            return Ok(None);
        }
        let row = insert(&mut transaction, content, from.number.clone(), from.revision + 1).await?;
        event_of(&mut transaction, "revised", &row.id, &row.number, row.revision).await?;
        self.finish_quote(transaction, row, doing, answer).await.map(Some)
    }

    /// Writes new content into a row, when it is still in the state and version that the caller saw.
    ///
    /// # Errors
    /// Why the database did not; [`StoreFault::Taken`] when the request was done before.
    pub async fn quote_change(
        &self,
        from: &QuoteRow,
        content: &QuoteContent,
        doing: Doing<'_>,
        answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
    ) -> Result<Option<KeptAnswer>, StoreFault> {
        let mut transaction = self.begin_once(doing).await?;
        let sql = format!(
            "update quotes set customer_reference = $1, title = $2, terms = $3, valid_until = $4, verdict = $5, chance = $6, quantity = $7, \
             unit_price = $8, total = $9, currency = $10, model_version = $11, library_revision = $12, piece = $13, estimate = $14, \
             search = $15, changed_ms = $16, version = version + 1 where id = $17 and version = $18 and state = $19 returning {ROW}"
        );
        let row = bind_said(sqlx::query(sqlx::AssertSqlSafe(sql)), &content.said)
            .bind(&content.piece)
            .bind(&content.estimate)
            .bind(searched(&from.number, content))
            .bind(now_ms())
            .bind(&from.id)
            .bind(from.version)
            .bind(&from.state)
            .fetch_optional(&mut *transaction)
            .await?;
        match row {
            Some(row) => self.finish_quote(transaction, row_of(&row)?, doing, answer).await.map(Some),
            None => Ok(None),
        }
    }

    /// Brings a row to another state, when it is still in the state and version that the caller saw. When it is sent,
    /// earlier revisions that the customer still has are replaced by it.
    ///
    /// # Errors
    /// Why the database did not; [`StoreFault::Taken`] when the request was done before.
    pub async fn quote_turn(
        &self,
        row: &QuoteRow,
        turn: QuoteTurn<'_>,
        doing: Doing<'_>,
        answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
    ) -> Result<Option<KeptAnswer>, StoreFault> {
        let mut transaction = self.begin_once(doing).await?;
        let now = now_ms();
        let (sent, decided) = if turn.sends { (Some(now), row.decided_ms) } else { (row.sent_ms, Some(now)) };
        let sql = format!(
            "update quotes set state = $1, sent_ms = $2, decided_ms = $3, changed_ms = $4, version = version + 1 \
             where id = $5 and version = $6 and state = $7 returning {ROW}"
        );
        let turned = sqlx::query(sqlx::AssertSqlSafe(sql))
            .bind(turn.to)
            .bind(sent)
            .bind(decided)
            .bind(now)
            .bind(&row.id)
            .bind(row.version)
            .bind(turn.from)
            .fetch_optional(&mut *transaction)
            .await?;
        let Some(turned) = turned else { return Ok(None) };
        if turn.sends {
            let sql = "update quotes set state = $1, decided_ms = $2, changed_ms = $2, version = version + 1 \
                       where number = $3 and revision < $4 and state = $5 returning id, revision";
            let replaced = sqlx::query(sql)
                .bind(turn.replaced)
                .bind(now)
                .bind(&row.number)
                .bind(row.revision)
                .bind(turn.to)
                .fetch_all(&mut *transaction)
                .await?;
            for earlier in replaced {
                let (id, revision): (String, i64) = (earlier.try_get(0)?, earlier.try_get(1)?);
                let detail = format!("{}, replaced by revision {}", turn.replaced, row.revision);
                Self::audit_note(&mut transaction, doing.actor, doing.operation, &subject(&row.number, revision), &detail).await?;
                event_of(&mut transaction, turn.replaced, &id, &row.number, revision).await?;
            }
        }
        let turned = row_of(&turned)?;
        event_of(&mut transaction, turn.to, &turned.id, &turned.number, turned.revision).await?;
        self.finish_quote(transaction, turned, doing, answer).await.map(Some)
    }

    /// One revision of a quote.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn quote_find(&self, name: &QuoteName) -> Result<Option<QuoteWhole>, StoreFault> {
        let (place, text, revision) = match name {
            QuoteName::Id(id) => ("id = $1 and $2 = $2", id, 0),
            QuoteName::Number(number) => ("number = $1 and latest = 1 and $2 = $2", number, 0),
            QuoteName::Revision(number, revision) => ("number = $1 and revision = $2", number, *revision),
        };
        let sql = format!("select {ROW}, piece, estimate from quotes where {place}");
        let row = sqlx::query(sqlx::AssertSqlSafe(sql)).bind(text).bind(revision).fetch_optional(&self.pool).await?;
        row.map(|row| Ok(QuoteWhole { row: row_of(&row)?, piece: row.try_get("piece")?, estimate: row.try_get("estimate")? })).transpose()
    }

    /// Quotes before an id, newest first; from the newest where none is given.
    ///
    /// # Errors
    /// Why the database cannot tell.
    pub async fn quote_list(&self, filter: &QuoteFilter, before: Option<&str>, most: u32) -> Result<Vec<QuoteRow>, StoreFault> {
        let sql = format!(
            "select {ROW} from quotes where ($1 = '' or id < $1) and (latest = 1 or $2 = 1) and ($3 = '' or state = $3) \
             and ($4 = '' or verdict = $4) and ($5 = '' or customer_reference = $5) and ($6 = '' or search like $6 escape '!') \
             order by id desc limit $7"
        );
        let rows = sqlx::query(sqlx::AssertSqlSafe(sql))
            .bind(before.unwrap_or_default())
            .bind(i64::from(filter.all_revisions))
            .bind(&filter.state)
            .bind(&filter.verdict)
            .bind(&filter.customer_reference)
            .bind(pattern(&filter.text))
            .bind(i64::from(most))
            .fetch_all(&self.pool)
            .await?;
        rows.iter().map(row_of).collect()
    }

    async fn begin_once(&self, doing: Doing<'_>) -> Result<Transaction<'static, Any>, StoreFault> {
        let mut transaction = self.begin().await?;
        if let Some(once) = doing.once {
            Self::once_claim(&mut transaction, once).await?;
        }
        Ok(transaction)
    }

    /// Notes what was done, keeps the answer, and ends the transaction: from here on all of it is there, or none.
    async fn finish_quote(
        &self,
        mut transaction: Transaction<'static, Any>,
        row: QuoteRow,
        doing: Doing<'_>,
        answer: impl FnOnce(&QuoteRow) -> KeptAnswer,
    ) -> Result<KeptAnswer, StoreFault> {
        Self::audit_note(&mut transaction, doing.actor, doing.operation, &subject(&row.number, row.revision), &row.state).await?;
        let answer = answer(&row);
        if let Some(once) = doing.once {
            Self::once_keep(&mut transaction, once, &answer).await?;
        }
        transaction.commit().await?;
        Ok(answer)
    }
}

/// Notes for others what happened to a revision of a quote, or which state it came to; what nobody can ask to be told is left out.
async fn event_of(
    transaction: &mut Transaction<'static, Any>,
    what: &str,
    id: &str,
    number: &str,
    revision: i64,
) -> Result<(), StoreFault> {
    let Some(kind) = EventKind::of(&format!("quote.{what}")) else { return Ok(()) };
    Store::event_note(transaction, kind, id, &json!({"id": id, "number": number, "revision": revision})).await
}

/// What the audit log calls a revision of a quote.
fn subject(number: &str, revision: i64) -> String {
    format!("quote {number}.{revision}")
}

/// The next of the numbers that this counter gives out.
async fn counter_next(transaction: &mut Transaction<'static, Any>, name: &str) -> Result<i64, StoreFault> {
    let sql =
        "insert into counters (name, value) values ($1, 1) on conflict (name) do update set value = counters.value + 1 returning value";
    Ok(sqlx::query(sql).bind(name).fetch_one(&mut **transaction).await?.try_get(0)?)
}

async fn insert(
    transaction: &mut Transaction<'static, Any>,
    content: &QuoteContent,
    number: String,
    revision: i64,
) -> Result<QuoteRow, StoreFault> {
    let sql = format!(
        "insert into quotes (id, number, revision, version, latest, state, customer_reference, title, terms, valid_until, verdict, chance, \
         quantity, unit_price, total, currency, model_version, library_revision, created_ms, changed_ms, sent_ms, decided_ms, search, piece, \
         estimate) values ($1, $2, $3, 1, 1, 'draft', $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $16, null, null, $17, $18, \
         $19) returning {ROW}"
    );
    let query = sqlx::query(sqlx::AssertSqlSafe(sql)).bind(new_id()).bind(&number).bind(revision);
    let row = bind_said(query, &content.said)
        .bind(now_ms())
        .bind(searched(&number, content))
        .bind(&content.piece)
        .bind(&content.estimate)
        .fetch_one(&mut **transaction)
        .await?;
    row_of(&row)
}

/// Binds what a quote says, in the order of its columns.
fn bind_said<'q>(query: Query<'q, Any, AnyArguments>, said: &'q QuoteSaid) -> Query<'q, Any, AnyArguments> {
    query
        .bind(&said.customer_reference)
        .bind(&said.title)
        .bind(&said.terms)
        .bind(&said.valid_until)
        .bind(&said.verdict)
        .bind(said.chance)
        .bind(said.quantity)
        .bind(&said.unit_price)
        .bind(&said.total)
        .bind(&said.currency)
        .bind(&said.model_version)
        .bind(&said.library_revision)
}

/// What a search looks through.
fn searched(number: &str, content: &QuoteContent) -> String {
    format!("{number}\n{}\n{}", content.said.customer_reference, content.said.title).to_lowercase()
}

/// A pattern for everything that contains this text; empty for an empty text.
fn pattern(text: &str) -> String {
    if text.is_empty() {
        return String::new();
    }
    let mut pattern = String::from("%");
    for letter in text.to_lowercase().chars() {
        if matches!(letter, '%' | '_' | '!') {
            pattern.push('!');
        }
        pattern.push(letter);
    }
    pattern.push('%');
    pattern
}

fn row_of(row: &AnyRow) -> Result<QuoteRow, StoreFault> {
    Ok(QuoteRow {
        id: row.try_get("id")?,
        number: row.try_get("number")?,
        revision: row.try_get("revision")?,
        version: row.try_get("version")?,
        latest: row.try_get::<i64, _>("latest")? == 1,
        state: row.try_get("state")?,
        said: QuoteSaid {
            customer_reference: row.try_get("customer_reference")?,
            title: row.try_get("title")?,
            terms: row.try_get("terms")?,
            valid_until: row.try_get("valid_until")?,
            verdict: row.try_get("verdict")?,
            chance: row.try_get("chance")?,
            quantity: row.try_get("quantity")?,
            unit_price: row.try_get("unit_price")?,
            total: row.try_get("total")?,
            currency: row.try_get("currency")?,
            model_version: row.try_get("model_version")?,
            library_revision: row.try_get("library_revision")?,
        },
        created_ms: row.try_get("created_ms")?,
        changed_ms: row.try_get("changed_ms")?,
        sent_ms: row.try_get("sent_ms")?,
        decided_ms: row.try_get("decided_ms")?,
    })
}

#[cfg(test)]
mod tests {
    use super::pattern;

    #[test]
    fn what_is_searched_for_is_taken_word_for_word() {
        assert_eq!(pattern(""), "");
        assert_eq!(pattern("50% Ärmel_a!"), "%50!% ärmel!_a!!%");
    }
}
