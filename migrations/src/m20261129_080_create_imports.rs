//! Creates the tables of files that are handed over with buildings: what was sent, what becomes of each of its spaces, what the
//! last file said of a surface, and a tenant's own words for finishes.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index, create_unique};

/// The step.
pub(crate) struct CreateImports;

impl MigrationName for CreateImports {
    fn name(&self) -> &'static str {
        "m20261129_080_create_imports"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateImports {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "imports")
            .uuids(&["id", "site_id"], Null::Never)
            .integers(
                &["version", "n_bytes", "n_attempts", "applies"],
                Null::Never,
            )
            .texts(&["status", "format"], Null::Never)
            .texts(
                &[
                    "summary",
                    "problem",
                    "lease_owner",
                    "by_client",
                    "by_subject",
                ],
                Null::Allowed,
            )
            .moments(&["created_at"], Null::Never)
            .moments(&["lease_until", "started_at", "finished_at"], Null::Allowed)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .refers("site_id", "sites")
            .check("version", r#""version" >= 1"#)
            .not_negative(&["n_bytes", "n_attempts"])
            .check("applies", r#""applies" IN (0, 1)"#)
            .one_of(
                "status",
                &["queued", "running", "succeeded", "failed", "cancelled"],
            )
            .read_by_worker()
            .create(manager)
            .await?;
        // Who looks for work looks among all tenants.
        create_index(manager, "imports", "due", &["status", "created_at"]).await?;
        TenantTable::new(manager, "import_files")
            .uuids(&["import_id"], Null::Never)
            .bytes("content", Null::Never)
            .key(&["tenant_id", "import_id"])
            .of_tenant()
            .refers("import_id", "imports")
            .create(manager)
            .await?;
        TenantTable::new(manager, "import_rows")
            .uuids(&["import_id"], Null::Never)
            .integers(&["number"], Null::Never)
            .texts(&["outcome", "document"], Null::Never)
            .key(&["tenant_id", "import_id", "number"])
            .of_tenant()
            .refers("import_id", "imports")
            .create(manager)
            .await?;
        let outcome = ["tenant_id", "import_id", "outcome", "number"];
        create_index(manager, "import_rows", "outcome", &outcome).await?;
        TenantTable::new(manager, "handed_over")
            .uuids(&["surface_id"], Null::Never)
            .texts(&["document"], Null::Never)
            .key(&["tenant_id", "surface_id"])
            .of_tenant()
            .refers("surface_id", "surfaces")
            .create(manager)
            .await?;
        TenantTable::new(manager, "finish_synonyms")
            .uuids(&["id"], Null::Never)
            .integers(&["version"], Null::Never)
            .texts(&["word", "means"], Null::Never)
            .texts(&["by_client", "by_subject"], Null::Allowed)
            .moments(&["created_at"], Null::Never)
            .key(&["tenant_id", "id"])
            .of_tenant()
            .check("version", r#""version" >= 1"#)
            .create(manager)
            .await?;
        create_unique(manager, "finish_synonyms", "word", &["tenant_id", "word"]).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for table in [
            "finish_synonyms",
            "handed_over",
            "import_rows",
            "import_files",
            "imports",
        ] {
            manager
                .drop_table(Table::drop().table(table).take())
                .await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
