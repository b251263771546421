//! What the role that serves requests may do: read and write rows, and nothing to the tables themselves.

use sea_orm::{ConnectionTrait, DatabaseConnection, DbBackend, Statement};

use super::StoreError;

/// Tables that it only reads: who writes them is the owner.
const READ: &[&str] = &["tenants", "seaql_migrations"];
/// Tables to which it only adds.
const APPENDED: &[&str] = &["audit"];

/// Lets the role of one pool use the tables of the owner, whose session `owner` is. Saying so again changes nothing.
pub(super) async fn to_role_of(
    role: &DatabaseConnection,
    owner: &DatabaseConnection,
) -> Result<(), StoreError> {
    let role = name(role, "SELECT quote_ident(current_user)").await?;
    if role == name(owner, "SELECT quote_ident(current_user)").await? {
        return Ok(());
    }
    let mut grants = vec![
        format!("GRANT USAGE ON SCHEMA public TO {role}"),
        format!("GRANT SELECT ON ALL TABLES IN SCHEMA public TO {role}"),
    ];
    let tables = Statement::from_string(
        DbBackend::Postgres,
        "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public' AND tableowner = current_user",
    );
    for row in owner.query_all_raw(tables).await? {
        let table: String = row.try_get_by_index(0)?;
        let allowed = if READ.contains(&table.as_str()) {
            continue;
        } else if APPENDED.contains(&table.as_str()) {
            "INSERT"
        } else {
            "INSERT, UPDATE, DELETE"
        };
        grants.push(format!("GRANT {allowed} ON {table} TO {role}"));
    }
    owner.execute_unprepared(&grants.join("; ")).await?;
    Ok(())
}

async fn name(session: &DatabaseConnection, sql: &str) -> Result<String, StoreError> {
    let asked = Statement::from_string(DbBackend::Postgres, sql);
    let row = session.query_one_raw(asked).await?;
    Ok(row
        .map(|row| row.try_get_by_index(0))
        .transpose()?
        .unwrap_or_default())
}
