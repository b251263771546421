//! How a table is written once for both databases.
//!
//! A released step depends on these words, so their meaning is frozen: a new need is a new word.

use sea_orm_migration::sea_orm::{ConnectionTrait, DbBackend};
use sea_orm_migration::sea_query::{
    Alias, ColumnDef, Expr, ForeignKey, ForeignKeyCreateStatement, Index, IndexCreateStatement,
    Table, TableCreateStatement,
};
use sea_orm_migration::{DbErr, SchemaManager};

/// What a column may hold besides its type.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Null {
    /// A value is always there.
    Never,
    /// The value may be missing.
    Allowed,
}

/// A table in the making. All its columns belong to `tenant_id`, which is always the first.
pub(crate) struct TenantTable {
    name: &'static str,
    backend: DbBackend,
    statement: TableCreateStatement,
    fence: Fence,
}

/// Who sees the rows of a table on PostgreSQL, whatever a statement asks for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fence {
    /// Everybody.
    None,
    /// Who has named the tenant to whom they belong.
    Tenant,
    /// The same; who has said that he looks for work reads all.
    TenantOrWorker,
}

/// The row belongs to the tenant that the session or transaction has named; after a transaction in which one was named the
/// setting is empty and not absent.
const OF_TENANT: &str = "tenant_id = nullif(current_setting('app.tenant_id', true), '')::uuid";
/// The session or transaction has said that it looks for work.
const OF_WORKER: &str = "current_setting('app.worker', true) = 'on'";

impl TenantTable {
    /// Starts a table of a tenant's rows.
    pub(crate) fn new(manager: &SchemaManager<'_>, name: &'static str) -> Self {
        let mut table = Self::bare(manager, name).uuids(&["tenant_id"], Null::Never);
        table.fence = Fence::Tenant;
        table
    }

    /// Starts a table without a tenant: only the list of tenants is one.
    pub(crate) fn bare(manager: &SchemaManager<'_>, name: &'static str) -> Self {
        Self {
            name,
            backend: manager.get_database_backend(),
            statement: Table::create().table(name).take(),
            fence: Fence::None,
        }
    }

    /// A worker looks through the rows of all tenants: it may read them, and still writes as their tenant only.
    pub(crate) fn read_by_worker(mut self) -> Self {
        self.fence = Fence::TenantOrWorker;
        self
    }

    /// Columns that hold a UUID: native on PostgreSQL, 16 bytes on SQLite.
    pub(crate) fn uuids(mut self, names: &[&'static str], null: Null) -> Self {
        for name in names {
            self.column(ColumnDef::new(*name).uuid(), null);
            self.typed(name, "blob", null);
        }
        self
    }

    /// Columns that hold a whole number of 64 bits.
    pub(crate) fn integers(mut self, names: &[&'static str], null: Null) -> Self {
        for name in names {
            self.column(ColumnDef::new(*name).big_integer(), null);
            self.typed(name, "integer", null);
        }
        self
    }

    /// Columns that hold text, compared and ordered by its bytes on both databases.
    pub(crate) fn texts(mut self, names: &[&'static str], null: Null) -> Self {
        for name in names {
            let mut column = ColumnDef::new(*name).text().take();
            if self.backend == DbBackend::Postgres {
                column.extra(r#"COLLATE "C""#);
            }
            self.column(&mut column, null);
        }
        self
    }

    /// Columns that hold a moment in UTC.
    pub(crate) fn moments(mut self, names: &[&'static str], null: Null) -> Self {
        for name in names {
            self.column(ColumnDef::new(*name).timestamp_with_time_zone(), null);
        }
        self
    }

    /// A column that holds bytes.
    pub(crate) fn bytes(mut self, name: &'static str, null: Null) -> Self {
        self.column(ColumnDef::new(name).blob(), null);
        self
    }

    /// The primary key, in this order.
    pub(crate) fn key(mut self, columns: &[&'static str]) -> Self {
        let mut key = index(&format!("pk_{}", self.name), columns);
        self.statement.primary_key(&mut key);
        self
    }

    /// `column` names a row of `table` that belongs to the same tenant.
    pub(crate) fn refers(mut self, column: &'static str, table: &'static str) -> Self {
        let mut key = ForeignKey::create()
            .name(format!("fk_{}_{column}", self.name))
            .from(self.name, ("tenant_id", column))
            .to(table, ("tenant_id", "id"))
            .take();
        self.statement.foreign_key(&mut key);
        self
    }

    /// `tenant_id` names a tenant.
    pub(crate) fn of_tenant(mut self) -> Self {
        let mut key: ForeignKeyCreateStatement = ForeignKey::create()
            .name(format!("fk_{}_tenant_id", self.name))
            .from(self.name, "tenant_id")
            .to("tenants", "id")
            .take();
        self.statement.foreign_key(&mut key);
        self
    }

    /// `column` holds one of these words (or nothing, where it may).
    pub(crate) fn one_of(self, column: &'static str, words: &[&str]) -> Self {
        let list = words.join("', '");
        self.check(column, &format!(r#""{column}" IN ('{list}')"#))
    }

    /// These columns hold no negative number.
    pub(crate) fn not_negative(self, columns: &[&'static str]) -> Self {
        columns.iter().fold(self, |table, column| {
            table.check(column, &format!(r#""{column}" >= 0"#))
        })
    }

    /// A name in another system is a pair, or it is not there.
    pub(crate) fn external(self) -> Self {
        self.texts(&["external_system", "external_id"], Null::Allowed)
            .check(
                "external",
                r#"("external_system" IS NULL) = ("external_id" IS NULL)"#,
            )
    }

    /// A condition on every row, in SQL that both databases read alike.
    pub(crate) fn check(mut self, what: &str, sql: &str) -> Self {
        let name = Alias::new(format!("ck_{}_{what}", self.name));
        self.statement.check((name, Expr::cust(sql.to_owned())));
        self
    }

    /// Creates the table, with its fence: on PostgreSQL row-level security that binds its owner too. SQLite has none.
    pub(crate) async fn create(self, manager: &SchemaManager<'_>) -> Result<(), DbErr> {
        manager.create_table(self.statement).await?;
        if self.backend != DbBackend::Postgres || self.fence == Fence::None {
            return Ok(());
        }
        let name = self.name;
        let of_worker = if self.fence == Fence::TenantOrWorker {
            format!("CREATE POLICY of_worker ON {name} FOR SELECT USING ({OF_WORKER});")
        } else {
            String::new()
        };
        let sql = format!(
            "ALTER TABLE {name} ENABLE ROW LEVEL SECURITY; ALTER TABLE {name} FORCE ROW LEVEL SECURITY; \
             CREATE POLICY of_tenant ON {name} USING ({OF_TENANT}) WITH CHECK ({OF_TENANT}); {of_worker}"
        );
        manager.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }

    fn column(&mut self, column: &mut ColumnDef, null: Null) {
        if null == Null::Never {
            column.not_null();
        }
        self.statement.col(column.take());
    }

    /// SQLite keeps any value in any column unless it is told not to.
    fn typed(&mut self, column: &str, kind: &str, null: Null) {
        if self.backend == DbBackend::Sqlite {
            let nothing = if null == Null::Allowed {
                ", 'null'"
            } else {
                ""
            };
            let sql = format!(r#"typeof("{column}") IN ('{kind}'{nothing})"#);
            let name = Alias::new(format!("ck_{}_{column}_type", self.name));
            self.statement.check((name, Expr::cust(sql)));
        }
    }
}

/// An index over `columns`, in this order.
pub(crate) fn index(name: &str, columns: &[&'static str]) -> IndexCreateStatement {
    let mut index = Index::create().name(name).take();
    for column in columns {
        index.col(*column);
    }
    index
}

/// Creates `ix_<table>_<what>`: finds rows faster, forbids nothing.
pub(crate) async fn create_index(
    manager: &SchemaManager<'_>,
    table: &'static str,
    what: &str,
    columns: &[&'static str],
) -> Result<(), DbErr> {
    let statement = index(&format!("ix_{table}_{what}"), columns)
        .table(table)
        .take();
    manager.create_index(statement).await
}

/// Creates `uq_<table>_<what>`: no two rows agree in all of `columns`; a missing value agrees with nothing.
pub(crate) async fn create_unique(
    manager: &SchemaManager<'_>,
    table: &'static str,
    what: &str,
    columns: &[&'static str],
) -> Result<(), DbErr> {
    let statement = index(&format!("uq_{table}_{what}"), columns)
        .table(table)
        .unique()
        .take();
    manager.create_index(statement).await
}

/// Adds a column with a UUID or nothing to a table that has rows.
pub(crate) async fn add_uuid(
    manager: &SchemaManager<'_>,
    table: &'static str,
    name: &'static str,
) -> Result<(), DbErr> {
    let mut column = ColumnDef::new(name).uuid().take();
    if manager.get_database_backend() == DbBackend::Sqlite {
        let sql = format!(r#"typeof("{name}") IN ('blob', 'null')"#);
        column.check(Expr::cust(sql));
    }
    add(manager, table, column).await
}

/// Adds a column with a whole number of 64 bits to a table that has rows; those get zero.
pub(crate) async fn add_integer(
    manager: &SchemaManager<'_>,
    table: &'static str,
    name: &'static str,
) -> Result<(), DbErr> {
    let mut column = ColumnDef::new(name)
        .big_integer()
        .not_null()
        .default(0)
        .take();
    if manager.get_database_backend() == DbBackend::Sqlite {
        column.check(Expr::cust(format!(r#"typeof("{name}") IN ('integer')"#)));
    }
    add(manager, table, column).await
}

/// Adds a column with a text to a table that has rows; those get `value`.
pub(crate) async fn add_text(
    manager: &SchemaManager<'_>,
    table: &'static str,
    name: &'static str,
    value: &'static str,
) -> Result<(), DbErr> {
    let mut column = ColumnDef::new(name).text().not_null().default(value).take();
    if manager.get_database_backend() == DbBackend::Postgres {
        column.extra(r#"COLLATE "C""#);
    }
    add(manager, table, column).await
}

async fn add(
    manager: &SchemaManager<'_>,
    table: &'static str,
    column: ColumnDef,
) -> Result<(), DbErr> {
    let statement = Table::alter().table(table).add_column(column).take();
    manager.alter_table(statement).await
}
