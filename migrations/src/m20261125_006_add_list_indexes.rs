//! Adds an index for each filter of a list that had none: with it a page is one range, however long the list is.

use sea_orm_migration::sea_query::Index;
use sea_orm_migration::{DbErr, MigrationName, MigrationTrait, SchemaManager, async_trait};

use crate::definition::create_index;

/// The table, what the index is called after, and its columns.
const INDEXES: [(&str, &str, [&str; 3]); 4] = [
    ("plans", "status", ["tenant_id", "status", "id"]),
    ("plans", "verdict", ["tenant_id", "verdict", "id"]),
    ("surfaces", "any_storey", ["tenant_id", "storey", "id"]),
    ("readings", "site", ["tenant_id", "site_id", "id"]),
];

/// The step.
pub(crate) struct AddListIndexes;

impl MigrationName for AddListIndexes {
    fn name(&self) -> &'static str {
        "m20261125_006_add_list_indexes"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for AddListIndexes {
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
