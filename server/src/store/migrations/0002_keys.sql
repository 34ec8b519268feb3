-- Keys. The secret is kept as a digest only. Times are milliseconds since 1970 in UTC.
create table keys (
    id text primary key,
    prefix text not null unique,
    digest text not null,
    name text not null,
    role text not null,
    created_ms bigint not null,
    created_by text not null,
    expires_ms bigint,
    per_minute bigint,
    last_used_ms bigint,
    revoked_ms bigint
);
