//! The second fence: on a server, what a role of ours may see and do, whatever SQL it sends. The third, composite keys, on
//! both databases.

use futures_util::FutureExt as _;
use sea_orm::{ConnectionTrait, DbErr, Statement};

use super::{Checked, World};
use crate::config::DatabaseConfig;
use crate::store::tenant::TABLES;
use crate::store::{Access, Constraint, OpenError, Store, StoreError};
use crate::testing::TEST_DATABASE_URL;
use domain::id::TenantId;

/// Tables with rows of tenants, by the catalog of the database.
const SERVER: &str = "SELECT table_name FROM information_schema.columns
    WHERE table_schema = 'public' AND column_name = 'tenant_id' ORDER BY 1";
const FILE: &str = "SELECT m.name FROM sqlite_schema m JOIN pragma_table_info(m.name) c
    WHERE m.type = 'table' AND c.name = 'tenant_id' ORDER BY 1";
/// Those of them that have no fence, or one that does not bind their owner.
const UNFENCED: &str = "SELECT relname::text FROM pg_class c
    JOIN pg_attribute a ON a.attrelid = c.oid AND a.attname = 'tenant_id'
    WHERE c.relkind IN ('r', 'p') AND c.relnamespace = 'public'::regnamespace
    AND NOT (c.relrowsecurity AND c.relforcerowsecurity AND EXISTS (
        SELECT 1 FROM pg_policies p WHERE p.tablename = c.relname AND p.cmd = 'ALL'
        AND p.qual LIKE '%tenant_id = %NULLIF%app.tenant_id%' AND p.with_check = p.qual))";

async fn texts(on: &impl ConnectionTrait, sql: &str) -> Result<Vec<String>, DbErr> {
    let asked = Statement::from_string(on.get_database_backend(), sql);
    let rows = on.query_all_raw(asked).await?;
    rows.iter().map(|row| row.try_get_by_index(0)).collect()
}

async fn number(on: &impl ConnectionTrait, sql: &str) -> Result<i64, DbErr> {
    let asked = Statement::from_string(on.get_database_backend(), sql);
    let row = on.query_one_raw(asked).await?;
    row.map_or(Ok(-1), |row| row.try_get_by_index(0))
}

/// A world in which each tenant has a site.
async fn two_sites() -> World {
    let world = World::new().await;
    for tenant in [world.ours, world.theirs] {
        let tx = world.store().begin(tenant).await.expect("begun");
        tx.sites().insert(&world.site()).await.expect("a site");
        tx.commit().await.expect("kept");
    }
    world
}

#[tokio::test]
async fn o_08_every_table_of_tenants_is_fenced_and_erased() -> Checked {
    let world = World::new().await;
    let tx = world.read().await;
    let sql = if world.database.is_server() {
        SERVER
    } else {
        FILE
    };
    let mut listed: Vec<&str> = TABLES.to_vec();
    listed.sort_unstable();
    assert_eq!(
        texts(&tx.inner, sql).await?,
        listed,
        "what an erasure deletes"
    );
    if world.database.is_server() {
        assert_eq!(texts(&tx.inner, UNFENCED).await?, [""; 0]);
        // The control: a fence that is taken down is missed.
        world
            .database
            .execute("ALTER TABLE sites NO FORCE ROW LEVEL SECURITY")
            .await?;
        assert_eq!(texts(&world.read().await.inner, UNFENCED).await?, ["sites"]);
    }
    Ok(())
}

#[tokio::test]
async fn s_012_without_a_tenant_nothing_is_seen_and_with_one_only_his() -> Checked {
    let world = two_sites().await;
    if !world.database.is_server() {
        return Ok(());
    }
    let pool = &world.store().reader;
    assert!(!world.store().owns_tables().await?);
    for table in TABLES {
        let sql = format!("SELECT COUNT(*) FROM {table}");
        assert_eq!(number(pool, &sql).await?, 0, "{table}");
    }
    let touch = [
        "UPDATE sites SET name = 'x'",
        "DELETE FROM sites",
        "UPDATE sites SET name = 'x' WHERE tenant_id IS NOT NULL",
    ];
    for sql in touch {
        assert_eq!(
            pool.execute_unprepared(sql).await?.rows_affected(),
            0,
            "{sql}"
        );
    }
    let theirs = world.theirs.uuid();
    let seen = "SELECT COUNT(*) FROM sites";
    let tx = world.begin().await;
    assert_eq!(number(&tx.inner, seen).await?, 1);
    for sql in touch {
        let sql = format!(
            "{sql}{} tenant_id = '{theirs}'",
            if sql.contains("WHERE") {
                " AND"
            } else {
                " WHERE"
            }
        );
        assert_eq!(
            tx.inner.execute_unprepared(&sql).await?.rows_affected(),
            0,
            "{sql}"
        );
    }
    let moved = format!("UPDATE sites SET tenant_id = '{theirs}'");
    let refused = tx.inner.execute_unprepared(&moved).await;
    assert!(refused.is_err_and(|error| error.to_string().contains("row-level security")));
    drop(tx);
    assert_eq!(number(&world.store().glance(world.theirs), seen).await?, 1);
    // The control: without the fence the same statement sees both.
    world
        .database
        .execute("ALTER TABLE sites DISABLE ROW LEVEL SECURITY")
        .await?;
    assert_eq!(number(pool, seen).await?, 2);
    Ok(())
}

/// What a glance or a transaction of a tenant sees of all sites' tenants, by a statement that does not ask for one.
async fn seen(store: &Store, tenant: TenantId, by_glance: bool) -> Result<Vec<String>, StoreError> {
    let sql = "SELECT tenant_id::text FROM sites";
    if by_glance {
        return Ok(texts(&store.glance(tenant), sql).await?);
    }
    let tx = store.read(tenant).await?;
    Ok(texts(tx.on(), sql).await?)
}

#[tokio::test]
async fn s_013_two_tenants_on_two_connections_never_meet() -> Checked {
    let world = two_sites().await;
    if !world.database.is_server() {
        return Ok(());
    }
    let config = DatabaseConfig {
        max_connections: 2,
        ..world.database.config().clone()
    };
    let store = Store::open(&config).await?;
    let tenants = [world.ours, world.theirs];
    let mut n_cancelled = 0;
    for round in 0..250 {
        let ask = |n: usize| {
            let tenant = tenants[n % 2];
            let asked = seen(&store, tenant, (round + n / 2).is_multiple_of(2));
            async move { (tenant, asked.await) }
        };
        let (mut asked, left) = ((0..8).map(ask).collect::<Vec<_>>(), ask(round));
        // One of nine is given up after it has sent what it sends first.
        n_cancelled += usize::from(left.now_or_never().is_none());
        let some = futures_util::future::join_all(asked.drain(..)).await;
        for (tenant, found) in some {
            assert_eq!(found?, [tenant.uuid().to_string()], "round {round}");
        }
    }
    assert!(n_cancelled > 50, "{n_cancelled}");
    // What the pool has is told of nobody: both connections at once.
    store.glances.close();
    let sql = "SELECT coalesce(current_setting('app.tenant_id', true), '')";
    let held = [store.look_for_work().await?, store.look_for_work().await?];
    for connection in &held {
        assert_eq!(texts(connection, sql).await?, [""]);
    }
    drop(held);
    store.close().await?;
    Ok(())
}

#[tokio::test]
async fn s_014_a_row_cannot_name_what_is_another_tenants() -> Checked {
    let world = two_sites().await;
    let site = world.site();
    let tx = world.store().begin(world.theirs).await?;
    tx.sites().insert(&site).await?;
    tx.commit().await?;
    let tx = world.begin().await;
    let refused = tx.surfaces().insert(&world.surface(&site)).await;
    let rule = Constraint::Reference;
    assert!(
        matches!(refused, Err(StoreError::Conflict { constraint }) if constraint == rule),
        "{refused:?}"
    );
    drop(tx);
    // The control: of the other tenant the same row is taken.
    let tx = world.store().begin(world.theirs).await?;
    tx.surfaces().insert(&world.surface(&site)).await?;
    Ok(tx.commit().await?)
}

#[tokio::test]
async fn o_07_the_role_that_serves_changes_no_table_no_tenant_and_no_fence() -> Checked {
    let world = two_sites().await;
    if !world.database.is_server() {
        return Ok(());
    }
    let pool = &world.store().writer;
    for sql in [
        "CREATE TABLE mine (id int)",
        "CREATE FUNCTION mine() RETURNS int LANGUAGE sql AS 'SELECT 1'",
        "ALTER TABLE sites ADD COLUMN mine int",
        "ALTER TABLE sites DISABLE ROW LEVEL SECURITY",
        "ALTER TABLE sites NO FORCE ROW LEVEL SECURITY",
        "CREATE POLICY mine ON sites USING (true)",
        "DROP POLICY of_tenant ON sites",
        "DROP TABLE outbox",
        "TRUNCATE outbox",
        "INSERT INTO tenants SELECT * FROM tenants",
        "UPDATE tenants SET name = 'x'",
        "DELETE FROM tenants",
        "DELETE FROM seaql_migrations",
        "UPDATE audit SET hash = 'x'",
        "DELETE FROM audit",
        "TRUNCATE audit",
        "SET ROLE wearcourse_test_owner",
        "ALTER ROLE CURRENT_USER BYPASSRLS",
        "CREATE ROLE mine",
    ] {
        let refused = pool.execute_unprepared(sql).await;
        let told = refused
            .err()
            .map(|error| error.to_string())
            .unwrap_or_default();
        let is_refused = [
            "permission denied",
            "must be owner",
            "must be superuser",
            "Only roles",
        ];
        assert!(
            is_refused.iter().any(|words| told.contains(words)),
            "{sql}: {told}"
        );
    }
    // It looks for work among all tenants, and sees nothing but jobs there.
    let work = world.store().look_for_work().await?;
    for table in TABLES
        .iter()
        .filter(|table| !["estimate_jobs", "schedules", "imports"].contains(table))
    {
        let sql = format!("SELECT COUNT(*) FROM {table}");
        assert_eq!(number(&work, &sql).await?, 0, "{table}");
    }
    Ok(())
}

#[tokio::test]
#[expect(
    clippy::disallowed_methods,
    reason = "the superuser that tests are given"
)]
async fn o_07_a_role_that_no_fence_binds_is_not_let_serve() -> Checked {
    let world = World::new().await;
    if !world.database.is_server() {
        return Ok(());
    }
    let superuser = DatabaseConfig::new(std::env::var(TEST_DATABASE_URL)?);
    let refused = Store::open(&superuser).await;
    assert!(
        matches!(
            refused,
            Err(OpenError::Weak {
                setting: "role",
                ..
            })
        ),
        "{refused:?}"
    );
    let allowed = DatabaseConfig {
        allow_unsafe_durability: true,
        ..superuser
    };
    Ok(Store::open(&allowed).await?.close().await?)
}
