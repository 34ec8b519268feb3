-- Who did what. Times are milliseconds since 1970 in UTC; ids are UUIDs that grow with time.
create table audit (
    id text primary key,
    at_ms bigint not null,
    actor text not null,
    action text not null,
    subject text not null,
    detail text not null
);

create index audit_at on audit (at_ms);
