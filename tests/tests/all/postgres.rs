//! What needs a PostgreSQL server. On request only: `cargo test -p toile-tests -- --ignored postgres`.

use toile_tests::Postgres;

#[test]
#[ignore = "needs PostgreSQL"]
fn every_test_has_an_empty_database_that_survives_a_crash_of_the_server() {
    let server = Postgres::start();
    let (mine, other) = (server.database(), server.database());
    mine.ask("create table seen (value bigint)");
    mine.ask("insert into seen values (7)");
    assert_eq!(other.ask("select count(*) from pg_tables where tablename = 'seen'"), "0");
    assert_eq!(mine.ask("show fsync"), "on");
    server.crash();
    server.resume();
    assert_eq!(mine.ask("select value from seen"), "7");
}
