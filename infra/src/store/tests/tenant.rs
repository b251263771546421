//! Tenants, and erasing one.

use super::product::product;
use super::record::floor;
use super::{Checked, World, line, plan_line};
use crate::clock::IdSource as _;
use crate::row::{
    AuditRow, CompletionLinkRow, CompletionRow, ContractorSourceRow, External, LinkStatus,
    ReportLinkRow, RevocationRow, SourceStatus, SurfaceRow, TenantRow,
};
use crate::store::tenant::TABLES;
use crate::store::{Arrived, Constraint, SiteFilter, StoreError, Turn, Tx};
use domain::id::{CompletionLinkId, ContractorId, PlanId, ReportLinkId, RevocationId};
use sea_orm::{ConnectionTrait, Statement};

#[tokio::test]
async fn a_tenant_is_found_by_its_claim() -> Checked {
    let world = World::new().await;
    let found = world
        .store()
        .tenants()
        .find_by_key("ours")
        .await?
        .expect("there");
    assert_eq!(
        (found.id, found.name.as_str(), found.created_at),
        (world.ours, "Those of ours", world.now)
    );
    assert_eq!(world.store().tenants().find_by_key("OURS").await?, None);
    let again = TenantRow {
        id: domain::id::TenantId::from_uuid(uuid::Uuid::nil()),
        ..found
    };
    let owner = world.database.as_owner().await;
    let refused = owner.tenants().add(&again).await;
    assert!(
        matches!(
            refused,
            Err(StoreError::Conflict {
                constraint: Constraint::TenantKey
            })
        ),
        "{refused:?}"
    );
    Ok(())
}

fn audited(world: &World, number: i64) -> AuditRow {
    AuditRow {
        number,
        at: world.now,
        client: None,
        subject: Some("u-1".to_owned()),
        operation: "registerSite".to_owned(),
        resource: "/v1/sites/x".to_owned(),
        before: None,
        after: Some("of it".to_owned()),
        hash: "of all".to_owned(),
    }
}

/// A source of a contractor, and what it sent.
async fn report(world: &World, tx: &Tx, contractor: ContractorId) -> Checked {
    let source = ContractorSourceRow {
        id: domain::id::SourceId::from_uuid(world.ids.uuid()),
        version: 1,
        contractor_id: contractor,
        name: "Crew app".to_owned(),
        status: SourceStatus::Enabled,
        secret: "sealed".to_owned(),
        previous: None,
        created_at: world.now,
        updated_at: world.now,
    };
    tx.contractor_sources().insert(&source).await?;
    let arrived = Arrived {
        source: source.id,
        webhook_id: "evt-1",
        fingerprint: "print",
        payload: "{}",
    };
    tx.inbound().begin(arrived, world.now).await?;
    tx.inbound().finish(source.id, "evt-1", "{}").await?;
    let named = External {
        system: "crew".to_owned(),
        id: "1".to_owned(),
    };
    tx.inbound().report(contractor, &named).await?;
    Ok(())
}

fn link(world: &World) -> ReportLinkRow {
    ReportLinkRow {
        id: ReportLinkId::from_uuid(world.ids.uuid()),
        version: 1,
        name: "Board".to_owned(),
        status: LinkStatus::Active,
        query: "last_months=1".to_owned(),
        secret_hash: "0".repeat(64),
        expires_at: world.now,
        created_at: world.now,
        updated_at: world.now,
    }
}

fn form(world: &World, plan_id: PlanId) -> CompletionLinkRow {
    CompletionLinkRow {
        id: CompletionLinkId::from_uuid(world.ids.uuid()),
        version: 1,
        plan_id,
        contractor_id: None,
        status: LinkStatus::Active,
        language: "en".to_owned(),
        n_reports: 0,
        max_reports: 1,
        secret_hash: "0".repeat(64),
        expires_at: world.now,
        created_at: world.now,
        updated_at: world.now,
    }
}

fn revocation(world: &World) -> RevocationRow {
    RevocationRow {
        id: RevocationId::from_uuid(world.ids.uuid()),
        version: 1,
        holder: "subject".to_owned(),
        name: "who-left".to_owned(),
        issued_until: world.now,
        reason: "No longer works here.".to_owned(),
        created_at: world.now,
    }
}

/// A plan that is accepted, and a link to its form; tokens that are refused.
async fn planned(world: &World, tx: &Tx, floor: &SurfaceRow) -> Checked {
    let plan = world.plan(floor);
    tx.plans()
        .insert(&plan, &[plan_line(&plan, 1, "labour")])
        .await?;
    tx.completion_links().insert(&form(world, plan.id)).await?;
    tx.revocations().insert(&revocation(world)).await?;
    tx.plans()
        .commit(&super::commitment(&plan, floor, "restore"))
        .await?;
    Ok(())
}

#[tokio::test]
async fn an_erased_tenant_leaves_no_row_and_the_others_keep_theirs() -> Checked {
    let world = World::new().await;
    let floor = floor(&world).await;
    let first = world.completion(&floor.surface, &floor.card);
    // More than one batch of lines, and completions that name each other.
    let lines: Vec<_> = (0..1_500)
        .map(|n| line(&first, &floor.surface, n, "labour"))
        .collect();
    let second = CompletionRow {
        supersedes: Some(first.id),
        ..world.completion(&floor.surface, &floor.card)
    };
    let tx = world.begin().await;
    tx.idempotency()
        .begin("client", "key", "print", world.now)
        .await?;
    let contractor = world.contractor();
    tx.contractors().insert(&contractor).await?;
    report(&world, &tx, contractor.id).await?;
    super::import::read(&world, &tx, &floor).await?;
    let job = super::estimate_job::job(&world, floor.site.id);
    let part: &[_] = &[floor.surface.id];
    tx.estimate_jobs().insert(&job, &[part]).await?;
    super::schedule::revised(&world, &tx, floor.site.id).await?;
    tx.products().insert(&product(&world, "polish_n")).await?;
    let left = super::stock_item::item(&world, &floor.site, "polish_n");
    tx.stock_items().insert(&left).await?;
    tx.report_links().insert(&link(&world)).await?;
    super::due::reckoned(&tx, &floor.surface).await?;
    tx.budgets()
        .insert(&super::due::budget(&world, &floor.site))
        .await?;
    tx.completions().insert(&first, &lines).await?;
    tx.completions().insert(&second, &[]).await?;
    tx.completions().supersede(first.id, second.id).await?;
    tx.paces().insert(&[super::pace(&first, 1)]).await?;
    planned(&world, &tx, &floor.surface).await?;
    tx.readings()
        .insert(&super::reading::row(&world, &floor.surface, Some(&second)))
        .await?;
    let seen = super::film::observation(&world, &floor.surface);
    let again = crate::row::ObservationRow {
        supersedes: Some(seen.id),
        external: None,
        ..super::film::observation(&world, &floor.surface)
    };
    tx.observations().insert(&seen).await?;
    tx.observations().insert(&again).await?;
    tx.histories()
        .append(&super::film::happened(&world, &floor.surface, 0))
        .await?;
    tx.estimates().insert(&world.estimate(&floor.site)).await?;
    super::delivery::told(&world, &tx, 2).await?;
    tx.outbox().append(&world.event("sit")).await?;
    let end = tx.audits().end("/v1/sites/x").await?;
    assert_eq!(end, crate::store::AuditEnd::default());
    tx.audits().append(&audited(&world, 1)).await?;
    assert_eq!(tx.audits().end("/v1/sites/x").await?.number, 1);
    tx.idempotency().finish(200, "{}", b"").await?;
    tx.commit().await?;
    let tx = world.store().begin(world.theirs).await?;
    tx.sites().insert(&world.site()).await?;
    tx.commit().await?;

    for table in TABLES {
        assert_ne!(n_rows(&world, table).await, 0, "{table} has a row to lose");
    }
    let owner = world.database.as_owner().await;
    assert!(owner.tenants().erase(world.ours).await?);
    for table in TABLES {
        assert_eq!(n_rows(&world, table).await, 0, "{table} is empty");
    }
    assert_eq!(world.store().tenants().find_by_key("ours").await?, None);
    assert!(!owner.tenants().erase(world.ours).await?);
    let (theirs, all) = (world.read_theirs().await, SiteFilter::default());
    let theirs = theirs.sites().list(&all, Turn::default(), 9).await?;
    assert_eq!(theirs.items.len(), 1);
    Ok(())
}

async fn n_rows(world: &World, table: &str) -> i64 {
    let tx = world.read().await;
    let sql = format!("SELECT COUNT(*) FROM {table} WHERE tenant_id = $1");
    let statement = Statement::from_sql_and_values(
        tx.inner.get_database_backend(),
        sql,
        [world.ours.uuid().into()],
    );
    let row = tx
        .inner
        .query_one_raw(statement)
        .await
        .expect("asked")
        .expect("a row");
    row.try_get_by_index(0).expect("a number")
}
