//! Adds an index for what changed since a moment, and for deviations: each is one range, however long the list is.

use sea_orm_migration::sea_query::Index;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::create_index;

/// The table, what the index is called after, and its columns.
const INDEXES: [(&str, &str, [&str; 3]); 8] = [
    ("sites", "changed", ["tenant_id", "updated_at", "id"]),
    ("surfaces", "changed", ["tenant_id", "updated_at", "id"]),
    ("plans", "changed", ["tenant_id", "changed_at", "id"]),
    ("plans", "planned_on", ["tenant_id", "planned_on", "id"]),
    ("readings", "changed", ["tenant_id", "changed_at", "id"]),
    ("estimates", "changed", ["tenant_id", "created_at", "id"]),
    ("completions", "changed", ["tenant_id", "changed_at", "id"]),
    (
        "completions",
        "deviation",
        ["tenant_id", "deviation_state", "id"],
    ),
];

/// The step.
pub(crate) struct AddChangeIndexes;

impl MigrationName for AddChangeIndexes {
    fn name(&self) -> &'static str {
        "m20261125_045_add_change_indexes"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for AddChangeIndexes {
    async fn up(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, what, columns) in &INDEXES {
            create_index(manager, table, what, columns).await?;
        }
        Ok(())
    }

    async fn down(&self, manager: &SchemaManager) -> Result<(), DbErr> {
        for (table, what, _) in INDEXES.iter().rev() {
            let mut drop = Index::drop();
            drop.name(format!("ix_{table}_{what}")).table(*table);
            manager.drop_index(drop).await?;
        }
        Ok(())
    }

    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }
}
