-- Spreadsheets that are worked off in chunks. Times are milliseconds since 1970 by the database's clock, 0 for "not yet";
-- ids are UUIDs that grow with time. `bytea` is what both databases take for bytes.
create table jobs (
    id text primary key,
    owner text not null,
    name text not null,
    -- uploading, running, finished, cancelled, failed, deleted
    state text not null,
    why text not null,
    -- Only workers of this version take its chunks, so that one sheet is answered alike from top to bottom.
    version text not null,
    -- The shop's settings it is answered by, as JSON; empty for none.
    shop text not null,
    -- How the sheet is written and what its columns mean, as JSON.
    head text not null,
    notes text not null,
    rows_all bigint not null,
    rows_done bigint not null,
    chunks_all bigint not null,
    chunks_done bigint not null,
    blank bigint not null,
    problems bigint not null,
    comfortable bigint not null,
    tight bigint not null,
    measure_first bigint not null,
    out_of_reach bigint not null,
    defused bigint not null,
    created_ms bigint not null,
    touched_ms bigint not null,
    started_ms bigint not null,
    ended_ms bigint not null,
    -- When a chunk of it was last given to a worker: the job that waited longest is served next.
    claimed_ms bigint not null
);

create index jobs_by_state on jobs (state);

create table job_chunks (
    job_id text not null,
    place bigint not null,
    rows_all bigint not null,
    done bigint not null,
    attempts bigint not null,
    -- Who holds it, by a token that no other claim has, and until when. Past that time it is anybody's.
    lease text not null,
    lease_until_ms bigint not null,
    worker text not null,
    done_ms bigint not null,
    primary key (job_id, place)
);

create index job_chunks_open on job_chunks (job_id, place) where done = 0;

create table job_texts (
    job_id text not null,
    place bigint not null,
    body bytea not null,
    primary key (job_id, place)
);

create table job_answers (
    job_id text not null,
    place bigint not null,
    body bytea not null,
    primary key (job_id, place)
);
