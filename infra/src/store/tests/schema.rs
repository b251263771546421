//! The migrations, seen from the schema that they leave.

use super::Checked;
use migrations::Standing;
use sea_orm::{ConnectionTrait, Statement};

use crate::config::DatabaseConfig;
use crate::store::Store;
use crate::testing::TestStore;

/// Everything that a migration can make, one line each, in an order that does not depend on when it was made.
const SERVER: &str = "
    SELECT 'column ' || table_name || ' ' || ordinal_position || ' ' || column_name || ' ' || data_type || ' '
        || is_nullable || ' ' || coalesce(collation_name, '') || ' ' || coalesce(column_default, '') AS line
    FROM information_schema.columns WHERE table_schema = 'public'
    UNION ALL SELECT 'constraint ' || conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid)
    FROM pg_constraint WHERE connamespace = 'public'::regnamespace
    UNION ALL SELECT 'compressed ' || attrelid::regclass || ' ' || attname || ' ' || attcompression::text
    FROM pg_attribute WHERE attcompression::text <> ''
    UNION ALL SELECT 'index ' || indexdef FROM pg_indexes WHERE schemaname = 'public'
    UNION ALL SELECT 'policy ' || tablename || ' ' || policyname || ' ' || cmd || ' ' || qual || ' '
        || coalesce(with_check, '') FROM pg_policies WHERE schemaname = 'public'
    ORDER BY line";
const FILE: &str = "SELECT type || ' ' || name || ' ' || coalesce(sql, '') AS line FROM sqlite_schema ORDER BY line";

async fn schema(database: &TestStore) -> Vec<String> {
    let pool = &database.store().writer;
    let sql = if database.is_server() { SERVER } else { FILE };
    let rows = pool
        .query_all_raw(Statement::from_string(pool.get_database_backend(), sql))
        .await
        .expect("asked");
    rows.iter()
        .map(|row| row.try_get("", "line").expect("a line"))
        .collect()
}

fn tables(schema: &[String]) -> Vec<&String> {
    schema
        .iter()
        .filter(|line| !line.contains("seaql_migrations"))
        .collect()
}

#[tokio::test]
async fn up_down_up_leaves_the_same_schema() -> Checked {
    let database = TestStore::bare().await;
    let store = database.store();
    let n_steps = store.standing().await?.pending.len();
    assert!(n_steps > 1);
    assert_eq!(
        schema(&database).await,
        Vec::<String>::new(),
        "asking changes nothing"
    );
    assert_eq!(store.migrate().await?, n_steps);
    let first = schema(&database).await;
    assert!(tables(&first).len() > 12);
    store.migrate_down().await?;
    assert_eq!(tables(&schema(&database).await), Vec::<&String>::new());
    assert_eq!(store.migrate().await?, n_steps);
    assert_eq!(schema(&database).await, first);
    assert_eq!(store.standing().await?, Standing::default());
    assert_eq!(store.migrate().await?, 0);
    Ok(())
}

/// Debian's server, with which these tests run, is built with lz4.
#[tokio::test]
async fn long_documents_are_compressed_the_fast_way() {
    let database = TestStore::new().await;
    let schema = schema(&database).await;
    for column in ["plans document", "outbox payload", "idempotency_keys body"] {
        let line = format!("compressed {column} l");
        assert_eq!(schema.contains(&line), database.is_server(), "{line}");
    }
}

#[tokio::test]
async fn two_that_start_together_migrate_once() -> Checked {
    let database = TestStore::bare().await;
    let config: &DatabaseConfig = database.config();
    let second = Store::open(config).await?;
    let n_steps = second.standing().await?.pending.len();
    let (one, two) = tokio::join!(database.store().migrate(), second.migrate());
    let mut n_applied = [one.expect("migrated"), two.expect("migrated")];
    n_applied.sort_unstable();
    assert_eq!(n_applied, [0, n_steps]);
    second.close().await?;
    Ok(())
}

#[tokio::test]
async fn a_database_that_is_ahead_of_this_build_is_used_as_it_is() -> Checked {
    let database = TestStore::new().await;
    let store = database.store();
    let newer = "m29990101_001_of_a_newer_release";
    let sql = format!("INSERT INTO seaql_migrations (version, applied_at) VALUES ('{newer}', 0)");
    database.execute(&sql).await?;
    let standing = Standing {
        pending: Vec::new(),
        unknown: vec![newer.to_owned()],
    };
    assert_eq!(store.standing().await?, standing);
    assert_eq!(store.migrate().await?, 0, "a start, as after a rollback");
    Ok(())
}

#[tokio::test]
async fn every_key_and_index_begins_with_the_tenant() -> Checked {
    let database = TestStore::new().await;
    let mut n_lists = 0;
    for line in tables(&schema(&database).await) {
        if line.contains("tenants\" (") || line.contains("tenants_") || line.contains("pk_tenants")
        {
            continue;
        }
        // The workers look for the oldest piece of work of all tenants.
        let of_workers = ["ix_estimate_jobs_due", "ix_schedules_due", "ix_imports_due"];
        if of_workers.iter().any(|index| line.contains(index)) {
            continue;
        }
        for list in column_lists(&line.replace('"', "")) {
            assert!(list.trim_start().starts_with("tenant_id"), "{line}");
            n_lists += 1;
        }
    }
    assert!(n_lists > 30, "only {n_lists} keys and indexes were seen");
    Ok(())
}

/// What stands behind the bracket that opens each key's or index's list of columns.
fn column_lists(line: &str) -> Vec<&str> {
    if line.starts_with("index ") {
        return line
            .split_once(" (")
            .map(|(_, list)| list)
            .into_iter()
            .collect();
    }
    let keys = ["PRIMARY KEY (", "FOREIGN KEY ("];
    keys.iter()
        .flat_map(|key| line.split(key).skip(1))
        .collect()
}
