-- Answers to requests that may come twice: who sent which key with what, and what was answered. A row is written in the
-- transaction of the thing itself and forgotten after a day.
create table idempotency (
    caller text not null,
    idempotency_key text not null,
    fingerprint text not null,
    at_ms bigint not null,
    status bigint not null,
    headers text not null,
    body text not null,
    primary key (caller, idempotency_key)
);

create index idempotency_at on idempotency (at_ms);
create index idempotency_of_caller on idempotency (caller, at_ms);

-- Numbers that are given out in order. A number is taken in the transaction that uses it.
create table counters (
    name text primary key,
    value bigint not null
);

-- Quotes, a row for each revision. `version` grows with every change of the row; `latest` is 1 for the last revision of a
-- number, 0 for the others; `search` holds number, customer reference and title in small letters. Amounts are exact
-- decimals as text; times are milliseconds since 1970 in UTC; `valid_until` is a date, year first.
create table quotes (
    id text primary key,
    number text not null,
    revision bigint not null,
    version bigint not null,
    latest bigint not null,
    state text not null,
    customer_reference text not null,
    title text not null,
    terms text not null,
    valid_until text not null,
    verdict text not null,
    chance double precision not null,
    quantity bigint not null,
    unit_price text,
    total text,
    currency text,
    model_version text not null,
    library_revision text not null,
    created_ms bigint not null,
    changed_ms bigint not null,
    sent_ms bigint,
    decided_ms bigint,
    search text not null,
    piece text not null,
    estimate text not null,
    unique (number, revision)
);

create index quotes_of_customer on quotes (customer_reference);
