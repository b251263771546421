//! Creates the table of what completions tell of production rates.
//!
//! Work that is recorded already tells nothing: which activities its hours were for stands in its plan's document only.

use sea_orm_migration::sea_query::Table;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::{Null, TenantTable, create_index};

/// The step.
pub(crate) struct CreateCompletionPaces;

impl MigrationName for CreateCompletionPaces {
    fn name(&self) -> &'static str {
        "m20261128_090_create_completion_paces"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CreateCompletionPaces {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        TenantTable::new(manager, "completion_paces")
            .uuids(&["completion_id"], Null::Never)
            .integers(&["line_no"], Null::Never)
            .uuids(&["site_id"], Null::Never)
            .uuids(&["contractor_id"], Null::Allowed)
            .texts(&["activity", "month"], Null::Never)
            .integers(&["factor_ppm", "share_ppm"], Null::Never)
            .key(&["tenant_id", "completion_id", "line_no"])
            .refers("completion_id", "completions")
            .refers("site_id", "sites")
            .refers("contractor_id", "contractors")
            .not_negative(&["factor_ppm", "share_ppm"])
            .create(manager)
            .await?;
        let latest = ["tenant_id", "site_id", "completion_id"];
        create_index(manager, "completion_paces", "site", &latest).await
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        let drop = Table::drop().table("completion_paces").take();
        manager.drop_table(drop).await
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
