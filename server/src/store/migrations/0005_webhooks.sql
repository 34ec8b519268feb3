create table webhooks (
    id text primary key,
    url text not null,
    events text not null,
    note text not null,
    secret text not null,
    old_secret text not null,
    old_secret_until_ms bigint not null,
    active bigint not null,
    made_by text not null,
    made_at_ms bigint not null
);

create table events (
    id text primary key,
    at_ms bigint not null,
    kind text not null,
    subject text not null,
    payload text not null
);

create table deliveries (
    id text primary key,
    event_id text not null,
    webhook_id text not null,
    state text not null,
    attempts bigint not null,
    next_at_ms bigint not null,
    claim text not null,
    last_at_ms bigint not null,
    last_status bigint not null,
    last_error text not null
);

create index deliveries_due on deliveries (state, webhook_id, next_at_ms);
create index deliveries_of_webhook on deliveries (webhook_id, id);
create index deliveries_of_event on deliveries (event_id);
